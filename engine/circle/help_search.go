package circle

import (
	"cmp"
	"math"
	"slices"

	"rowbell/engine"
)

// helper looks for changes that serve more plots.
type helper struct {
	whole       Problem // what p is a part of; it is the same for a problem that is not large
	p           Problem
	r           Roster
	ways        Ways
	served, all int // plots that roster r serves, and that can be served
	limit       Limit
	left        int  // changed problems that may still be solved
	spent       bool // more were wanted
	found       []Help
}

// canBeServed reports whether some planned day is in the window of the plot. A plot that no tool suits may be served by
// one more tool, or by hand.
func (p Problem) canBeServed(plot int) bool {
	return max(p.Plots[plot].Opens, p.From) <= min(p.Plots[plot].Closes, p.To)
}

// solve solves a changed problem as far as the objective last, if that is still allowed.
func (h *helper) solve(p Problem, last Objective) (r Roster, ok bool) {
	if h.left == 0 || h.limit.Stop != nil && h.limit.Stop() {
		h.spent = true
		return Roster{}, false
	}
	h.left--
	return p.solve(h.limit, last), true
}

// try solves a changed problem. It returns the roster, and how many plots are served with it and with the change. Plot
// byHand is served without tools; -1 if there is none.
func (h *helper) try(p Problem, byHand int) (r Roster, served int) {
	r, ok := h.solve(p, BestChance)
	if ok && byHand >= 0 {
		r.Served++
		r.Plots[byHand].Served = true
	}
	return r, r.Served
}

// helps reports whether a changed problem serves at least a number of plots.
func (h *helper) helps(p Problem, least int) bool {
	r, ok := h.solve(p, MostServed)
	return ok && r.Served >= least
}

// add completes a help with what the changed problem serves, and keeps it if that is more.
func (h *helper) add(help Help, p Problem, byHand int) {
	if r, served := h.try(p, byHand); served > h.served {
		h.keep(help, r)
	}
}

// keep keeps a help whose changed problem has roster r.
func (h *helper) keep(help Help, r Roster) {
	for i, plot := range r.Plots {
		switch before := h.r.Plots[i].Served; {
		case plot.Served && !before:
			help.Served = append(help.Served, i)
		case before && !plot.Served:
			help.Instead = append(help.Instead, i)
		}
	}
	help.All = r.Served == h.all
	h.found = append(h.found, help)
}

// targets returns the numbers of served plots for which the smallest change is looked for: one more, and all. All of
// a part are of no interest.
func (h *helper) targets() []int {
	if len(h.p.Plots) < len(h.whole.Plots) {
		return []int{h.served + 1}
	}
	return slices.Compact([]int{h.served + 1, h.all})
}

// tools looks for the shortest time with one more tool.
func (h *helper) tools() {
	first, last := h.p.To, h.p.From // days in windows
	for _, plot := range h.p.Plots {
		first, last = min(first, max(plot.Opens, h.p.From)), max(last, min(plot.Closes, h.p.To))
	}
	for tool := range h.p.Tools {
		if h.sameAsBefore(tool) {
			continue
		}
		for _, least := range h.targets() {
			with := func(from, to engine.Day) Problem { return h.p.withTool(tool, from, to) }
			if !h.helps(with(first, last), least) {
				break
			}
			// days is always enough from the day best on. A span that is enough stays enough if it grows, so each day
			// need only be tried with one day less.
			best, days := first, last-first+1
			for from := first; from+days-2 <= last && days > 1; from++ {
				for days > 1 && h.helps(with(from, from+days-2), least) {
					best, days = from, days-1
				}
			}
			help := Help{Kind: HelpTool, Tool: tool, Household: -1, Plot: -1, From: best, To: best + days - 1}
			h.addOnce(help, with(help.From, help.To))
		}
	}
}

// addOnce adds a help unless it was just found for serving one more plot.
func (h *helper) addOnce(help Help, p Problem) {
	if n := len(h.found); n > 0 {
		last := h.found[n-1]
		if last.Kind == help.Kind && last.Tool == help.Tool && last.From == help.From && last.To == help.To {
			return
		}
	}
	h.add(help, p, -1)
}

// sameAsBefore reports whether a tool before this one has the same needs, or this one suits no plot.
func (h *helper) sameAsBefore(tool int) bool {
	suits := false
	for _, plot := range h.p.Plots {
		suits = suits || plot.Need[tool] > 0
	}
	for before := range tool {
		same := true
		for _, plot := range h.p.Plots {
			same = same && plot.Need[before] == plot.Need[tool]
		}
		if same {
			return true
		}
	}
	return !suits
}

