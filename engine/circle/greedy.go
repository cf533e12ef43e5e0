package circle

import (
	"cmp"
	"slices"
)

// orders returns orders of the plots in which greedy serves them. In the first, few tool-days come first, then windows
// missed, then the earliest close; in the second, the earliest close comes first. In the third, the plots that their
// told turns serve come before the others of the first.
//
// After the first order, a roster that is planned again with its own turns as told turns is the result of the third
// order too: the told plots are served again, and no other fits beside them.
func (s *search) orders() [3][]int {
	m := s.m
	var orders [3][]int
	keep := make([]bool, len(m.plots))
	for i := range m.plots {
		for o := range orders {
			orders[o] = append(orders[o], i)
		}
		_, _, keep[i] = m.pure(i, m.toldTurns(i))
	}
	first := func(a, b int) int {
		p, q := &m.plots[a], &m.plots[b]
		return cmp.Or(cmp.Compare(p.classes[0].need, q.classes[0].need), cmp.Compare(q.missed, p.missed),
			cmp.Compare(p.closes, q.closes))
	}
	slices.SortStableFunc(orders[0], first)
	slices.SortStableFunc(orders[1], func(a, b int) int {
		return cmp.Or(cmp.Compare(m.plots[a].closes, m.plots[b].closes), first(a, b))
	})
	slices.SortStableFunc(orders[2], func(a, b int) int {
		switch {
		case keep[a] && !keep[b]:
			return -1
		case keep[b] && !keep[a]:
			return 1
		}
		return first(a, b)
	})
	return orders
}

// toldTurns returns the told turns of plot i that the plot and the tools allow.
func (m *model) toldTurns(i int) (turns []Turn) {
	plot := &m.plots[i]
	for _, t := range m.p.Plots[plot.index].Told {
		day := int(t.Day - m.p.From)
		if day >= plot.first && day <= plot.last && plot.class[t.Tool] >= 0 && m.usable[t.Tool][day] {
			turns = append(turns, Turn{plot.index, t.Tool, t.Day})
		}
	}
	slices.SortFunc(turns, func(a, b Turn) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Tool, b.Tool))
	})
	return turns
}

// greedy serves the plots one after the other, each if it can be served beside those before.
func (s *search) greedy(order []int) {
	m := s.m
	d := m.undecided()
	for i := range d.choices {
		d.choices[i].status = unserved
	}
	m.apply(d, 0)
	m.net.reset(m.source, m.back)
	m.net.optimise()
	here := m.net.save()
	for _, i := range order {
		if s.stopped() {
			break
		}
		for c := range m.plots[i].classes {
			next := d.clone()
			next.choices[i] = choice{1 << c, served}
			m.applyPlot(next, i, 0)
			if home := m.plots[i].home; home >= 0 {
				m.applyHome(next, home)
			}
			ok := m.net.optimise()
			if ok {
				next, ok = s.resolve(next)
			}
			if ok {
				d, here = next, m.net.save()
				break
			}
			m.net.restore(here)
			m.apply(d, 0)
		}
	}
	s.offer()
}

// good returns a good roster of a problem that is too large to search: the best of those that serve the plots in
// different orders, each with the least costs for the plots that it serves, and with the tools exchanged on each day so
// that they change hands seldom. Bound shows how far Served can be from the most.
func (s *search) good(last Objective) Roster {
	m := s.m
	m.w = costs{}
	s.counting, s.step = true, wholeReward
	_, bound := s.root()
	var found [][]Turn
	most := -1
	orders := s.orders()
	for o, order := range [][]int{orders[0], orders[2], orders[1]} {
		if o == 1 && slices.Equal(order, orders[0]) || o == 2 && most == bound {
			continue
		}
		s.upper = 1
		s.greedy(order)
		if count := int(-s.upper / wholeReward); count > most {
			found, most = nil, count
		} else if count < most {
			continue
		}
		found = append(found, s.best)
		if last == MostServed && most == bound {
			break
		}
	}
	var best Roster
	for j, turns := range found {
		if last == MostServed {
			s.best = turns
		} else {
			s.cheapest(turns, most)
		}
		r := m.p.result(s.best)
		if last == FewestHandovers {
			r = m.passOn(r)
		}
		if j == 0 || r.better(best) {
			best = r
		}
	}
	best.Bound = bound
	return best
}

// cheapest sets best to the roster of the least costs that serves the plots of the turns, which are target.
func (s *search) cheapest(turns []Turn, target int) {
	m := s.m
	of := s.turnsOf(turns)
	m.w = m.costs(m.small())
	s.counting, s.keep, s.step, s.upper, s.target = false, true, 1, infinite, target
	s.offerTurns(of)
	s.complete(of)
}
