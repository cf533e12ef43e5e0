package engine

import "math"

// TrialWay is one way of weeding in a trial.
type TrialWay uint8

const (
	ToolAlong    TrialWay = iota + 1 // the tool, in one direction
	ToolBoth                         // the tool, along and across
	ToolThenHand                     // the tool, and by hand what it leaves
	HandOnly                         // by hand
)

func (w TrialWay) String() string {
	return name(w, "", "tool along", "tool both ways", "tool then hand", "hand only")
}

// Half is one of the two plots, or halves of a plot, of a trial.
type Half struct {
	Way    TrialWay
	Season Season
	Bags   float64 // harvest as the grower counts it, the same bag in both halves; 0 = not told
}

// Trial is two ways of weeding side by side. Passes from before Begun were
// made when nobody compared, and do not count; 0 = all count.
type Trial struct {
	A, B  Half
	Begun Day
}

// TrialRecord is a trial as the records have it.
type TrialRecord struct {
	Trial
	NoA, NoB   int // numbers of the plots; 0 = closed meanwhile
	WasA, WasB int // the numbers they had, also if closed
}

// Which says which half had less of something.
type Which uint8

const (
	NotTold     Which = iota // what was logged does not answer it
	CloseToTell              // a difference that plots treated alike may have
	AIsLess
	BIsLess
)

func (w Which) String() string { return name(w, "not told", "too close to tell", "A", "B") }

// Unlike says why two halves cannot be compared at all.
type Unlike uint8

const (
	Alike       Unlike = iota
	SameWay            // both weeded the same way, or a way not told
	OtherMethod        // planted in another manner
	OtherRows          // rows or hills more than TrialRowsApart apart
	OtherDays          // planted more than TrialDaysApart days apart
)

func (u Unlike) String() string {
	return name(u, "alike", "same way", "other method", "other rows", "other days")
}

// Side is what was logged for one half. 0 = not told.
type Side struct {
	Passes     int
	Logged     int     // passes that told their hours
	HoursPerHa float64 // person-hours of those a hectare, over the season so far
	Left       float64 // mean of weeds left after a pass, few 1, some 2, many 3
	LeftN      int     // passes that told it
	BagsPerHa  float64
}

// Comparison is what a trial shows. It says what differed and by how much,
// never why: one pair of plots may differ in soil, water or the day as well.
type Comparison struct {
	A, B    Side
	Unlike  Unlike // anything but Alike leaves the three below at NotTold
	SoFar   bool   // a season is not over yet; hours are compared when both are
	Hours   Which  // AIsLess: A took less work
	Left    Which  // AIsLess: A was left cleaner
	Harvest Which  // AIsLess: A brought less
}

// Compare sets the halves side by side as they were known on a day.
//
// A difference is told if |a - b| > noise x (a + b) / 2, with TrialHoursNoise
// for hours and TrialHarvestNoise for the harvest, and if it is more than
// TrialLeftNoise for weeds left; anything smaller is too close to tell. Hours
// are compared at the end, and only if both halves told them for every pass,
// else the half that kept the poorer log would look quicker; weeds left, once
// each half has TrialLeftReports reports.
func (t Trial) Compare(today Day) Comparison {
	c := Comparison{A: t.A.side(t.Begun, today), B: t.B.side(t.Begun, today), Unlike: t.unlike()}
	c.SoFar = t.A.goesOn(today) || t.B.goesOn(today)
	if c.Unlike != Alike {
		return c
	}
	if !c.SoFar && c.A.logsAll() && c.B.logsAll() {
		c.Hours = less(c.A.HoursPerHa, c.B.HoursPerHa, TrialHoursNoise)
	}
	c.Harvest = less(c.A.BagsPerHa, c.B.BagsPerHa, TrialHarvestNoise)
	if min(c.A.LeftN, c.B.LeftN) >= TrialLeftReports {
		c.Left = lessBy(c.A.Left, c.B.Left, TrialLeftNoise)
	}
	return c
}

func (t Trial) unlike() Unlike {
	if t.A.Way == t.B.Way || t.A.Way == 0 || t.B.Way == 0 {
		return SameWay
	}
	return Compared(t.A.Season.Plot, t.B.Season.Plot)
}

// Compared says whether two plots can be the sides of a trial, or why not.
func Compared(a, b Plot) Unlike {
	switch {
	case a.Method != b.Method:
		return OtherMethod
	case differ(a.RowSpacingCM, b.RowSpacingCM, TrialRowsApart),
		a.HillSpacingCM > 0 && b.HillSpacingCM > 0 && differ(a.HillSpacingCM, b.HillSpacingCM, TrialRowsApart):
		return OtherRows
	case max(a.Planted, b.Planted)-min(a.Planted, b.Planted) > TrialDaysApart:
		return OtherDays
	}
	return Alike
}

func (h Half) side(from, today Day) Side {
	s := h.Season.asOf(today)
	for len(s.Passes) > 0 && s.Passes[0].On < from {
		s.Passes = s.Passes[1:]
	}
	out := Side{Passes: len(s.Passes)}
	hours, left := 0.0, 0
	for _, p := range s.Passes {
		if worked := p.hoursOfAll(); worked > 0 {
			out.Logged++
			hours += worked
		}
		if p.Left != AmountUnknown {
			out.LeftN++
			left += int(p.Left)
		}
	}
	if out.LeftN > 0 {
		out.Left = float64(left) / float64(out.LeftN)
	}
	if ha := s.Plot.AreaM2 / 1e4; ha > 0 {
		out.HoursPerHa, out.BagsPerHa = hours/ha, h.Bags/ha
	}
	return out
}

// goesOn reports that the half's season is not over.
func (h Half) goesOn(today Day) bool { return h.Season.asOf(today).outline(today).State != Closed }

// logsAll reports that every pass told its hours, and that there was one.
func (s Side) logsAll() bool { return s.Passes > 0 && s.Logged == s.Passes }

// differ reports that two figures lie further apart than a share of their
// mean.
func differ(a, b, share float64) bool { return math.Abs(a-b) > share*(a+b)/2 }

// less compares two positive figures by a share of their mean; 0 = not told.
func less(a, b, share float64) Which {
	if !(a > 0 && b > 0) {
		return NotTold
	}
	return lessBy(a, b, share*(a+b)/2)
}

// lessBy compares two figures by a difference.
func lessBy(a, b, noise float64) Which {
	switch {
	case math.Abs(a-b) <= noise:
		return CloseToTell
	case a < b:
		return AIsLess
	default:
		return BIsLess
	}
}
