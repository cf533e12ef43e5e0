package circle

import (
	"cmp"
	"reflect"
	"slices"
)

// maxNear is how many plots of a changed problem may get other turns. Larger problems would take too long to solve
// again and again.
const maxNear = maxSearchPlots

// near is the part of a problem around one plot. All other plots keep their turns in the roster.
type near struct {
	Problem
	roster Roster
	plots  []int // index in the whole problem of each plot
}

// near returns the part of a problem around a plot: the plots with which it competes, directly or through others, of
// these the maxNear whose windows are nearest. A problem that is not larger is returned whole.
func (p Problem) near(centre int, r Roster) near {
	n := near{Problem: p, roster: r, plots: []int{centre}}
	if len(p.Plots) <= maxNear {
		n.plots = n.plots[:0]
		for i := range p.Plots {
			n.plots = append(n.plots, i)
		}
		return n
	}
	for k := 0; k < len(n.plots); k++ {
		for i := range p.Plots {
			if p.compete(n.plots[k], i) && !slices.Contains(n.plots, i) {
				n.plots = append(n.plots, i)
			}
		}
	}
	distance := func(i int) int {
		opens, closes := p.Plots[i].Opens-p.Plots[centre].Opens, p.Plots[i].Closes-p.Plots[centre].Closes
		return int(max(opens, -opens) + max(closes, -closes))
	}
	slices.SortFunc(n.plots, func(a, b int) int {
		return cmp.Or(cmp.Compare(distance(a), distance(b)),
			cmp.Compare(max(a-centre, centre-a), max(b-centre, centre-b)), cmp.Compare(a, b))
	})
	n.plots = n.plots[:min(len(n.plots), maxNear)]
	slices.Sort(n.plots)
	n.cut()
	return n
}

// compete reports whether two plots can use the same tool, or the same hands, on the same day.
func (p Problem) compete(a, b int) bool {
	one, other := p.Plots[a], p.Plots[b]
	if max(one.Opens, other.Opens) > min(one.Until, other.Until) {
		return false
	}
	for tool, need := range one.Need {
		if need > 0 && other.Need[tool] > 0 {
			return true
		}
	}
	return one.Household == other.Household
}

// cut leaves only the plots of the part, the tools on the days on which no other plot has them, and the hands that no
// other plot uses.
func (n *near) cut() {
	whole, r := n.Problem, n.roster
	n.Plots = nil
	n.Tools = slices.Clone(whole.Tools)
	for _, i := range n.plots {
		n.Plots = append(n.Plots, whole.Plots[i])
	}
	var turns []Turn
	for _, turn := range r.Turns {
		i := slices.Index(n.plots, turn.Plot)
		if i >= 0 {
			turn.Plot = i
			turns = append(turns, turn.Turn)
			continue
		}
		tool := &n.Tools[turn.Tool]
		tool.Out = append(slices.Clone(tool.Out), Span{turn.Day, turn.Day})
		household := whole.Plots[turn.Plot].Household
		n.Problem = n.withHands(household, turn.Day, n.handsOn(household, turn.Day)-1)
	}
	n.roster = n.result(turns)
}

// newHelper returns a helper for a part of a problem.
func newHelper(whole Problem, n near, limit Limit, left int) helper {
	h := helper{whole: whole, p: n.Problem, r: n.roster, limit: limit, left: left, served: n.roster.Served}
	for i := range n.Plots {
		if n.canBeServed(i) {
			h.all++
		}
	}
	return h
}

// helpNear looks for help around each plot that is not served.
func (h *helper) helpNear() {
	for i, plot := range h.r.Plots {
		if plot.Served || !h.p.canBeServed(i) {
			continue
		}
		n := h.p.near(i, h.r)
		part := newHelper(h.p, n, h.limit, h.left)
		for _, k := range n.plots {
			if k < len(h.ways.OneWay) {
				part.ways.OneWay = append(part.ways.OneWay, h.ways.OneWay[k])
			}
			if k < len(h.ways.HandHours) {
				part.ways.HandHours = append(part.ways.HandHours, h.ways.HandHours[k])
			}
		}
		part.look()
		for _, help := range part.found {
			h.keepNear(n, help)
		}
		h.left, h.spent = part.left, h.spent || part.spent
	}
}

// keepNear keeps a help for a part of the problem, unless the same was found for another part.
func (h *helper) keepNear(n near, help Help) {
	if help.Plot >= 0 {
		help.Plot = n.plots[help.Plot]
	}
	for _, list := range [][]int{help.Served, help.Instead} {
		for k := range list {
			list[k] = n.plots[list[k]]
		}
	}
	for k := range help.GivenUp {
		help.GivenUp[k].Plot = help.Plot
	}
	help.All = h.served+len(help.Served)-len(help.Instead) == h.all
	if !slices.ContainsFunc(h.found, func(other Help) bool { return reflect.DeepEqual(help, other) }) {
		h.found = append(h.found, help)
	}
}
