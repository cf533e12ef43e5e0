package bell

import (
	"fmt"
	"slices"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu"
	"rowbell/store"
)

// Limits of texts about turns (judgement).
const (
	// A member gets at most one text about a changed turn a day, and changesAWeek in seven days, unless the turn of
	// today or of the next urgentDays days has changed: then nobody must stand at a plot without a tool, or with one
	// that another waits for.
	changesAWeek = 3
	urgentDays   = 1
	// earlyDays is how many days before the window a grower is told that there is no turn in it. Then there is time to
	// find hands, and earlier the days of the window still change.
	earlyDays = 7
	// tellDays is how many days before the turn a grower is told of it, if no reminder does so.
	tellDays = engine.PrepareDays
)

// change is what must be told of the turn of a plot.
type change struct {
	event  menu.TurnEvent
	why    menu.TurnWhy
	other  int64 // the circle.Member of menu.WhyOther
	urgent bool  // must be told today
}

// findNews sets the texts to those whose turns are not as they were told. What cannot be told now is told in a later
// morning: from the plan of that day follows again what is not as it was told.
func (p *circlePlan) findNews() error {
	quiet := p.now.Before(p.morning) || !p.now.Before(p.today.At(p.b.o.QuietHour, p.circle.Zone))
	today := map[int64]bool{} // the members who are told of a change now
	later := false
	for i := range p.plots {
		plot := &p.plots[i]
		m := plot.member
		c := p.changeOf(plot)
		if c.event == 0 || m.Stopped || m.Phone == "" {
			continue
		}
		isChange := c.event != menu.TurnGiven || p.toldNow(plot) != nil
		switch {
		case quiet:
			later = true
			continue
		case isChange && !c.urgent && (today[m.ID] || p.limited(m)):
			later = true
			// A text that still waits, because no network took it, tells what has changed since.
			p.out.Stale = append(p.out.Stale, store.Stale{PlotID: plot.due.ID, To: store.Phone(m.Phone)})
			continue
		case p.reminded(plot, c):
			continue
		}
		if err := p.tell(plot, c, isChange); err != nil {
			return err
		}
		today[m.ID] = today[m.ID] || isChange
	}
	if morning := p.morningOf(p.today + 1); later && (p.planAt == 0 || p.planAt > morning) {
		p.planAt = morning
	}
	return nil
}

// limited reports whether a member has had as many texts about changed turns as a day or a week may have.
func (p *circlePlan) limited(m *store.DueMember) bool {
	week := 0
	for _, plot := range m.Plots {
		if plot.Told == nil {
			continue
		}
		for _, d := range plot.Told.Changes {
			if d == p.today {
				return true
			}
			if d > p.today-engine.TextsWeekDays {
				week++
			}
		}
	}
	return week >= changesAWeek
}

// toldNow returns what the grower was told of the turn for the present window of a plot; nil: nothing.
func (p *circlePlan) toldNow(plot *plannedPlot) *store.ToldTurn {
	told := plot.of.Told
	if told == nil || told.Window != plot.work.Days.Number || told.On < plot.due.Season.Plot.Planted {
		return nil
	}
	return told
}

// changeOf returns what the grower of a plot must be told of its turn.
func (p *circlePlan) changeOf(plot *plannedPlot) (c change) {
	told, w := p.toldNow(plot), plot.work.Days.Window
	var was, now []store.TurnDay // from today on
	for _, t := range plot.turns {
		now = append(now, store.TurnDay{Tool: t.Tool, Day: t.Day})
	}
	if told != nil {
		for _, t := range told.Turns {
			if t.Day >= p.today {
				was = append(was, t)
			}
		}
	}
	late := slices.ContainsFunc(plot.turns, func(t store.CircleTurn) bool { return t.Late })
	needs := plot.index >= 0 && !plot.result.Unsuited
	c.urgent = p.urgent(was, now)
	lacks := func(t store.TurnDay) bool { return !slices.Contains(now, t) }
	switch {
	case told == nil && needs && (late || len(now) == 0):
		if len(p.circle.Tools) > 0 && w.Opens <= p.today+earlyDays {
			if c.event = menu.TurnNone; late {
				c.event = menu.TurnLate
			}
		}
	case told == nil:
		if len(now) > 0 && now[0].Day <= p.today+tellDays {
			c.event = menu.TurnGiven
		}
	case len(was) == 0 && len(now) > 0: // there was none, or its days are over
		c.event = menu.TurnGiven
	case !slices.ContainsFunc(was, lacks) && len(was) < len(now):
		c.event = menu.TurnGiven
	case !slices.ContainsFunc(was, lacks):
		c.event, c.urgent = p.neighboursChanged(plot, told)
	case plot.index < 0 && !p.lost(was) && p.wasHeard(plot, was, now):
	case plot.index < 0 && !p.lost(was) && len(now) == 0:
		c.event = menu.TurnFreed
	case len(now) == 0:
		c.event = menu.TurnGone
	case slices.EqualFunc(was, now, func(a, b store.TurnDay) bool { return a.Day == b.Day }):
		c.event = menu.TurnStays // with another tool
	default:
		c.event = menu.TurnMoved
	}
	if slices.ContainsFunc(was, lacks) && c.event != 0 && c.event != menu.TurnGiven {
		c.why, c.other = p.why(plot, was[slices.IndexFunc(was, lacks)])
	}
	return c
}

