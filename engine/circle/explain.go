package circle

import (
	"slices"

	"rowbell/engine"
)

// Reason says why a plot has the days that it has in a roster, or none.
type Reason struct {
	Turns []Turn // the turns of the plot, by day
	// Alone are the turns of the soonest pass from Opens to Closes if no other plot needed a tool. Empty: the tools,
	// the hands and the planned days are not enough for a whole pass even then.
	Alone []Turn
	// Holders are the plots that have what this plot could use on a sooner day or a day with a higher chance, or, if
	// it is not served, on any day from Opens to Closes. By index.
	Holders []Holder
	// Best is the day from Opens to Closes with the highest chance, of several the first, on which the plot could use a
	// tool if it were alone. A plot that is not served has none, and neither has one without such a day.
	Best    engine.Day
	HasBest bool
	OnBest  bool // the plot has a turn on Best
	Loss    Loss // what the roster loses if the plot must have a turn on Best
}

// Holder is a plot that has turns which another plot could use, and what puts it before that plot.
type Holder struct {
	Plot          int
	Turns         []Turn
	Told          bool // one of these turns was told
	Sooner        bool // its window closes sooner
	Missed        bool // it missed more windows
	SameHousehold bool // it is of the same household, whose hands it takes
	// Frees says that the other plot, which is not served, would be if this one needed no tool.
	Frees bool
}

// Objective is an objective of a roster.
type Objective uint8

// The objectives in their order. NoObjective says that none is worse.
const (
	NoObjective Objective = iota
	MostServed
	FewestMoved
	LeastLateness
	MostMissed
	BestChance
	FewestHandovers
)

// Loss is the first objective in which a roster is worse than another, and by how much. By is 0 for handovers that were
// not proven to be the fewest.
type Loss struct {
	Objective Objective
	By        int
	NotServed []int // plots that are served without the change only
}

// Explain returns the reason for each plot in roster r of the problem. Frees and Loss are found by solving the
// changed problem. In a problem with more than 20 plots, at most the 20 around the plot get other turns; a day on which
// the others have all tools that suit the plot is not its Best.
//
// Each of at most maxTries solutions is bounded by the limit, and none begins after Stop returned true. If that was not
// enough, whole is false, and the plots with the higher indexes have no Best and no Holder with Frees.
func (p Problem) Explain(r Roster, l Limit) (reasons []Reason, whole bool) {
	left, spent := maxTries, false
	for i := range p.Plots {
		var reason Reason
		for _, turn := range r.Turns {
			if turn.Plot == i {
				reason.Turns = append(reason.Turns, turn.Turn)
			}
		}
		reason.Alone = p.alone(i)
		reason.Holders = p.holders(i, reason.Turns, r)
		n := p.near(i, r)
		h := newHelper(p, n, l, left)
		if r.Plots[i].Served {
			h.best(slices.Index(n.plots, i), &reason)
			for k := range reason.Loss.NotServed {
				reason.Loss.NotServed[k] = n.plots[reason.Loss.NotServed[k]]
			}
		} else {
			h.frees(n, i, reason.Holders)
		}
		left, spent = h.left, spent || h.spent
		reasons = append(reasons, reason)
	}
	return reasons, !spent
}

// usable reports whether a plot could use a tool on a day if it were alone, from Opens to Closes.
func (p Problem) usable(plot, tool int, day engine.Day) bool {
	pl := p.Plots[plot]
	return max(pl.Opens, p.From) <= day && day <= min(pl.Closes, p.To) && pl.Need[tool] > 0 &&
		!p.Tools[tool].out(day) && p.handsOn(pl.Household, day) > 0
}

