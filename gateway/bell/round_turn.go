package bell

import (
	"rowbell/engine"
	"rowbell/menu"
	"rowbell/store"
)

// turnOf returns the turn of a plot for a window, as a text names it, and its last day; nil and 0 if there is none.
func (r *round) turnOf(p store.DuePlot, w engine.Window) (all *menu.Turn, last engine.Day) {
	for _, run := range r.runsOf(p, w) {
		t := menu.Turn{
			Tool: run.ToolName, ToolNo: run.ToolNo, From: run.From, To: run.To,
			FetchFrom: r.neighbour(run.Fetch.Name, run.Fetch.Phone), HandTo: r.neighbour(run.Hand.Name, run.Hand.Phone),
		}
		if last = max(last, run.To); all == nil {
			all = &t
		} else {
			all.Then = append(all.Then, t)
		}
	}
	if all == nil || p.ToldTurn == nil || p.ToldTurn.Window != w.Number {
		return all, last
	}
	var was menu.Turn // the told days, if they are others; the planning tells in a text of its own of another tool
	for _, d := range p.ToldTurn.Turns {
		if d.Day < r.today {
			continue
		}
		if was.From == 0 {
			was.From = d.Day
		}
		was.To = d.Day
	}
	if was.From != 0 && (was.From != all.From || was.To != last) {
		all.Was = &was
	}
	return all, last
}

// waitsUntil returns the day until which a reminder waits for the turn of the plot, whose last day is last; 0 if it
// does not wait. The grower is asked "have you weeded?", and is told that the window is over, after the turn. On the
// last days of the window nobody is told to weed who has no tool yet.
func (r *round) waitsUntil(k engine.Kind, turn *menu.Turn, last engine.Day) engine.Day {
	switch {
	case turn == nil || last < r.today:
	case k == engine.KindNudge, k == engine.KindMissed:
		return last + 1
	case k == engine.KindLastDays:
		return turn.From
	}
	return 0
}

// runsOf returns the turns of a plot for a window from today on.
func (r *round) runsOf(p store.DuePlot, w engine.Window) (runs []store.PlotTurn) {
	for _, run := range p.Turns {
		if w.Exists() && run.Window.Number == w.Number && run.To >= r.today {
			runs = append(runs, run)
		}
	}
	return runs
}

// neighbour returns how a text names who has a tool before or after the grower; not the grower.
func (r *round) neighbour(name, phone string) menu.Neighbour {
	if phone == r.grower.Phone.E164() {
		return menu.Neighbour{}
	}
	return menu.Neighbour{Name: name, Phone: phone}
}

// toldTurn returns what a text tells that names the turn of the plot.
func (r *round) toldTurn(n news) *store.ToldTurn {
	told := store.ToldTurn{On: r.today, Window: n.bell.Plan.Next.Number}
	runs := r.runsOf(n.plot, n.bell.Plan.Next)
	for _, run := range runs {
		for d := run.From; d <= run.To; d++ {
			told.Turns = append(told.Turns, store.TurnDay{Tool: run.Tool, Day: d})
		}
	}
	// If the text had no room for the name, it counts as told, because a text about another name says no more.
	if n.bell.Turn.FetchFrom != (menu.Neighbour{}) {
		told.FetchFrom = runs[0].Fetch.ID
	}
	told.Follow(n.plot.ToldTurn, n.bell.Turn.Was != nil)
	return &told
}