// wasHeard reports whether the grower of a plot that needs no turn knows what has become of the told one: it is not
// wanted any more, or some of its days stay and no others. A turn of today that stays can be one that moved there in
// the night. If a turn is not needed because of what was seen on the plot, the answer of the menu says nothing of it.
func (p *circlePlan) wasHeard(plot *plannedPlot, was, now []store.TurnDay) bool {
	wish := plot.of.Wishes[plot.work.Days.Number]
	return wish.Skip || wish.Ready ||
		len(now) > 0 && !slices.ContainsFunc(now, func(t store.TurnDay) bool { return !slices.Contains(was, t) })
}

// lost reports whether a told turn cannot be kept, although the plot needs no other turn now.
func (p *circlePlan) lost(was []store.TurnDay) bool {
	return slices.ContainsFunc(was, func(t store.TurnDay) bool {
		i := p.tool(t.Tool)
		return i < 0 || p.circle.Tools[i].Broken
	})
}

// urgent reports whether the turns of today or the next urgentDays days are not as they were told.
func (p *circlePlan) urgent(was, now []store.TurnDay) bool {
	soon := func(of, other []store.TurnDay) bool {
		return slices.ContainsFunc(of, func(t store.TurnDay) bool {
			return t.Day <= p.today+urgentDays && !slices.Contains(other, t)
		})
	}
	return soon(was, now) || soon(now, was)
}

// neighboursChanged returns what must be told to a grower whose days stay: shortly before the turn, that another member
// than the one who was told has the tool before, or at its end, that another has it next.
func (p *circlePlan) neighboursChanged(plot *plannedPlot, told *store.ToldTurn) (event menu.TurnEvent, urgent bool) {
	if len(told.Turns) == 0 {
		return 0, false
	}
	first, last := told.Turns[0], told.Turns[len(told.Turns)-1]
	fetch, hand := p.neighbours(plot.member.ID, first, last)
	switch {
	case told.FetchFrom != 0 && fetch != 0 && fetch != told.FetchFrom && p.soon(first.Day):
		return menu.TurnStays, true
	case told.HandTo != 0 && hand != 0 && hand != told.HandTo && p.soon(last.Day):
		return menu.TurnPassed, true
	}
	return 0, false
}

func (p *circlePlan) soon(d engine.Day) bool {
	return p.today-urgentDays <= d && d <= p.today+urgentDays
}

// neighbours returns who has the tool before the first and after the last day of a turn; 0: nobody, or the member.
func (p *circlePlan) neighbours(member int64, first, last store.TurnDay) (fetch, hand int64) {
	var before, after engine.Day
	turns := slices.DeleteFunc(slices.Clone(p.circle.Turns), func(t store.CircleTurn) bool {
		return t.Plot != 0 && t.Day >= p.today
	})
	for _, t := range append(turns, p.turns...) {
		if t.Tool == first.Tool && t.Day < first.Day && t.Day >= first.Day-circle.HoldDays && t.Day > before {
			before, fetch = t.Day, t.Member
		}
		if t.Tool == last.Tool && t.Day > last.Day && t.Day <= last.Day+circle.HoldDays &&
			(after == 0 || t.Day < after) {
			after, hand = t.Day, t.Member
		}
	}
	if fetch == member {
		fetch = 0
	}
	if hand == member {
		hand = 0
	}
	return fetch, hand
}

// why returns why a told day of a turn could not be kept.
func (p *circlePlan) why(plot *plannedPlot, was store.TurnDay) (menu.TurnWhy, int64) {
	i := p.tool(was.Tool)
	w := plot.work.Days
	if i >= 0 && p.circle.Tools[i].Broken {
		return menu.WhyBroken, 0
	}
	wasLate := slices.ContainsFunc(p.circle.Turns, func(t store.CircleTurn) bool {
		return t.Plot == plot.due.ID && t.Tool == was.Tool && t.Day == was.Day && t.Late
	})
	if w.Exists() && !wasLate && (was.Day < w.Opens || was.Day > w.Closes) {
		return menu.WhyOwnDays, 0
	}
	for _, t := range p.turns {
		if t.Tool == was.Tool && t.Day == was.Day && t.Member != plot.member.ID {
			return menu.WhyOther, t.Member
		}
	}
	return menu.WhyUnknown, 0
}

