package circle_test

import (
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// day0 is the first planned day of the problems in these tests.
const day0 = engine.Day(20600)

// optimum has the values of the six objectives, in their order.
type optimum struct{ served, moved, lateness, missed, chance, handovers int }

// plannedRoster solves a problem and counts the objectives in the turns of the roster.
func plannedRoster(t *testing.T, p circle.Problem) (circle.Roster, optimum) {
	t.Helper()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	r := p.Solve(circle.Limit{})
	if err := circle.Verify(p, r); err != nil {
		t.Fatal(err)
	}
	return r, optimum{r.Served, r.Moved, r.Lateness, r.Missed, r.Chance, r.Handovers}
}
