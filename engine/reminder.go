package engine

import "slices"

// Told is a text that was sent to the grower about a plot.
type Told struct {
	Kind    Kind
	Window  int // Window.Number of the window that the text was about
	Edition int // Window.Edition of that window
	On      Day
}

// Reminder is a text to send today.
type Reminder struct {
	Kind       Kind
	Window     Window
	LastUseful Day // last day on which what the text says is still true
	On         Day // day on which to send it
}

// Question returns what the text asks. The text that says that a window has moved asks a question only while that
// window is open. The text before a hand-weeding asks none, because the days of hand-weeding do not follow from leaves.
func (r Reminder) Question() Question {
	if r.Kind == KindMoved && !r.Window.Contains(r.On) || r.Kind == KindPrepare && r.Window.With == ByHand {
		return AskNothing
	}
	return r.Kind.row().question
}

// Asks reports whether the text asks the grower a question.
func (r Reminder) Asks() bool { return r.Question() != AskNothing }

// Tells reports whether the text announces a window, whose days then stay until another text moves them.
func (r Reminder) Tells() bool { return r.Kind.Announces() && r.Window.Exists() }

// Silence says why nothing is sent today.
type Silence uint8

const (
	NotSilent         Silence = iota // a text must be sent
	SilentNothingNew                 // no text is due in this state
	SilentTold                       // this text was sent already
	SilentToday                      // a text about this plot was sent today
	SilentWeek                       // TextsAWeek texts about this plot were sent in TextsWeekDays
	SilentKeepForLast                // a nudge today would use up the weekly limit before the text for the last days
	SilentKnown                      // the grower already knows what the text would say; see Plan.known
)

func (s Silence) String() string {
	return name(s, "not silent", "nothing new", "told already", "told today", "three this week",
		"kept for the last days", "the grower knows")
}