// withTool returns the problem with one more tool, which has the needs of a tool and works on some days only.
func (p Problem) withTool(like int, from, to engine.Day) Problem {
	out := []Span{}
	if from > p.From {
		out = append(out, Span{p.From, from - 1})
	}
	if to < p.To {
		out = append(out, Span{to + 1, p.To})
	}
	p.Tools = append(slices.Clone(p.Tools), Tool{Out: out})
	p.Plots = slices.Clone(p.Plots)
	for i := range p.Plots {
		p.Plots[i].Need = append(slices.Clone(p.Plots[i].Need), p.Plots[i].Need[like])
	}
	return p
}

// mended looks for the last days from which a tool that is out must work again.
func (h *helper) mended() {
	for tool := range h.p.Tools {
		for _, out := range h.whole.outSpans(tool) {
			for _, least := range h.targets() {
				from, days := h.p.withoutOut, out.To-out.From+1
				if !h.helps(from(tool, out), least) {
					break
				}
				// The tool is enough if it works again days before the end of the span; fewer is too few.
				for fewer := engine.Day(0); days-fewer > 1; {
					middle := (days + fewer) / 2
					if h.helps(from(tool, Span{out.To - middle + 1, out.To}), least) {
						days = middle
					} else {
						fewer = middle
					}
				}
				help := Help{Kind: HelpMended, Tool: tool, Household: -1, Plot: -1, From: out.To - days + 1, To: out.To}
				h.addOnce(help, from(tool, Span{help.From, help.To}))
			}
		}
	}
}

// outSpans returns the planned days on which a tool is out, in spans that do not touch.
func (p Problem) outSpans(tool int) (spans []Span) {
	for day := p.From; day <= p.To; day++ {
		switch n := len(spans); {
		case !p.Tools[tool].out(day):
		case n > 0 && spans[n-1].To == day-1:
			spans[n-1].To = day
		default:
			spans = append(spans, Span{day, day})
		}
	}
	return spans
}

// withoutOut returns the problem with a tool that works on the days of a span.
func (p Problem) withoutOut(tool int, works Span) Problem {
	var out []Span
	for _, s := range p.outSpans(tool) {
		if before := (Span{s.From, min(s.To, works.From-1)}); before.From <= before.To {
			out = append(out, before)
		}
		if after := (Span{max(s.From, works.To+1), s.To}); after.From <= after.To {
			out = append(out, after)
		}
	}
	p.Tools = slices.Clone(p.Tools)
	p.Tools[tool].Out = out
	return p
}

// hasAll reports whether all plots of a household are served.
func (h *helper) hasAll(household int) bool {
	for i, plot := range h.p.Plots {
		if plot.Household == household && !h.r.Plots[i].Served {
			return false
		}
	}
	return true
}

// hands looks for days on which a household needs more hands, and for rest days that help.
func (h *helper) hands(household int) {
	every := h.p
	for day := h.p.From; day <= h.p.To; day++ {
		every = every.withHands(household, day, len(h.p.Tools))
	}
	if !h.helps(every, h.served+1) {
		return // no hands of this household help
	}
	rest := Help{Kind: HelpRestDay, Tool: -1, Household: household, Plot: -1}
	more := Help{Kind: HelpHands, Tool: -1, Household: household, Plot: -1, Hands: len(h.p.Tools) + 1}
	for day := h.p.From; day <= h.p.To; day++ {
		has := h.p.handsOn(household, day)
		if h.whole.handsOn(household, day) > 0 {
			for n := min(more.Hands-1, len(h.p.Tools)-has); n > 0; n-- {
				if !h.helps(h.p.withHands(household, day, has+n), h.served+1) {
					break
				}
				more.From, more.To, more.Hands = day, day, n
			}
		} else if usual := h.whole.usualHands(household, day); rest.Hands == 0 &&
			h.helps(h.p.withHands(household, day, usual), h.served+1) {
			rest.From, rest.To, rest.Hands = day, day, usual
		}
	}
	if more.Hands <= len(h.p.Tools) {
		h.add(more, h.p.withHands(household, more.From, h.p.handsOn(household, more.From)+more.Hands), -1)
	}
	if rest.Hands > 0 {
		h.add(rest, h.p.withHands(household, rest.From, rest.Hands), -1)
	}
}

// handsOn returns how many tools a household can use on a planned day.
func (p Problem) handsOn(household int, day engine.Day) int {
	return p.Households[household].handsOn(int(day - p.From))
}

