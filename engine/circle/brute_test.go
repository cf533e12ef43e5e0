package circle

import (
	"testing"

	"rowbell/engine"
)

// brute tries every assignment of the tool-days and returns the best objectives. It is only for a few plots and days.
type brute struct {
	Problem
	turns []Turn
	best  []int // served, -moved, -lateness, missed, chance, -handovers
}

func (b *brute) try(cell int) {
	if cell == len(b.Tools)*int(b.To-b.From+1) {
		if o := b.objectives(); b.best == nil || compare(o, b.best) > 0 {
			b.best = o
		}
		return
	}
	k, day := cell%len(b.Tools), b.From+engine.Day(cell/len(b.Tools))
	b.try(cell + 1)
	for _, span := range b.Tools[k].Out {
		if span.From <= day && day <= span.To {
			return
		}
	}
	for i, plot := range b.Plots {
		if day < plot.Opens || day > plot.Until || plot.Need[k] == 0 {
			continue
		}
		mine, hands, same := 0, 0, true
		for _, t := range b.turns {
			if t.Plot == i {
				mine++
				same = same && plot.Need[t.Tool] == plot.Need[k]
			}
			if t.Day == day && b.Plots[t.Plot].Household == plot.Household {
				hands++
			}
		}
		if same && mine < plot.Need[k] && hands < b.Households[plot.Household].handsOn(int(day-b.From)) {
			b.turns = append(b.turns, Turn{i, k, day})
			b.try(cell + 1)
			b.turns = b.turns[:len(b.turns)-1]
		}
	}
}

func (b *brute) objectives() []int {
	var served, kept, lateness, missed, chance, handovers int
	for i, plot := range b.Plots {
		need, n, late := 0, 0, 0
		for _, t := range b.turns {
			if t.Plot != i {
				continue
			}
			n++
			need = plot.Need[t.Tool]
			if t.Day > plot.Closes {
				late += int(t.Day - plot.Closes)
			} else if plot.Chance != nil {
				chance += int(plot.Chance[t.Day-plot.Opens]*1000 + 0.5)
			}
			for _, told := range plot.Told {
				if told.Tool == t.Tool && told.Day == t.Day {
					kept++
				}
			}
		}
		if n == 0 {
			for _, with := range plot.Need {
				if with > 0 && (need == 0 || with < need) {
					need = with
				}
			}
		}
		late += (need - n) * int(plot.Until+1-plot.Closes)
		if need > 0 && late == 0 {
			served++
			missed += plot.Missed
		}
		lateness += late
	}
	for k := range b.Tools {
		last := -1
		for _, t := range b.turns {
			if t.Tool == k {
				if h := b.Plots[t.Plot].Household; last >= 0 && last != h {
					handovers++
				}
				last = b.Plots[t.Plot].Household
			}
		}
	}
	return []int{served, kept, -lateness, missed, chance, -handovers}
}

func compare(a, b []int) int {
	for j := range a {
		if a[j] != b[j] {
			return a[j] - b[j]
		}
	}
	return 0
}

func TestSolveAgainstAllAssignments(t *testing.T) {
	for seed := range uint64(600) {
		c := crowd{plots: 2 + int(seed%3), tools: 2, days: 5, needs: 3, windowMin: 1, windowMax: 4,
			shared: seed%2 == 0, even: seed%3 == 0, classes: seed%5 < 3}
		if seed%7 == 0 {
			c.tools, c.days, c.plots = 1, 9, 5
		}
		if seed%11 == 0 {
			c.tools, c.days, c.plots, c.windowMax = 3, 3, 4, 3
		}
		p := c.draw(seed)
		if seed%5 == 4 { // equal tools
			for k := range p.Tools {
				p.Tools[k] = p.Tools[0]
			}
		}
		for i := range p.Plots {
			for k := range p.Plots[i].Need {
				if seed%5 == 4 {
					p.Plots[i].Need[k] = p.Plots[i].Need[0]
				}
			}
			p.Plots[i].Until = min(p.Plots[i].Until, p.Plots[i].Closes+2)
		}
		if seed%4 > 1 {
			q := c.draw(seed) // turns that were told for another season of the same plots
			for i := range q.Plots {
				q.Plots[i].Opens, q.Plots[i].Until = q.Plots[i].Opens-1, q.Plots[i].Until+1
				q.Plots[i].Chance = nil
			}
			p = withTold(p, q.Solve(Limit{}))
		}
		r := p.Solve(Limit{})
		if err := Verify(p, r); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if !r.Proven || !r.HandoversProven {
			t.Errorf("seed %d: proven %t, handovers %t", seed, r.Proven, r.HandoversProven)
		}
		b := brute{Problem: p}
		b.try(0)
		toldTurns := 0
		for _, plot := range p.Plots {
			for _, turn := range plot.Told {
				if turn.Day >= p.From && turn.Day <= p.To {
					toldTurns++
				}
			}
		}
		got := []int{r.Served, toldTurns - r.Moved, -r.Lateness, r.Missed, r.Chance, -r.Handovers}
		if compare(got, b.best) != 0 {
			t.Errorf("seed %d: got %v, best %v", seed, got, b.best)
		}
	}
}
