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

// Alternative says what to change if the work does not end inside the window. The work of an alternative ends inside
// it, except with ByHandRest.
type Alternative uint8

const (
	NoAlternative  Alternative = iota // none is needed, or the area is not given
	MoreHands                         // weed with more people
	MoreTools                         // weed with more tools and, if needed, more people
	OneWayThenHand                    // push the tool in one direction instead of two
	HandsBeside                       // weed Crew.ToolShare with the tools, the rest by hand on the same days
	ByHandRest                        // use the tools until the window closes, then pull the remaining weeds by hand
)

func (a Alternative) String() string {
	return name(a, "none", "more hands", "more tools", "one way, then by hand", "by hand beside the tools",
		"the rest by hand")
}

// Crew is a way to weed a plot with so many people and tools, and the days that it takes.
type Crew struct {
	Do        Advice
	People    int
	Tools     int     // tools that are pushed at the same time; 0 = by hand
	ToolShare float64 // share of the plot that is weeded with the tools, 0 to 1; the rest is weeded by hand
	Days      int     // half of the weedings take longer; 0 = area not given
	MostDays  int     // one weeding in ten takes longer
	StartBy   Day     // last day to begin so that the work ends inside the window in nine of ten cases; 0 = no such day
}

// Work says how long one weeding takes, in person-hours: of the plot, or of its Rest in the window. All hours
// are 0 without an area, hours with the tool also if no tool can be used. Half of the weedings take longer than these
// hours; Pace and HandPace say how far they scatter.
type Work struct {
	AlongHours, AcrossHours float64 // one pass with the tool; AcrossHours is 0 unless Fit.CrossFits
	BothHours               float64 // a pass along and a pass across; 0 unless Fit.CrossFits
	PullHours               float64 // pulling by hand after one pass
	PullBothHours           float64 // pulling by hand after passes along and across
	HandHours               float64 // weeding by hand, without the tool
	Rest                    float64 // share of the plot that is left to weed in this window, above 0; 1 = all of it
	PartOn                  Day     // day on which a part was weeded last; 0 if Rest is 1

	Pace, HandPace Pace    // the grower's pace with the tool and by hand; the hours above are computed with these paces
	HoursADay      float64 // hours that each person weeds on a day, as given by the grower or DefaultHoursADay
	OneWay         Way     // direction of a single pass: across if the last pass went along and Fit.CrossFits

	Crew                   // the people and tools that the grower has, or DefaultPeople and one tool
	WindowDays int         // days from today or the opening of the window to its close; 0 = none
	Fits       bool        // the work of Crew takes at most WindowDays days
	Share      float64     // share of the plot that is weeded inside the window, 0 to 1; with ByHandRest by Then
	Instead    Alternative // what to change if the work does not end inside the window
	Then       Crew        // the work if the grower chooses Instead
}

// Total returns the person-hours of Do, including the pulling that follows.
func (w *Work) Total() float64 {
	push, pull := w.hours(w.Do, 1)
	return push + pull
}

// TotalRange returns the 80 % range of Total. Pushing and pulling scatter independently, so the distances from Total to
// the ends of their ranges are added as squares.
func (w *Work) TotalRange() (low, high float64) {
	push, pull := w.hours(w.Do, 1)
	pushLow, pushHigh := w.Pace.Around(push)
	pullLow, pullHigh := w.HandPace.Around(pull)
	return push + pull - math.Hypot(push-pushLow, pull-pullLow), push + pull + math.Hypot(pushHigh-push, pullHigh-pull)
}

// hours returns the person-hours of pushing the tool and of weeding by hand, if a share of the plot is weeded with the
// tool as advised and the rest by hand.
func (w *Work) hours(a Advice, share float64) (push, hand float64) {
	switch {
	case a == WeedBoth:
		push, hand = w.BothHours, w.PullBothHours
	case a == WeedOneWay && w.OneWay == Across:
		push, hand = w.AcrossHours, w.PullHours
	case a == WeedOneWay:
		push, hand = w.AlongHours, w.PullHours
	default:
		return 0, w.HandHours
	}
	return share * push, share*hand + (1-share)*w.HandHours
}

