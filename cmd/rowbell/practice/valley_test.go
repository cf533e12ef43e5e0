package practice

import (
	"testing"
	"time"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
)

// On any first day, the practice place has plots in every state of a season.
func TestValleyShowsEveryState(t *testing.T) {
	for month := time.January; month <= time.December; month++ {
		for _, day := range []int{1, 11, 21} {
			today := engine.Date(2026, month, day)
			states := map[engine.State]int{}
			oldest := today
			for _, v := range valley() {
				for _, st := range v.plots {
					s, err := st.season(today)
					ok(t, err)
					oldest = min(oldest, s.Plot.Planted)
					p, err := s.Plan(today)
					ok(t, err)
					states[p.State]++
					w := p.Next
					whole := w.Exists() && w.With == engine.ByTool && w.Closes < p.Closure.LastToolDay
					if days := w.Closes - w.Opens + 1; whole && (days < 4 || days > 9) {
						t.Errorf("%s, %s: a window of %d days", today, v.name, days)
					}
				}
			}
			for s := engine.TooEarly; s < engine.Closed; s++ {
				if states[s] == 0 {
					t.Errorf("on %s no plot is %q", today, s)
				}
			}
			deeds, err := History(today)
			ok(t, err)
			for i, d := range deeds {
				if d.On > today || d.On < oldest || i > 0 && d.On < deeds[i-1].On {
					t.Errorf("deed %d on %s is out of order", i, d.On)
				}
			}
		}
	}
}

// The valley has the climate that rowbell plan takes where none is told, so that both give one date for one plot.
func TestValleyHasTheClimateOfPlan(t *testing.T) {
	p := Place()
	ok(t, p.Validate())
	s, _, err := (&plan.Input{Method: "transplanted", Planted: firstDay.String(), Row: 25}).Season(firstDay)
	ok(t, err)
	for m, want := range s.Weather.Normals {
		if got := p.Normals[m]; got.MinC != want.MinC || got.MaxC != want.MaxC || p.Latitude != s.Weather.LatitudeDeg {
			t.Errorf("month %d has %+v at %g degrees, plan takes %+v at %g", m+1, got, p.Latitude, want,
				s.Weather.LatitudeDeg)
		}
	}
}
