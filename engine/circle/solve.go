package circle

// The largest problems that are searched for the best roster. Larger ones get a good one: see good.
const (
	maxSearchPlots    = 20
	maxSearchTools    = 4
	maxSearchToolDays = 120
)

// maxFlow is the most arcs of a network. A problem with more has the plain roster; 200 plots with 12 tools on 40 days
// have at most 96000. Judgement: with so many, Solve takes about three seconds of a processor.
const maxFlow = 200_000

// wholeReward is what a served plot earns while the most served plots are looked for. It is divided among the tool-days
// of the plot, so it is large.
const wholeReward = 1 << 24

// small reports whether the problem is small enough to be searched.
func (m *model) small() bool {
	return len(m.plots) <= maxSearchPlots && len(m.p.Tools) <= maxSearchTools &&
		len(m.p.Tools)*m.days <= maxSearchToolDays
}

// Solve returns the best roster that it finds for a problem that Validate accepts. It is pure: with the same limit and
// no Stop, the same problem has the same roster.
func (p Problem) Solve(limit Limit) Roster { return p.solve(limit, FewestHandovers) }

// solve is Solve as far as the objective last: MostServed, BestChance, or FewestHandovers for all of them.
func (p Problem) solve(limit Limit, last Objective) Roster {
	return p.withoutNeedless(p.find(limit, last))
}

// find is solve, but may have turns that do no good.
func (p Problem) find(limit Limit, last Objective) Roster {
	if limit.Nodes <= 0 {
		limit.Nodes = DefaultNodes
	}
	m := newModel(p)
	if m.arcs() > maxFlow {
		return m.plain()
	}
	m.connect()
	s := &search{m: m, limit: limit}
	if limit.Stop != nil {
		m.net.stop = func() bool { return s.spent(0) }
	}
	if !m.small() {
		return s.good(last)
	}
	bound := s.mostServed()
	if last != MostServed {
		s.leastCosts()
	}
	proven, fewest := !s.cut, false
	r := p.result(s.best)
	if last == FewestHandovers {
		r, fewest = s.fewestHandovers(s.m.passOn(r))
	}
	r.Bound, r.Proven, r.HandoversProven, r.Nodes = bound, proven, proven && fewest, s.nodes
	return r
}

// root optimises the network without a decision while plots are counted. It returns the flow and a bound of the plots
// that can be served.
func (s *search) root() (snapshot, int) {
	m := s.m
	d := m.undecided()
	m.apply(d, wholeReward)
	m.net.reset(m.source, m.back)
	m.net.optimise() // there is a circulation: no flow at all. If it is stopped, the bound is valid all the same
	return m.net.save(), int(-m.bound(d, wholeReward, 0).value / wholeReward)
}

// mostServed sets target to the most plots that can be served, or that were found to be, and best to a roster that
// serves so many. It returns a bound of the number.
func (s *search) mostServed() (most int) {
	s.m.w = costs{}
	s.counting, s.step, s.upper = true, wholeReward, 1
	root, most := s.root()
	s.greedy(s.orders()[0])
	if count := int(-s.upper / wholeReward); count < most {
		d := s.m.undecided()
		d.apart = allApart
		s.visit(d, root, wholeReward, 1)
		if !s.cut {
			most = int(-s.upper / wholeReward)
		}
	}
	s.target = int(-s.upper / wholeReward)
	return most
}

// leastCosts sets best to the roster of the least costs among those that serve target plots.
func (s *search) leastCosts() {
	m := s.m
	s.cheapest(s.best, s.target)
	d := m.undecided()
	d.apart = allApart
	m.apply(d, 0)
	m.net.reset(m.source, m.back)
	s.visit(d, m.net.save(), 0, 20)
}

// turnsOf returns the turns of each plot of the model.
func (s *search) turnsOf(turns []Turn) [][]Turn {
	of := make([][]Turn, len(s.m.plots))
	for i := range s.m.plots {
		for _, t := range turns {
			if t.Plot == s.m.plots[i].index {
				of[i] = append(of[i], t)
			}
		}
	}
	return of
}

// complete offers the cheapest roster that serves the same plots with the same classes.
func (s *search) complete(of [][]Turn) {
	m := s.m
	d := m.undecided()
	for i := range m.plots {
		d.choices[i].status = unserved
		if mine, _, whole := m.pure(i, of[i]); whole {
			d.choices[i] = choice{1 << m.plots[i].class[mine[0].Tool], served}
		}
	}
	for again := true; again; {
		m.apply(d, 0)
		m.net.reset(m.source, m.back)
		if !m.net.optimise() {
			return
		}
		var ok bool
		if d, ok = s.resolve(d); !ok {
			return
		}
		s.offer()
		again = false
		for i, turns := range m.toolDays() { // once more, if others mix classes: they keep to the best one
			mine, _, _ := m.pure(i, turns)
			if len(mine) > 0 && len(d.allowed(i)) > 1 {
				d.choices[i].classes = 1 << m.plots[i].class[mine[0].Tool]
				again = again || len(mine) < len(turns)
			}
		}
	}
}

// resolve adds limits until the flow has no conflict. It returns false if it finds none; then there may be some
// nevertheless.
func (s *search) resolve(d decision) (decision, bool) {
	m := s.m
	for {
		c := m.conflict(d)
		if c.children == nil {
			return d, true
		}
		before := m.net.save()
		done := false
		for _, child := range c.children {
			if m.applyIn(c.home, child, 0); m.net.optimise() {
				d, done = child, true
				break
			}
			m.net.restore(before)
			m.applyIn(c.home, d, 0)
		}
		if !done {
			return d, false
		}
	}
}

// fewestHandovers returns the roster with the fewest handovers among those whose costs are the least, and whether there
// is none with fewer. At first it follows few states of each tie. Of ties for which these are not all it asks for a
// roster without a handover, with one, with two, and so on: the fewer are allowed, the less there is to search.
func (s *search) fewestHandovers(r Roster) (Roster, bool) {
	look := func(t tie, most, width int) (found, all bool) {
		h := handover{s: s, t: t, most: most, width: width}
		turns, _, all := h.find()
		if turns != nil {
			r = s.m.p.result(turns)
		}
		return turns != nil, all
	}
	left := s.ties
	for _, width := range []int{10, 60, 300} {
		var next []tie
		for _, t := range left {
			if t.b.value != s.upper {
				continue
			}
			if _, all := look(t, r.Handovers, width); !all {
				next = append(next, t)
			}
		}
		left = next
	}
	for most := 1; most <= r.Handovers && len(left) > 0; most++ {
		for _, t := range left {
			if found, all := look(t, most, 0); found {
				return r, true
			} else if !all {
				return r, false
			}
		}
	}
	return r, true
}
