package engine

// State is where a plot stands on a day.
type State uint8

const (
	TooEarly State = iota + 1
	Prepare        // the window opens within two days: water, tool, hands
	Open           // weed now
	LastDays       // the window's last two days
	Missed         // weeds are past the tool: pull by hand
	FollowUp       // just weeded, or no further window: pull what stands in the rows
	Closed         // the season is over for the tool
)

func (s State) String() string {
	return name(s, "", "too early", "prepare", "open", "last days", "missed", "follow up", "closed")
}

// Plan is all that the engine says of a season on a day. It rests on what was
// known by that day: passes and sightings after On play no part.
type Plan struct {
	On         Day
	State      State
	Fit        Fit
	Next       Window   // the next pass, as it was announced if it was; Next.Exists() is false where none is left
	Moved      Window   // the same by what is known now, where that is MovedDays or more from what was announced
	Later      []Window // passes after it, if each is done on its best day and leaves few weeds
	Closure    Closure
	WeedLeaves float64 // leaves of most weeds by the model, 0 = not half of them up
	Shade      float64 // share of the ground that the crop shades, 0..1
	Passes     int     // passes logged
	LookAgain  Day     // next day on which the state or the text due may change; 0 = never

	since     Day    // registered
	announced Window // as the grower was last told it
}

// Plan works out the season on day today. It fails only for a season that
// Validate refuses.
func (s Season) Plan(today Day) (Plan, error) {
	if err := s.Validate(); err != nil {
		return Plan{}, err
	}
	s = s.asOf(today)
	p := s.outline(today)
	p.WeedLeaves = s.WeedLeaves(today)
	p.Shade = s.Shade(today)
	p.Later = s.later(p)
	return p, nil
}

// Windows is Plan without the figures that only a person reads (weed leaves,
// shade, later windows): what the bell needs, in a fraction of the time.
func (s Season) Windows(today Day) (Plan, error) {
	if err := s.Validate(); err != nil {
		return Plan{}, err
	}
	return s.asOf(today).outline(today), nil
}

// outline is the plan's frame, of a season as of today.
func (s Season) outline(today Day) Plan {
	p := Plan{On: today, Fit: s.fit(), Closure: s.closure(), Passes: len(s.Passes), since: s.Since, announced: s.Announced}
	p.Next, p.Moved = s.upcoming(today, p.Closure)
	// What was announced holds until a text says otherwise, also against the
	// crop's end by the model.
	p.Closure.LastToolDay = max(p.Closure.LastToolDay, p.Next.Closes)
	p.State = s.state(p, today)
	if p.State == Closed {
		p.Next, p.Moved = Window{}, Window{}
		if s.ClosedOn != 0 && today >= s.ClosedOn {
			p.Closure.Why = EndGrower
		}
	}
	p.LookAgain = s.lookAgain(p)
	return p
}

// upcoming is the window that counts today. One that went by without a word
// stays, as missed, until the next comes near: then the weeds are taken to
// have been pulled when it closed, so that a silent grower is not left alone.
func (s Season) upcoming(today Day, c Closure) (next, moved Window) {
	if s.passedSince(s.Announced) { // a pass ends the promise; a pulling that is only assumed does not
		s.Announced = Window{}
	}
	next, moved = s.held(s.nextWindow(today), c, today)
	for {
		after, ok := s.afterMissed(next, c)
		if !ok || s.Announced.Number <= next.Number && (today <= max(next.Closes, moved.Closes) || today < after.Opens-PrepareDays) {
			return next, moved
		}
		s = s.pulled(next)
		next, moved = s.held(s.nextWindow(today), c, today)
	}
}

// held keeps a window on the days that the grower was told, until one of them
// says otherwise. Where what is known now (the weather as measured, what the
// place has learned) puts it MovedDays or more away, moved is where it
// belongs: a text must say so first. The promise ends with the days told, and
// with those it belongs to: who could be told to weed too late, or that it is
// too late when it is not, is better told the truth. It ends with the pass that
// it was for, too: after a window without a word, numbers do not tell that.
func (s Season) held(w Window, c Closure, today Day) (next, moved Window) {
	now, a := clip(w, c), s.Announced
	switch {
	case !w.Exists() || w.Number != a.Number || w.Edition != a.Edition:
		return now, Window{}
	case now.Exists() && max(apart(now.Opens, a.Opens), apart(now.Closes, a.Closes)) >= MovedDays:
		moved = now
	}
	switch {
	case moved.Exists() && today > moved.Closes:
		return moved, Window{}
	case moved.Exists() && today > a.Closes:
		return moved, moved
	}
	w.Opens, w.Best, w.Closes = a.Opens, a.Best, a.Closes
	return w, moved
}

// passedSince reports a pass since the window was told.
func (s Season) passedSince(w Window) bool {
	last, ok := s.lastPass()
	return ok && last.On >= w.Opens-PrepareDays
}

func apart(a, b Day) Day { return max(a-b, b-a) }

