package circle

import (
	"fmt"
	"math"
	"slices"
)

// Verify counts every limit and objective of the roster anew, in the plainest way, and returns the first that is wrong.
// It does not share code with Solve. It does not check that the roster is the best.
func Verify(p Problem, r Roster) error {
	if len(r.Plots) != len(p.Plots) {
		return fmt.Errorf("results of %d plots, want %d", len(r.Plots), len(p.Plots))
	}
	if err := verifyTurns(p, r); err != nil {
		return err
	}
	if err := verifyHands(p, r); err != nil {
		return err
	}
	var sum Roster
	for i := range p.Plots {
		if err := verifyPlot(p, r, i, &sum); err != nil {
			return fmt.Errorf("plot %d: %w", i, err)
		}
	}
	for k := range p.Tools {
		last := -1
		for _, t := range r.Turns {
			if t.Tool != k {
				continue
			}
			h := p.Plots[t.Plot].Household
			if last >= 0 && h != last {
				sum.Handovers++
			}
			last = h
		}
	}
	for _, c := range []struct {
		name      string
		got, want int
	}{
		{"served", r.Served, sum.Served}, {"moved", r.Moved, sum.Moved}, {"lateness", r.Lateness, sum.Lateness},
		{"missed", r.Missed, sum.Missed}, {"chance", r.Chance, sum.Chance}, {"handovers", r.Handovers, sum.Handovers},
	} {
		if c.got != c.want {
			return fmt.Errorf("%s %d, but the turns make %d", c.name, c.got, c.want)
		}
	}
	if r.Bound < r.Served || r.Proven && r.Bound != r.Served || r.HandoversProven && !r.Proven {
		return fmt.Errorf("served %d, bound %d, proven %t, handovers proven %t", r.Served, r.Bound, r.Proven,
			r.HandoversProven)
	}
	return nil
}

// verifyTurns checks each turn alone, their order, and that no tool is at two plots on a day.
func verifyTurns(p Problem, r Roster) error {
	for j, t := range r.Turns {
		if t.Plot < 0 || t.Plot >= len(p.Plots) || t.Tool < 0 || t.Tool >= len(p.Tools) {
			return fmt.Errorf("turn %d: plot %d, tool %d", j, t.Plot, t.Tool)
		}
		plot := p.Plots[t.Plot]
		switch {
		case t.Day < p.From || t.Day > p.To:
			return fmt.Errorf("turn %d: %v is not planned", j, t.Day)
		case t.Day < plot.Opens || t.Day > plot.Until:
			return fmt.Errorf("turn %d: %v is outside of the days of plot %d", j, t.Day, t.Plot)
		case plot.Need[t.Tool] == 0:
			return fmt.Errorf("turn %d: tool %d does not suit plot %d", j, t.Tool, t.Plot)
		}
		for _, span := range p.Tools[t.Tool].Out {
			if span.From <= t.Day && t.Day <= span.To {
				return fmt.Errorf("turn %d: tool %d is out on %v", j, t.Tool, t.Day)
			}
		}
		late := 0
		if t.Day > plot.Closes {
			late = int(t.Day - plot.Closes)
		}
		if t.Late != late {
			return fmt.Errorf("turn %d: late by %d, want %d", j, t.Late, late)
		}
		if j > 0 {
			b := r.Turns[j-1]
			if b.Day > t.Day || b.Day == t.Day && b.Tool >= t.Tool {
				return fmt.Errorf("turn %d: tool %d on %v follows tool %d on %v", j, t.Tool, t.Day, b.Tool, b.Day)
			}
		}
	}
	return nil
}

// verifyHands checks that no household uses more tools on a day than it has hands for.
func verifyHands(p Problem, r Roster) error {
	for h, household := range p.Households {
		for d := p.From; d <= p.To; d++ {
			used := 0
			for _, t := range r.Turns {
				if t.Day == d && p.Plots[t.Plot].Household == h {
					used++
				}
			}
			hands := 1
			if n := len(household.Hands); n > 0 {
				hands = household.Hands[min(int(d-p.From), n-1)]
			}
			if used > hands {
				return fmt.Errorf("household %d: %d tools on %v with hands for %d", h, used, d, hands)
			}
		}
	}
	return nil
}

// verifyPlot checks the result of plot i and adds it to sum.
func verifyPlot(p Problem, r Roster, i int, sum *Roster) error {
	plot, res := p.Plots[i], r.Plots[i]
	turns, within, lateness := 0, 0, 0
	has := map[Turn]bool{}
	for _, t := range r.Turns {
		if t.Plot != i {
			continue
		}
		if plot.Need[t.Tool] != res.Need {
			return fmt.Errorf("tool %d needs %d, but the pass %d", t.Tool, plot.Need[t.Tool], res.Need)
		}
		turns++
		has[Turn{Tool: t.Tool, Day: t.Day}] = true
		if t.Day <= plot.Closes {
			within++
			if plot.Chance != nil {
				sum.Chance += int(math.Round(1000 * plot.Chance[t.Day-plot.Opens]))
			}
		} else {
			lateness += int(t.Day - plot.Closes)
		}
	}
	var moved []int
	for j, told := range plot.Told {
		if p.From <= told.Day && told.Day <= p.To && !has[Turn{Tool: told.Tool, Day: told.Day}] {
			moved = append(moved, j)
		}
	}
	least := 0
	for _, need := range plot.Need {
		if need > 0 && (least == 0 || need < least) {
			least = need
		}
	}
	missing := res.Need - turns
	lateness += missing * int(plot.Until+1-plot.Closes)
	served := least > 0 && within == res.Need
	switch {
	case res.Unsuited != (least == 0):
		return fmt.Errorf("unsuited %t, needs %v", res.Unsuited, plot.Need)
	case turns == 0 && res.Need != least:
		return fmt.Errorf("need %d without turns, want %d", res.Need, least)
	case missing < 0 || res.Missing != missing || res.Lateness != lateness || res.Served != served:
		return fmt.Errorf("%d turns, %d within the window: %+v", turns, within, res)
	case !slices.Equal(res.Moved, moved):
		return fmt.Errorf("moved %v, want %v", res.Moved, moved)
	}
	sum.Moved += len(moved)
	sum.Lateness += lateness
	if served {
		sum.Served++
		sum.Missed += plot.Missed
	}
	return nil
}
