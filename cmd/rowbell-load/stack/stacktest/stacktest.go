// Package stacktest starts a stack for tests: the program is built once for all tests of a package, and what runs ends
// with the test. Only tests import it.
package stacktest

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/store/testrun"
)

// Program returns the path of a rowbell that is built once.
func Program(t testing.TB) string {
	t.Helper()
	path, err := build()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

var folder string

var build = sync.OnceValues(func() (string, error) {
	var err error
	if folder, err = os.MkdirTemp(testrun.Disk, "rowbell-load-test-"); err != nil {
		return "", err
	}
	path := filepath.Join(folder, "rowbell")
	out, err := exec.Command("go", "build", "-ldflags", "-s -w", "-o", path, "rowbell/cmd/rowbell").CombinedOutput()
	if err != nil {
		return "", errors.New(string(out))
	}
	return path, nil
})

// Run runs the tests of a package, for its TestMain, and removes what was built.
func Run(m *testing.M) {
	code := m.Run()
	if folder != "" {
		os.RemoveAll(folder)
	}
	os.Exit(code)
}

// Start starts a stack in a folder of the test. It ends with the test.
func Start(t testing.TB, o stack.Options, n *stack.Network) *stack.Stack {
	t.Helper()
	o.Program, o.Folder = Program(t), t.TempDir()
	s, err := stack.Start(context.Background(), o, n)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}
