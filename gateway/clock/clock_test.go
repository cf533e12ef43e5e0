package clock_test

import (
	"slices"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
	"rowbell/gateway/clock"
)

var start = time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC)

// waiting returns and removes the ticks in a channel.
func waiting(ticks <-chan time.Time) []time.Time {
	var got []time.Time
	for {
		select {
		case t := <-ticks:
			got = append(got, t)
		default:
			return got
		}
	}
}

func TestManualTicks(t *testing.T) {
	for _, tt := range []struct {
		name string
		move func(*clock.Manual)
		want []time.Time
	}{
		{"many at once are one, the last", func(c *clock.Manual) { c.Advance(5*time.Hour + time.Minute) },
			[]time.Time{start.Add(5 * time.Hour)}},
		{"one not taken stays", func(c *clock.Manual) { c.Advance(time.Hour); c.Advance(time.Hour) },
			[]time.Time{start.Add(time.Hour)}},
		{"set forward", func(c *clock.Manual) { c.Set(start.Add(90 * time.Minute)) },
			[]time.Time{start.Add(time.Hour)}},
		{"set back counts anew", func(c *clock.Manual) {
			c.Set(start.Add(-24 * time.Hour))
			c.Advance(time.Hour)
		}, []time.Time{start.Add(-23 * time.Hour)}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := clock.New(start)
			ticks, stop := c.Every(time.Hour)
			defer stop()
			tt.move(c)
			got := waiting(ticks)
			if !slices.EqualFunc(got, tt.want, time.Time.Equal) {
				t.Errorf("ticks %v, want %v", got, tt.want)
			}
		})
	}
}

func TestManualStopped(t *testing.T) {
	c := clock.New(start)
	ticks, stop := c.Every(time.Minute)
	stop()
	stop() // calling stop a second time changes nothing
	c.Advance(time.Hour)
	if got := waiting(ticks); got != nil {
		t.Errorf("ticks after stop: %v", got)
	}
}

func TestManualZone(t *testing.T) {
	c := clock.New(start.In(time.FixedZone("east", 7*3600)))
	if c.Now().Location() != time.UTC || !c.Now().Equal(start) {
		t.Errorf("Now() = %v, want %v in UTC", c.Now(), start)
	}
	if got := c.Advance(time.Second); !got.Equal(start.Add(time.Second)) || !got.Equal(c.Now()) {
		t.Errorf("Advance returned %v, the clock stands at %v", got, c.Now())
	}
}

func TestEveryNeedsADuration(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("Every(0) did not panic")
		}
	}()
	clock.New(start).Every(0)
}

// However the clock is moved forward, the time of a tick is a multiple of the interval and never in the future.
// If at least one multiple was passed, exactly one tick waits.
func TestManualGrid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := clock.New(start)
		every := time.Duration(rapid.Int64Range(1, 7200).Draw(t, "every")) * time.Second
		ticks, stop := c.Every(every)
		defer stop()
		for range rapid.IntRange(1, 20).Draw(t, "moves") {
			before := c.Now().Sub(start) / every
			now := c.Advance(time.Duration(rapid.Int64Range(0, 20000).Draw(t, "by")) * time.Second)
			got := waiting(ticks)
			if crossed := now.Sub(start)/every > before; crossed != (len(got) == 1) {
				t.Fatalf("crossed %v, ticks %v", crossed, got)
			}
			for _, tick := range got {
				if tick.After(now) || tick.Sub(start)%every != 0 {
					t.Fatalf("tick %v is off the grid or after %v", tick, now)
				}
			}
		}
	})
}

func TestManualTogether(t *testing.T) {
	c := clock.New(start)
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			ticks, stop := c.Every(time.Second)
			defer stop()
			c.Advance(time.Second)
			if len(waiting(ticks)) == 0 {
				t.Error("advanced past a tick, but none is waiting")
			}
		})
	}
	wg.Wait()
	if got := c.Now().Sub(start); got != 8*time.Second {
		t.Errorf("eight advances of a second moved the clock by %v", got)
	}
}
