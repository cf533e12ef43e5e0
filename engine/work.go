package engine

import "math"

// Advice is the way of weeding that suits the rows and the weeds.
type Advice uint8

const (
	WeedBoth   Advice = iota + 1 // along and across with the tool; little is left to pull
	WeedOneWay                   // one way with the tool, then pull by hand what stands in the rows
	WeedByHand                   // all by hand: no tool passes, or the weeds are past it
)

func (a Advice) String() string { return name(a, "", "both ways", "one way, then by hand", "by hand") }

// Alternative is what else can be done where the work does not end inside
// the window.
type Alternative uint8

const (
	NoAlternative  Alternative = iota // it fits, or too little is told to say
	MoreHands                         // Work.NeedPeople people in all
	SecondTool                        // a second tool, and Work.NeedPeople people in all; both ways or one
	OneWayThenHand                    // one way instead of both, with Work.NeedPeople people in all
	ByHandRest                        // as much as can be done; the rest by hand afterwards
)

func (a Alternative) String() string {
	return name(a, "none", "more hands", "second tool", "one way, then by hand", "the rest by hand")
}

// Work is what a weeding of the plot takes. Hours are person-hours; all are 0
// where the area is not told, and those with the tool where no tool passes.
type Work struct {
	AlongHours, AcrossHours float64 // with the tool, one way; across only where the tool clears the plants
	BothHours               float64 // with the tool, along and across
	LowHours, HighHours     float64 // what a pass along may take
	PullHours               float64 // by hand after a pass one way
	PullBothHours           float64 // by hand after a pass both ways
	HandHours               float64 // all by hand, without the tool

	Pace, HandPace Pace    // the grower's own, with the tool and by hand; the hours above have them in
	People         int     // as told, or 1
	HoursADay      float64 // of each, as told, or DefaultHoursADay

	Do      Advice
	OneWay  Way     // which way a single pass goes: across where the last one went along and the rows allow it
	Days    int     // days that Do takes; 0 = area not told
	StartBy Day     // last day to begin so that Do ends inside the window; 0 where it cannot
	Fits    bool    // Do ends inside the window if begun now, or when it opens
	Share   float64 // part of the plot that can be done by then, 0..1; 1 where it fits

	Instead    Alternative // where it does not fit
	InsteadDo  Advice      // the way of weeding that Instead goes
	NeedPeople int         // people that Instead needs in all, these included; 0 for ByHandRest
}

// Total is the person-hours of Do, with the pulling that follows.
func (w Work) Total() float64 {
	push, pull := w.hours(w.Do)
	return push + pull
}

// hours are the person-hours with the tool and by hand of a way of weeding.
func (w *Work) hours(a Advice) (push, pull float64) {
	switch a {
	case WeedBoth:
		return w.BothHours, w.PullBothHours
	case WeedOneWay:
		if w.OneWay == Across {
			return w.AcrossHours, w.PullHours
		}
		return w.AlongHours, w.PullHours
	}
	return 0, w.HandHours
}

// Work works out hours, days and hands for weeding the plot in window w as
// seen on day today. Of a window that does not exist, is past, or of weeds
// that the tool no longer takes, it says the hours and days only.
//
// With n people of h hours a day and one tool, pushing that takes P hours and
// pulling that takes L need
//
//	days = max( ceil((P + L) / (n h)), ceil(P / min(n h, max(h, ToolDayHours))) )
//
// for a tool is pushed by one person at a time: people take turns at it, so
// that it may go longer than one of them works, and the others pull the rows
// behind it. The last row's pulling is not waited for.
func (s Season) Work(today Day, w Window) Work {
	s = s.asOf(today)
	f, at := s.fit(), &s.local().Figures
	work := Work{
		Pace: s.pace(ByTool), HandPace: s.pace(ByHand),
		People: or(s.Home.People, DefaultPeople), HoursADay: or(s.Home.HoursADay, DefaultHoursADay),
	}
	area := s.Plot.AreaM2 / 1e4
	work.HandHours = at.HandHoursPerHa * area * work.HandPace.Factor
	last, passed := s.lastPass()
	if !f.Hand() {
		work.withTool(f, area, last.Left)
	}
	over := w.Exists() && (today > w.Closes || w.Why == WhySeenBig)
	switch {
	case f.Hand() || over || w.Exists() && w.With == ByHand:
		work.Do = WeedByHand
	case f.CrossFits:
		work.Do = WeedBoth
	default:
		work.Do = WeedOneWay
	}
	if !f.Hand() {
		work.OneWay = Along
		if f.CrossFits && passed && last.With == ByTool && last.Way == Along {
			work.OneWay = Across
		}
	}
	if area <= 0 {
		return work
	}
	work.Days = work.days(work.Do, work.People)
	if w.Exists() && !over {
		work.schedule(max(today, w.Opens), w.Closes)
	}
	return work
}

