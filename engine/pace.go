package engine

import "math"

// Pace is how a grower's own hours compare with the model's.
type Pace struct {
	Factor    float64 // own hours to the model's; 1 = the model, 2 = twice the hours
	Logged    int     // passes with hours and people that it rests on; 0 = the model alone
	Low, High float64 // eight growers in ten with such logs lie between
}

// pace is the grower's own pace with the tool or by hand, from the passes of
// this season and of Home.Worked that say how long they took. Each tells
//
//	y = ln(person-hours / the model's person-hours)
//
// taken as the grower's own mean plus the noise of one pass, both normal; the
// growers' means lie around 0, the model. The mean of what is then known of
// this grower (normal-normal shrinkage) is
//
//	Factor = exp(sum(y) / (n + k)),  k = PaceNoise² / PaceSpread²
//
// so that one odd day moves it little and many days carry it to their own
// mean. A single y counts for no more than ln PaceLimit either way, which
// bounds the pace by PaceLimit too. The mean's standard deviation is
// PaceNoise / sqrt(n + k).
//
// Limits: of several people with one tool, some pull behind it, and that
// counts as theirs. A hand weeding in the days after a pass with the tool is
// the pulling that belongs to it and tells nothing of weeding by hand.
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
	for i := range s.Passes {
		p := &s.Passes[i]
		if p.With != with || p.People <= 0 || with == ByHand && s.pulledBehind(i) {
			continue
		}
		w := Worked{With: with, Way: p.Way, AreaM2: s.Plot.AreaM2, RowCM: s.Plot.RowSpacingCM,
			HillCM: s.Plot.HillSpacingCM, PersonHours: p.Hours * float64(p.People)}
		if y, ok := at.paceOf(&w); ok {
			sum += y
			n++
		}
	}
	const k = PaceNoise * PaceNoise / (PaceSpread * PaceSpread)
	weight := float64(n) + k
	factor, around := math.Exp(sum/weight), math.Exp(EightInTen*PaceNoise/math.Sqrt(weight))
	return Pace{Factor: factor, Logged: n, Low: factor / around, High: factor * around}
}

// pulledBehind reports that pass i follows a pass with the tool so closely
// that it belongs to it.
func (s *Season) pulledBehind(i int) bool {
	for j := i - 1; j >= 0 && s.Passes[i].On-s.Passes[j].On <= FollowUpDays; j-- {
		if s.Passes[j].With == ByTool {
			return true
		}
	}
	return false
}

// paceOf is ln(hours / the model's hours) of one logged pass, bounded; false
// for one that does not say enough.
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

// toolHours is the model's person-hours of one pass with the tool: a walk for
// every row, both walks for Both. A way that is not told is taken as along; a
// hill spacing that is not told as the rows'. 0 where area or rows are not
// told.
func (f *Figures) toolHours(way Way, areaM2, rowCM, hillCM float64) float64 {
	if areaM2 <= 0 || rowCM <= 0 {
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
