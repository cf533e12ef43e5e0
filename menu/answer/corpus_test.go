package answer

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// answersFolder holds samples of what growers type. Each parser has one file, with one entry on each line. Lines that
// begin with # are comments. The parser must refuse every entry below the line "# refused".
const answersFolder = "../../testdata/answers"

// corpusFile reads a file of entries. The parser must understand the entries in good and refuse the entries in bad.
func corpusFile(t testing.TB, name string) (good, bad []string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(answersFolder, name+".txt"))
	if err != nil {
		t.Fatal(err)
	}
	into := &good
	for line := range strings.Lines(string(b)) {
		line = strings.TrimRight(line, "\n")
		switch {
		case strings.HasPrefix(line, "# refused"):
			into = &bad
		case line != "" && !strings.HasPrefix(line, "#"):
			*into = append(*into, line)
		}
	}
	if len(good) < 5 {
		t.Fatalf("%s: only %d entries", name, len(good))
	}
	return good, bad
}

// seed adds all entries of a file to a fuzz target. If values are given in second, the fuzz target has a second
// argument, and seed adds each entry once with each of these values.
func seed(f *testing.F, name string, second ...any) {
	f.Helper()
	good, bad := corpusFile(f, name)
	for _, s := range append(append(good, bad...), "", " ", "\x00", "\xff", strings.Repeat("1", 300)) {
		if len(second) == 0 {
			f.Add(s)
		}
		for _, x := range second {
			f.Add(s, x)
		}
	}
}

// fuzzEntries fuzzes one parser, starting from the entries in the parser's file. For each entry it calls check and then
// readBack.
func fuzzEntries(f *testing.F, parser string, check func(*testing.T, string)) {
	seed(f, parser)
	f.Fuzz(func(t *testing.T, s string) {
		check(t, s)
		readBack(t, parser, s)
	})
}

// TestCorpora reads every entry of every file, and checks that each parser has a file.
func TestCorpora(t *testing.T) {
	for name := range parsers {
		good, bad := corpusFile(t, name)
		for _, entry := range good {
			if _, r := parsers[name](entry); r != nil {
				t.Errorf("%s: %q is refused: %v", name, entry, r)
			}
			readBack(t, name, entry)
		}
		if len(bad) == 0 {
			t.Errorf("%s: nothing is refused", name)
		}
		for _, entry := range bad {
			if got, r := parsers[name](entry); r == nil {
				t.Errorf("%s: %q is read as %q", name, entry, got)
			}
		}
	}
	entries, err := os.ReadDir(answersFolder)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(parsers)+2 { // Dialled also has a file, and short answers have a folder
		t.Errorf("%d files for %d parsers", len(entries), len(parsers))
	}
}
