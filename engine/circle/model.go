package circle

import (
	"math"
	"slices"

	"rowbell/engine"
)

// costs is what each objective costs in one number, which is to be small.
type costs struct {
	told   int64 // a told turn that is kept costs -told
	late   int64 // a day of lateness
	missed int64 // a missed window of a served plot costs -missed
	chance int64 // a thousandth of a chance costs -chance
}

// costs returns weights with which one number orders rosters by Moved, Lateness, Missed and Chance, each before the
// next: each weight is more than all that the later objectives together can change. With withMissed, Missed counts;
// without it, it must be the same in all rosters that are compared.
//
// No sum overflows. With T tool-days, the chances are at most 1000*T, the windows missed at most MaxMissed for each
// plot, the days of lateness at most MaxNeed*(MaxLate+1) for each plot, and the told turns that are kept at most T.
// Each with 1 added, the product for the largest problem that is searched (20 plots, 120 tool-days) is below
// 1.3e5 * 2e3 * 1.5e5 * 121 < 2^53, and 20 rewards of at most maxReward are below 2^57. Without Missed, for MaxPlots
// and MaxTools*MaxDays, the product is below 6.1e6 * 3.7e6 * 6.1e3 < 2^57. A potential is the difference of the costs
// of two flows, so it is below 2^58, and no more than four of them are added.
func (m *model) costs(withMissed bool) costs {
	toolDays, missed, late := int64(0), int64(0), int64(0)
	for _, days := range m.usable {
		for _, ok := range days {
			if ok {
				toolDays++
			}
		}
	}
	needed := int64(0)
	for i := range m.plots {
		plot := &m.plots[i]
		most := int64(plot.classes[len(plot.classes)-1].need)
		needed += most
		missed += int64(plot.missed)
		late += most * int64(plot.missing)
	}
	chance := 1000 * min(toolDays, needed)
	c := costs{chance: 1, missed: chance + 1}
	c.late = c.missed
	if withMissed {
		c.late *= missed + 1
	} else {
		c.missed = 0
	}
	c.told = c.late * (late + 1)
	return c
}

// class is the tools that have the same need at a plot.
type class struct {
	need  int
	tools []int
}

// plotModel is a plot that some tool suits. Days are counted from Problem.From. Its days are first to last, within the
// planned days; there are none if first > last.
type plotModel struct {
	index       int // in Problem.Plots
	household   int
	number      int // of the household: the index in model.plots of its first plot
	first, last int
	closes      int // may be outside of the planned days
	missing     int // lateness of a missing tool-day
	missed      int
	classes     []class // smallest need first
	class       []int   // by tool: index in classes, or -1
	chance      []int64 // by day from first, in thousandths
	told        []bool  // by day from first and tool

	source [2]int32  // arcs to the plot: for the tool-days that all classes need, and for the others
	window [2]int32  // arcs to its window, likewise
	dayArc []int32   // by day from first: the arc to the day
	join   []int32   // by day from first: the arc to the day of the home, or -1
	toolDo [][]int32 // by day from first and tool: the arc to the tool-day, or -1
	home   int       // index in model.homes, or -1
}

// home is a household with several plots. On its days with hands for one tool, the network has two ways for its plots,
// and a node of the search takes one of them. Together, the days of its plots lead through one arc, so that they share
// the hand; behind it, the network does not know any more whose tool-day it is, and a plot can get a tool that suits
// only another plot of the household. Apart, each plot has its own arcs, and the network does not know that they share
// the hand. On days with more hands they are always apart.
type home struct {
	household int
	plots     []int
	through   []int32   // by day: the arc that holds one tool-day, or -1
	toolDo    [][]int32 // by day and tool: the arc to the tool-day, or -1
}

// model is a problem as a network: source -> plot -> its window (late days: nothing between) -> day of the plot -> (day
// of the home) -> tool-day -> sink -> source. A unit that flows is a tool-day. The arc to a day of a plot holds as much
// as its household has hands.
type model struct {
	p      Problem
	days   int
	usable [][]bool // by tool and day
	hands  [][]int  // by household and day
	plots  []plotModel
	homes  []home
	w      costs

	net    network
	back   int32     // the arc from the sink to the source
	source int32     // node
	sink   [][]int32 // by tool and day: the arc to the sink, or -1
}

func newModel(p Problem) *model {
	m := &model{p: p, days: int(p.To-p.From) + 1}
	for _, tool := range p.Tools {
		days := make([]bool, m.days)
		for d := range days {
			days[d] = true
		}
		for _, span := range tool.Out {
			for d := max(int(span.From-p.From), 0); d < m.days && d <= int(span.To-p.From); d++ {
				days[d] = false
			}
		}
		m.usable = append(m.usable, days)
	}
	for _, household := range p.Households {
		days := make([]int, m.days)
		for d := range days {
			days[d] = household.handsOn(d)
		}
		m.hands = append(m.hands, days)
	}
	of := make([][]int, len(p.Households))
	for i, plot := range p.Plots {
		if len(plot.needs()) > 0 {
			of[plot.Household] = append(of[plot.Household], len(m.plots))
			m.plots = append(m.plots, m.plotModel(i))
			m.plots[len(m.plots)-1].number = len(m.plots) - 1
		}
	}
	for _, plots := range of {
		for _, i := range plots {
			m.plots[i].number = m.plots[plots[0]].number
		}
		if len(plots) > 1 {
			for _, i := range plots {
				m.plots[i].home = len(m.homes)
			}
			m.homes = append(m.homes, home{household: m.plots[plots[0]].household, plots: plots})
		}
	}
	return m
}

