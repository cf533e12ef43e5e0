package engine

import "math"

// TrialWay is one way of weeding in a trial.
type TrialWay uint8

const (
	ToolAlong    TrialWay = iota + 1 // with the tool, in one direction
	ToolBoth                         // with the tool, along and across
	ToolThenHand                     // with the tool, then by hand where the tool left weeds
	HandOnly                         // by hand
)

func (w TrialWay) String() string {
	return name(w, "", "tool along", "tool both ways", "tool then hand", "hand only")
}

// Half is one of the two plots of a trial, or one half of a plot.
type Half struct {
	Way    TrialWay
	Season Season
	Bags   float64 // harvest in bags; the bags of both halves have the same size; 0 = not given
}

// Trial compares two ways of weeding, by the passes from day Begun on (0 = all passes).
type Trial struct {
	A, B  Half
	Begun Day
}

// TrialRecord is a trial as the store saves it.
type TrialRecord struct {
	Trial
	NoA, NoB   int // present numbers of the plots; 0 = the plot was closed after the trial began
	WasA, WasB int // numbers of the plots when the trial began
}

// Which says which half of a trial, A or B, has the lower number of hours, weeds or bags.
type Which uint8

const (
	NotTold     Which = iota // the growers logged too little to compare the halves
	CloseToTell              // the difference may be chance: plots that are treated alike differ as much
	AIsLess
	BIsLess
)

func (w Which) String() string { return name(w, "not told", "too close to tell", "A", "B") }

// Unlike says why two halves cannot be compared.
type Unlike uint8

const (
	Alike       Unlike = iota
	SameWay            // both halves are weeded in the same way, or the way of a half is not given
	OtherMethod        // different planting methods
	OtherRows          // row or hill spacings differ by more than TrialRowsApart
	OtherDays          // the planting days differ by more than TrialDaysApart days
)

func (u Unlike) String() string {
	return name(u, "alike", "same way", "other method", "other rows", "other days")
}

// Side sums up what the grower logged of one half of a trial. 0 = not given.
type Side struct {
	Passes     int
	Logged     int     // passes with logged hours
	HoursPerHa float64 // person-hours per hectare of the passes with logged hours, of parts as if all was weeded
	Left       float64 // mean amount of weeds left after a pass, where few = 1, some = 2, many = 3
	LeftN      int     // passes with a report on the weeds left
	BagsPerHa  float64
}

// Comparison is the result of a trial. A difference does not prove that one way is better: the plots may differ in
// soil, water or days of weeding.
type Comparison struct {
	A, B    Side
	Unlike  Unlike // if Unlike is not Alike, then Hours, Left and Harvest are NotTold
	SoFar   bool   // the season of at least one half is not over; hours are not compared yet
	Hours   Which  // AIsLess = A took fewer person-hours
	Left    Which  // AIsLess = fewer weeds were left in A
	Harvest Which  // AIsLess = A had the smaller harvest
}

// Compare compares the halves as known on day today.
//
// Two numbers differ if |a - b| > noise x (a + b) / 2, with TrialHoursNoise for hours and TrialHarvestNoise for the
// harvest; weeds left differ by more than TrialLeftNoise. Hours are compared only if both seasons are over and every
// pass has hours, because a half with missing hours would look quick. Weeds left are compared only if each half has
// TrialLeftReports reports.
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

// unlike returns why the two halves cannot be compared, or Alike if they can.
func (t Trial) unlike() Unlike {
	if t.A.Way == t.B.Way || t.A.Way == 0 || t.B.Way == 0 {
		return SameWay
	}
	return Compared(t.A.Season.Plot, t.B.Season.Plot)
}

// Compared returns why two plots cannot be the halves of a trial, or Alike if they can.
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

// side sums up the passes of this half from day from to day today, both included.
func (h Half) side(from, today Day) Side {
	s := h.Season.asOf(today)
	weedings := s.allWeedings()
	for len(weedings) > 0 && weedings[0].On < from {
		weedings = weedings[1:]
	}
	out := Side{Passes: len(weedings)}
	hours, left := 0.0, 0
	for _, p := range weedings {
		if worked := p.hoursOfAll(); worked > 0 {
			out.Logged++
			hours += worked / p.covered()
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

// logsAll reports whether there are passes and all have logged hours.
func (s Side) logsAll() bool { return s.Passes > 0 && s.Logged == s.Passes }

// differ reports whether two numbers differ by more than the given share of their mean.
func differ(a, b, share float64) bool { return math.Abs(a-b) > share*(a+b)/2 }

// less says which of the two numbers, of half A and of half B, is lower. It returns CloseToTell if they differ by no
// more than this share of their mean, and NotTold if one of them is 0.
func less(a, b, share float64) Which {
	if !(a > 0 && b > 0) {
		return NotTold
	}
	return lessBy(a, b, share*(a+b)/2)
}

// lessBy says which of the two numbers, of half A and of half B, is lower. It returns CloseToTell if they differ by no
// more than noise.
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
