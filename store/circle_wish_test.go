package store

import (
	"fmt"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// TestFurtherExtraDays checks that days which a member needs beyond a turn that is longer already are added to it.
func TestFurtherExtraDays(t *testing.T) {
	s := open(t)
	circleWithPlots(t, s, ana)
	for _, c := range []struct{ wish, sum int64 }{{1, 1}, {2, 3}, {3, 6}, {14, 14}} {
		w := circle.Wish{ExtraDays: int(c.wish)}
		ledger(t, s, ana, noon, func(l *Ledger) error { return l.Wish(1, 1, w) })
		wantRows(t, s, map[string]int64{fmt.Sprint("circle_wish WHERE extra_days = ", c.sum): 1})
	}
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.Wish(1, 1, circle.Wish{Skip: true}) })
	wantRows(t, s, map[string]int64{"circle_wish WHERE extra_days = 0": 1})
}

// TestATextOfAGivenTurnIsWithdrawn checks that a text about a plot goes out no more when its member has given the turn
// to others, because it may name the turn, and that the bell looks at the plot again. A longer turn leaves it.
func TestATextOfAGivenTurnIsWithdrawn(t *testing.T) {
	for _, c := range []struct {
		wish  circle.Wish
		state State
	}{
		{circle.Wish{Skip: true}, Withdrawn},
		{circle.Wish{Ready: true}, Withdrawn},
		{circle.Wish{ExtraDays: 2}, Queued},
	} {
		s := open(t)
		circleWithPlots(t, s, ana)
		execSQL(t, s, "UPDATE plot SET look_at = $1", noon+86400)
		id := ring(t, s, ana, []int{1}, engine.KindOpen, noon)
		ledger(t, s, ana, noon, func(l *Ledger) error { return l.Wish(1, 1, c.wish) })
		wantState(t, s, id, c.state)
		soon := int64(0)
		if c.state == Withdrawn {
			soon = 1
		}
		wantRows(t, s, map[string]int64{fmt.Sprint("plot WHERE look_at = ", noon): soon})
	}
}
