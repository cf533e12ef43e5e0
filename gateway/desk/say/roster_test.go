package say

import (
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// The words for what would help, and for reasons, are tested with those of rowbell roster.
func TestLossWords(t *testing.T) {
	r := Roster{Plot: func(i int) string { return string(rune('A' + i)) }}
	for o, want := range []string{"it would do as well", "then A, C would not be weeded in time",
		"then 2 told turns would move", "then turns would be later by 2 days in all",
		"then a plot that went without more often would not be weeded in time",
		"then other plots would have worse days", "then there would be 2 more handovers"} {
		if got := r.loss(circle.Loss{Objective: circle.Objective(o), By: 2, NotServed: []int{0, 2}}); got != want {
			t.Errorf("loss %d: %q, want %q", o, got, want)
		}
	}
	if got := r.loss(circle.Loss{Objective: circle.FewestHandovers}); got != "then there may be more handovers" {
		t.Errorf("not proven: %q", got)
	}
}

// Days on which a plot has two tools are two runs.
func TestTurnsWords(t *testing.T) {
	r := Roster{Tool: func(i int) string { return []string{"red", "blue"}[i] }, Day: Day, NoTurn: "no turn"}
	june := engine.Date(2026, 6, 1)
	turn := func(tool int, on engine.Day) circle.Turn { return circle.Turn{Tool: tool, Day: june + on} }
	got := r.Turns([]circle.Turn{turn(0, 0), turn(1, 0), turn(0, 1), turn(1, 3)})
	if want := "red 1 Jun to 2 Jun, blue 1 Jun, blue 4 Jun"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := r.Turns(nil); got != "no turn" {
		t.Errorf("no turns: %q", got)
	}
}
