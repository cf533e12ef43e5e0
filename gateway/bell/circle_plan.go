package bell

import (
	"cmp"
	"slices"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/store"
)

// Days of the planning (judgement).
const (
	// planAhead is how many days before the window of a plot its turns are planned. The days of a window that is
	// farther away are seldom those on which the plot is weeded.
	planAhead = 21
	// planDays is for how many days turns are planned at most: a window that opens in planAhead days, its days, and the
	// late turns after it.
	planDays = 45
	// startBy is until how many hours after the morning hour a tool that is free today can still be given to a plot
	// today.
	startBy = 1
)

// planTime bounds the search for the turns of one circle. Whatever is found by then is planned.
const planTime = 400 * time.Millisecond

// circlePlan is the plan of one circle, with the instants of its day. Its result is what to write.
type circlePlan struct {
	b       *Bell
	circle  store.DueCircle
	now     time.Time
	today   engine.Day
	morning time.Time  // texts may be written today from this instant on
	from    engine.Day // first day that is planned: today or tomorrow

	plots   []plannedPlot
	problem circle.Problem
	roster  circle.Roster
	kept    []store.CircleTurn // turns that stay

	turns   []store.CircleTurn // of plots, from today on
	planAt  int64
	out     store.Round // texts about turns
	skipped bool        // see skip
}

// plannedPlot is an open plot of a member.
type plannedPlot struct {
	member *store.DueMember
	due    *store.DuePlot
	of     *store.DueTurns
	work   circle.PlotWork
	index  int                // of the plot in the problem; -1: it needs no turn now
	result circle.PlotResult  // set if index >= 0
	turns  []store.CircleTurn // from today on, for the present window
}

func (b *Bell) newCirclePlan(c store.DueCircle, now time.Time) *circlePlan {
	p := &circlePlan{b: b, circle: c, now: now, today: engine.DayOf(now, c.Zone)}
	p.morning = p.today.At(c.MorningHour, c.Zone)
	p.out = store.Round{Zone: c.Zone, Morning: p.morning.Unix()}
	p.from = p.today
	if now.After(p.morning.Add(startBy * time.Hour)) {
		p.from++
	}
	return p
}

// plan makes the roster of the circle, and finds who must be told what.
func (p *circlePlan) plan() error {
	next, err := p.makeRoster()
	if err != nil {
		return err
	}
	if len(p.turns) > 0 {
		next = p.today + 1
	}
	switch {
	case p.now.Before(p.morning):
		p.planAt = p.morning.Unix() // texts may be written then
	case next != 0:
		p.planAt = p.morningOf(next)
	}
	return p.findNews()
}

// makeRoster makes the roster of the circle. It returns the day from which turns are planned for the nearest window
// that has none yet.
func (p *circlePlan) makeRoster() (next engine.Day, err error) {
	p.keepTurns()
	for i := range p.circle.Members {
		m := &p.circle.Members[i]
		for j := range m.Grower.Plots {
			plot := plannedPlot{member: m, due: &m.Grower.Plots[j], of: &m.Plots[j], index: -1}
			p.addPlot(&plot)
			if w := plot.work.Days; w.Exists() && w.With == engine.ByTool {
				if from := max(w.Opens-planAhead, p.today+1); next == 0 || from < next {
					next = from
				}
			}
			p.plots = append(p.plots, plot)
		}
	}
	p.addTools()
	p.addHouseholds()
	return next, p.solve()
}

