// Package configtest has configurations for the tests of several packages: the default configuration with a new
// database file, and the invented networks of testdata/gateways with their secrets. Only tests may import this package.
package configtest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// SampleTime is the time at which the signed requests in testdata/gateways are valid.
var SampleTime = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// Samples returns the path of testdata/gateways. It looks for go.mod in the working directory and its parents, because
// a test binary built with -trimpath does not contain the path of this file.
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

// Sample returns the content of a file in testdata/gateways.
func Sample(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(Samples(), name))
	OK(t, err)
	return string(b)
}

// Networks returns the files with the recorded requests of each invented network, in the order of their names.
func Networks(t testing.TB) map[string][]string {
	t.Helper()
	requests := map[string][]string{}
	files, err := filepath.Glob(filepath.Join(Samples(), "*", "*.http"))
	OK(t, err)
	for _, file := range files {
		name := filepath.Base(filepath.Dir(file))
		requests[name] = append(requests[name], file)
	}
	if len(requests) < 18 || len(files) < 200 {
		t.Fatalf("only %d networks with %d recorded requests", len(requests), len(files))
	}
	return requests
}

// Secrets returns a function that looks up the invented secrets of testdata/gateways, as os.Getenv would.
func Secrets(t testing.TB) func(string) string {
	t.Helper()
	env := map[string]string{}
	for line := range strings.Lines(Sample(t, "secrets.env")) {
		name, value, _ := strings.Cut(strings.TrimSpace(line), "=")
		env[name] = value
	}
	return func(name string) string { return env[name] }
}

// Fresh returns the configuration of a file with this content, with a database file that does not exist yet.
func Fresh(t testing.TB, file string) config.Config {
	t.Helper()
	c, err := config.Parse([]byte(file))
	OK(t, err)
	c.DB = filepath.Join(t.TempDir(), config.DefaultDB)
	return c
}

// OK ends the test if err is not nil.
func OK(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