// alone returns the turns of the soonest whole pass of a plot that is alone.
func (p Problem) alone(plot int) (soonest []Turn) {
	for _, need := range p.Plots[plot].needs() {
		var turns []Turn
		for day := p.From; day <= p.To && len(turns) < need; day++ {
			hands := p.handsOn(p.Plots[plot].Household, day)
			for tool := range p.Tools {
				if hands > 0 && len(turns) < need && p.Plots[plot].Need[tool] == need && p.usable(plot, tool, day) {
					turns = append(turns, Turn{Plot: plot, Tool: tool, Day: day})
					hands--
				}
			}
		}
		if len(turns) == need && (soonest == nil || turns[need-1].Day < soonest[len(soonest)-1].Day) {
			soonest = turns
		}
	}
	return soonest
}

// holders returns the plots that have what a plot with these turns could use.
func (p Problem) holders(plot int, has []Turn, r Roster) (holders []Holder) {
	this := p.Plots[plot]
	wanted := func(day engine.Day) bool { // whether the plot is better off on the day
		return !r.Plots[plot].Served || slices.ContainsFunc(has, func(t Turn) bool {
			return day < t.Day || this.thousandths(day) > this.thousandths(t.Day)
		})
	}
	for i, other := range p.Plots {
		h := Holder{Plot: i, SameHousehold: other.Household == this.Household, Sooner: other.Closes < this.Closes,
			Missed: other.Missed > this.Missed}
		for _, turn := range r.Turns {
			// The household's hands are taken by a turn with any tool.
			takes := p.usable(plot, turn.Tool, turn.Day) || h.SameHousehold && p.usableDay(plot, turn.Day)
			if turn.Plot != i || i == plot || !takes || !wanted(turn.Day) {
				continue
			}
			h.Turns = append(h.Turns, turn.Turn)
			h.Told = h.Told || slices.ContainsFunc(other.Told, func(t Turn) bool {
				return t.Tool == turn.Tool && t.Day == turn.Day
			})
		}
		if len(h.Turns) > 0 {
			holders = append(holders, h)
		}
	}
	return holders
}

// usableDay reports whether a plot could use some tool on a day if it were alone.
func (p Problem) usableDay(plot int, day engine.Day) bool {
	for tool := range p.Tools {
		if p.usable(plot, tool, day) {
			return true
		}
	}
	return false
}

// frees finds the holders without which a plot would be served.
func (h *helper) frees(n near, plot int, holders []Holder) {
	for k, holder := range holders {
		if i := slices.Index(n.plots, holder.Plot); i >= 0 {
			r, ok := h.solve(h.p.withNeed(i, make([]int, len(h.p.Tools))), BestChance)
			holders[k].Frees = ok && r.Plots[slices.Index(n.plots, plot)].Served
		}
	}
}

// best finds the best day of a plot, and what is lost if the plot must have a turn on it.
func (h *helper) best(plot int, reason *Reason) {
	p := h.p
	for day := p.From; day <= p.To; day++ {
		chance := p.Plots[plot].thousandths(day)
		if p.usableDay(plot, day) && (!reason.HasBest || chance > p.Plots[plot].thousandths(reason.Best)) {
			reason.Best, reason.HasBest = day, true
		}
	}
	reason.OnBest = slices.ContainsFunc(reason.Turns, func(t Turn) bool { return t.Day == reason.Best })
	if !reason.HasBest || reason.OnBest {
		return
	}
	l, ok := h.leastLoss(plot, reason.Best)
	if reason.Loss = l; !ok {
		reason.HasBest = false
	}
}

// leastLoss returns what is lost at least if a plot must have a tool on a day.
func (h *helper) leastLoss(plot int, day engine.Day) (least Loss, ok bool) {
	least = Loss{Objective: MostServed, By: len(h.p.Plots) + 1} // more than any
	for tool := range h.p.Tools {
		if !h.p.usable(plot, tool, day) || h.p.sameTool(tool) {
			continue
		}
		l, ok := h.lossOf(Turn{Plot: plot, Tool: tool, Day: day})
		if !ok {
			return Loss{}, false
		}
		if l.before(least) {
			least = l
		}
	}
	return least, true
}

