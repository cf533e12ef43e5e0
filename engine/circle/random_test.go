package circle_test

import (
	"math/rand/v2"
	"slices"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// draw returns a random number from low to high.
type draw func(low, high int) int

// seeded returns numbers that depend on the seed only.
func seeded(seed uint64) draw {
	r := rand.New(rand.NewPCG(seed, 16))
	return func(low, high int) int { return low + r.IntN(high-low+1) }
}

// drawn returns numbers of a property test.
func drawn(t *rapid.T) draw {
	return func(low, high int) int { return rapid.IntRange(low, high).Draw(t, "") }
}

// chance returns true in so many of a hundred cases.
func (d draw) chance(percent int) bool { return d(1, 100) > 100-percent }

// randomProblem returns a problem with 4 to 9 plots, 1 to 3 tools and 8 to 16 days. In half of the problems all windows
// open in the first half of the days, so that more tool-days are needed in them than there are.
func randomProblem(d draw) circle.Problem {
	p := circle.Problem{From: day0, Tools: make([]circle.Tool, d(1, 3))}
	length := d(8, 16)
	p.To = day0 + engine.Day(length-1)
	if d.chance(50) {
		length /= 2
	}
	for i := range p.Tools {
		for range d(-2, 2) {
			first := p.From + engine.Day(d(-1, length-1))
			p.Tools[i].Out = append(p.Tools[i].Out, circle.Span{From: first, To: first + engine.Day(d(0, 3))})
		}
	}
	plots := d(4, 9)
	households := plots
	if d.chance(40) {
		households = d(1, plots)
	}
	for range households {
		p.Households = append(p.Households, circle.Household{Hands: randomHands(d, length)})
	}
	for i := range plots {
		household := i
		if households < plots {
			household = d(0, households-1)
		}
		p.Plots = append(p.Plots, randomPlot(d, p, household, length))
	}
	if d.chance(50) {
		tell(&p, d)
	}
	return p
}

// randomHands returns the hands of a household: mostly one, with rest days and days with helpers.
func randomHands(d draw, length int) []int {
	if d.chance(50) {
		return nil
	}
	hands := make([]int, d(1, length))
	for i := range hands {
		hands[i] = 1
		if d.chance(40) {
			hands[i] = d(0, 3)
		}
	}
	return hands
}

// randomPlot returns a plot whose window opens on one of the first days, or shortly before them.
func randomPlot(d draw, p circle.Problem, household, length int) circle.Plot {
	plot := circle.Plot{Household: household, Missed: max(0, d(-2, 3))}
	plot.Opens = p.From + engine.Day(d(-2, length-2))
	plot.Closes = plot.Opens + engine.Day(d(0, 6))
	plot.Until = plot.Closes + engine.Day(max(0, d(-2, 5)))
	for range p.Tools {
		plot.Need = append(plot.Need, d(1, 2)*d(0, 2))
	}
	if d.chance(40) { // all tools in one class
		plot.Need = slices.Repeat([]int{d(1, 4)}, len(p.Tools))
	}
	if d.chance(60) {
		for range plot.Closes - plot.Opens + 1 {
			plot.Chance = append(plot.Chance, float64(d(0, 20))/20)
		}
	}
	return plot
}

// tell gives some plots told turns. No tool is told twice for one day.
func tell(p *circle.Problem, d draw) {
	used := map[circle.Turn]bool{}
	for i := range p.Plots {
		plot := &p.Plots[i]
		for range d(0, 3) {
			t := circle.Turn{Tool: d(0, len(p.Tools)-1), Day: plot.Opens + engine.Day(d(0, int(plot.Until-plot.Opens)))}
			if !used[t] && t.Day >= p.From && t.Day <= p.To {
				used[t] = true
				t.Plot = i
				plot.Told = append(plot.Told, t)
			}
		}
	}
}
