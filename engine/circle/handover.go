package circle

import (
	"slices"

	"rowbell/engine"
)

// handover looks for the fewest handovers among the rosters of a tie: those whose costs are the bound.
//
// It goes through the days. A state is what each plot has so far and which household has each tool. At the prices of
// the bound, each step has a slack: by how much a plot pays more than its cheapest way from its state, and the prices
// of the tool-days that nobody uses. The slacks of a roster add up to its costs less the bound, and none is negative.
// So each step of a roster that costs no more than the bound has a slack of 0, and all other steps are left out.
type handover struct {
	s     *search
	t     tie
	most  int // handovers must be fewer
	width int // states that are followed on each day; 0: all
	plots []handoverPlot
	days  [][]state
	lost  bool // states were left out for the width or the limit

	must  []bool  // of each plot: it must be served
	room  [][]int // by set of tools (a bit for each) and day: their tool-days before the day
	load  []int   // scratch of fits, by day
	tools []int   // of each plot: the set of tools that the tie allows

	twin []int // of each tool: the first tool that is equal to it
	adds int   // calls of add

	used  []int  // scratch: tools of each household on the day
	named []bool // scratch: households that were counted
	turn  []int  // scratch: index of the active plot of each tool on the day, or -1
}

// handoverPlot has, for each class, the least costs of a plot from a day on with so many tool-days so far, at the
// prices; infinite if the class is not allowed.
type handoverPlot struct {
	end     int       // last day of the window that is planned
	even    bool      // all tool-days of the window cost the same, and there are no late ones
	several bool      // classes
	rest    [][]int64 // by class; then (day from first)*(need+1) + tool-days
}

// state is what was decided up to a day.
type state struct {
	key    string // a byte for each plot, a byte for each tool, and the number of plots that are served
	hand   int    // handovers so far
	more   int    // at least so many follow
	done   int    // tool-days so far of the plots that are not over, and all of those that are
	parent int    // index in the states of the day before
	// place is, by tool, in whose place it is: equal tools change places, so that more states are equal.
	place [maxSearchTools]int8
	turn  [maxSearchTools]int8
}

// addsOfNode is how many calls of add take about as long as a node of the search.
const addsOfNode = 64

// A plot's byte is untouched, over, or 1 + class*needs + tool-days. A tool's byte is its household's number + 1, or 0.
// Households are numbered as they come in the plots.
const (
	untouched = 0
	over      = 255
	needs     = MaxNeed + 1

	nobody = 0   // had the tool so far
	gone   = 255 // the household that has the tool gets no tool any more; which one it is does not matter
)

// find returns the tool-days with the fewest handovers if they are fewer than most. all is true if no state was left
// out, so that none has fewer.
func (h *handover) find() (turns []Turn, hand int, all bool) {
	m := h.s.m
	h.used, h.named = make([]int, len(m.p.Households)), make([]bool, len(m.p.Households))
	h.turn = make([]int, len(m.p.Tools))
	h.plots = make([]handoverPlot, len(m.plots))
	key := make([]byte, len(m.plots)+len(m.p.Tools)+1)
	h.plots = make([]handoverPlot, len(m.plots))
	for i := range m.plots {
		h.table(i)
		if m.plots[i].first > m.plots[i].last {
			key[i] = over
		}
	}
	h.measure()
	if h.needy(-1, key) >= h.most {
		return nil, 0, true
	}
	h.days = [][]state{{{key: string(key)}}}
	for day := range m.days {
		next := h.step(day)
		if len(next) == 0 {
			return nil, 0, !h.lost
		}
		h.days = append(h.days, next)
	}
	end := h.days[m.days]
	best := -1
	for j, st := range end {
		if int(st.key[len(st.key)-1]) == h.s.target && (best < 0 || st.hand < end[best].hand) {
			best = j
		}
	}
	if best < 0 {
		return nil, 0, !h.lost
	}
	return h.path(best), end[best].hand, !h.lost
}

