package engine

// State says what there is to do on a plot on a day.
type State uint8

const (
	TooEarly State = iota + 1
	Prepare        // the window opens within PrepareDays days: prepare water, tool and people
	Open           // the window is open: weed now
	LastDays       // the window is open and in its last days: weed now
	Missed         // the weeds are too big for the tool: pull them by hand
	FollowUp       // the plot was just weeded, or there is no further window: pull the weeds in the rows
	Closed         // the tool can no longer be used this season
)

func (s State) String() string {
	return name(s, "", "too early", "prepare", "open", "last days", "missed", "follow up", "closed")
}

// Plan is the advice for a season on a day, without the passes and sightings after this day.
type Plan struct {
	On         Day
	State      State
	Fit        Fit
	Next       Window   // window of the next pass; if the window was announced, it has the announced days
	Moved      Window   // Next on newly computed days, if these differ by MovedDays or more from the announced days
	Later      []Window // windows after Next, assuming that each pass is made on the best day and leaves few weeds
	Closure    Closure
	WeedLeaves float64 // Season.WeedLeaves
	Shade      float64 // Season.Shade
	Passes     int     // passes logged; the parts of one weeding are one pass, and none while the rest is due
	Weeded     float64 // share of the plot that is weeded already for window Next, whose rest is due; 0 = none
	LookAgain  Day     // next day on which State or the text to send may change; 0 = never

	since     Day    // Season.Since
	announced Window // Season.Announced
}

// Plan returns the plan of the season on day today. It returns an error only if Validate does.
func (s Season) Plan(today Day) (Plan, error) {
	if err := s.Validate(); err != nil {
		return Plan{}, err
	}
	s = s.asOf(today)
	p := s.outline(today)
	p.WeedLeaves, p.Shade, p.Later = s.WeedLeaves(today), s.Shade(today), s.later(p)
	return p, nil
}

// Windows returns the plan without WeedLeaves, Shade and Later, which the bell (the sender of reminders) does not need,
// in half the time of Plan.
func (s Season) Windows(today Day) (Plan, error) {
	if err := s.Validate(); err != nil {
		return Plan{}, err
	}
	return s.asOf(today).outline(today), nil
}

// outline computes the fields of Windows for a result of asOf(today).
func (s Season) outline(today Day) Plan {
	p := Plan{On: today, Fit: s.fit(), Closure: s.closure(), Passes: len(s.weedings()), Weeded: s.part().Share,
		since: s.Since, announced: s.Announced}
	p.Next, p.Moved = s.upcoming(today, p.Closure)
	// An announced window keeps its days until a text moves them, even if the model now closes the rows earlier.
	if p.Next.Exists() {
		p.Closure.LastToolDay = max(p.Closure.LastToolDay, p.Next.Closes)
	}
	if p.Closure.PullUntil <= p.Closure.LastToolDay {
		p.Closure.PullUntil = 0
	}
	p.State = s.state(p, today)
	if p.State == Closed {
		p.Next, p.Moved = Window{}, Window{}
		if s.ClosedOn != 0 && today >= s.ClosedOn {
			p.Closure.Why, p.Closure.PullUntil = EndGrower, 0
		}
	}
	p.LookAgain = s.lookAgain(p)
	return p
}

// upcoming returns the window to show today. A window without a logged pass is shown as missed until PrepareDays days
// before the next window. From then on, its weeds count as pulled (see pulled), so a grower who logs nothing still gets
// reminders.
func (s Season) upcoming(today Day, c Closure) (next, moved Window) {
	if s.passedSince(s.Announced) { // a logged pass ends the announcement; the pass that pulled adds below does not
		s.Announced = Window{}
	}
	next, moved = s.keepAnnounced(s.nextWindow(today), c, today)
	for {
		current := s.Announced.Number <= next.Number
		if current && today <= max(next.Closes, moved.Closes) {
			return next, moved
		}
		after, ok := s.afterMissed(next, c)
		if !ok || current && today < after.begins() {
			return next, moved
		}
		s = s.pulled(next)
		next, moved = s.keepAnnounced(s.nextWindow(today), c, today)
	}
}

