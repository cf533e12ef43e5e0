package answer

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
		{"10*5", 2, ""}, {"10 5", 2, ""}, {"10x4", 2.5, ""}, {" 7,5 / 3 ", 2.5, ""}, {"20 l 10 s", 2, ""},
		{"１０*５", 2, ""}, {"10", 0, "refuse.inlet"}, {"10*0", 0, "refuse.inlet"}, {"0*5", 0, "refuse.inlet"},
		{"ten", 0, "refuse.inlet"}, {"", 0, "refuse.empty"}, {"1000*1", 0, "refuse.inlet-range"},
		{"1*3600", 0, "refuse.inlet-range"}, {"10-5", 0, "refuse.inlet"},
	} {
		got, refused := Inlet(c.typed)
		switch {
		case c.want > 0 && (refused != nil || math.Abs(got-c.want) > 1e-9):
			t.Errorf("%q: %g, %v; want %g", c.typed, got, refused, c.want)
		case c.want == 0 && (refused == nil || string(refused.Key) != c.key):
			t.Errorf("%q: %g, %v; want %s", c.typed, got, refused, c.key)
		}
	}
}

func FuzzParseInlet(f *testing.F) {
	seed(f, "inlet")
	f.Fuzz(func(t *testing.T, s string) {
		if ls, refused := Inlet(s); refused == nil && !(ls >= minInflowLS && ls <= engine.MaxInflowLS) {
			t.Fatalf("%q is %g l/s", s, ls)
		}
		readBack(t, "inlet", s)
	})
}
