// Package configtest has the configurations that tests of several packages
// start from: the defaults on fresh records, and the invented networks of
// testdata/gateways with their secrets. Only tests may import it.
package configtest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// SampleTime is when the requests in testdata/gateways were recorded. Their
// signatures are valid then.
var SampleTime = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// Samples returns the folder testdata/gateways. It looks for it from the working
// directory upwards: a test runs in the folder of its package, and a test binary
// built with -trimpath does not know where its source is.
func Samples() string {
	dir := "."
	for range 8 {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		dir = filepath.Join(dir, "..")
	}
	return filepath.Join(dir, "testdata/gateways")
}

// Secrets is the environment of the recorded requests: invented secrets.
func Secrets(t testing.TB) func(string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(Samples(), "secrets.env"))
	if err != nil {
		t.Fatal(err)
	}
	env := map[string]string{}
	for line := range strings.Lines(string(b)) {
		name, value, _ := strings.Cut(strings.TrimSpace(line), "=")
		env[name] = value
	}
	return func(name string) string { return env[name] }
}

// Fresh is the configuration that a file with this content makes, on records
// that do not exist yet.
func Fresh(t testing.TB, file string) config.Config {
	t.Helper()
	c, err := config.Parse([]byte(file))
	if err != nil {
		t.Fatal(err)
	}
	c.DB = filepath.Join(t.TempDir(), config.DefaultDB)
	return c
}