// Work computes, on day today, the hours, days and people for weeding in window w. It computes only hours and days if w
// does not exist, if w is over, or if the weeds are too big for the tool.
//
// n people work h hours a day with k tools. Pushing that takes P person-hours and weeding by hand that takes L need
//
//	days = max( ceil((P + L) / (n h)), ceil(P / min(n h, k max(h, ToolDayHours))) )
//
// because one person at a time pushes a tool. People take turns, so a tool may work longer than each person; the others
// pull weeds behind the tools. The formula ignores that the last row is pulled after the tool has passed.
//
// Pulling after the tool takes
//
//	PullHours = HandHours x share of the ground that the tool does not sweep x share of this ground with weeds
//
// so it never takes longer than weeding the whole ground by hand.
func (s Season) Work(today Day, w Window) Work {
	s = s.asOf(today)
	f, at := s.fit(), &s.local().Figures
	work := Work{Pace: s.pace(ByTool), HandPace: s.pace(ByHand), HoursADay: or(s.Home.HoursADay, DefaultHoursADay)}
	part := s.part()
	work.Rest, work.PartOn = 1-part.Share, part.On
	f.Hours, f.HoursCrossed = f.Hours*work.Rest, f.HoursCrossed*work.Rest
	work.HandHours = work.Rest * at.HandHoursPerHa * s.Plot.AreaM2 / 1e4 * work.HandPace.Factor
	last, passed := s.lastPass()
	if !f.Hand() {
		work.withTool(f, s.Plot.RowSpacingCM, last.Left)
		work.OneWay = Along
		if f.CrossFits && passed && last.With == ByTool && last.Way == Along {
			work.OneWay = Across
		}
	}
	over := w.Exists() && (today > w.Closes || w.Why == WhySeenBig)
	do := WeedOneWay
	switch {
	case f.Hand() || over || w.Exists() && w.With == ByHand:
		do = WeedByHand
	case f.CrossFits:
		do = WeedBoth
	}
	from, to := Day(0), Day(0)
	if w.Exists() && !over {
		from, to = max(today, w.Opens), w.Closes
	}
	work.Crew = work.crew(do, or(s.Home.People, DefaultPeople), max(1, s.Home.Tools), 1, from, to)
	if s.Plot.AreaM2 > 0 && from != 0 {
		work.schedule(from, to)
	}
	return work
}

// withTool fills in the hours of pushing the tool and of pulling weeds after it. A grower who has no tool yet is
// assumed to get the widest that fits.
func (w *Work) withTool(f Fit, rowCM float64, left Amount) {
	w.AlongHours = f.Hours * w.Pace.Factor
	swept := f.SweptOnce
	if f.Verdict == FitUnknown && rowCM > 0 {
		swept = max(0, 1-2*SideClearanceCM/rowCM)
	}
	w.PullHours = w.HandHours * (1 - swept) * restShare(left)
	if f.CrossFits {
		w.BothHours = f.HoursCrossed * w.Pace.Factor
		w.AcrossHours = w.BothHours - w.AlongHours
		w.PullBothHours = w.HandHours * (1 - f.SweptCrossed) * restShare(left)
	}
}

// restShare returns the share of the ground not swept by the tool on which weeds have to be pulled. It depends on the
// weeds that the last pass left.
func restShare(left Amount) float64 {
	switch left {
	case Many:
		return RestShareMany
	case Few:
		return RestShareFew
	}
	return RestShareSome
}

// crew returns the work of so many people and tools between two days, both included; from is 0 without a window.
func (w *Work) crew(do Advice, people, tools int, share float64, from, to Day) Crew {
	c := Crew{Do: do, People: people, Tools: tools, ToolShare: share}
	if do == WeedByHand {
		c.Tools, c.ToolShare = 0, 0
	}
	push, total := w.upTo(do, share, false)
	mostPush, mostTotal := w.upTo(do, share, true)
	c.Days, c.MostDays = w.days(push, total, c), w.days(mostPush, mostTotal, c)
	if span := int(to-from) + 1; from != 0 && c.Days > 0 && c.Days <= span {
		c.StartBy = to - Day(min(c.MostDays, span)) + 1
	}
	return c
}

// days returns the days that a crew needs for so many person-hours of pushing and in all.
func (w *Work) days(push, total float64, c Crew) int {
	days := roundUp(total / (float64(c.People) * w.HoursADay))
	if push > 0 {
		days = max(days, roundUp(push/w.toolADay(c.People, c.Tools)))
	}
	return int(days)
}

// roundUp is math.Ceil of x without the last digits, which may be rounding errors.
func roundUp(x float64) float64 { return math.Ceil(float64(float32(x))) }

// toolADay returns how many hours a day n people push these tools, added up.
func (w *Work) toolADay(n, tools int) float64 {
	return min(float64(n)*w.HoursADay, float64(tools)*max(w.HoursADay, ToolDayHours))
}

