package circle

import "iter"

// conflict is a day on which the flow gives a plot of a home a tool that does not suit it, or a household more tools
// than it has hands for. The children have together all rosters of the decision.
type conflict struct {
	home     *home
	children []decision
}

// conflict returns the first conflict of the flow; there are no children if there is none.
func (m *model) conflict(d decision) conflict {
	for c := range m.conflicts(d) {
		return c
	}
	return conflict{}
}

// conflicts returns the conflicts of the flow.
func (m *model) conflicts(d decision) iter.Seq[conflict] {
	limit := func(child decision, i, day, most int) decision {
		child = child.clone()
		child.limits = append(child.limits, dayLimit{i, day, most})
		return child
	}
	return func(yield func(conflict) bool) {
		for g := range m.homes {
			home := &m.homes[g]
			for day, through := range home.through {
				plots, used, sum := m.usedOn(home, day)
				c := conflict{home: home}
				together := through >= 0 && d.apart>>g&1 == 0
				switch {
				case together && sum > 0 && m.mistaken(d, home, plots[0], day):
					only := d // the plot has the hand, if anyone
					for _, i := range home.plots {
						if i != plots[0] && day >= m.plots[i].first && day <= m.plots[i].last {
							only = limit(only, i, day, 0)
						}
					}
					c.children = []decision{only, limit(d, plots[0], day, 0)}
				case !together && sum > m.hands[home.household][day]:
					for j, i := range plots {
						c.children = append(c.children, limit(d, i, day, used[j]-1))
					}
				}
				if c.children != nil && !yield(c) {
					return
				}
			}
		}
	}
}

// applyIn applies a decision that differs from the one before only in the plots of the home.
func (m *model) applyIn(home *home, d decision, reward int64) {
	for _, i := range home.plots {
		m.applyPlot(d, i, reward)
	}
	m.applyHome(d, m.plots[home.plots[0]].home)
}

// usedOn returns the plots of the home that have tools on the day, how many each has, and their sum.
func (m *model) usedOn(home *home, day int) (plots, used []int, sum int) {
	for _, i := range home.plots {
		plot := &m.plots[i]
		if day < plot.first || day > plot.last {
			continue
		}
		if n := int(m.net.flow[plot.dayArc[day-plot.first]]); n > 0 {
			plots, used = append(plots, i), append(used, n)
			sum += n
		}
	}
	return plots, used, sum
}

// mistaken reports whether the tool that the flow gives to the home on the day does not suit the plot that has it, or
// was not told to it although the flow says so.
func (m *model) mistaken(d decision, home *home, i, day int) bool {
	plot := &m.plots[i]
	for k, arc := range home.toolDo[day] {
		if arc >= 0 && m.net.flow[arc] > 0 {
			return plot.class[k] < 0 || d.choices[i].classes>>plot.class[k]&1 == 0 ||
				m.net.cost[arc] != m.toldCost(plot, day, k)
		}
	}
	return false
}

// handsKept reports whether no household uses more tools on a day than it has hands for.
func (m *model) handsKept() bool {
	for g := range m.homes {
		home := &m.homes[g]
		for day := range home.through {
			if _, _, sum := m.usedOn(home, day); sum > m.hands[home.household][day] {
				return false
			}
		}
	}
	return true
}

// handsSuffice reports whether each household with several plots has hands for those that the decision serves, if it
// had all tools for itself. On each day its hands work where the window closes first (Jackson's rule; Horn 1974).
func (m *model) handsSuffice(d decision) bool {
	for _, home := range m.homes {
		plots := home.plots
		left := map[int]int{}
		for _, i := range plots {
			if d.choices[i].status == served {
				left[i], _ = m.needs(d, i)
			}
		}
		if len(left) < 2 {
			continue
		}
		for day, hands := range m.hands[m.plots[plots[0]].household] {
			for ; hands > 0; hands-- {
				next := -1
				for _, i := range plots {
					plot := &m.plots[i]
					open := left[i] > 0 && day >= plot.first && day <= plot.closes
					if open && (next < 0 || plot.closes < m.plots[next].closes) {
						next = i
					}
				}
				if next < 0 {
					break
				}
				left[next]--
			}
		}
		for _, n := range left {
			if n > 0 {
				return false
			}
		}
	}
	return true
}
