package bell

import (
	"context"
	"testing"
	"time"

	"rowbell/gateway/meter"
)

// How late the plot that waited longest is looked at, is told each round.
func TestLagIsTold(t *testing.T) {
	v := newValley(t)
	m := meter.New(meter.Options{Clock: v.clock, Store: v.s})
	v.b.o.Meter = m
	v.grower(1, 19) // is told of a window in the morning
	v.grower(2, 18)
	ring := func(want time.Duration) {
		t.Helper()
		if _, err := v.b.Ring(context.Background(), v.clock.Now()); err != nil {
			t.Fatal(err)
		}
		families, err := m.Gatherer().Gather()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range families {
			if f.GetName() == "rowbell_bell_lag_seconds" {
				if got := f.GetMetric()[0].GetGauge().GetValue(); got != want.Seconds() {
					t.Errorf("at %s: %g s, want %s", v.clock.Now(), got, want)
				}
				return
			}
		}
		t.Error("no lag is told")
	}
	ring(0) // due just now, and put off until seven
	v.clock.Set(dawn.Add(4 * time.Hour))
	ring(3 * time.Hour)
	ring(0) // all were looked at
}
