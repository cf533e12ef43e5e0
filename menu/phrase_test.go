package menu

import (
	"testing"

	"rowbell/engine"
)

func TestEstimated(t *testing.T) {
	for x, want := range map[float64]string{
		0: "0", 0.354: "0.35", 2.44: "2.4", 9.96: "10", 12.4: "12", 999.4: "999", 999.7: "1000", 1230: "1230",
		1234: "1230", 12345: "12300", 123456: "123000", 9.995e9: "10000000000",
	} {
		if got := estimatedEN(x); got != want {
			t.Errorf("%g: %s, want %s", x, got, want)
		}
	}
}

// Checks that a window of one day is not written as "Monday to Monday".
func TestOneDayWindow(t *testing.T) {
	c := newMenu().scene(knownBook(), USSD, &session{})
	w := engine.Window{Number: 1, Opens: wednesday + 3, Best: wednesday + 3, Closes: wednesday + 3, With: engine.ByTool}
	got := c.next(engine.Plan{On: wednesday, State: engine.TooEarly, Next: w})
	if got != "Weed on Sat 28 Nov. We text you." || c.err != nil {
		t.Errorf("%q, %v", got, c.err)
	}
}