// usualHands returns the hands that a household would have if a rest day were none: those of its last working day
// before it, else of the first after it, else 1.
func (p Problem) usualHands(household int, rest engine.Day) int {
	for day := rest - 1; day >= p.From; day-- {
		if n := p.handsOn(household, day); n > 0 {
			return n
		}
	}
	for day := rest + 1; day <= p.To; day++ {
		if n := p.handsOn(household, day); n > 0 {
			return n
		}
	}
	return 1
}

// withHands returns the problem with other hands of a household on one day.
func (p Problem) withHands(household int, day engine.Day, hands int) Problem {
	all := make([]int, p.To-p.From+1)
	for i := range all {
		all[i] = p.handsOn(household, p.From+engine.Day(i))
	}
	all[day-p.From] = hands
	p.Households = slices.Clone(p.Households)
	p.Households[household].Hands = all
	return p
}

// oneWay adds a plot that helps by being weeded in one direction only.
func (h *helper) oneWay(plot int) {
	if plot >= len(h.ways.OneWay) {
		return
	}
	need := h.ways.OneWay[plot]
	if need == nil || slices.Equal(need, h.p.Plots[plot].Need) {
		return
	}
	if p := h.p.withNeed(plot, need); h.helps(p, h.served+1) {
		h.add(Help{Kind: HelpOneWay, Tool: -1, Household: -1, Plot: plot}, p, -1)
	}
}

// withNeed returns the problem with other needs of a plot.
func (p Problem) withNeed(plot int, need []int) Problem {
	p.Plots = slices.Clone(p.Plots)
	p.Plots[plot].Need = need
	return p
}

// byHand looks for the smallest part of a plot that must be weeded by hand, if the plot is not served or has told
// turns.
func (h *helper) byHand(plot int) {
	help := Help{Kind: HelpByHand, Tool: -1, Household: -1, Plot: plot}
	if h.r.Plots[plot].Served {
		help.Kind = HelpGiveUp
	} else if !h.p.canBeServed(plot) {
		return
	}
	if help.Kind == HelpGiveUp && len(h.givenUp(plot, nil)) == 0 {
		return
	}
	for _, part := range h.parts(plot) {
		p, whole := h.p.withNeed(plot, part.left), -1
		if part.days == part.need {
			whole = plot
		}
		if whole < 0 && !h.helps(p, h.served+1) {
			continue
		}
		r, served := h.try(p, whole)
		if served <= h.served {
			continue
		}
		if help.Kind == HelpGiveUp {
			help.GivenUp = h.givenUp(plot, r.Plots[plot].Moved)
		}
		help.ToolDays, help.Need = part.days, part.need
		if plot < len(h.ways.HandHours) {
			help.Hours = int(math.Ceil(h.ways.HandHours[plot] * float64(part.days) / float64(part.need)))
		}
		if help.Kind == HelpByHand || len(help.GivenUp) > 0 {
			h.keep(help, r)
			return
		}
	}
}

// givenUp returns the told turns that a plot has in roster r and that are moved in another roster; nil: all that it
// has.
func (h *helper) givenUp(plot int, moved []int) (turns []Turn) {
	for j, told := range h.p.Plots[plot].Told {
		kept := told.Day >= h.p.From && told.Day <= h.p.To && !slices.Contains(h.r.Plots[plot].Moved, j)
		if kept && (moved == nil || slices.Contains(moved, j)) {
			turns = append(turns, told)
		}
	}
	return turns
}

// part is a part of a plot that is weeded by hand: days of the need tool-days of its pass, so that the needs in left
// are left for the tools.
type part struct {
	days, need int
	left       []int
}

// parts returns the parts of a plot that can be weeded by hand, the smallest first. A pass is made with one class of
// tools: those with the same need.
func (h *helper) parts(plot int) (all []part) {
	needs := h.p.Plots[plot].Need
	if !slices.ContainsFunc(needs, func(n int) bool { return n > 0 }) {
		return []part{{1, 1, needs}} // no tool suits the plot: the whole of it
	}
	for _, need := range h.p.Plots[plot].needs() {
		for days := 1; days <= need; days++ {
			left := make([]int, len(needs))
			for tool, n := range needs {
				if n == need {
					left[tool] = need - days
				}
			}
			all = append(all, part{days, need, left})
		}
	}
	slices.SortStableFunc(all, func(a, b part) int { return cmp.Compare(a.days*b.need, b.days*a.need) })
	return all
}
