package engine

import "math"

// Pace compares the hours that a grower logged with the hours that the model computes.
type Pace struct {
	Factor    float64 // the grower's hours divided by the model's; 2 = twice as slow
	Logged    int     // number of passes from which the pace was learned; 0 = the model's hours are used
	Low, High float64 // with a chance of 80 %, the next pass takes Low to High times the model's hours
}

// Around returns the range of hours of the next pass, for hours computed with Factor.
func (p Pace) Around(hours float64) (low, high float64) {
	return hours * p.Low / p.Factor, hours * p.High / p.Factor
}

// meanOf returns the 80 % range of the mean hours of several passes, as a factor on the hours computed with Factor. The
// zero Pace has no range.
func (p Pace) meanOf(passes float64) (low, high float64) {
	if p.Factor == 0 || passes <= 0 {
		return 1, 1
	}
	around := math.Exp(EightInTen * paceDeviation(p.Logged, passes))
	return 1 / around, around
}

// paceDeviation returns the standard deviation of ln of the mean of coming passes, after so many logged ones.
func paceDeviation(logged int, coming float64) float64 {
	return PaceNoise * math.Sqrt(1/paceWeight(logged)+1/coming)
}

// paceWeight returns n + k for n logged passes; pace explains them.
func paceWeight(logged int) float64 {
	return float64(logged) + PaceNoise*PaceNoise/(PaceSpread*PaceSpread)
}

// pace returns the pace with the tool or by hand, from the passes with logged hours of this season and of Home.Worked.
// Each pass gives
//
//	y = ln(person-hours / the model's person-hours)
//
// The model assumes that y is the grower's mean plus the noise of one pass, both normally distributed, and that the
// means of all growers are spread around 0. From n passes, the posterior mean of the grower (normal-normal shrinkage)
// gives
//
//	Factor = exp(sum(y) / (n + k)),  k = PaceNoise² / PaceSpread²
//
// so one unusual pass changes the factor little. Each y is limited to the range from -ln PaceLimit to ln PaceLimit.
//
// Low and High are a prediction interval, not a confidence interval of the mean: y of the next pass is normally
// distributed around ln Factor with the variance
//
//	PaceNoise² / (n + k) + PaceNoise²
//
// of the posterior mean and of one pass. Half of the passes take longer than Factor says.
//
// A pass over a part of the plot is compared with the model's hours for this part.
//
// Limits: if several people share one tool, the hours of those who pull weeds behind it count as hours with the tool.
// Weeding by hand within FollowUpDays of a pass with the tool counts as pulling after that pass, not for the pace by
// hand.
func (s *Season) pace(with Means) Pace {
	var sum float64
	var n int
	at := &s.local().Figures
	for i := range s.Home.Worked {
		if w := &s.Home.Worked[i]; w.With == with {
			if y, ok := at.paceOf(w); ok {
				sum += y
				n++
			}
		}
	}
	logged := s.logged()
	for i := range logged {
		p := &logged[i]
		if p.With != with || with == ByHand && pulledBehind(logged, i) {
			continue
		}
		w := Worked{With: with, Way: p.Way, AreaM2: p.covered() * s.Plot.AreaM2, RowCM: s.Plot.RowSpacingCM,
			HillCM: s.Plot.HillSpacingCM, PersonHours: p.Hours * float64(p.People)}
		if y, ok := at.paceOf(&w); ok {
			sum += y
			n++
		}
	}
	factor, around := math.Exp(sum/paceWeight(n)), math.Exp(EightInTen*paceDeviation(n, 1))
	return Pace{Factor: factor, Logged: n, Low: factor / around, High: factor * around}
}

// pulledBehind reports whether pass i is within FollowUpDays of a pass with the tool over the same ground. Two parts
// are two grounds.
func pulledBehind(passes []Pass, i int) bool {
	for j := i - 1; j >= 0 && passes[i].On-passes[j].On <= FollowUpDays; j-- {
		if passes[j].With == ByTool && !(passes[i].isPart() && passes[j].isPart()) {
			return true
		}
	}
	return false
}

// paceOf returns the logarithm of a logged pass's person-hours divided by the model's, limited to the range from
// -ln PaceLimit to ln PaceLimit; false if area, rows or hours are not given.
func (f *Figures) paceOf(w *Worked) (float64, bool) {
	var model float64
	if w.With == ByHand {
		model = f.HandHoursPerHa * w.AreaM2 / 1e4
	} else {
		model = f.toolHours(w.Way, w.AreaM2, w.RowCM, w.HillCM)
	}
	if !(model > 0 && w.PersonHours > 0) {
		return 0, false
	}
	ratio := min(max(w.PersonHours/model, 1.0/PaceLimit), PaceLimit)
	return math.Log(ratio), true
}

// toolHours returns the model's person-hours of a pass with the tool; 0 without an area or a row spacing. An unknown
// direction is along the rows; an unknown hill spacing equals the row spacing.
func (f *Figures) toolHours(way Way, areaM2, rowCM, hillCM float64) float64 {
	if rowCM <= 0 {
		return 0
	}
	along := areaM2 / 1e4 / FieldCapacity(f.PushSpeedKMH, rowCM/100, f.FieldEfficiency)
	across := along
	if hillCM > 0 {
		across = areaM2 / 1e4 / FieldCapacity(f.PushSpeedKMH, hillCM/100, f.FieldEfficiency)
	}
	switch way {
	case Across:
		return across
	case Both:
		return along + across
	}
	return along
}