// reminded reports whether the reminder of this morning tells the turn of a plot, so that it needs no text of its own.
func (p *circlePlan) reminded(plot *plannedPlot, c change) bool {
	due := 0
	for _, other := range plot.member.Grower.Plots {
		if other.LookAt != 0 && other.LookAt <= p.now.Unix() {
			due++
		}
	}
	told := c.event == menu.TurnGiven || c.event == menu.TurnMoved
	// Of several due plots, one may wait until tomorrow.
	if d := plot.due; !told || due != 1 || d.LookAt == 0 || d.LookAt > p.morning.Unix() {
		return false
	}
	plan, err := plot.due.Season.Windows(p.today)
	if err != nil {
		return false
	}
	reminder, silence := plan.Reminder(plot.due.Told)
	if silence != engine.NotSilent {
		return false
	}
	turn := p.turnOf(plot, plot.turns)
	r, err := p.b.o.Menu.Ring(plot.member.Language, menu.Bell{
		No: plot.due.No, Season: plot.due.Season, Plan: plan, Reminder: reminder, Silent: plot.member.Silent,
		Turn: &turn,
	})
	return err == nil && r.Turn
}

// tell composes the text about a change. isChange reports whether it counts for the limits.
func (p *circlePlan) tell(plot *plannedPlot, c change, isChange bool) error {
	m, w := plot.member, plot.work.Days.Window
	told := p.toldNow(plot)
	n := menu.TurnNews{
		No: plot.due.No, Plot: plot.due.Season.Plot, Silent: m.Silent, Event: c.event, Why: c.why,
		Other: p.neighbour(c.other), Now: p.turnOf(plot, plot.turns), Span: w, HandHours: plot.work.HandHours,
	}
	t := store.ToldTurn{On: p.today, Window: w.Number}
	if told != nil {
		var was []store.CircleTurn
		for _, d := range told.Turns {
			if d.Day >= p.today {
				was = append(was, store.CircleTurn{Tool: d.Tool, Day: d.Day, Member: m.ID})
			}
		}
		n.Was = p.turnOf(plot, was)
	}
	useful := w.Closes
	if c.event == menu.TurnFreed {
		useful = told.Turns[len(told.Turns)-1].Day
	}
	for _, turn := range plot.turns {
		t.Turns = append(t.Turns, store.TurnDay{Tool: turn.Tool, Day: turn.Day})
		useful = turn.Day
	}
	if len(t.Turns) == 0 && c.event == menu.TurnPassed {
		t.Turns = told.Turns
	}
	if len(t.Turns) > 0 {
		t.FetchFrom, t.HandTo = p.neighbours(m.ID, t.Turns[0], t.Turns[len(t.Turns)-1])
		n.Now.FetchFrom, n.Now.HandTo = p.neighbour(t.FetchFrom), p.neighbour(t.HandTo)
	}
	t.Follow(plot.of.Told, isChange)
	body, err := p.b.o.Menu.TurnText(m.Language, n)
	now := p.now.Unix()
	p.out.Texts = append(p.out.Texts, store.RoundText{
		Message: store.Message{
			Key: fmt.Sprintf("turn/%d.%d.%d/%d/%d", plot.due.ID, plot.due.Season.Plot.Planted, w.Number, c.event,
				now),
			GrowerID: m.GrowerID, PlotIDs: []int64{plot.due.ID}, To: store.Phone(m.Phone), Note: "turn", Text: body,
			CreatedAt: now, DueAt: now, UsefulUntil: max(useful, p.today).At(p.b.o.QuietHour, p.circle.Zone).Unix(),
		},
		News: []store.News{{PlotID: plot.due.ID, Turn: &t}},
	})
	// The new text withdraws the reminder that the bell wrote this morning, if it still waits. The bell writes it anew.
	for _, told := range plot.due.Told {
		if told.On == p.today && plot.due.LookAt > p.now.Unix() {
			p.out.Late = append(p.out.Late, store.NextLook{PlotID: plot.due.ID, At: p.morning.Unix()})
			break
		}
	}
	return err
}

// turnOf returns turns of a plot as a text names them.
func (p *circlePlan) turnOf(plot *plannedPlot, turns []store.CircleTurn) (all menu.Turn) {
	var runs []menu.Turn
	for i, t := range turns {
		if last := len(runs) - 1; i > 0 && turns[i-1].Tool == t.Tool && turns[i-1].Day+1 == t.Day {
			runs[last].To = t.Day
			continue
		}
		run := menu.Turn{From: t.Day, To: t.Day}
		if at := p.tool(t.Tool); at >= 0 {
			run.Tool = p.circle.Tools[at].Name
			if len(p.circle.Tools) > 1 {
				run.ToolNo = at + 1
			}
		}
		runs = append(runs, run)
	}
	if len(runs) == 0 {
		return all
	}
	all, all.Then = runs[0], runs[1:]
	return all
}

// neighbour returns the name and number of a member; the zero value for 0, and no number of one who is a stranger now.
func (p *circlePlan) neighbour(id int64) (n menu.Neighbour) {
	for _, m := range p.circle.Members {
		if m.ID == id && id != 0 {
			n.Name, n.Phone = m.Name, m.Phone
		}
	}
	return n
}
