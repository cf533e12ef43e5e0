package store

import (
	"fmt"
	"testing"

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