// withTool fills in the hours with the tool and behind it.
func (w *Work) withTool(f Fit, ha float64, left Amount) {
	w.AlongHours = f.Hours * w.Pace.Factor
	if w.Pace.Logged > 0 {
		w.LowHours, w.HighHours = f.Hours*w.Pace.Low, f.Hours*w.Pace.High
	} else {
		w.LowHours, w.HighHours = min(ToolHoursPerHaLow*ha, w.AlongHours), max(ToolHoursPerHaHigh*ha, w.AlongHours)
	}
	w.PullHours = f.Hours * pullShare(f, left) * w.HandPace.Factor
	if f.CrossFits {
		w.BothHours = f.HoursCrossed * w.Pace.Factor
		w.AcrossHours = w.BothHours - w.AlongHours
		// What two passes leave unswept, to what one leaves.
		w.PullBothHours = w.PullHours * (1 - f.SweptCrossed) / (1 - f.SweptOnce)
	}
}

// pullShare is the hand work behind one pass along, to the hours of that pass
// by the model: by what the last pass left, and much where the tool leaves
// wide strips.
func pullShare(f Fit, left Amount) float64 {
	switch {
	case f.Verdict == FitLoose || left == Many:
		return PullShareMany
	case left == Few:
		return PullShareFew
	}
	return PullShareSome
}

// toolADay is how many hours a day the given tools are pushed by n people.
func (w *Work) toolADay(n, tools int) float64 {
	return min(float64(n)*w.HoursADay, float64(tools)*max(w.HoursADay, ToolDayHours))
}

// days that a way takes n people with one tool.
func (w *Work) days(a Advice, n int) int {
	push, pull := w.hours(a)
	return int(max(math.Ceil((push+pull)/(float64(n)*w.HoursADay)), math.Ceil(push/w.toolADay(n, 1))))
}

// schedule sets the work against the days from..to, both included.
func (w *Work) schedule(from, to Day) {
	span := int(to-from) + 1
	if w.Days <= span {
		w.Fits, w.Share, w.StartBy = true, 1, to-Day(w.Days)+1
		return
	}
	push, pull := w.hours(w.Do)
	w.Share = float64(span) * float64(w.People) * w.HoursADay / (push + pull)
	if push > 0 {
		w.Share = min(w.Share, float64(span)*w.toolADay(w.People, 1)/push)
	}
	w.instead(span)
}

// instead looks for what costs least that ends in so many days: less weeding
// with the same hands, more hands, both, and then the same with a second
// tool. If none does, what is not done in the window is pulled by hand
// afterwards.
func (w *Work) instead(span int) {
	less := w.Do
	if w.Do == WeedBoth {
		less = WeedOneWay
		if w.days(less, w.People) <= span {
			w.Instead, w.InsteadDo, w.NeedPeople = OneWayThenHand, less, w.People
			return
		}
	}
	for _, try := range [...]struct {
		what  Alternative
		do    Advice
		tools int
	}{{MoreHands, w.Do, 1}, {OneWayThenHand, less, 1}, {SecondTool, w.Do, 2}, {SecondTool, less, 2}} {
		if n := w.hands(try.do, span, try.tools); n > 0 {
			w.Instead, w.InsteadDo, w.NeedPeople = try.what, try.do, n
			return
		}
	}
	w.Instead, w.InsteadDo = ByHandRest, w.Do
}

// hands is the fewest people, from those there are to MostHands, with whom a
// way ends in so many days with the given tools; 0 = not with so many.
func (w *Work) hands(a Advice, span, tools int) int {
	push, pull := w.hours(a)
	for n := w.People; n <= max(w.People, MostHands); n++ {
		if math.Ceil((push+pull)/(float64(n)*w.HoursADay)) <= float64(span) && math.Ceil(push/w.toolADay(n, tools)) <= float64(span) {
			return n
		}
	}
	return 0
}
