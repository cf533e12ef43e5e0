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

func FuzzParseMeasures(f *testing.F) {
	for _, s := range []string{"10*5", "7,5 3", "12", "", "x", "99999*0.001", "3h2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if ls, refused := parseInlet(s); refused == nil && !(ls >= leastInflow && ls <= engine.MaxInflowLS) {
			t.Errorf("%q is %g l/s", s, ls)
		}
		if h, n, ok := parseTook(s); ok && !(hoursLimits.hold(h) && n >= 1 && n <= maxPeople) {
			t.Errorf("%q is %g hours of %d people", s, h, n)
		}
		if n, refused := parseBags(s); refused == nil && !(n >= 0 && n <= maxBags) {
			t.Errorf("%q is %g bags", s, n)
		}
	})
}

func TestParseTook(t *testing.T) {
	for typed, want := range map[string][2]float64{"3h": {3, 1}, "2.5 h": {2.5, 1}, "3h2": {3, 2}, "3 h 2": {3, 2}, "3h 12 people": {3, 12}, "3hx12": {3, 12}, "4hours": {4, 1}, "4H": {4, 1},
		"2h30": {2.5, 1}, "2:30": {2.5, 1}, "90 min": {1.5, 1}, "2.5": {2.5, 1}, "2h 30 min": {2.5, 1}} {
		if h, n, ok := parseTook(typed); !ok || h != want[0] || float64(n) != want[1] {
			t.Errorf("%q: %g hours, %d people, %v", typed, h, n, ok)
		}
	}
	for _, typed := range []string{"", "3", "12", "0h", "900h", "3h0", "h", "3h2h", "3m", "3h x 99"} {
		if h, n, ok := parseTook(typed); ok {
			t.Errorf("%q was read as %g hours of %d", typed, h, n)
		}
	}
}
