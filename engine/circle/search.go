package circle

import "slices"

// search is a branch and bound over what is decided of each plot: its class, and whether it is served.
//
// It runs twice. The first run looks for the most served plots: each is paid the same reward, nothing else counts. The
// second looks for the least costs among the rosters that serve so many (target); there the reward is a price that is
// chosen so that the bound is large.
type search struct {
	m        *model
	limit    Limit
	nodes    int
	cut      bool // the limit was reached
	counting bool // the first run
	target   int
	reward   int64 // of the flow in the network
	step     int64 // the costs of two rosters differ by nothing or by at least step

	upper int64  // costs of the best roster so far
	best  []Turn // the best roster so far
	ties  []tie  // nodes without a better roster, but perhaps with others as good; together they have all of these
	keep  bool   // collect ties
}

// tie is a node whose bound is the costs of the best roster.
type tie struct {
	d decision
	b bound
}

// spent counts nodes and reports whether the limit is reached.
func (s *search) spent(nodes int) bool {
	if s.cut || s.nodes+nodes > s.limit.Nodes || s.limit.Stop != nil && s.limit.Stop() {
		s.cut = true
		return true
	}
	s.nodes += nodes
	return false
}

// stopped reports whether the limit is reached or the caller stops the search.
func (s *search) stopped() bool { return s.spent(0) }

// popsOfNode is how much work of the flow makes a node count once more: about as long as a small node.
const popsOfNode = 1400

// maxReward keeps sums of rewards of all plots of a problem that is searched far from overflow.
const maxReward = 1 << 52

// visit looks for better rosters that agree with the decision d. from is the flow of a node above.
func (s *search) visit(d decision, from snapshot, reward int64, tries int) {
	if s.spent(1) || !s.m.handsSuffice(d) {
		return
	}
	before := s.m.net.pops
	s.m.net.restore(from)
	best, ok := s.tighten(d, reward, tries)
	if !ok {
		return
	}
	if s.closed(d, best) {
		return
	}
	fixed, ok := s.fix(d, best)
	if !ok {
		return
	}
	here := s.m.net.save()
	children := s.branch(d, fixed, best)
	s.spent((s.m.net.pops - before) / popsOfNode)
	for _, child := range children {
		s.visit(child, here, best.reward, 4)
	}
}

// closed reports whether the node has no better roster. If it may have some that are as good, the node is kept.
func (s *search) closed(d decision, b bound) bool {
	if b.value <= s.upper-s.step {
		return false
	}
	if b.value == s.upper && s.keep {
		s.ties = append(s.ties, tie{d, b})
	}
	return true
}

// point is a reward, the bound at it, and by how many plots the flow falls short of the target there.
type point struct{ reward, value, short float64 }

// tighten returns the best bound of some tries with different rewards. ok is false if the node has no roster. The bound
// is a concave function of the reward. The next try is where the tangents of the nearest tries on both sides meet; if
// all tries are on one side, it is where their tangent meets the best costs.
func (s *search) tighten(d decision, reward int64, tries int) (best bound, ok bool) {
	best.value = -infinite
	var low, high *point
	for range tries {
		s.m.apply(d, reward)
		s.reward = reward
		if !s.m.net.optimise() {
			return best, false
		}
		b := s.m.bound(d, reward, s.target)
		if b.value > best.value {
			best = b
		}
		s.offer()
		if best.value > s.upper-s.step || s.counting {
			return best, true
		}
		at := &point{float64(reward), float64(b.value), float64(s.target) - s.flowServed(d)}
		const even = 1e-9
		switch {
		case at.short > even:
			low = at
		case at.short < -even:
			high = at
		default:
			return best, true
		}
		next := 0.0
		switch {
		case low != nil && high != nil:
			next = (high.value - low.value + low.short*low.reward - high.short*high.reward) / (low.short - high.short)
			if next <= low.reward+0.5 || next >= high.reward-0.5 {
				return best, true
			}
		default:
			next = at.reward + (float64(s.upper)-at.value+1)/at.short
		}
		next = min(max(next, 0), maxReward)
		if int64(next) == reward {
			return best, true
		}
		reward = int64(next)
	}
	return best, true
}

// flowServed returns how many plots the flow serves; a part of a pass counts as this part.
func (s *search) flowServed(d decision) float64 {
	sum := 0.0
	for i := range s.m.plots {
		switch d.choices[i].status {
		case served:
			sum++
		case free:
			least, _ := s.m.needs(d, i)
			sum += float64(s.m.net.flow[s.m.plots[i].window[0]]) / float64(least)
		}
	}
	return sum
}

// offer makes a roster of the flow, and keeps it if it is the best so far.
func (s *search) offer() {
	if s.m.handsKept() {
		s.offerTurns(s.m.toolDays())
	}
}

// offerTurns keeps the roster of the tool-days of each plot if it is the best so far.
func (s *search) offerTurns(of [][]Turn) {
	var turns []Turn
	total, count := int64(0), 0
	for i := range of {
		mine, cost, whole := s.m.pure(i, of[i])
		turns = append(turns, mine...)
		total += cost
		if whole {
			count++
		}
	}
	if s.counting {
		total = -int64(count) * s.step
	}
	if count >= s.target && total < s.upper {
		s.upper, s.best, s.ties = total, turns, nil
	}
}

// pure returns the tool-days of one class, if there are several of the class with the least costs, and these costs.
func (m *model) pure(i int, turns []Turn) (of []Turn, cost int64, whole bool) {
	plot := &m.plots[i]
	cost = infinite
	for c, class := range plot.classes {
		var mine []Turn
		for _, t := range turns {
			if plot.class[t.Tool] == c && len(mine) < class.need {
				mine = append(mine, t)
			}
		}
		if len(mine) == 0 && c > 0 {
			continue
		}
		sum, all := m.rosterCost(plot, c, mine)
		if sum < cost || sum == cost && (all && !whole || all == whole && len(mine) > len(of)) {
			of, cost, whole = mine, sum, all
		}
	}
	return of, cost, whole
}

