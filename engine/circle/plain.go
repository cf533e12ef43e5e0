package circle

import (
	"cmp"
	"slices"

	"rowbell/engine"
)

// schedule is a plain roster in the making.
type schedule struct {
	m     *model
	turns []Turn
	tool  [][]bool // by tool and day: it is at a plot
	used  [][]int  // by household and day: tools
}

// plain returns a roster that is made in one go, without looking for a better one: the plots, whose windows close first
// before the others, keep their told turns if these serve them; then each gets its earliest free tool-days if these
// serve it; and then the others get what is left.
func (m *model) plain() Roster {
	s := schedule{m: m}
	for range m.usable {
		s.tool = append(s.tool, make([]bool, m.days))
	}
	for range m.hands {
		s.used = append(s.used, make([]int, m.days))
	}
	order := make([]int, len(m.plots))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(m.plots[a].closes, m.plots[b].closes) })
	done := make([]bool, len(m.plots))
	bound := 0
	for _, i := range order {
		if _, whole := s.free(i, m.plots[i].closes); whole { // nobody has a tool yet: the plot can be served alone
			bound++
		}
	}
	for _, i := range order {
		if turns, _, whole := m.pure(i, m.toldTurns(i)); whole && s.take(i, turns) {
			done[i] = true
		}
	}
	for _, i := range order {
		if !done[i] {
			turns, whole := s.free(i, m.plots[i].closes)
			done[i] = whole && s.take(i, turns)
		}
	}
	for _, i := range order {
		if !done[i] {
			if turns, _, _ := m.pure(i, m.toldTurns(i)); len(turns) == 0 || !s.take(i, turns) {
				turns, _ = s.free(i, m.plots[i].last)
				s.take(i, turns)
			}
		}
	}
	r := m.passOn(m.p.result(s.turns))
	r.Bound = bound
	return r
}

// free returns the earliest free tool-days of plot i until the day last, of the first class that has enough of them; if
// none has, of the first.
func (s *schedule) free(i, last int) (first []Turn, whole bool) {
	plot := &s.m.plots[i]
	for c, class := range plot.classes {
		var turns []Turn
		for day := plot.first; day <= min(last, plot.last); day++ {
			hands := s.m.hands[plot.household][day] - s.used[plot.household][day]
			for _, k := range class.tools {
				if hands > 0 && len(turns) < class.need && s.m.usable[k][day] && !s.tool[k][day] {
					turns = append(turns, Turn{plot.index, k, s.m.p.From + engine.Day(day)})
					hands--
				}
			}
		}
		if len(turns) == class.need {
			return turns, true
		}
		if c == 0 {
			first = turns
		}
	}
	return first, false
}

// take gives plot i the turns if all are still free.
func (s *schedule) take(i int, turns []Turn) bool {
	household := s.m.plots[i].household
	for n, t := range turns {
		day := int(t.Day - s.m.p.From)
		if s.tool[t.Tool][day] || s.used[household][day] == s.m.hands[household][day] {
			s.drop(household, turns[:n])
			return false
		}
		s.tool[t.Tool][day] = true
		s.used[household][day]++
	}
	s.turns = append(s.turns, turns...)
	return true
}

func (s *schedule) drop(household int, turns []Turn) {
	for _, t := range turns {
		day := int(t.Day - s.m.p.From)
		s.tool[t.Tool][day] = false
		s.used[household][day]--
	}
}
