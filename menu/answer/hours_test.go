package answer

import (
	"testing"
)

func TestParseHours(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"3", "3"}, {"2.5", "2.5"}, {"2,5", "2.5"}, {"2h30", "2.5"}, {"2h", "2"}, {"2 h", "2"}, {"2 h 30", "2.5"},
		{"2h30m", "2.5"}, {"2h 30min", "2.5"}, {"2:30", "2.5"}, {"2H30", "2.5"}, {"2 hours", "2"}, {"1 hour", "1"},
		{"90 min", "1.5"}, {"3 heures", "3"}, {"2 heures et 30 minutes", "2.5"}, {"saa 3", "3"}, {"masaa 3", "3"},
		{"saa3", "3"}, {"saa 2 na dakika 30", "2.5"}, {"dakika 90", "1.5"}, {"3 घंटे", "3"}, {"३ घण्टे", "3"},
		{"2 घंटे 30 मिनट", "2.5"}, {"3 horas", "3"}, {"2 horas e 30 minutos", "2.5"}, {"3 jam", "3"},
		{"2 jam dan 30 menit", "2.5"}, {"2,5 jam", "2.5"}, {"3 watu", "refuse.hours"}, {"3 m", "refuse.hours"},
		{"٣", "3"}, {"３ｈ", "3"}, {"0h45", "0.8"}, {"৩", "3"}, {".5", "0.5"}, {"200", "200"}, {"2h20", "2.3"},
		{"", "refuse.empty"}, {"long", "refuse.hours"}, {"2h60", "refuse.hours"}, {"h30", "refuse.hours"},
		{"3-2", "refuse.hours"}, {"-2", "refuse.hours"}, {"2 30", "refuse.hours"}, {"3 days", "refuse.hours"},
		{"0", "refuse.hours-range"}, {"201", "refuse.hours-range"}, {"1 min", "refuse.hours-range"},
		{"999h59", "refuse.hours-range"},
	} {
		x, _, r := readHours(c.in, Range{0.1, 200})
		wantRead(t, c.in, tenths(x), r, c.want)
	}
}

func FuzzParseHours(f *testing.F) {
	fuzzEntries(f, "hours", func(t *testing.T, s string) {
		all := Range{0.1, 200}
		if x, _, r := readHours(s, all); r == nil && (!all.Contains(x) || x != tenth(x)) {
			t.Fatalf("%q is %g hours", s, x)
		}
		if h, d, r := DayHours(s); r == nil && d.Why == Corrected && !usualDayHours.Contains(h) {
			t.Fatalf("%q is corrected to %g hours", s, h)
		}
	})
}

func FuzzParseTook(f *testing.F) {
	fuzzEntries(f, "took", func(t *testing.T, s string) {
		h, n, d, ok := Took(s)
		if ok && !(h > 0 && (h <= 24 || d.Why != NoDoubt) && n >= 1 && n <= maxPeople) {
			t.Fatalf("%q is %g hours of %d people", s, h, n)
		}
		if ok && wholeForm.MatchString(Digits(s)) {
			t.Fatalf("%q is a bare number and taken for %g hours", s, h)
		}
	})
}

func TestParseTook(t *testing.T) {
	for typed, want := range map[string][2]float64{"3h": {3, 1}, "2.5 h": {2.5, 1}, "3h2": {3, 2}, "3 h 2": {3, 2},
		"3h 12 people": {3, 12}, "3hx12": {3, 12}, "4hours": {4, 1}, "4H": {4, 1},
		"2h30": {2.5, 1}, "2 h 30": {2.5, 1}, "2 heures 30": {2.5, 1}, "3h 12": {3.2, 1}, "2:30": {2.5, 1},
		"90 min": {1.5, 1}, "2.5": {2.5, 1}, "2h 30 min": {2.5, 1},
		"3 heures 2 personnes": {3, 2}, "masaa 3": {3, 1}, "masaa 3 watu 2": {3, 2}, "saa 3 na watu 2": {3, 2},
		"३ घंटे २ लोग": {3, 2}, "3 horas e 2 pessoas": {3, 2}, "3 jam 2 orang": {3, 2}} {
		if h, n, _, ok := Took(typed); !ok || h != want[0] || float64(n) != want[1] {
			t.Errorf("%q: %g hours, %d people, %v", typed, h, n, ok)
		}
	}
	for _, typed := range []string{"", "3", "12", "0h", "900h", "3h0", "h", "3h2h", "3m", "3h x 99", "501h"} {
		if h, n, _, ok := Took(typed); ok {
			t.Errorf("%q was read as %g hours of %d", typed, h, n)
		}
	}
}
