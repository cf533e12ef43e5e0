package menu

import (
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestParseHours(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"3", "3"}, {"2.5", "2.5"}, {"2,5", "2.5"}, {"2h30", "2.5"}, {"2h", "2"}, {"2 h", "2"}, {"2 h 30", "2.5"}, {"2h30m", "2.5"}, {"2h 30min", "2.5"}, {"2:30", "2.5"}, {"2H30", "2.5"},
		{"2 hours", "2"}, {"1 hour", "1"}, {"90 min", "1.5"}, {"3 heures", "3"}, {"2 heures et 30 minutes", "2.5"}, {"saa 3", "3"}, {"masaa 3", "3"}, {"saa3", "3"}, {"saa 2 na dakika 30", "2.5"}, {"dakika 90", "1.5"}, {"3 घंटे", "3"}, {"३ घण्टे", "3"}, {"2 घंटे 30 मिनट", "2.5"},
		{"3 horas", "3"}, {"2 horas e 30 minutos", "2.5"}, {"3 jam", "3"}, {"2 jam dan 30 menit", "2.5"}, {"2,5 jam", "2.5"}, {"3 watu", "refuse.hours"}, {"3 m", "refuse.hours"}, {"٣", "3"}, {"３ｈ", "3"}, {"0h45", "0.8"}, {"৩", "3"}, {".5", "0.5"}, {"200", "200"}, {"2h20", "2.3"},
		{"", "refuse.empty"}, {"long", "refuse.hours"}, {"2h60", "refuse.hours"}, {"h30", "refuse.hours"}, {"2-3", "refuse.hours"}, {"-2", "refuse.hours"}, {"2 30", "refuse.hours"}, {"3 days", "refuse.hours"},
		{"0", "refuse.hours-range"}, {"201", "refuse.hours-range"}, {"1 min", "refuse.hours-range"}, {"999h59", "refuse.hours-range"},
	} {
		x, r := parseHours(c.in, limits{0.1, 200})
		wantRead(t, c.in, numberEN(x), r, c.want)
	}
}

func FuzzParseHours(f *testing.F) {
	for _, s := range corpus(f, "hours") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		all := limits{0.1, 200}
		if x, r := parseHours(s, all); r == nil && (!all.hold(x) || x != tenth(x)) {
			t.Fatalf("%q is %g hours", s, x)
		}
		readBack(t, "hours", s)
		if h, guessed, r := likelyHours(s, dayHoursLimits, usualDayHours); r == nil && guessed && !usualDayHours.hold(h) {
			t.Fatalf("%q is taken for %g hours", s, h)
		}
	})
}

func TestParseName(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"Upper", "Upper"}, {" Upper  2 ", "Upper 2"}, {"ধানক্ষেত", "ধানক্ষেত"}, {"नदी 2", "नदी 2"}, {"ABCDEFGHIJ", "ABCDEFGHIJ"}, {"Río", "Río"}, {"7", "7"},
		{"", "refuse.empty"}, {"  ", "refuse.empty"},
		{"ABCDEFGHIJK", "refuse.name-long"}, {"A B C D E F", "refuse.name-long"},
		{"a-b", "refuse.name"}, {"a\x00", "refuse.name"}, {"a\xff", "refuse.name"}, {"a\u202eb", "refuse.name"}, {"{n}", "refuse.name"}, {"=1", "refuse.name"}, {"a😀", "refuse.name"}, {"<b>", "refuse.name"},
	} {
		got, r := parseName(c.in)
		wantRead(t, c.in, got, r, c.want)
	}
}

func FuzzParseName(f *testing.F) {
	for _, s := range corpus(f, "names") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		name, r := parseName(s)
		if r == nil {
			n := utf8.RuneCountInString(name)
			if n == 0 || n > maxName || name != strings.TrimSpace(name) || strings.ContainsFunc(name, unicode.IsControl) || !utf8.ValidString(name) {
				t.Fatalf("%q is the name %q", s, name)
			}
		}
		readBack(t, "name", s)
	})
}

func TestSplitDial(t *testing.T) {
	for _, c := range []struct {
		dialled, code string
		want          []string
		ok            bool
	}{
		{"*123*1*5#", "*123#", []string{"1", "5"}, true},
		{"*123*1*5", "*123#", []string{"1", "5"}, true},
		{" *123*1#\n", "*123#", []string{"1"}, true},
		{"*123*1**5#", "*123#", []string{"1", "", "5"}, true},
		{"*123*45*1#", "*123*45#", []string{"1"}, true},
		{"*123*20x30#", "*123#", []string{"20x30"}, true},
		{"*123#", "*123#", nil, false},
		{"*123*#", "*123#", nil, false},
		{"*123*45#", "*123*45#", nil, false},
		{"*1234*1#", "*123#", nil, false},
		{"*12*1#", "*123#", nil, false},
		{"123*1#", "*123#", nil, false},
		{"*123*1#2#", "*123#", nil, false},
		{"*123*1##", "*123#", nil, false},
		{"", "*123#", nil, false},
		{"*1#", "#", nil, false},
		{"*1#", "", nil, false},
	} {
		got, ok := splitDial(c.dialled, c.code)
		if ok != c.ok || !slices.Equal(got, c.want) {
			t.Errorf("%q under %q: %q, %v; want %q, %v", c.dialled, c.code, got, ok, c.want, c.ok)
		}
	}
}

// Entries put behind a code come out as they were.
func TestSplitDialRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		entries := rapid.SliceOfN(rapid.StringMatching(`[0-9]{1,4}`), 1, 8).Draw(t, "entries")
		code := rapid.SampledFrom([]string{"*123#", "*1*2#", "#9#"}).Draw(t, "code")
		dialled := strings.TrimSuffix(code, "#") + "*" + strings.Join(entries, "*") + "#"
		if got, ok := splitDial(dialled, code); !ok || !slices.Equal(got, entries) {
			t.Fatalf("%q: %q, %v; want %q", dialled, got, ok, entries)
		}
	})
}

func FuzzSplitDial(f *testing.F) {
	for _, s := range corpus(f, "dialled") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, dialled string) {
		entries, ok := splitDial(dialled, "*123#")
		if ok != (len(entries) > 0) {
			t.Fatalf("%q: %q, %v", dialled, entries, ok)
		}
		if ok && "*123*"+strings.Join(entries, "*") != strings.TrimSuffix(strings.TrimSpace(dialled), "#") {
			t.Fatalf("%q was taken apart into %q", dialled, entries)
		}
	})
}

func FuzzDigits(f *testing.F) {
	for _, s := range corpus(f, "choice") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d := digits(s)
		if digits(d) != d {
			t.Fatalf("%q is %q, and that %q", s, d, digits(d))
		}
		for _, r := range d {
			if r > unicode.MaxASCII && unicode.Is(unicode.Nd, r) {
				t.Fatalf("%q keeps %U", s, r)
			}
		}
		readBack(t, "choice", s)
		readBack(t, "days", s)
		readBack(t, "people", s)
	})
}
