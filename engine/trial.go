package engine

import "math"

// TrialWay is one way of weeding in a trial.
type TrialWay uint8

const (
	ToolAlong    TrialWay = iota + 1 // with the tool, in one direction
	ToolBoth                         // with the tool, along and across
	ToolThenHand                     // with the tool, then by hand what it leaves
	HandOnly                         // by hand
)

func (w TrialWay) String() string {
	return name(w, "", "tool along", "tool both ways", "tool then hand", "hand only")
}

// Half is one of the two plots of a trial, or one half of a plot.
type Half struct {
	Way    TrialWay
	Season Season
	Bags   float64 // harvest in the grower's bags, of equal size in both halves; 0 = not given
}

// Trial compares two ways of weeding. Passes before day Begun are not part of it; 0 = all passes are.
type Trial struct {
	A, B  Half
	Begun Day
}

// TrialRecord is a trial as stored.
type TrialRecord struct {
	Trial
	NoA, NoB   int // numbers of the plots; 0 = closed since
	WasA, WasB int // numbers of the plots when the trial began
}

// Which says which half has the lower figure.
type Which uint8

const (
	NotTold     Which = iota // too little was logged to say
	CloseToTell              // the difference is within the noise between plots treated alike
	AIsLess
	BIsLess
)

func (w Which) String() string { return name(w, "not told", "too close to tell", "A", "B") }

// Unlike says why two halves cannot be compared.
type Unlike uint8

const (
	Alike       Unlike = iota
	SameWay            // both are weeded in the same way, or a way is not given
	OtherMethod        // different planting methods
	OtherRows          // rows or hills more than TrialRowsApart apart
	OtherDays          // planted more than TrialDaysApart days apart
)

func (u Unlike) String() string {
	return name(u, "alike", "same way", "other method", "other rows", "other days")
}

// Side sums up what was logged for one half. 0 = not given.
type Side struct {
	Passes     int
	Logged     int     // passes that told their hours
	HoursPerHa float64 // person-hours of those passes per hectare
	Left       float64 // mean of the weeds left after a pass: few 1, some 2, many 3
	LeftN      int     // passes that told the weeds left
	BagsPerHa  float64
}

// Comparison is the result of a trial. It gives no cause: the two plots may also
// differ in soil, water or the days of weeding.
type Comparison struct {
	A, B    Side
	Unlike  Unlike // unless Alike, the three below are NotTold
	SoFar   bool   // at least one season is not over; hours are not compared yet
	Hours   Which  // AIsLess: A took less work
	Left    Which  // AIsLess: fewer weeds were left in A
	Harvest Which  // AIsLess: A yielded less
}

// Compare compares the halves as known on day today.
//
// Two figures differ if |a - b| > noise x (a + b) / 2, with TrialHoursNoise for hours and TrialHarvestNoise for the
// harvest; weeds left differ by more than TrialLeftNoise. Hours are compared when both seasons are over and both
// halves told the hours of every pass, because a half with missing hours would look quicker. Weeds left are compared
// when each half has TrialLeftReports reports.
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

// unlike returns why the two halves cannot be compared.
func (t Trial) unlike() Unlike {
	if t.A.Way == t.B.Way || t.A.Way == 0 || t.B.Way == 0 {
		return SameWay
	}
	return Compared(t.A.Season.Plot, t.B.Season.Plot)
}

// Compared returns why two plots cannot be the halves of a trial, or Alike.
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

// side sums up the passes from day from on, as known on day today.
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

// goesOn reports whether the half's season is not over.
func (h Half) goesOn(today Day) bool { return h.Season.asOf(today).outline(today).State != Closed }

// logsAll reports whether there are passes and all of them told their hours.
func (s Side) logsAll() bool { return s.Passes > 0 && s.Logged == s.Passes }

// differ reports whether two figures differ by more than a share of their mean.
func differ(a, b, share float64) bool { return math.Abs(a-b) > share*(a+b)/2 }

// less compares two positive figures, with a noise that is a share of their mean. A figure of 0 is not given.
func less(a, b, share float64) Which {
	if !(a > 0 && b > 0) {
		return NotTold
	}
	return lessBy(a, b, share*(a+b)/2)
}

// lessBy compares two figures with an absolute noise.
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
