package circle

import "rowbell/engine"

// passOn exchanges the tools of each day, so that fewer change hands. It goes through the days; on each, it gives the
// tools to the same plots as before, but at the least cost: 0 if the household has the tool already, more if not, and
// more still if it is taken from a household that will use it again. Told turns stay. All objectives but Handovers stay
// as they are, because only tools of the same class are exchanged; if Handovers gets worse, the roster stays.
func (m *model) passOn(r Roster) Roster {
	last := make([]int, len(m.p.Households)) // day of the last turn of each household
	byDay := make([][]Turn, m.days)
	for _, t := range r.Turns {
		day := int(t.Day - m.p.From)
		byDay[day] = append(byDay[day], t.Turn)
		h := m.p.Plots[t.Plot].Household
		last[h] = max(last[h], day)
	}
	holder := make([]int, len(m.p.Tools)) // household, or -1
	for k := range holder {
		holder[k] = -1
	}
	var turns []Turn
	for day, today := range byDay {
		today = m.passOnDay(day, today, holder, last)
		for _, t := range today {
			holder[t.Tool] = m.p.Plots[t.Plot].Household
		}
		turns = append(turns, today...)
	}
	if next := m.p.result(turns); next.better(r) {
		return next
	}
	return r
}

func (m *model) passOnDay(day int, today []Turn, holder, last []int) []Turn {
	if len(today) == 0 {
		return nil
	}
	var net network
	source, sink := net.node(), net.node()
	tool := make([]int32, len(m.p.Tools))
	for k := range tool {
		tool[k] = net.node()
		net.arc(tool[k], sink, 1, 0)
	}
	arcs := make([][]int32, len(today))
	for j, t := range today {
		node := net.node()
		net.low[net.arc(source, node, 1, 0)] = 1
		plot := m.p.Plots[t.Plot]
		arcs[j] = make([]int32, len(tool))
		for k := range tool {
			arcs[j][k] = -1
			if plot.Need[k] != plot.Need[t.Tool] || !m.usable[k][day] || told(plot, t) && k != t.Tool {
				continue
			}
			cost := int64(2)
			switch h := holder[k]; {
			case h == plot.Household:
				cost = 0
			case h >= 0 && last[h] >= day:
				cost = 3
			}
			arcs[j][k] = net.arc(node, tool[k], 1, cost)
		}
	}
	back := net.arc(sink, source, int32(len(today)), 0)
	net.index()
	net.reset(source, back)
	net.optimise() // today is a circulation
	var turns []Turn
	for j, t := range today {
		for k, arc := range arcs[j] {
			if arc >= 0 && net.flow[arc] > 0 {
				turns = append(turns, Turn{t.Plot, k, m.p.From + engine.Day(day)})
			}
		}
	}
	return turns
}

// told reports whether the grower of the plot was told the turn.
func told(plot Plot, turn Turn) bool {
	for _, t := range plot.Told {
		if t.Tool == turn.Tool && t.Day == turn.Day {
			return true
		}
	}
	return false
}
