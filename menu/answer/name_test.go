package answer

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"rowbell/menu/text"
)

func TestParseName(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"Upper", "Upper"}, {" Upper  2 ", "Upper 2"}, {"ধানক্ষেত", "ধানক্ষেত"}, {"नदी 2", "नदी 2"},
		{"ABCDEFGHIJ", "ABCDEFGHIJ"}, {"Río", "Río"}, {"7", "7"}, {"", "refuse.empty"}, {"  ", "refuse.empty"},
		{"ABCDEFGHIJK", "refuse.name-long"}, {"A B C D E F", "refuse.name-long"}, {"a-b", "refuse.name"},
		{"a\x00", "refuse.name"}, {"a\xff", "refuse.name"}, {"a\u202eb", "refuse.name"}, {"{n}", "refuse.name"},
		{"𑁦𑁧𑁨𑁩𑁪", "𑁦𑁧𑁨𑁩𑁪"}, {"𑁦𑁧𑁨𑁩𑁪1", "refuse.name-long"}, // two UTF-16 units each
		{"=1", "refuse.name"}, {"a😀", "refuse.name"}, {"<b>", "refuse.name"},
	} {
		got, r := Name(c.in)
		wantRead(t, c.in, got, r, c.want)
	}
}

func FuzzParseName(f *testing.F) {
	fuzzEntries(f, "name", func(t *testing.T, s string) {
		name, r := Name(s)
		if n := text.UCS2Units(name); r == nil && (n == 0 || n > MaxName || name != strings.TrimSpace(name) ||
			strings.ContainsFunc(name, unicode.IsControl) || !utf8.ValidString(name)) {
			t.Fatalf("%q is the name %q", s, name)
		}
	})
}

func FuzzCircle(f *testing.F) {
	fuzzEntries(f, "circle", func(t *testing.T, s string) {
		if n, r := Circle(s); r == nil && (n < 0 || n > 999999) {
			t.Fatalf("%q is the circle %d", s, n)
		}
	})
}