// before reports whether a loss is less than another: it is of a later objective, or smaller.
func (l Loss) before(other Loss) bool {
	if l.Objective == NoObjective || other.Objective == NoObjective {
		return other.Objective != NoObjective
	}
	return l.Objective > other.Objective || l.Objective == other.Objective && l.By < other.By
}

// sameTool reports whether a tool before this one suits the same plots in the same way on the same days, and no turn of
// either was told. Then it makes no difference which of both a plot has.
func (p Problem) sameTool(tool int) bool {
	for before := range tool {
		same := slices.Equal(p.outSpans(before), p.outSpans(tool))
		for _, plot := range p.Plots {
			same = same && plot.Need[before] == plot.Need[tool] && !slices.ContainsFunc(plot.Told, func(t Turn) bool {
				return t.Tool == before || t.Tool == tool
			})
		}
		if same {
			return true
		}
	}
	return false
}

// lossOf returns what is lost if a plot must have a turn from Opens to Closes.
func (h *helper) lossOf(turn Turn) (l Loss, ok bool) {
	r, ok := h.solve(h.p.fixed(turn), BestChance)
	if !ok {
		return Loss{}, false
	}
	turns := []Turn{turn}
	for _, t := range r.Turns {
		turns = append(turns, t.Turn)
	}
	if l = loss(h.r, h.p.result(turns)); l.Objective != NoObjective && l.Objective != FewestHandovers {
		return l, true
	}
	if len(h.p.Plots) < len(h.whole.Plots) { // the handovers of the other plots are not in the part
		return Loss{Objective: FewestHandovers, NotServed: l.NotServed}, true
	}
	// There are rosters with this turn that are as good in all objectives but the handovers. If it was told, only
	// they are best, because in the others one told turn more has moved.
	p := h.p
	p.Plots = slices.Clone(p.Plots)
	p.Plots[turn.Plot].Told = append(slices.Clone(p.Plots[turn.Plot].Told), turn)
	if r, ok = h.solve(p, FewestHandovers); !ok {
		return Loss{}, false
	}
	l = loss(h.r, r)
	if l.Objective == FewestHandovers && !r.HandoversProven {
		l.By = 0
	}
	return l, true
}

// fixed returns the problem that is left if a plot has a turn from Opens to Closes for certain: its pass is made with
// tools of this class and takes one tool-day less. The rosters of that problem with this turn are the rosters of p that
// have it, and all objectives but the handovers differ by constants.
func (p Problem) fixed(turn Turn) Problem {
	plot := p.Plots[turn.Plot]
	left := make([]int, len(p.Tools))
	for tool, need := range plot.Need {
		if need == plot.Need[turn.Tool] {
			left[tool] = need - 1
		}
	}
	hands := p.handsOn(plot.Household, turn.Day)
	p = p.withNeed(turn.Plot, left).withHands(plot.Household, turn.Day, hands-1)
	p.Plots[turn.Plot].Told = slices.DeleteFunc(slices.Clone(plot.Told), func(t Turn) bool {
		return t.Tool == turn.Tool && t.Day == turn.Day
	})
	p.Tools = slices.Clone(p.Tools)
	tool := &p.Tools[turn.Tool]
	tool.Out = append(slices.Clone(tool.Out), Span{turn.Day, turn.Day})
	return p
}

// loss compares the roster of a problem with another one.
func loss(r, other Roster) Loss {
	var l Loss
	for i, plot := range r.Plots {
		if plot.Served && !other.Plots[i].Served {
			l.NotServed = append(l.NotServed, i)
		}
	}
	for i, by := range []int{
		r.Served - other.Served, other.Moved - r.Moved, other.Lateness - r.Lateness, r.Missed - other.Missed,
		r.Chance - other.Chance, other.Handovers - r.Handovers,
	} {
		if by != 0 {
			if by > 0 {
				l.Objective, l.By = MostServed+Objective(i), by
			}
			break
		}
	}
	return l
}
