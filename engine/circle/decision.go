package circle

import (
	"math/bits"
	"slices"

	"rowbell/engine"
)

// status is what a node of the search has decided of a plot.
type status int8

const (
	free     status = iota
	served          // all tool-days from Opens to Closes
	unserved        // fewer
)

// choice is what a node of the search has decided of a plot. classes has a bit for each class that is still allowed.
type choice struct {
	classes uint64
	status  status
}

// dayLimit says that a plot has at most so many tools on a day. Limits make households with several plots keep their
// hands.
type dayLimit struct{ plot, day, most int }

// decision is what a node of the search has decided.
type decision struct {
	choices []choice
	limits  []dayLimit
	apart   uint64 // has a bit for each home whose plots are apart in the network. It does not change the rosters
}

// undecided allows everything.
func (m *model) undecided() decision {
	d := decision{choices: make([]choice, len(m.plots))}
	for i := range d.choices {
		d.choices[i].classes = 1<<len(m.plots[i].classes) - 1
	}
	return d
}

func (d decision) clone() decision {
	return decision{slices.Clone(d.choices), slices.Clip(d.limits), d.apart}
}

// allowed returns the classes of plot i that the decision allows, by index, smallest need first.
func (d decision) allowed(i int) (classes []int) {
	for c := 0; d.choices[i].classes>>c != 0; c++ {
		if d.choices[i].classes>>c&1 == 1 {
			classes = append(classes, c)
		}
	}
	return classes
}

// smallest returns the allowed class of plot i with the smallest need.
func (d decision) smallest(i int) int { return bits.TrailingZeros64(d.choices[i].classes) }

// needs returns the smallest and the largest need of plot i that the decision allows.
func (m *model) needs(d decision, i int) (least, most int) {
	mask := d.choices[i].classes
	for c, class := range m.plots[i].classes {
		if mask>>c&1 == 1 {
			if least == 0 {
				least = class.need
			}
			most = class.need
		}
	}
	return least, most
}

// hand returns how many tools plot i can have on day day.
func (m *model) hand(d decision, i, day int) int {
	most := m.hands[m.plots[i].household][day]
	for _, l := range d.limits {
		if l.plot == i && l.day == day {
			most = min(most, l.most)
		}
	}
	return most
}

// apply sets the limits and costs of the arcs to the decision. reward is paid for each served plot.
//
// The network of a plot that is not decided is looser than the plot: each tool-day in its window earns its part of the
// reward, whether the others come or not, and the pass may mix classes. The first tool-days, as many as the smallest
// need, save their lateness; those beyond do not. So no roster costs more in the network than it does.
func (m *model) apply(d decision, reward int64) {
	for i := range m.plots {
		m.applyPlot(d, i, reward)
	}
	for g := range m.homes {
		m.applyHome(d, g)
	}
}

// applyHome sets the arcs from the days of a home to the tool-days: those that some plot of the home can use, at the
// costs of a told turn if it was told to one of these plots.
func (m *model) applyHome(d decision, g int) {
	home := &m.homes[g]
	for day, through := range home.through {
		if through < 0 {
			continue
		}
		for _, arc := range home.toolDo[day] {
			if arc >= 0 {
				m.net.high[arc], m.net.cost[arc] = 0, 0
			}
		}
		for _, i := range home.plots {
			plot := &m.plots[i]
			if day < plot.first || day > plot.last || m.hand(d, i, day) == 0 {
				continue
			}
			for k, arc := range home.toolDo[day] {
				if arc >= 0 && plot.class[k] >= 0 && d.choices[i].classes>>plot.class[k]&1 == 1 {
					m.net.high[arc] = 1
					m.net.cost[arc] = min(m.net.cost[arc], m.toldCost(plot, day, k))
				}
			}
		}
	}
}

func (m *model) applyPlot(d decision, i int, reward int64) {
	net, plot, c := &m.net, &m.plots[i], d.choices[i]
	least, most := m.needs(d, i)
	net.high[plot.source[0]], net.high[plot.source[1]] = int32(least), int32(most-least)
	net.cost[plot.source[1]] = m.w.late * int64(plot.missing)
	a, b := plot.window[0], plot.window[1]
	net.low[a], net.high[a], net.cost[a] = 0, int32(least), 0
	net.high[b] = int32(most - least)
	switch c.status {
	case free:
		earned := reward + m.w.missed*int64(plot.missed)
		net.cost[a] = -(earned + int64(least) - 1) / int64(least)
	case served:
		net.low[a] = int32(least)
	case unserved:
		net.high[a], net.high[b] = int32(most-1), 0
	}
	for j, arc := range plot.dayArc {
		day := plot.first + j
		net.high[arc], net.cost[arc] = int32(m.hand(d, i, day)), m.dayCost(plot, day)
		if day > plot.closes && c.status == served {
			net.high[arc] = 0
		}
		join := plot.join[j]
		together := join >= 0 && d.apart>>plot.home&1 == 0
		if join >= 0 {
			net.high[join] = 0
			if together {
				net.high[join] = 1
			}
		}
		for k, arc := range plot.toolDo[j] {
			if arc >= 0 && together {
				net.high[arc] = 0
			} else if arc >= 0 {
				net.high[arc], net.cost[arc] = int32(c.classes>>plot.class[k]&1), m.toldCost(plot, day, k)
			}
		}
	}
}

// joined reports whether the tool-day of the plot on a day, counted from first, flows through its home.
func (m *model) joined(plot *plotModel, j int) bool {
	return plot.join[j] >= 0 && m.net.flow[plot.join[j]] > 0
}

// toolDays returns the flow as tool-days of each plot, by day. A tool that a plot got through a home may not suit it.
func (m *model) toolDays() [][]Turn {
	of := make([][]Turn, len(m.plots))
	for i := range m.plots {
		plot := &m.plots[i]
		for j, arcs := range plot.toolDo {
			if m.joined(plot, j) {
				arcs = m.homes[plot.home].toolDo[plot.first+j]
			}
			for k, arc := range arcs {
				if arc >= 0 && m.net.flow[arc] > 0 {
					of[i] = append(of[i], Turn{Plot: plot.index, Tool: k, Day: m.p.From + engine.Day(plot.first+j)})
				}
			}
		}
	}
	return of
}
