package engine

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestPassDays(t *testing.T) {
	s, planted := announced(8)
	d := must(s.PassDays(planted + 8))
	wantEqual(t, "opens", d.Opens, planted+12)
	wantEqual(t, "closes", d.Closes, planted+15)
	wantEqual(t, "chances", len(d.Chances), 4)
	wantNear(t, "chance of the best day", d.Chances[d.Best-d.Opens], d.Chance, 1e-12)
	if d.Until <= d.Closes {
		t.Errorf("no late pass after %s: until %s", d.Closes, d.Until)
	}

	// After the window was missed and the next has begun, the days are those of the next.
	later := d.Until + 1
	next := must(s.PassDays(later))
	wantEqual(t, "number", next.Number, 2)
	wantNear(t, "chance of the next best day", next.Chances[next.Best-next.Opens], next.Chance, 1e-12)

	s.Sightings = []Sighting{{On: planted + 9, Leaves: FourPlus}}
	if d := must(s.PassDays(planted + 9)); d.Why != WhySeenBig || d.Until != d.Closes {
		t.Errorf("weeds seen too big for the tool, %s: closes %s, until %s", d.Why, d.Closes, d.Until)
	}

	s.Plot.Method = Broadcast
	if d := must(s.PassDays(planted + 8)); d.Chances != nil || d.Until != d.Closes {
		t.Errorf("by hand: %+v", d)
	}
	s.ClosedOn = planted + 8
	if d := must(s.PassDays(planted + 8)); d.Exists() {
		t.Errorf("on a closed plot: %+v", d)
	}
	s.Plot.Method = 0
	if _, err := s.PassDays(planted); err == nil {
		t.Error("a season that is not valid has days")
	}
}

// Until agrees with the plans of the days after the window: up to then the window is shown as missed, on the day after
// it the next window has begun, or the season of the tool is over.
func TestPassDaysUntil(t *testing.T) {
	late := 0
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		s.Passes = slices.DeleteFunc(s.Passes, func(p Pass) bool { return p.On > today })
		s.Sightings = slices.DeleteFunc(s.Sightings, func(x Sighting) bool { return x.On > today })
		s.ClosedOn = 0
		d := must(s.PassDays(today))
		plan := must(s.Windows(today))
		if d.Window != plan.Next {
			t.Fatalf("%+v, and the plan has %+v", d.Window, plan.Next)
		}
		if !d.Exists() || d.With == ByHand {
			return
		}
		wantEqual(t, "chances", len(d.Chances), int(d.Closes-d.Opens)+1)
		for _, c := range d.Chances {
			if !(c >= 0 && c <= 1) {
				t.Fatalf("chance %g", c)
			}
		}
		s.Announced = d.Window // the days stay
		for on := max(today, d.Closes+1); on <= d.Until; on++ {
			late++
			p := must(s.Windows(on))
			if p.Next.Number != d.Number || p.State != Missed {
				t.Fatalf("on %s, until %s: %s, %+v", on, d.Until, p.State, p.Next)
			}
		}
		after := must(s.Windows(max(today, d.Until) + 1))
		if d.Why != WhySeenBig && after.State == Missed && after.Next.Number == d.Number {
			t.Fatalf("after %s still %+v", d.Until, after.Next)
		}
	})
	if late == 0 {
		t.Error("no day after a window was tried")
	}
}