// path returns the tool-days that lead to a state of the last day.
func (h *handover) path(last int) (turns []Turn) {
	m := h.s.m
	path := make([]int, m.days+1)
	for day := m.days; day > 0; day-- {
		path[day] = last
		last = h.days[day][last].parent
	}
	tool := make([]int, len(m.p.Tools)) // in the place of each tool
	for k := range tool {
		tool[k] = k
	}
	for day := range m.days {
		st := h.days[day+1][path[day+1]]
		was := slices.Clone(tool)
		for k := range tool {
			if i := int(st.turn[k]); i >= 0 {
				turns = append(turns, Turn{Plot: m.plots[i].index, Tool: was[k], Day: m.p.From + engine.Day(day)})
			}
			tool[k] = was[st.place[k]]
		}
	}
	return turns
}

// table calculates the costs of plot i backwards from its last day.
func (h *handover) table(i int) {
	m := h.s.m
	plot := &m.plots[i]
	hp := &h.plots[i]
	hp.end = min(plot.closes, plot.last)
	hp.several = len(h.t.d.allowed(i)) > 1
	hp.even = !slices.Contains(plot.told, true)
	for day := plot.first + 1; day <= hp.end; day++ {
		hp.even = hp.even && plot.chance[day-plot.first] == plot.chance[0]
	}
	var list []int64
	for c, class := range plot.classes {
		n := class.need + 1
		rest := make([]int64, max(0, plot.last-plot.first+1)*n)
		hp.rest = append(hp.rest, rest)
		if h.t.d.choices[i].classes>>c&1 == 0 {
			for at := range rest {
				rest[at] = infinite
			}
			continue
		}
		for day := plot.last; day >= plot.first; day-- {
			list = m.unitCosts(list[:0], plot, class, day, m.hand(h.t.d, i, day), &h.t.b)
			slices.Sort(list)
			for u := range n {
				sum, least := int64(0), h.next(i, c, day, u)
				for j, cost := range list[:min(len(list), class.need-u)] {
					sum += cost
					least = min(least, sum+h.next(i, c, day, u+j+1))
				}
				rest[(day-plot.first)*n+u] = least
			}
		}
	}
}

// next returns the least costs of plot i after the day, if it then has u tool-days of class c.
func (h *handover) next(i, c, day, u int) int64 {
	plot := &h.s.m.plots[i]
	need := plot.classes[c].need
	if u == need || day >= plot.last || day == h.plots[i].end && h.t.d.choices[i].status == served {
		return h.after(i, c, day, u)
	}
	return h.plots[i].rest[c][(day+1-plot.first)*(need+1)+u]
}

// after returns the costs of plot i after the day, if it has u tool-days of class c and gets no more.
func (h *handover) after(i, c, day, u int) int64 {
	plot := &h.s.m.plots[i]
	class := plot.classes[c]
	choice := h.t.d.choices[i]
	base := h.s.m.w.late * int64(class.need) * int64(plot.missing)
	whole := u == class.need && day <= h.plots[i].end
	switch {
	case choice.classes>>c&1 == 0 || whole && choice.status == unserved || !whole && choice.status == served:
		return infinite
	case whole:
		return base - h.t.b.reward - h.s.m.w.missed*int64(plot.missed)
	}
	return base
}

// costs returns the least costs of plot i after the day with this byte of the state, and the costs if it gets no more.
func (h *handover) costs(i, day int, code byte) (rest, after int64) {
	switch code {
	case over:
		return 0, 0
	case untouched:
		rest, after = infinite, infinite
		for c := range h.s.m.plots[i].classes {
			rest = min(rest, h.next(i, c, day, 0))
			after = min(after, h.after(i, c, day, 0))
		}
		return rest, after
	}
	c, u := int(code-1)/needs, int(code-1)%needs
	return h.next(i, c, day, u), h.after(i, c, day, u)
}
