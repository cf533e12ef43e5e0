package circle

import (
	"cmp"
	"math"
	"slices"

	"rowbell/engine"
)

// Limit bounds the work of Solve. The zero value is the usual limit.
type Limit struct {
	// Nodes is how many nodes Solve searches at most; 0 means DefaultNodes. A node with much work counts as several.
	// With the same Nodes and no Stop, Solve returns the same roster for the same problem on every machine.
	Nodes int
	// Stop, if not nil, is called from time to time. Once it returns true, Solve returns the best roster so far. A
	// caller that has a clock keeps a time limit with it.
	Stop func() bool
}

// DefaultNodes is how many nodes Solve searches if Limit names no number: about a second of a processor. Judgement.
const DefaultNodes = 10_000

// Roster says which tool is at which plot on which day. Its objectives are fixed in this order, each before the next:
// Served as large, Moved as small, Lateness as small, Missed as large, Chance as large, and Handovers as small as can
// be.
type Roster struct {
	Turns []RosterTurn // by day, then by tool
	Plots []PlotResult // of each plot of the problem

	Served    int // plots that have a whole pass from Opens to Closes
	Moved     int // told turns within the planned days that the roster does not have
	Lateness  int // sum of PlotResult.Lateness
	Missed    int // sum of Plot.Missed over the served plots
	Chance    int // sum over the tool-days from Opens to Closes of the chance of the day, each in whole thousandths
	Handovers int // how often the household that has a tool changes between its used days

	Bound           int  // no roster serves more plots
	Proven          bool // no roster is better in the objectives before Handovers
	HandoversProven bool // and none that is as good in them has fewer handovers
	Nodes           int  // nodes that were searched
}

// RosterTurn is one tool-day of a roster.
type RosterTurn struct {
	Turn
	Late int // days after Closes of the plot; 0 from Opens to Closes
}

// PlotResult is what one plot gets.
type PlotResult struct {
	Served   bool
	Unsuited bool  // no tool suits the plot, so it is left out
	Need     int   // tool-days of the pass with the tools it has; without turns the smallest need
	Missing  int   // tool-days of Need that it does not get until Until
	Lateness int   // days late of its turns, and Until+1-Closes for each missing tool-day
	Moved    []int // indexes in Plot.Told of the told turns within the planned days that it does not have
}

// handsOn returns how many tools the household can use on day d, counted from Problem.From.
func (h Household) handsOn(d int) int {
	switch {
	case len(h.Hands) == 0:
		return 1
	case d < len(h.Hands):
		return h.Hands[d]
	default:
		return h.Hands[len(h.Hands)-1]
	}
}

// out reports whether the tool cannot be used on the day.
func (t Tool) out(day engine.Day) bool {
	return slices.ContainsFunc(t.Out, func(s Span) bool { return s.From <= day && day <= s.To })
}

// thousandths returns the chance of a day of the window as a whole number. Without chances all days are equal.
func (p Plot) thousandths(day engine.Day) int {
	if p.Chance == nil || day < p.Opens || day > p.Closes {
		return 0
	}
	return int(math.Round(p.Chance[day-p.Opens] * 1000))
}

// missing returns the lateness of a missing tool-day.
func (p Plot) missing() int { return int(p.Until + 1 - p.Closes) }

// needs returns the different needs of the plot with the tools that suit it, smallest first.
func (p Plot) needs() []int {
	needs := slices.Clone(p.Need)
	slices.Sort(needs)
	needs = slices.Compact(needs)
	if len(needs) > 0 && needs[0] == 0 {
		needs = needs[1:]
	}
	return needs
}

// result describes turns that keep the limits.
func (p Problem) result(turns []Turn) Roster {
	r := Roster{Plots: make([]PlotResult, len(p.Plots))}
	of := make([][]Turn, len(p.Plots))
	for _, turn := range turns {
		plot := p.Plots[turn.Plot]
		of[turn.Plot] = append(of[turn.Plot], turn)
		r.Turns = append(r.Turns, RosterTurn{Turn: turn, Late: max(0, int(turn.Day-plot.Closes))})
		r.Chance += plot.thousandths(turn.Day)
	}
	slices.SortFunc(r.Turns, func(a, b RosterTurn) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Tool, b.Tool))
	})
	for i, plot := range p.Plots {
		res := p.plotResult(plot, of[i])
		r.Plots[i] = res
		r.Lateness += res.Lateness
		r.Moved += len(res.Moved)
		if res.Served {
			r.Served++
			r.Missed += plot.Missed
		}
	}
	r.Handovers = p.handovers(r.Turns)
	return r
}

func (p Problem) plotResult(plot Plot, turns []Turn) PlotResult {
	var res PlotResult
	for j, told := range plot.Told {
		kept := slices.ContainsFunc(turns, func(t Turn) bool { return t.Tool == told.Tool && t.Day == told.Day })
		if !kept && told.Day >= p.From && told.Day <= p.To {
			res.Moved = append(res.Moved, j)
		}
	}
	needs := plot.needs()
	if len(needs) == 0 {
		res.Unsuited = true
		return res
	}
	res.Need = needs[0]
	if len(turns) > 0 {
		res.Need = plot.Need[turns[0].Tool]
	}
	res.Missing = res.Need - len(turns)
	res.Lateness = res.Missing * plot.missing()
	for _, turn := range turns {
		res.Lateness += max(0, int(turn.Day-plot.Closes))
	}
	res.Served = res.Lateness == 0 // a missing or late tool-day has a lateness of at least 1
	return res
}

// handovers counts the changes of household between the used days of each tool. turns are sorted by day.
func (p Problem) handovers(turns []RosterTurn) int {
	n := 0
	holder := make([]int, len(p.Tools)) // household + 1
	for _, turn := range turns {
		h := p.Plots[turn.Plot].Household + 1
		if was := holder[turn.Tool]; was != 0 && was != h {
			n++
		}
		holder[turn.Tool] = h
	}
	return n
}

// better reports whether roster a is better than b: by each objective, in their order.
func (a Roster) better(b Roster) bool {
	return cmp.Or(
		cmp.Compare(b.Served, a.Served),
		cmp.Compare(a.Moved, b.Moved),
		cmp.Compare(a.Lateness, b.Lateness),
		cmp.Compare(b.Missed, a.Missed),
		cmp.Compare(b.Chance, a.Chance),
		cmp.Compare(a.Handovers, b.Handovers),
	) < 0
}