// schedule checks whether the work ends in the days from-to, both included, and looks for an alternative if not.
func (w *Work) schedule(from, to Day) {
	w.WindowDays = int(to-from) + 1
	if w.Days <= w.WindowDays {
		w.Fits, w.Share = true, 1
		return
	}
	w.Share = w.share(w.Do)
	w.instead(from, to)
}

// share returns the share of the plot that the grower's people and tools weed in the days of the window.
func (w *Work) share(a Advice) float64 {
	push, hand := w.hours(a, 1)
	share := float64(w.WindowDays) * float64(w.People) * w.HoursADay / (push + hand)
	if push > 0 {
		share = min(share, float64(w.WindowDays)*w.toolADay(w.People, w.Tools)/push)
	}
	return min(1, share)
}

// upTo returns the person-hours of pushing, and of pushing and weeding by hand, that half of the weedings take at most;
// with most, those that nine of ten take at most.
func (w *Work) upTo(a Advice, share float64, most bool) (push, total float64) {
	push, hand := w.hours(a, share)
	if !most {
		return push, push + hand
	}
	_, mostPush := w.Pace.Around(push)
	_, mostHand := w.HandPace.Around(hand)
	return mostPush, push + hand + math.Hypot(mostPush-push, mostHand-hand)
}

// instead sets the first alternative that ends inside the window: with the people and tools that the grower has, if it
// ends nine times in ten or at least every other time; then with more people or tools, in the same order. Otherwise the
// rest is pulled by hand after the window, and the tools go one way only if more of the plot is weeded so.
func (w *Work) instead(from, to Day) {
	if w.withOwn(from, to, true) || w.withOwn(from, to, false) ||
		w.withMore(from, to, true) || w.withMore(from, to, false) {
		return
	}
	w.Instead, w.Then = ByHandRest, w.Crew
	if share := w.share(w.less()); share > w.Share {
		w.Share, w.Then = share, w.crew(w.less(), w.People, w.Tools, 1, from, to)
	}
}

// less returns the advice that takes the tools the fewest hours.
func (w *Work) less() Advice {
	if w.Do == WeedBoth {
		return WeedOneWay
	}
	return w.Do
}

// withOwn tries one direction instead of two, then weeding by hand beside the tools.
func (w *Work) withOwn(from, to Day, most bool) bool {
	less, share := w.less(), 1.0
	if push, _ := w.upTo(less, 1, most); push > 0 {
		share = min(1, float64(w.WindowDays)*w.toolADay(w.People, w.Tools)/push)
	}
	return less != w.Do && w.try(OneWayThenHand, w.crew(less, w.People, w.Tools, 1, from, to), most) ||
		share < 1 && w.try(HandsBeside, w.crew(less, w.People, w.Tools, share, from, to), most)
}

// withMore tries more people, if needed in one direction, then more tools.
func (w *Work) withMore(from, to Day, most bool) bool {
	less := w.less()
	people, tools := w.enough(w.Do, most)
	lessPeople, lessTools := w.enough(less, most)
	return people > w.People && w.try(MoreHands, w.crew(w.Do, people, w.Tools, 1, from, to), most) ||
		less != w.Do && w.try(OneWayThenHand, w.crew(less, lessPeople, w.Tools, 1, from, to), most) ||
		lessTools > w.Tools && w.try(MoreTools, w.crew(less, lessPeople, lessTools, 1, from, to), most) ||
		tools > w.Tools && w.try(MoreTools, w.crew(w.Do, people, tools, 1, from, to), most)
}

// try sets an alternative and returns true, if its work ends inside the window, with most nine times in ten, and does
// not take more people or tools than it is of use to propose.
func (w *Work) try(what Alternative, c Crew, most bool) bool {
	if c.StartBy == 0 || most && c.MostDays > w.WindowDays || c.People > max(w.People, MostHands) ||
		c.Tools > max(w.Tools, MostTools) {
		return false
	}
	w.Instead, w.Then = what, c
	return true
}

// enough returns the people, and the tools, that are enough to end inside the window, but at least those of the grower.
func (w *Work) enough(a Advice, most bool) (people, tools int) {
	push, total := w.upTo(a, 1, most)
	span := float64(w.WindowDays)
	return max(w.People, int(roundUp(total/(span*w.HoursADay)))),
		max(w.Tools, int(roundUp(push/(span*max(w.HoursADay, ToolDayHours)))))
}
