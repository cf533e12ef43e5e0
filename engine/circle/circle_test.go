package circle

import (
	"math/rand/v2"
	"testing"

	"rowbell/engine"
)

// crowd is how a random problem is drawn.
type crowd struct {
	plots, tools, days int
	needs              int  // 1 to needs tool-days
	windowMin          int  // days of the shortest window
	windowMax          int  // days of the longest window
	shared             bool // some households have two plots
	even               bool // all days of a window are equal
	classes            bool // tools have different needs at the same plot
}

// draw returns a random problem. The same seed gives the same problem.
func (c crowd) draw(seed uint64) Problem {
	r := rand.New(rand.NewPCG(seed, 1))
	between := func(low, high int) int { return low + r.IntN(high-low+1) }
	p := Problem{From: dayOne, To: dayOne + engine.Day(c.days) - 1, Tools: make([]Tool, c.tools)}
	for k := range p.Tools {
		if between(0, 3) == 0 {
			from := dayOne + engine.Day(between(0, c.days-1))
			p.Tools[k].Out = []Span{{from, from + engine.Day(between(0, 2))}}
		}
	}
	for i := range c.plots {
		if !c.shared || i == 0 || between(0, 2) > 0 {
			p.Households = append(p.Households, Household{})
			if between(0, 3) == 0 {
				hands := make([]int, c.days)
				for d := range hands {
					hands[d] = between(0, 5)/2 + (d % 2)
				}
				p.Households[len(p.Households)-1].Hands = hands
			}
		}
		length := between(c.windowMin, c.windowMax)
		opens := dayOne + engine.Day(between(-1, max(0, c.days-length)))
		plot := Plot{Household: len(p.Households) - 1, Opens: opens, Closes: opens + engine.Day(length-1),
			Until: opens + engine.Day(length-1+between(0, 7)), Need: make([]int, c.tools),
			Missed: max(0, between(-2, 2))}
		need := between(1, c.needs)
		for k := range plot.Need {
			switch {
			case k > 0 && between(0, 3) == 0:
			case c.classes && between(0, 2) == 0:
				plot.Need[k] = min(need+1, c.needs)
			default:
				plot.Need[k] = need
			}
		}
		if !c.even {
			for range length {
				plot.Chance = append(plot.Chance, float64(between(0, 1000))/1000)
			}
		}
		p.Plots = append(p.Plots, plot)
	}
	return p
}

// withTold returns the problem with the turns of the roster as told turns.
func withTold(p Problem, r Roster) Problem {
	plots := make([]Plot, len(p.Plots))
	copy(plots, p.Plots)
	for i := range plots {
		plots[i].Told = nil
	}
	for _, turn := range r.Turns {
		plots[turn.Plot].Told = append(plots[turn.Plot].Told, turn.Turn)
	}
	p.Plots = plots
	return p
}

func TestRostersKeepTheLimits(t *testing.T) {
	for seed := range uint64(100) {
		c := crowd{plots: 1 + int(seed%12), tools: 1 + int(seed%4), days: 15, needs: 4, windowMin: 1, windowMax: 9,
			shared: seed%2 == 0, even: seed%3 == 0, classes: seed%5 < 2}
		p := c.draw(seed)
		if err := p.Validate(); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if err := Verify(p, p.Solve(Limit{})); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	}
}
