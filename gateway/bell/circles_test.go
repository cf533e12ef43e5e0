package bell

import (
	"context"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/gateway/clock"
	"rowbell/store"
)

// slow is a clock by which each look takes more than half of circlesTime.
type slow struct{ *clock.Manual }

func (c slow) Now() time.Time {
	c.Advance(circlesTime/2 + time.Second)
	return c.Manual.Now()
}

// On a morning with many circles, a grower without a circle gets the reminder before all of them are planned. All are
// planned in the end.
func TestManyCirclesHoldNobodyBack(t *testing.T) {
	v := newValley(t)
	const circles = 2*circlesAtOnce + 1 // two batches take longer than circlesTime
	for n := range circles {
		v.grower(n)
		v.as(n, func(l *store.Ledger) error {
			if _, err := l.MakeCircle("Ana", words); err != nil {
				return err
			}
			c, _, err := l.Circle()
			if err == nil {
				_, err = l.AddSharedTool(circle.SharedTool{Owner: c.Self, Tool: engine.Tool{WidthCM: 15}})
			}
			return err
		})
	}
	v.grower(circles, 10)
	v.clock.Set(dawn.Add(time.Hour))
	now := v.clock.Now()
	due := func() (n int) {
		err := v.s.View(context.Background(), func(tx *store.Tx) error {
			list, err := tx.DueCircles(now.Unix(), circles)
			n = len(list)
			return err
		})
		if err != nil {
			t.Error(err)
		}
		return n
	}
	if n := due(); n != circles {
		t.Fatalf("%d of %d circles are due", n, circles)
	}
	left := -1
	v.b.o.Clock, v.b.o.Queued = slow{v.clock}, func() { left = due() }
	if n, err := v.b.Ring(context.Background(), now); n != 1 || err != nil {
		t.Errorf("%d texts, %v", n, err)
	}
	if left != 1 || due() != 0 {
		t.Errorf("%d circles waited when the text was written, %d wait in the end", left, due())
	}
}
