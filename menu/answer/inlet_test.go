package answer

import (
	"testing"

	"rowbell/engine"
)

func TestParseInlet(t *testing.T) {
	for _, c := range []struct{ typed, want string }{ // want is litres a second, or the key of the refusal
		{"10*5", "2"}, {"10 5", "2"}, {"10x4", "2.5"}, {" 7,5 / 3 ", "2.5"}, {"20 l 10 s", "2"}, {"１０*５", "2"},
		{"10", "refuse.inlet"}, {"10*0", "refuse.inlet"}, {"0*5", "refuse.inlet"}, {"ten", "refuse.inlet"},
		{"10-5", "refuse.inlet"}, {"", "refuse.empty"}, {"1000*1", "refuse.inlet-range"},
		{"1*3600", "refuse.inlet-range"},
	} {
		got, refused := Inlet(c.typed)
		wantRead(t, c.typed, exact(got), refused, c.want)
	}
}

func FuzzParseInlet(f *testing.F) {
	fuzzEntries(f, "inlet", func(t *testing.T, s string) {
		if ls, refused := Inlet(s); refused == nil && !(ls >= minInflowLS && ls <= engine.MaxInflowLS) {
			t.Fatalf("%q is %g l/s", s, ls)
		}
	})
}