// keepTurns finds the turns that stay: those of today, because the growers have fetched the tools, and those that two
// growers have exchanged.
func (p *circlePlan) keepTurns() {
	for _, t := range p.circle.Turns {
		i := p.tool(t.Tool)
		if t.Day < p.today || t.Plot == 0 || i < 0 {
			continue
		}
		plot, of := p.plotOf(t)
		if of == nil || of.Wishes[t.Window.Number].Skip {
			continue
		}
		w, err := plot.Season.PassDays(p.today)
		if err != nil {
			continue
		}
		weeded := w.Number != t.Window.Number
		if weeded && t.Day == p.today { // the tool was there, also if it has broken since
			p.kept = append(p.kept, t)
			continue
		}
		if weeded || p.circle.Tools[i].Broken {
			continue
		}
		told := of.Told != nil && slices.Contains(of.Told.Turns, store.TurnDay{Tool: t.Tool, Day: t.Day})
		agreed := told && of.Told.Agreed && !of.Wishes[t.Window.Number].Ready
		if agreed || t.Day == p.today && (told || p.from > p.today) {
			p.kept = append(p.kept, t)
		}
	}
}

// plotOf returns the plot of a turn; nil if it is no more open.
func (p *circlePlan) plotOf(t store.CircleTurn) (*store.DuePlot, *store.DueTurns) {
	for i := range p.circle.Members {
		m := &p.circle.Members[i]
		for j := range m.Plots {
			if m.Grower.Plots[j].ID == t.Plot {
				return &m.Grower.Plots[j], &m.Plots[j]
			}
		}
	}
	return nil, nil
}

// tool returns the index of a tool; -1 if the circle has it no more.
func (p *circlePlan) tool(id int64) int {
	return slices.IndexFunc(p.circle.Tools, func(t circle.SharedTool) bool { return t.ID == id })
}

// addPlot adds a plot to the problem if it needs a turn now. A plot that cannot be planned gets no turn, as it gets no
// reminder.
//
// Plots are planned for one direction, because the tool is shared: a pass across takes as many days again (judgement).
func (p *circlePlan) addPlot(plot *plannedPlot) {
	tools := make([]engine.Tool, len(p.circle.Tools))
	for i, t := range p.circle.Tools {
		tools[i] = t.Tool
	}
	work, err := circle.PlotOf(plot.due.Season, p.today, tools, false)
	if err != nil {
		p.b.o.Log.Error().Err(err).Int64("plot", plot.due.ID).
			Msg("bell: a plot cannot be planned and gets no turn until its grower changes it")
		return
	}
	plot.work = work
	w := work.Days
	if !w.Exists() || w.With == engine.ByHand || work.Until < p.from || w.Opens > p.today+planAhead {
		return
	}
	wish := plot.of.Wishes[w.Number]
	if wish.Skip || wish.Ready {
		return
	}
	add := work.Plot
	add.Need = slices.Clone(work.Need)
	had := p.had(plot)
	for i, need := range add.Need {
		if need == 0 {
			continue
		}
		if add.Need[i] = need + wish.ExtraDays - had; add.Need[i] <= 0 {
			return // it had its turn
		}
	}
	add.Missed = p.missed(plot)
	if told := p.toldNow(plot); told != nil {
		for _, t := range told.Turns {
			if i := p.tool(t.Tool); i >= 0 && t.Day >= p.from && !p.isKept(t) {
				add.Told = append(add.Told, circle.Turn{Tool: i, Day: t.Day})
			}
		}
	}
	plot.index = len(p.problem.Plots)
	p.problem.Plots = append(p.problem.Plots, add)
}

func (p *circlePlan) isKept(t store.TurnDay) bool {
	return slices.ContainsFunc(p.kept, func(k store.CircleTurn) bool { return k.Tool == t.Tool && k.Day == t.Day })
}

// had returns how many days of a turn for its present window a plot has had, with the days that stay. After a part was
// weeded, the days that were needed for it do not count.
func (p *circlePlan) had(plot *plannedPlot) (days int) {
	of := func(t store.CircleTurn) bool {
		return t.Plot == plot.due.ID && t.Window.Number == plot.work.Days.Number && t.Day > plot.work.PartOn
	}
	for _, t := range p.circle.Turns {
		if of(t) && t.Day < p.today {
			days++
		}
	}
	for _, t := range p.kept {
		if of(t) {
			days++
		}
	}
	return days
}

