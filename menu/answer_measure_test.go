package menu

import (
	"math"
	"testing"

	"rowbell/engine"
)

func TestParseInlet(t *testing.T) {
	for _, c := range []struct {
		typed string
		want  float64 // 0: refused
		key   string
	}{
		{"10*5", 2, ""}, {"10 5", 2, ""}, {"10x4", 2.5, ""}, {" 7,5 / 3 ", 2.5, ""}, {"20 l 10 s", 2, ""}, {"１０*５", 2, ""},
		{"10", 0, "refuse.inlet"}, {"10*0", 0, "refuse.inlet"}, {"0*5", 0, "refuse.inlet"}, {"ten", 0, "refuse.inlet"},
		{"", 0, "refuse.empty"}, {"1000*1", 0, "refuse.inlet-range"}, {"1*3600", 0, "refuse.inlet-range"}, {"10-5", 0, "refuse.inlet"},
	} {
		got, refused := parseInlet(c.typed)
		switch {
		case c.want > 0 && (refused != nil || math.Abs(got-c.want) > 1e-9):
			t.Errorf("%q: %g, %v; want %g", c.typed, got, refused, c.want)
		case c.want == 0 && (refused == nil || string(refused.Key) != c.key):
			t.Errorf("%q: %g, %v; want %s", c.typed, got, refused, c.key)
		}
	}
}

func TestParseBags(t *testing.T) {
	for typed, want := range map[string]float64{"12": 12, "7.5": 7.5, "7,5": 7.5, "0": 0, "10000": 10000} {
		if got, refused := parseBags(typed); refused != nil || got != want {
			t.Errorf("%q: %g, %v", typed, got, refused)
		}
	}
	for _, typed := range []string{"", "many", "-3", "10001", "1 2"} {
		if got, refused := parseBags(typed); refused == nil {
			t.Errorf("%q was read as %g", typed, got)
		}
	}
}

func FuzzParseInlet(f *testing.F) {
	for _, s := range corpus(f, "inlet") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if ls, refused := parseInlet(s); refused == nil && !(ls >= leastInflow && ls <= engine.MaxInflowLS) {
			t.Fatalf("%q is %g l/s", s, ls)
		}
		readBack(t, "inlet", s)
	})
}

func FuzzParseBags(f *testing.F) {
	for _, s := range corpus(f, "bags") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if n, refused := parseBags(s); refused == nil && !(n >= 0 && n <= maxBags) {
			t.Fatalf("%q is %g bags", s, n)
		}
		readBack(t, "bags", s)
	})
}

func FuzzParseTook(f *testing.F) {
	for _, s := range corpus(f, "took") {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		h, n, ok := parseTook(s)
		if ok && !(h > 0 && h <= 24 && n >= 1 && n <= maxPeople) {
			t.Fatalf("%q is %g hours of %d people", s, h, n)
		}
		if ok && wholeForm.MatchString(digits(s)) {
			t.Fatalf("%q is a bare number and taken for %g hours", s, h)
		}
		readBack(t, "took", s)
	})
}

func TestParseTook(t *testing.T) {
	for typed, want := range map[string][2]float64{"3h": {3, 1}, "2.5 h": {2.5, 1}, "3h2": {3, 2}, "3 h 2": {3, 2}, "3h 12 people": {3, 12}, "3hx12": {3, 12}, "4hours": {4, 1}, "4H": {4, 1},
		"2h30": {2.5, 1}, "2 h 30": {2.5, 1}, "2 heures 30": {2.5, 1}, "3h 12": {3.2, 1}, "2:30": {2.5, 1}, "90 min": {1.5, 1}, "2.5": {2.5, 1}, "2h 30 min": {2.5, 1},
		"3 heures 2 personnes": {3, 2}, "masaa 3": {3, 1}, "masaa 3 watu 2": {3, 2}, "saa 3 na watu 2": {3, 2}, "३ घंटे २ लोग": {3, 2}, "3 horas e 2 pessoas": {3, 2}, "3 jam 2 orang": {3, 2}} {
		if h, n, ok := parseTook(typed); !ok || h != want[0] || float64(n) != want[1] {
			t.Errorf("%q: %g hours, %d people, %v", typed, h, n, ok)
		}
	}
	for _, typed := range []string{"", "3", "12", "0h", "900h", "3h0", "h", "3h2h", "3m", "3h x 99", "25h", "25h2", "24.1", "25:00", "1500 min"} {
		if h, n, ok := parseTook(typed); ok {
			t.Errorf("%q was read as %g hours of %d", typed, h, n)
		}
	}
}
