package practice

import (
	"testing"
	"time"

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

func TestValleyPlaceIsWarm(t *testing.T) {
	p := Place()
	ok(t, p.Validate())
	for m, n := range p.Normals {
		if mean := (n.MinC + n.MaxC) / 2; mean < 24 || mean > 26 {
			t.Errorf("month %d has a mean of %g °C", m+1, mean)
		}
	}
}
