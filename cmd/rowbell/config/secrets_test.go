package config

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Changed reads a file with a secret when two checks find the same file. It takes all changed files together. The old
// value stays if a file has no valid secret. The reason names the variable, not the path or the content.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestSecretFilesAreReadAnew(t *testing.T) {
	dir := t.TempDir()
	write := func(name, content string) {
		t.Helper()
		path := filepath.Join(dir, name)
		ok(t, os.WriteFile(path+".new", []byte(content), 0o600))
		ok(t, os.Rename(path+".new", path))
	}
	write("A", "one")
	write("B", "two")
	s := NewSecrets(func(name string) string {
		if file, is := strings.CutSuffix(name, "_FILE"); is {
			return filepath.Join(dir, file)
		}
		return ""
	})
	values := func() string {
		t.Helper()
		a, errA := s.Lookup("A")
		b, errB := s.Lookup("B")
		ok(t, errA)
		ok(t, errB)
		return a + " " + b
	}
	checked := func(want string, wrong ...string) {
		t.Helper()
		if next := s.Changed(); next != nil {
			if v, _ := next.Lookup("A"); v == "unfit" {
				s.Reject(next, errors.New("it is short"))
			} else {
				s = next
			}
		}
		if got := values(); got != want || !slices.Equal(s.Wrong(), wrong) {
			t.Errorf("%q, %q; want %q, %q", got, s.Wrong(), want, wrong)
		}
	}
	const gone, empty = "A_FILE: the file is gone", "A_FILE: the file is empty"
	values()
	checked("one two")
	write("A", "three") // half of a change: the other file follows
	checked("one two")
	write("B", "four")
	checked("one two")
	checked("three four")
	write("A", " \n")
	checked("three four")
	checked("three four", empty)
	write("B", "five")
	checked("three four", empty)
	checked("three five", empty)
	ok(t, os.Remove(filepath.Join(dir, "A")))
	checked("three five", gone)
	ok(t, os.Mkdir(filepath.Join(dir, "A"), 0o700))
	checked("three five", "A_FILE: it is not a file any more")
	ok(t, os.Remove(filepath.Join(dir, "A")))
	write("A", strings.Repeat("x", maxSecretFile+1))
	checked("three five", "A_FILE: the file is too long for a secret")
	write("A", "unfit")
	checked("three five")
	checked("three five", "A_FILE: the file was not taken: it is short")
	checked("three five", "A_FILE: the file was not taken: it is short")
	write("A", "six")
	checked("three five")
	checked("six five")
}
