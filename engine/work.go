package engine

import "math"

// Advice says how to weed.
type Advice uint8

const (
	WeedBoth   Advice = iota + 1 // with the tool along and across, then pull the little that is left
	WeedOneWay                   // with the tool in one direction, then pull the weeds in the rows
	WeedByHand                   // by hand only: no tool can be used, or the weeds are too big for it
)

func (a Advice) String() string { return name(a, "", "both ways", "one way, then by hand", "by hand") }

// Alternative says what to change if the work does not end inside the window.
type Alternative uint8

const (
	NoAlternative  Alternative = iota // none is needed, or the area is not given
	MoreHands                         // weed with Work.NeedPeople people
	SecondTool                        // weed with a second tool and Work.NeedPeople people
	OneWayThenHand                    // push the tool in one direction instead of two, with Work.NeedPeople people
	ByHandRest                        // use the tool until the window closes, then pull the remaining weeds by hand
)

func (a Alternative) String() string {
	return name(a, "none", "more hands", "second tool", "one way, then by hand", "the rest by hand")
}

// Work says how long one weeding takes, in person-hours. All hours are 0 if the area is not given; the hours with the
// tool are also 0 if no tool can be used.
type Work struct {
	AlongHours, AcrossHours float64 // one pass with the tool; AcrossHours is 0 unless Fit.CrossFits
	BothHours               float64 // a pass along and a pass across; 0 unless Fit.CrossFits
	LowHours, HighHours     float64 // range of AlongHours
	PullHours               float64 // pulling by hand after one pass
	PullBothHours           float64 // pulling by hand after passes along and across
	HandHours               float64 // weeding by hand, without the tool

	Pace, HandPace Pace    // the grower's pace with the tool and by hand; the hours above are computed with these paces
	People         int     // number of people who weed, as given by the grower or DefaultPeople
	HoursADay      float64 // hours that each person weeds on a day, as given by the grower or DefaultHoursADay

	Do      Advice
	OneWay  Way     // direction of a single pass: across if the last pass went along and Fit.CrossFits
	Days    int     // days that weeding by the advice Do takes; 0 = area not given
	StartBy Day     // last day to begin so that the work ends inside the window; 0 = no such day
	Fits    bool    // the work ends inside the window if it begins today or, if the window opens later, on that day
	Share   float64 // share of the plot that can be weeded inside the window, 0 to 1

	Instead    Alternative // what to change if the work does not end inside the window
	InsteadDo  Advice      // how to weed if the grower chooses Instead
	NeedPeople int         // people that Instead needs in total; 0 for NoAlternative and ByHandRest
}

// Total returns the person-hours of weeding by the advice Do, including the pulling of weeds after the tool.
func (w Work) Total() float64 {
	push, pull := w.hours(w.Do)
	return push + pull
}

// hours returns the person-hours of pushing the tool and of pulling weeds by hand, if the plot is weeded by advice a.
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

// Work computes, on day today, the hours, days and people for weeding in window w. It computes only hours and days if w
// does not exist, if w is over, or if the weeds are too big for the tool.
//
// n people work h hours a day with one tool. Pushing that takes P person-hours and pulling that takes L need
//
//	days = max( ceil((P + L) / (n h)), ceil(P / min(n h, max(h, ToolDayHours))) )
//
// because one person at a time pushes the tool. People take turns, so the tool may be pushed for longer than each
// person works; the others pull weeds behind it. The formula ignores that the last row is pulled after the tool.
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

// withTool sets the hours of pushing the tool and of pulling weeds after it, on ha hectares. left is what the last pass
// left.
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
		// Pulling is proportional to the ground that the tool did not weed.
		w.PullBothHours = w.PullHours * (1 - f.SweptCrossed) / (1 - f.SweptOnce)
	}
}

// pullShare returns the hours of pulling weeds after one pass, as a share of the hours that the model computes for the
// pass. It depends on the weeds that the last pass left; it is highest for many weeds and for a tool that leaves wide
// strips.
func pullShare(f Fit, left Amount) float64 {
	switch {
	case f.Verdict == FitLoose || left == Many:
		return PullShareMany
	case left == Few:
		return PullShareFew
	}
	return PullShareSome
}

// toolADay returns for how many hours a day n people who take turns can push this number of tools, the hours of all
// tools added up.
func (w *Work) toolADay(n, tools int) float64 {
	return min(float64(n)*w.HoursADay, float64(tools)*max(w.HoursADay, ToolDayHours))
}

// days returns the days that n people with one tool need to weed the plot by advice a.
func (w *Work) days(a Advice, n int) int {
	push, pull := w.hours(a)
	return int(max(math.Ceil((push+pull)/(float64(n)*w.HoursADay)), math.Ceil(push/w.toolADay(n, 1))))
}

// schedule checks whether the work can be done in the days from-to, both included; if not, it looks for an alternative.
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

// instead sets the cheapest alternative with which the work ends within span days. It tries in this order: one
// direction instead of two; more people; one direction and more people; a second tool and more people; one direction, a
// second tool and more people. If none is enough, the rest is pulled by hand after the window.
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

// hands returns the fewest people, from w.People to MostHands, who finish the work within span days with this number of
// tools; 0 if even the most people do not.
func (w *Work) hands(a Advice, span, tools int) int {
	push, pull := w.hours(a)
	for n := w.People; n <= max(w.People, MostHands); n++ {
		if math.Ceil((push+pull)/(float64(n)*w.HoursADay)) <= float64(span) &&
			math.Ceil(push/w.toolADay(n, tools)) <= float64(span) {
			return n
		}
	}
	return 0
}