// afterMissed is the window that follows w if w is missed. Hand-weeding days
// follow each other anyway.
func (s Season) afterMissed(w Window, c Closure) (Window, bool) {
	if !w.Exists() || w.With == ByHand {
		return Window{}, false
	}
	after := clip(s.pulled(w).nextWindow(w.Closes+1), c)
	return after, after.Exists()
}

// pulled is the season as if the weeds of a missed window had been pulled the
// day after it.
func (s Season) pulled(w Window) Season {
	s.Passes = append(s.Passes[:len(s.Passes):len(s.Passes)], Pass{On: w.Closes + 1, With: ByHand, Left: Few})
	return s
}

// clip ends a window with the tool's season; one that would open after it
// does not exist.
func clip(w Window, c Closure) Window {
	if !w.Exists() || w.Opens > c.LastToolDay {
		return Window{}
	}
	w.Closes = min(w.Closes, c.LastToolDay)
	w.Best = min(w.Best, w.Closes)
	return w
}

func (s Season) state(p Plan, today Day) State {
	w := p.Next
	last, passed := s.lastPass()
	switch {
	case s.ClosedOn != 0 && today >= s.ClosedOn, today > p.Closure.LastToolDay:
		return Closed
	case !w.Exists():
		return FollowUp
	case w.Why == WhySeenBig, today > w.Closes:
		return Missed
	case today >= w.LastDays():
		return LastDays
	case today >= w.Opens:
		return Open
	case today >= w.Opens-PrepareDays:
		return Prepare
	case passed && today <= last.On+FollowUpDays:
		return FollowUp
	default:
		return TooEarly
	}
}

// lookAgain is the next day after p.On on which the state or the text to send
// may change.
func (s Season) lookAgain(p Plan) Day {
	if p.State == Closed {
		return 0
	}
	next := p.Closure.LastToolDay + 1
	sooner := func(d Day) {
		if d > p.On {
			next = min(next, d)
		}
	}
	if s.ClosedOn != 0 {
		sooner(s.ClosedOn)
	}
	if w := p.Next; w.Exists() {
		sooner(w.Opens - PrepareDays)
		sooner(w.Opens)
		sooner(w.Middle())
		sooner(w.LastDays())
		sooner(w.Closes + 1)
		if p.State == Missed {
			if after, ok := s.afterMissed(w, p.Closure); ok {
				sooner(after.Opens - PrepareDays)
			}
		}
	}
	if last, passed := s.lastPass(); passed {
		sooner(last.On + FollowUpDays + 1)
	}
	if p.Fit.Hand() {
		for _, span := range handDays(s.Plot.Method) {
			sooner(s.Plot.Planted + span.From - PrepareDays)
		}
	}
	return next
}

// later supposes that each window is used on its best day (today, if that is
// past) and leaves few weeds, and lists the windows that follow.
func (s Season) later(p Plan) []Window {
	if !p.Next.Exists() {
		return nil
	}
	for p.Next.With == ByTool && len(s.Passes)+1 < p.Next.Number { // those that went by without a word
		missed, _ := s.held(s.nextWindow(p.On), p.Closure, p.On)
		s = s.pulled(missed)
	}
	out := make([]Window, 0, LaterWindows)
	passes := make([]Pass, len(s.Passes), len(s.Passes)+LaterWindows)
	copy(passes, s.Passes)
	for w := p.Next; len(out) < LaterWindows; out = append(out, w) {
		supposed := Pass{On: max(w.Best, p.On), With: w.With, Left: Few}
		passes = append(passes, supposed)
		s.Passes = passes
		if w = clip(s.nextWindow(supposed.On), p.Closure); !w.Exists() {
			break
		}
	}
	return out
}

// Full is a plan with all that has to be decided around it: water, work,
// money, and what waiting may cost.
type Full struct {
	Plan
	Water Water
	Work  Work
	Costs Costs
	Risk  Risk
}

// Full works out everything about a season on a day. It fails only for a
// season that Validate refuses.
func (s Season) Full(today Day) (Full, error) {
	p, err := s.Plan(today)
	if err != nil {
		return Full{}, err
	}
	f := Full{Plan: p, Water: s.Water(today, p.Next), Work: s.Work(today, p.Next), Risk: s.riskOf(p)}
	f.Costs = s.Costs(s.WorkHours(p, f.Work))
	return f, nil
}

// WorkHours is what a season's weeding takes, for Costs: as many passes as
// were made and are still planned, done in the way that Work advises for
// these rows; or the usual rounds by hand.
func (s Season) WorkHours(p Plan, w Work) WorkHours {
	h := WorkHours{HandRoundHours: w.HandHours, HandRounds: len(handCalendar{}), Passes: p.Passes + len(p.Later)}
	if p.Next.Exists() {
		h.Passes++
	}
	h.Passes = max(1, h.Passes)
	h.ToolPassHours, h.PullHours = w.AlongHours, w.PullHours
	if w.BothHours > 0 {
		h.ToolPassHours, h.PullHours = w.BothHours, w.PullBothHours
	}
	return h
}
