package circle

import "slices"

// withoutNeedless returns the roster without turns that do no good: a plot that is not served may miss as many
// tool-days of a class with a smaller need if it has none at all. Such turns would take a grower to a tool for
// nothing, and planning again could add them to turns that were told. No objective gets worse.
func (p Problem) withoutNeedless(r Roster) Roster {
	var turns []Turn
	for _, turn := range r.Turns {
		if !p.needless(r, turn.Plot) {
			turns = append(turns, turn.Turn)
		}
	}
	if len(turns) == len(r.Turns) {
		return r
	}
	less := p.result(turns)
	less.Bound, less.Proven, less.HandoversProven, less.Nodes = r.Bound, r.Proven, r.HandoversProven, r.Nodes
	return less
}

// needless reports whether a roster is as good without the turns of a plot.
func (p Problem) needless(r Roster, plot int) bool {
	res, needs := r.Plots[plot], p.Plots[plot].needs()
	if res.Served || needs[0]*p.Plots[plot].missing() > res.Lateness {
		return false
	}
	return !slices.ContainsFunc(r.Turns, func(turn RosterTurn) bool {
		told := func(t Turn) bool { return t.Tool == turn.Tool && t.Day == turn.Day }
		return turn.Plot == plot &&
			(slices.ContainsFunc(p.Plots[plot].Told, told) || p.Plots[plot].thousandths(turn.Day) > 0)
	})
}