// Reminder decides which text to send today, given all texts about this plot: at most one a day, and TextsAWeek in
// TextsWeekDays days. A text that was not sent on its day is not sent later.
func (p Plan) Reminder(told []Told) (Reminder, Silence) {
	r := p.due(told)
	r.On = p.On
	switch {
	case r.Kind == 0:
		return Reminder{}, SilentNothingNew
	case p.wasTold(told, r.Kind):
		return Reminder{}, SilentTold
	case p.known(r.Kind):
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

// due returns the text that is true today, even if it was sent already; Kind is 0 if there is none.
func (p Plan) due(told []Told) Reminder {
	w := p.Next
	if p.moves(told) {
		return Reminder{Kind: KindMoved, Window: p.Moved, LastUseful: p.Moved.Closes}
	}
	switch p.State {
	case Prepare:
		// A grower who looked and need not look again knows the days from the answer.
		if w.AsksLook() || w.With == ByHand {
			return Reminder{Kind: KindPrepare, Window: w, LastUseful: w.Opens - 1}
		}
	case Open:
		// The next day's text says the same, so the day before the last days has no nudge.
		if p.On >= w.NudgeOn() && p.On+1 < w.LastDays() && p.waited(told) {
			return Reminder{Kind: KindNudge, Window: w, LastUseful: w.LastDays()}
		}
		return Reminder{Kind: KindOpen, Window: w, LastUseful: w.Closes}
	case LastDays:
		return Reminder{Kind: KindLastDays, Window: w, LastUseful: w.Closes}
	case Missed:
		if p.missedUnseen() {
			return Reminder{Kind: KindPrepare, Window: w, LastUseful: min(p.On+missedUsefulDays, p.LookAgain-1)}
		}
		return Reminder{Kind: KindMissed, Window: w, LastUseful: min(p.On+missedUsefulDays, p.LookAgain-1)}
	case Closed:
		return Reminder{Kind: KindClosed, Window: w, LastUseful: p.On + closedUsefulDays}
	}
	return Reminder{}
}

// missedUnseen reports whether the window was over by the model when the plot was registered, and nobody has looked at
// the weeds since then. A look may still show weeds that the tool can weed.
func (p Plan) missedUnseen() bool {
	w := p.Next
	return w.With == ByTool && w.Closes < p.since && w.SeenOn == 0 && p.Weeded == 0
}

// moves reports whether the announced window has moved by enough days for a text: MovedDays, twice as many after the
// first such text. Otherwise a leaf count that goes up and down would cause many texts.
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

// TellsOpening reports whether a text is to come that says that the next window is open.
func (p Plan) TellsOpening() bool {
	return p.Next.Exists() && !p.Next.AsksLook() && !p.known(KindOpen)
}

// known reports whether the grower already knows what a text of this kind would say. The grower knows it if the window
// was over when the plot was registered, if the grower saw that the weeds were too big or that the rows had closed, or
// if the grower closed the plot. A grower who told of the weeds while the window was open, or at most OpenKnownDays
// days before, got its days as the answer. A missed window is not told in the last EndSoonDays days of the tool,
// because the text about the end follows. The end of the season also counts as known when more than closedUsefulDays
// days have passed since then.
func (p Plan) known(kind Kind) bool {
	switch kind {
	case KindOpen:
		w := p.Next
		return w.SeenOn >= w.Opens || !w.Guess() && !w.AsksLook() && w.SeenOn >= w.Opens-OpenKnownDays
	case KindLastDays:
		return p.Next.SeenOn >= p.Next.LastDays()
	case KindMissed:
		return p.Next.Why == WhySeenBig || p.Next.Closes < p.since || p.Closure.LastToolDay < p.On+EndSoonDays
	case KindClosed:
		return p.Closure.Why == EndGrower || p.Closure.Why == EndSeen || p.Closure.LastToolDay < p.since ||
			p.On > p.Closure.LastToolDay+1+closedUsefulDays
	}
	return false
}

// wasTold reports whether a text of this kind was sent for the present window, or, for the end of the season, at all. A
// much older text was about another window: the planting day was corrected since then.
func (p Plan) wasTold(told []Told, kind Kind) bool {
	if kind == KindMoved {
		return false // after such a text the moved days are the announced days, so the text is never repeated
	}
	for _, t := range told {
		switch {
		case t.Kind == kind && (kind == KindClosed || p.ofNext(t)):
			return true
		case t.Kind == KindMoved && kind == KindOpen && p.ofNext(t) && t.On >= p.Next.Opens:
			return true // the text that the window had moved was sent while the window was open
		}
	}
	return false
}

// waited reports whether the grower has known for at least NudgeAfterDays days before the nudge that the window is
// open: from the text that says so, or from the answer to a leaf count.
func (p Plan) waited(told []Told) bool {
	if p.known(KindOpen) {
		return max(p.Next.SeenOn, p.Next.Opens) <= p.Next.NudgeOn()-NudgeAfterDays
	}
	return slices.ContainsFunc(told, func(t Told) bool {
		return t.Kind == KindOpen && p.ofNext(t) && t.On <= p.Next.NudgeOn()-NudgeAfterDays
	})
}

// ofNext reports whether a text was about window p.Next. New weather moves the day of a look, so a text that asked for
// a look up to AskAgainTo days before that day counts as the text about this look.
func (p Plan) ofNext(t Told) bool {
	w := p.Next
	since := w.Opens - PrepareDays
	if t.Kind == KindPrepare && w.AsksLook() {
		since = w.begins() - AskAgainTo
	}
	return t.Window == w.Number && t.Edition == w.Edition && t.On >= since
}

func toldSince(told []Told, d Day) int {
	n := 0
	for _, t := range told {
		if t.On >= d {
			n++
		}
	}
	return n
}

// nudgeCostsLast reports whether a nudge today would use up the weekly limit before the more important text for the
// last days.
func (p Plan) nudgeCostsLast(told []Told) bool {
	return 1+toldSince(told, p.Next.LastDays()-TextsWeekDays+1) >= TextsAWeek
}
