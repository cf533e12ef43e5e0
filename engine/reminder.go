package engine

// Told is a text that the grower has been sent about a plot.
type Told struct {
	Kind    Kind
	Window  int // Window.Number
	Edition int // Window.Edition
	On      Day
}

// Reminder is a text to send today.
type Reminder struct {
	Kind       Kind
	Window     Window
	LastUseful Day // after this day the text would be wrong
	On         Day // day on which it is to be sent
}

// Question is what the text asks: a moved window is asked about only while it is open.
func (r Reminder) Question() Question {
	if r.Kind == KindMoved && !r.Window.Contains(r.On) {
		return AskNothing
	}
	return r.Kind.row().question
}

// Asks reports whether the grower is to answer the text.
func (r Reminder) Asks() bool { return r.Question() != AskNothing }

// Tells reports whether the text names the days of a window that is still to be
// used: they stay as announced until another text moves them.
func (r Reminder) Tells() bool { return r.Kind.Announces() && r.Window.Exists() }

// Silence says why nothing is sent today.
type Silence uint8

const (
	NotSilent         Silence = iota // there is something to say
	SilentNothingNew                 // the next day that matters is still ahead
	SilentTold                       // said already
	SilentToday                      // one text a plot a day
	SilentWeek                       // three texts a plot a week
	SilentKeepForLast                // a nudge now would use up the last-days text
	SilentKnown                      // it was so when the grower registered or told us
)

func (s Silence) String() string {
	return name(s, "not silent", "nothing new", "told already", "told today", "three this week",
		"kept for the last days", "the grower knows")
}

// Reminder decides what to tell the grower today, given all that was told of
// this plot: one text that is true today, never the pile that was missed, at
// most one a day and TextsAWeek in seven days.
func (p Plan) Reminder(told []Told) (Reminder, Silence) {
	r := p.due(told)
	r.On = p.On
	switch {
	case r.Kind == 0:
		return Reminder{}, SilentNothingNew
	case p.wasTold(told, r.Kind):
		return Reminder{}, SilentTold
	case p.known(r.Kind, told):
		return Reminder{}, SilentKnown
	case toldSince(told, p.On) > 0:
		return Reminder{}, SilentToday
	case toldSince(told, p.On-TextsWeekDays+1) >= TextsAWeek:
		return Reminder{}, SilentWeek
	case r.Kind == KindNudge && p.nudgeCostsLast(told):
		return Reminder{}, SilentKeepForLast
	}
	return r, NotSilent
}

// due is the text that is true today, whether or not it was sent already.
func (p Plan) due(told []Told) Reminder {
	w := p.Next
	if p.moves(told) {
		return Reminder{Kind: KindMoved, Window: p.Moved, LastUseful: p.Moved.Closes}
	}
	switch p.State {
	case Prepare:
		return Reminder{Kind: KindPrepare, Window: w, LastUseful: w.Opens - 1}
	case Open:
		// A nudge the day before the last days would say the same twice.
		if p.On >= w.Middle() && p.On+1 < w.LastDays() && p.waited(told) {
			return Reminder{Kind: KindNudge, Window: w, LastUseful: w.LastDays()}
		}
		return Reminder{Kind: KindOpen, Window: w, LastUseful: w.Closes}
	case LastDays:
		return Reminder{Kind: KindLastDays, Window: w, LastUseful: w.Closes}
	case Missed:
		return Reminder{Kind: KindMissed, Window: w, LastUseful: min(p.On+missedUsefulDays, p.LookAgain-1)}
	case Closed:
		return Reminder{Kind: KindClosed, Window: w, LastUseful: p.On + closedUsefulDays}
	}
	return Reminder{}
}

// moves reports that the announced window has moved and that it is worth a
// text: after a first one, only from twice MovedDays on, lest a count that
// wavers wears the grower out.
func (p Plan) moves(told []Told) bool {
	if !p.Moved.Exists() || p.On > p.Moved.Closes {
		return false
	}
	least := Day(MovedDays)
	for _, t := range told {
		if t.Kind == KindMoved && t.Window == p.Moved.Number && t.Edition == p.Moved.Edition {
			least = 2 * MovedDays
		}
	}
	return max(apart(p.Moved.Opens, p.announced.Opens), apart(p.Moved.Closes, p.announced.Closes)) >= least
}

// known reports that the grower learned this from an answer of ours: a window
// that was over when the plot was registered, weeds they saw too big
// themselves, rows they saw closed, a plot they closed. An end long past is no
// news either.
func (p Plan) known(kind Kind, told []Told) bool {
	switch kind {
	case KindMissed:
		return p.Next.Why == WhySeenBig || p.Next.Closes < p.since
	case KindClosed:
		return p.Closure.Why == EndGrower || p.Closure.Why == EndSeen || p.Closure.LastToolDay < p.since ||
			p.On > p.Closure.LastToolDay+1+closedUsefulDays
	}
	return false
}

// wasTold reports that a text of this kind went out for the present window,
// or that the end of the season was told. A text from before the window was
// near was about another one: the planting day was wrong and is corrected.
func (p Plan) wasTold(told []Told, kind Kind) bool {
	if kind == KindMoved {
		return false // once told, it is what was announced
	}
	for _, t := range told {
		switch {
		case t.Kind == kind && (kind == KindClosed || p.ofNext(t)):
			return true
		case t.Kind == KindMoved && kind == KindOpen && p.ofNext(t) && t.On >= p.Next.Opens:
			return true // it moved while it was open, and said so
		}
	}
	return false
}

// waited reports that the open window was told long enough before its middle
// for a nudge to be worth a text.
func (p Plan) waited(told []Told) bool {
	for _, t := range told {
		if t.Kind == KindOpen && p.ofNext(t) && t.On <= p.Next.Middle()-NudgeAfterDays {
			return true
		}
	}
	return false
}

// ofNext reports that a text was about the present window.
func (p Plan) ofNext(t Told) bool {
	w := p.Next
	return t.Window == w.Number && t.Edition == w.Edition && t.On >= w.Opens-PrepareDays
}

// toldSince counts the texts of day d and after.
func toldSince(told []Told, d Day) int {
	n := 0
	for _, t := range told {
		if t.On >= d {
			n++
		}
	}
	return n
}

// nudgeCostsLast reports that a nudge today would leave no text for the last
// days, which matter more.
func (p Plan) nudgeCostsLast(told []Told) bool {
	return 1+toldSince(told, p.Next.LastDays()-TextsWeekDays+1) >= TextsAWeek
}