// missed counts the windows in a row before the present one in which the plot was to have a turn and had none, or only
// a late one. A window for which nothing was planned, for example because the circle was made later, ends the row.
func (p *circlePlan) missed(plot *plannedPlot) (n int) {
	for window := plot.work.Days.Number - 1; window > 0; window-- {
		late, inTime := false, false
		for _, t := range p.circle.Turns {
			if t.Plot == plot.due.ID && t.Window.Number == window {
				late, inTime = late || t.Late, inTime || !t.Late
			}
		}
		told := plot.of.Told
		none := told != nil && told.Window == window && len(told.Turns) == 0
		if inTime || !late && !none {
			return n
		}
		n++
	}
	return n
}

// addTools adds the tools, out on the days on which they are hired or a turn stays, and while they are broken.
func (p *circlePlan) addTools() {
	p.problem.From, p.problem.To = p.from, p.from
	for _, plot := range p.problem.Plots {
		p.problem.To = min(max(p.problem.To, plot.Until), p.today+planDays)
	}
	p.problem.Tools = make([]circle.Tool, len(p.circle.Tools))
	out := func(tool int, from, to engine.Day) {
		t := &p.problem.Tools[tool]
		t.Out = append(t.Out, circle.Span{From: from, To: to})
	}
	for i, t := range p.circle.Tools {
		if t.Broken {
			out(i, p.from, p.problem.To)
		}
	}
	for _, t := range p.circle.Turns {
		if i := p.tool(t.Tool); i >= 0 && t.Plot == 0 && t.Day >= p.from {
			out(i, t.Day, t.Day)
		}
	}
	for _, t := range p.kept {
		if t.Day >= p.from {
			out(p.tool(t.Tool), t.Day, t.Day)
		}
	}
}

// addHouseholds adds a household for each member with plots. The tools of turns that stay are in its hands.
func (p *circlePlan) addHouseholds() {
	at := map[int64]int{}
	for _, plot := range p.plots {
		if plot.index < 0 {
			continue
		}
		id := plot.member.ID
		if _, ok := at[id]; !ok {
			at[id] = len(p.problem.Households)
			hands := slices.Repeat([]int{circle.Hands(plot.due.Season.Home)}, int(p.problem.To-p.from)+1)
			for _, t := range p.kept {
				if i := int(t.Day - p.from); t.Member == id && i >= 0 && i < len(hands) {
					hands[i] = max(0, hands[i]-1)
				}
			}
			p.problem.Households = append(p.problem.Households, circle.Household{Hands: hands})
		}
		p.problem.Plots[plot.index].Household = at[id]
	}
}

// solve sets the turns from today on.
func (p *circlePlan) solve() error {
	p.turns = slices.Clone(p.kept)
	if len(p.problem.Plots) > 0 && len(p.problem.Tools) > 0 {
		if err := p.problem.Validate(); err != nil {
			return err
		}
		until := p.b.o.Clock.Now().Add(planTime)
		p.roster = p.problem.Solve(circle.Limit{Stop: func() bool { return p.b.o.Clock.Now().After(until) }})
		of := make([]*plannedPlot, len(p.problem.Plots))
		for i := range p.plots {
			if at := p.plots[i].index; at >= 0 {
				of[at], p.plots[i].result = &p.plots[i], p.roster.Plots[at]
			}
		}
		for _, t := range p.roster.Turns {
			plot := of[t.Plot]
			p.turns = append(p.turns, store.CircleTurn{
				Tool: p.circle.Tools[t.Tool].ID, Member: plot.member.ID, Plot: plot.due.ID, PlotNo: plot.due.No,
				Day: t.Day, Window: plot.work.Days.Window, Late: t.Late > 0,
			})
		}
	}
	slices.SortStableFunc(p.turns, func(a, b store.CircleTurn) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Tool, b.Tool))
	})
	for i := range p.plots {
		for _, t := range p.turns {
			if t.Plot == p.plots[i].due.ID && t.Window.Number == p.plots[i].work.Days.Number {
				p.plots[i].turns = append(p.plots[i].turns, t)
			}
		}
	}
	return nil
}