// rosterCost returns what the tool-days cost in a roster, and whether they serve the plot.
func (m *model) rosterCost(plot *plotModel, c int, turns []Turn) (cost int64, whole bool) {
	need := plot.classes[c].need
	cost = m.w.late * int64(need) * int64(plot.missing)
	within := 0
	for _, t := range turns {
		day := int(t.Day - m.p.From)
		cost += m.dayCost(plot, day) + m.toldCost(plot, day, t.Tool)
		if day <= plot.closes {
			within++
		}
	}
	if within == need {
		cost -= m.w.missed * int64(plot.missed)
	}
	return cost, within == need
}

// fix takes away the options of the plots whose bound shows that they are in no roster that is better or as good. ok is
// false if nothing is left of a plot.
func (s *search) fix(d decision, b bound) (fixed decision, ok bool) {
	fixed = d.clone()
	most := s.upper
	if !s.keep {
		most -= s.step
	}
	for i, options := range b.options {
		var c choice
		canServe, canNot := false, false
		for _, o := range options {
			if b.value-b.best[i]+o.value <= most {
				c.classes |= 1 << o.class
				canServe = canServe || o.served
				canNot = canNot || !o.served
			}
		}
		switch {
		case !canServe && !canNot:
			return fixed, false
		case !canNot:
			c.status = served
		case !canServe:
			c.status = unserved
		}
		fixed.choices[i] = c
	}
	return fixed, true
}

// branch parts the node d, of which fixed is left: the decisions that it returns have together all rosters of the node
// that count. It decides the plot that the flow makes the most too cheap; if there is none, it resolves a clash; else
// it decides the plot whose options differ least.
func (s *search) branch(d, fixed decision, b bound) []decision {
	plot, gap := -1, int64(0)
	turns := s.m.toolDays()
	for i := range s.m.plots {
		if !fixed.open(i) {
			continue
		}
		if g := s.m.gap(d, i, turns[i], s.reward); g > gap {
			plot, gap = i, g
		}
	}
	if plot >= 0 {
		return s.decide(fixed, b, plot)
	}
	if !slices.Equal(d.choices, fixed.choices) {
		return []decision{fixed}
	}
	if children, any := s.part(fixed, b.value); any {
		return children
	}
	least := int64(infinite)
	for i, options := range b.options {
		if !d.open(i) {
			continue
		}
		values := []int64{infinite}
		for _, o := range options {
			values = append(values, o.value)
		}
		slices.Sort(values)
		if len(values) > 1 && (plot < 0 || values[1]-values[0] < least) {
			plot, least = i, values[1]-values[0]
		}
	}
	if plot < 0 {
		return nil
	}
	return s.decide(d, b, plot)
}

// open reports whether something of plot i is left to decide.
func (d decision) open(i int) bool {
	c := d.choices[i]
	return c.status == free || c.classes&(c.classes-1) != 0
}

// gap returns by how much plot i costs less in the network than as part of a roster. Rounding of the reward makes a gap
// of less than the need; it does not count.
func (m *model) gap(d decision, i int, turns []Turn, reward int64) int64 {
	plot := &m.plots[i]
	least, _ := m.needs(d, i)
	_, cost, whole := m.pure(i, turns)
	if whole {
		cost -= reward
	}
	cost -= m.w.late * int64(least) * int64(plot.missing)
	if d.choices[i].status == served {
		cost += reward + m.w.missed*int64(plot.missed) // a constant, not in the network
	}
	flow := func(arc int32) int64 { return int64(m.net.flow[arc]) * m.net.cost[arc] }
	cost -= flow(plot.source[1]) + flow(plot.window[0])
	for j, arc := range plot.dayArc {
		cost -= flow(arc)
		if m.joined(plot, j) { // conflict looks for what the home mistakes
			for k, arc := range m.homes[plot.home].toolDo[plot.first+j] {
				if arc >= 0 && m.net.flow[arc] > 0 && plot.class[k] >= 0 {
					cost -= m.toldCost(plot, plot.first+j, k)
				}
			}
		}
		for _, arc := range plot.toolDo[j] {
			if arc >= 0 {
				cost -= flow(arc)
			}
		}
	}
	if cost < int64(least) {
		return 0
	}
	return cost
}

// decide returns a decision for each class of the plot if there are several, and else one in which it is served and one
// in which it is not. The one with the lower bound comes first.
func (s *search) decide(d decision, b bound, i int) []decision {
	type child struct {
		d     decision
		value int64
	}
	var children []child
	add := func(c choice, fits func(option) bool) {
		value := int64(infinite)
		for _, o := range b.options[i] {
			if fits(o) {
				value = min(value, o.value)
			}
		}
		next := d.clone()
		next.choices[i] = c
		children = append(children, child{next, value})
	}
	c := d.choices[i]
	if classes := d.allowed(i); len(classes) > 1 {
		for _, class := range classes {
			add(choice{1 << class, c.status}, func(o option) bool { return o.class == class })
		}
	} else {
		add(choice{c.classes, served}, func(o option) bool { return o.served })
		add(choice{c.classes, unserved}, func(o option) bool { return !o.served })
	}
	slices.SortStableFunc(children, func(a, b child) int {
		if a.value < b.value {
			return -1
		} else if a.value > b.value {
			return 1
		}
		return 0
	})
	var decisions []decision
	for _, c := range children {
		decisions = append(decisions, c.d)
	}
	return decisions
}