// keepAnnounced returns window w with the announced days, if w was announced. If new knowledge (measured weather, a
// learned weed rate) moves w by MovedDays or more, moved is w on the new days, for a text to the grower. When the
// announced or the new days are over, the new days replace the announced days at once, so that no grower weeds too late
// or is wrongly told that it is too late.
func (s Season) keepAnnounced(w Window, c Closure, today Day) (next, moved Window) {
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

// passedSince reports whether the last pass ended the window w.
func (s Season) passedSince(w Window) bool {
	last, ok := s.lastPass()
	return ok && w.EndedBy(last)
}

func apart(a, b Day) Day { return max(a-b, b-a) }

// Pulls reports whether weeds are still worth pulling by hand on the day of the plan, after the tool's last day.
func (p Plan) Pulls() bool { return p.Closure.PullUntil >= p.On }

// afterMissed returns the window after w if the grower misses w; false for a hand-weeding, because handWindow itself
// moves on.
func (s Season) afterMissed(w Window, c Closure) (Window, bool) {
	if !w.Exists() || w.With == ByHand {
		return Window{}, false
	}
	after := clip(s.pulled(w).nextWindow(w.Closes+1), c)
	return after, after.Exists()
}

// pulled returns the season with the weeds of w pulled on the day after w closed, or on the day of registration if that
// was later: a grower who registers late is told then to pull them. If half of the plot or more was weeded in w, that
// part counts as the pass.
func (s Season) pulled(w Window) Season {
	pass := Pass{On: s.pullsOn(w), With: ByHand, Left: Few}
	if part := s.part(); part.counts() && w.Number == s.joined.window {
		pass, s.joined = part, &noParts
	}
	s.Passes = append(s.Passes[:len(s.Passes):len(s.Passes)], pass)
	return s
}

// pullsOn returns the day on which the weeds of w count as pulled if w is missed.
func (s Season) pullsOn(w Window) Day { return max(w.Closes+1, s.Since) }

// clip returns window w, cut at the last day of the tool; the zero Window if w opens later.
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
	case today >= w.begins():
		return Prepare
	case passed && today <= last.On+FollowUpDays:
		return FollowUp
	default:
		return TooEarly
	}
}

// lookAgain returns the next day on which the state or the text may change; 0 if neither does.
func (s Season) lookAgain(p Plan) Day {
	if p.State == Closed {
		return 0
	}
	next := p.Closure.LastToolDay + 1
	sooner := func(days ...Day) {
		for _, d := range days {
			if d > p.On {
				next = min(next, d)
			}
		}
	}
	if s.ClosedOn != 0 {
		sooner(s.ClosedOn)
	}
	if w := p.Next; w.Exists() {
		sooner(w.begins(), w.Opens, w.NudgeOn(), w.LastDays()-1, w.LastDays(), w.Closes+1)
		if p.State == Missed {
			if after, ok := s.afterMissed(w, p.Closure); ok {
				sooner(after.begins())
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

// later returns up to LaterWindows windows after p.Next, if each pass leaves few weeds and is made on the best day, or
// today if that day is past. The weeds of a missed window count as pulled on the day on which upcoming takes them as
// pulled, so that the days after it stay the same until the grower answers.
func (s Season) later(p Plan) []Window {
	if !p.Next.Exists() {
		return nil
	}
	for p.Next.With == ByTool && len(s.Passes)+1 < p.Next.Number { // add a pass for each window missed before p.Next
		missed, _ := s.keepAnnounced(s.nextWindow(p.On), p.Closure, p.On)
		s = s.pulled(missed)
	}
	out := make([]Window, 0, LaterWindows)
	passes := make([]Pass, len(s.Passes), len(s.Passes)+LaterWindows)
	copy(passes, s.Passes)
	for w := p.Next; len(out) < LaterWindows; out = append(out, w) {
		supposed := Pass{On: max(w.Best, p.On), With: w.With, Left: Few}
		if p.State == Missed && w.Number == p.Next.Number && w.With == ByTool {
			supposed.On = s.pullsOn(w)
		}
		passes = append(passes, supposed)
		s.Passes = passes
		if w = clip(s.nextWindow(supposed.On), p.Closure); !w.Exists() {
			break
		}
	}
	return out
}

// Full is a plan with water, work, costs and risk of waiting.
type Full struct {
	Plan
	Water Water
	Work  Work
	Costs Costs
	Risk  Risk
}

// Full returns the full plan of the season on day today. It returns an error only if Validate does.
func (s Season) Full(today Day) (Full, error) {
	p, err := s.Plan(today)
	if err != nil {
		return Full{}, err
	}
	f := Full{Plan: p, Water: s.Water(today, p.Next), Work: s.Work(today, p.Next), Risk: s.riskOf(p)}
	f.Costs = s.Costs(s.WorkHours(p, f.Work))
	return f, nil
}

// WorkHours returns the hours of weeding in a season for Costs: of the passes made and planned, in the direction that
// Work advises, and of the weedings by hand that are usual at the place.
func (s Season) WorkHours(p Plan, w Work) WorkHours {
	at := &s.local().Figures
	whole := 1 / or(w.Rest, 1)
	h := WorkHours{HandRoundHours: whole * w.HandHours, Passes: p.Passes + len(p.Later), Pace: w.Pace,
		HandPace:   w.HandPace,
		RoundsLow:  min(at.HandRoundsLow, at.HandRoundsHigh),
		RoundsHigh: max(at.HandRoundsLow, at.HandRoundsHigh)}
	if p.Next.Exists() {
		h.Passes++
	}
	h.Passes = max(1, h.Passes)
	h.ToolPassHours, h.PullHours = w.AlongHours, w.PullHours
	if w.BothHours > 0 && w.Then.Do != WeedOneWay {
		h.ToolPassHours, h.PullHours = w.BothHours, w.PullBothHours
	}
	h.ToolPassHours, h.PullHours = whole*h.ToolPassHours, whole*h.PullHours
	return h
}
