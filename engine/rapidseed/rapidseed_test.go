package rapidseed

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// recorder replaces *testing.T in a rapid check that must fail: it records the failure.
type recorder struct {
	rapid.TB
	failed bool
}

func (r *recorder) Helper()               {}
func (r *recorder) Name() string          { return "TestRecorded" }
func (r *recorder) Log(...any)            {}
func (r *recorder) Logf(string, ...any)   {}
func (r *recorder) Errorf(string, ...any) { r.failed = true }
func (r *recorder) FailNow()              { r.failed = true }
func (r *recorder) Failed() bool          { return r.failed }

// check runs a rapid check that fails for numbers over limit. It returns the drawn numbers and whether the check
// failed.
func check(limit int) (drawn []int, failed bool) {
	r := &recorder{}
	rapid.Check(r, func(t *rapid.T) {
		n := rapid.IntRange(0, 1e9).Draw(t, "n")
		drawn = append(drawn, n)
		if n > limit {
			t.Fatalf("%d is too much", n)
		}
	})
	return drawn, r.failed
}

// must returns the value and panics on an error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// kept lists the files in which rapid stored the values that made check fail.
func kept() []string {
	return must(filepath.Glob("testdata/rapid/TestRecorded/*.fail"))
}

func setFlag(t *testing.T, name, value string) {
	t.Helper()
	f := flag.Lookup(name)
	before := f.Value.String()
	t.Cleanup(func() { f.Value.Set(before) })
	if err := f.Value.Set(value); err != nil {
		t.Fatal(err)
	}
}

func TestEveryRunDrawsTheSame(t *testing.T) {
	t.Chdir(t.TempDir())
	first, failed := check(1e9)
	second, _ := check(1e9)
	if failed || len(first) < 20 || !slices.Equal(first, second) {
		t.Errorf("drew %v, and then %v", first, second)
	}
	if explored := flag.Lookup("rapid.seed").DefValue != "0"; !explored {
		if _, failed = check(0); !failed || len(kept()) > 0 {
			t.Errorf("an ordinary run fails %t and leaves %v", failed, kept())
		}
	}
}

// If rapid may write files, as in .ci/explore, it stores a failing case, and the next run begins with this case.
func TestAKeptCaseRunsFirst(t *testing.T) {
	setFlag(t, "rapid.nofailfile", "false")
	root := must(filepath.Abs("../.."))
	t.Chdir(t.TempDir())
	if _, failed := check(1000); !failed || len(kept()) != 1 {
		t.Fatalf("failed %t and wrote %v", failed, kept())
	}
	if drawn, failed := check(1000); !failed || drawn[0] != 1001 {
		t.Errorf("failed %t, the first value is %d, not the smallest that fails", failed, drawn[0])
	}
	// rapid ignores files of another format version, so all stored files must have the version that rapid writes now.
	version := formatVersion(t, kept()[0])
	cases := must(filepath.Glob(root + "/*/testdata/rapid/*/*.fail"))
	deeper := must(filepath.Glob(root + "/*/*/testdata/rapid/*/*.fail"))
	for _, file := range append(cases, deeper...) {
		if v := formatVersion(t, file); v != version {
			t.Errorf("%s has format %q, which is ignored; rapid now writes %q", file, v, version)
		}
	}
}

// formatVersion returns the format version of a file in which rapid stored values. It is the text before # in the first
// line that has text before a #.
func formatVersion(t *testing.T, file string) string {
	t.Helper()
	b := must(os.ReadFile(file))
	for line := range bytes.Lines(b) {
		if version, _, ok := bytes.Cut(line, []byte("#")); ok && len(version) > 0 {
			return string(version)
		}
	}
	t.Fatalf("%s holds no case", file)
	return ""
}
