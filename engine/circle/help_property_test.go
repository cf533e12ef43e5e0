package circle_test

import (
	"slices"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// changer makes changed problems, in the plainest way and with nothing that Help uses.
type changer struct {
	t *testing.T
	p circle.Problem
}

// served returns how many plots a changed problem serves.
func (c changer) served(change func(*circle.Problem)) int {
	c.t.Helper()
	p := c.p
	p.Plots, p.Tools, p.Households = slices.Clone(p.Plots), slices.Clone(p.Tools), slices.Clone(p.Households)
	change(&p)
	_, o := plannedRoster(c.t, p)
	return o.served
}

// tool adds a tool on some days.
func (c changer) tool(like int, from, to engine.Day) int {
	return c.served(func(p *circle.Problem) {
		before, after := circle.Span{From: p.From - 99, To: from - 1}, circle.Span{From: to + 1, To: p.To + 99}
		p.Tools = append(p.Tools, circle.Tool{Out: []circle.Span{before, after}})
		for i, plot := range p.Plots {
			p.Plots[i].Need = append(slices.Clone(plot.Need), plot.Need[like])
		}
	})
}

// mended lets a tool work on some days.
func (c changer) mended(tool int, from, to engine.Day) int {
	return c.served(func(p *circle.Problem) {
		var still []circle.Span
		for day := p.From; day <= p.To; day++ {
			if out(p.Tools[tool], day) && (day < from || day > to) {
				still = append(still, circle.Span{From: day, To: day})
			}
		}
		p.Tools[tool].Out = still
	})
}

// hands gives a household other hands on some days.
func (c changer) hands(household int, from, to engine.Day, hands func(has int) int) int {
	return c.served(func(p *circle.Problem) {
		var all []int
		for day := range days(*p) {
			n := handsOn(p.Households[household], day)
			if d := p.From + engine.Day(day); from <= d && d <= to {
				n = hands(n)
			}
			all = append(all, n)
		}
		p.Households[household].Hands = all
	})
}

// need gives a plot other needs.
func (c changer) need(plot int, need []int) int {
	return c.served(func(p *circle.Problem) { p.Plots[plot].Need = need })
}

// Each help serves one more plot, or all, and nothing smaller of its kind does.
func TestHelpIsTheSmallest(t *testing.T) {
	kinds := map[circle.HelpKind]int{}
	for seed := range uint64(24) {
		p := randomProblem(seeded(seed))
		if seed%2 == 0 {
			p = retold(p, p.Solve(circle.Limit{}))
		}
		r, o := plannedRoster(t, p)
		ways := circle.Ways{}
		for _, plot := range p.Plots {
			half := slices.Clone(plot.Need)
			for tool := range half {
				half[tool] = (half[tool] + 1) / 2
			}
			ways.OneWay = append(ways.OneWay, half)
		}
		helps, whole := p.Help(r, ways, circle.Limit{})
		if !whole {
			t.Errorf("seed %d: not all was tried", seed)
		}
		for _, h := range helps {
			kinds[h.Kind]++
			with, smaller := tried(changer{t, p}, ways, h)
			least := o.served + 1
			if len(smaller) > 0 && slices.Max(smaller) > o.served { // then it is the smallest that serves all
				least = o.served + len(h.Served) - len(h.Instead)
				if !h.All {
					t.Errorf("seed %d: less than %+v serves %d", seed, h, slices.Max(smaller))
				}
			}
			if with < least || with != o.served+len(h.Served)-len(h.Instead) {
				t.Errorf("seed %d: %d of %d plots are served with %+v", seed, with, o.served, h)
			}
			if len(smaller) > 0 && slices.Max(smaller) >= least {
				t.Errorf("seed %d: less than %+v serves as many", seed, h)
			}
		}
		checkNothingMissing(changer{t, p}, seed, o.served, helps)
	}
	for kind := circle.HelpTool; kind <= circle.HelpGiveUp; kind++ {
		if kinds[kind] < 2 {
			t.Errorf("only %d helps of kind %d", kinds[kind], kind)
		}
	}
}

// In a problem with more than 20 plots, each help is true too, and each plot that is not served has one. Twelve pairs
// of plots each need four days in three, so that one of each pair is not served.
func TestHelpOfManyPlots(t *testing.T) {
	p := circle.Problem{From: day0, To: day0 + 59, Tools: make([]circle.Tool, 1)}
	for pair := range 12 {
		for range 2 {
			p.Households = append(p.Households, circle.Household{})
			p.Plots = append(p.Plots, plotOf(len(p.Plots), 5*pair, 5*pair+2, 2))
		}
	}
	p.Tools[0].Out = []circle.Span{span(3, 4), span(58, 59)} // none is in a window
	r, o := plannedRoster(t, p)
	if o.served != 12 {
		t.Fatalf("%d plots served", o.served)
	}
	helps, whole := p.Help(r, circle.Ways{}, circle.Limit{})
	byHand := 0
	for _, h := range helps {
		if h.Kind == circle.HelpMended {
			t.Errorf("%+v: the tool is out on days on which nobody needs it", h)
		}
		if h.Kind == circle.HelpByHand && h.ToolDays == 1 && h.Need == 2 && !r.Plots[h.Plot].Served {
			byHand++
		}
		with, _ := tried(changer{t, p}, circle.Ways{}, h)
		if with <= o.served || with != o.served+len(h.Served)-len(h.Instead) || h.All {
			t.Errorf("%d plots are served with %+v", with, h)
		}
	}
	if byHand != 12 || !whole {
		t.Errorf("%d plots could be weeded by hand in part, want 12; whole %t", byHand, whole)
	}
	reasons, whole := p.Explain(r, circle.Limit{})
	for i, reason := range reasons {
		frees := len(reason.Holders) == 1 && reason.Holders[0].Plot == i^1 && reason.Holders[0].Frees
		if frees == r.Plots[i].Served || !whole {
			t.Errorf("plot %d: %+v; whole %t", i, reason, whole)
		}
	}
}

// tried returns how many plots are served with a help, and with smaller changes of its kind.
func tried(c changer, ways circle.Ways, h circle.Help) (with int, smaller []int) {
	length := h.To - h.From + 1
	switch h.Kind {
	case circle.HelpTool:
		for from := c.p.From; from+length-2 <= c.p.To && length > 1; from++ {
			smaller = append(smaller, c.tool(h.Tool, from, from+length-2))
		}
		return c.tool(h.Tool, h.From, h.To), smaller
	case circle.HelpMended:
		if h.From < h.To {
			smaller = append(smaller, c.mended(h.Tool, h.From+1, h.To))
		}
		return c.mended(h.Tool, h.From, h.To), smaller
	case circle.HelpHands:
		for day := c.p.From; day <= c.p.To; day++ {
			n := h.Hands - 1
			if day < h.From {
				n = h.Hands
			}
			smaller = append(smaller, c.hands(h.Household, day, day, func(has int) int { return has + n*min(has, 1) }))
		}
		return c.hands(h.Household, h.From, h.From, func(has int) int { return has + h.Hands }), smaller
	case circle.HelpRestDay:
		return c.hands(h.Household, h.From, h.From, func(has int) int { return has + h.Hands }), nil
	case circle.HelpOneWay:
		return c.need(h.Plot, ways.OneWay[h.Plot]), nil
	}
	for _, need := range c.p.Plots[h.Plot].Need { // by hand: the next smaller part in each class
		if days := (h.ToolDays*need - 1) / h.Need; need > 0 && days > 0 {
			smaller = append(smaller, c.need(h.Plot, less(c.p.Plots[h.Plot].Need, need, days)))
		}
	}
	with = c.need(h.Plot, less(c.p.Plots[h.Plot].Need, h.Need, h.ToolDays))
	if h.ToolDays == h.Need {
		with++ // the plot is not in the roster
	}
	return with, smaller
}

// less returns the needs of a plot whose pass is made with the tools of one class and takes some tool-days less.
func less(needs []int, class, days int) []int {
	left := make([]int, len(needs))
	for tool, n := range needs {
		if n == class {
			left[tool] = n - days
		}
	}
	return left
}

// checkNothingMissing checks that what is in no help would not serve more plots.
func checkNothingMissing(c changer, seed uint64, served int, helps []circle.Help) {
	c.t.Helper()
	has := func(kind circle.HelpKind, of func(circle.Help) bool) bool {
		return slices.ContainsFunc(helps, func(h circle.Help) bool { return h.Kind == kind && of(h) })
	}
	for tool := range c.p.Tools {
		if c.tool(tool, c.p.From, c.p.To) > served && !has(circle.HelpTool, func(h circle.Help) bool {
			return !slices.ContainsFunc(c.p.Plots, func(p circle.Plot) bool { return p.Need[h.Tool] != p.Need[tool] })
		}) {
			c.t.Errorf("seed %d: one more tool like %d helps", seed, tool)
		}
		if c.mended(tool, c.p.From, c.p.To) > served && len(c.p.Tools[tool].Out) == 1 &&
			!has(circle.HelpMended, func(h circle.Help) bool { return h.Tool == tool }) {
			c.t.Errorf("seed %d: tool %d helps if it is mended", seed, tool)
		}
	}
	for household := range c.p.Households {
		for day := c.p.From; day <= c.p.To; day++ {
			kind := circle.HelpHands
			if handsOn(c.p.Households[household], int(day-c.p.From)) == 0 {
				kind = circle.HelpRestDay
			}
			of := func(h circle.Help) bool { return h.Household == household }
			n := c.hands(household, day, day, func(has int) int { return has + 1 })
			if n > served && !has(kind, of) {
				c.t.Errorf("seed %d: hands of household %d on %v help", seed, household, day)
			}
		}
	}
}