func (m *model) plotModel(i int) plotModel {
	plot := m.p.Plots[i]
	pm := plotModel{
		index: i, household: plot.Household, missing: plot.missing(), missed: plot.Missed,
		first:  max(0, int(plot.Opens-m.p.From)),
		last:   min(m.days-1, int(plot.Until-m.p.From)),
		closes: int(plot.Closes - m.p.From),
		class:  make([]int, len(plot.Need)),
		home:   -1,
	}
	for c, need := range plot.needs() {
		pm.classes = append(pm.classes, class{need: need})
		for k := range plot.Need {
			if plot.Need[k] == need {
				pm.classes[c].tools = append(pm.classes[c].tools, k)
			}
		}
	}
	for k, need := range plot.Need {
		pm.class[k] = slices.IndexFunc(pm.classes, func(c class) bool { return c.need == need })
	}
	n := max(0, pm.last-pm.first+1)
	pm.chance = make([]int64, n)
	pm.told = make([]bool, n*len(plot.Need))
	for d := range n {
		pm.chance[d] = int64(plot.thousandths(m.p.From + engine.Day(pm.first+d)))
	}
	for _, turn := range plot.Told {
		if d := int(turn.Day-m.p.From) - pm.first; d >= 0 && d < n {
			pm.told[d*len(plot.Need)+turn.Tool] = true
		}
	}
	return pm
}

// arcs returns about how many arcs the network has: one for each plot, day and tool.
func (m *model) arcs() (n int) {
	for i := range m.plots {
		n += max(0, m.plots[i].last-m.plots[i].first+1) * len(m.usable)
	}
	return n
}

// connect builds the network. limits, needs and costs of its arcs are set by apply.
func (m *model) connect() {
	net := &m.net
	m.source = net.node()
	sink := net.node()
	toolDay := make([][]int32, len(m.usable))
	m.sink = make([][]int32, len(m.usable))
	for k, days := range m.usable {
		toolDay[k], m.sink[k] = make([]int32, m.days), make([]int32, m.days)
		for d, ok := range days {
			toolDay[k][d], m.sink[k][d] = -1, -1
			if ok {
				toolDay[k][d] = net.node()
				m.sink[k][d] = net.arc(toolDay[k][d], sink, 1, 0)
			}
		}
	}
	homeDay := make([][]int32, len(m.homes)) // node before the arc through
	for g := range m.homes {
		homeDay[g] = m.connectHome(&m.homes[g], toolDay)
	}
	all := int32(0)
	for i := range m.plots {
		plot := &m.plots[i]
		node, window := net.node(), net.node()
		plot.source = [2]int32{net.arc(m.source, node, 0, 0), net.arc(m.source, node, 0, 0)}
		plot.window = [2]int32{net.arc(node, window, 0, 0), net.arc(node, window, 0, 0)}
		for d := plot.first; d <= plot.last; d++ {
			from := window
			if d > plot.closes {
				from = node
			}
			day, join := net.node(), int32(-1)
			plot.dayArc = append(plot.dayArc, net.arc(from, day, 0, 0))
			if plot.home >= 0 && homeDay[plot.home][d] >= 0 {
				join = net.arc(day, homeDay[plot.home][d], 0, 0)
			}
			plot.join = append(plot.join, join)
			arcs := make([]int32, len(m.usable))
			for k := range arcs {
				arcs[k] = -1
				if plot.class[k] >= 0 && m.usable[k][d] && m.hands[plot.household][d] > 0 {
					arcs[k] = net.arc(day, toolDay[k][d], 0, 0)
				}
			}
			plot.toolDo = append(plot.toolDo, arcs)
		}
		all += int32(plot.classes[len(plot.classes)-1].need)
	}
	m.back = net.arc(sink, m.source, all, 0)
	net.index()
}

// connectHome adds the days of the home with hands for one tool. It returns their nodes, or -1.
func (m *model) connectHome(home *home, toolDay [][]int32) (nodes []int32) {
	net := &m.net
	for d := range m.days {
		node, through := int32(-1), int32(-1)
		arcs := make([]int32, len(m.usable))
		if m.hands[home.household][d] == 1 {
			node = net.node()
			after := net.node()
			through = net.arc(node, after, 1, 0)
			for k := range arcs {
				arcs[k] = -1
				if m.usable[k][d] {
					arcs[k] = net.arc(after, toolDay[k][d], 0, 0)
				}
			}
		}
		nodes = append(nodes, node)
		home.through = append(home.through, through)
		home.toolDo = append(home.toolDo, arcs)
	}
	return nodes
}

// dayCost returns the cost of a tool-day on day d, without that of the told turn.
func (m *model) dayCost(plot *plotModel, d int) int64 {
	if d > plot.closes {
		return -m.w.late * int64(plot.missing-(d-plot.closes))
	}
	return -m.w.late*int64(plot.missing) - m.w.chance*plot.chance[d-plot.first]
}

// toldCost returns the further cost of tool k on day d if that turn was told.
func (m *model) toldCost(plot *plotModel, d, k int) int64 {
	if plot.told[(d-plot.first)*len(plot.class)+k] {
		return -m.w.told
	}
	return 0
}

// infinite is more than any cost, and no sum of a few of it overflows.
const infinite = math.MaxInt64 / 8
