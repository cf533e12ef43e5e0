package engine

import "math"

// Level is the risk of weeding later.
type Level uint8

const (
	RiskLow Level = iota + 1
	RiskMiddle
	RiskHigh
)

func (l Level) String() string { return name(l, "", "low", "middle", "high") }

// Risk estimates how much yield waiting may cost. It ranks plots and chooses the words of a text, but does not predict
// the yield: the trials had one grass weed, and the number of weeds is assumed.
type Risk struct {
	Level     Level
	LowPct    float64 // lowest loss of yield in % if the present weeds are never removed
	middlePct float64 // middle loss of yield in % if the present weeds are never removed
	HighPct   float64 // highest loss of yield in % if the present weeds are never removed
	BoundPct  float64 // HighPct computed as if the weeds had emerged together with the rice
	Critical  bool    // today is in the published critical period for the planting method

	WeedsPerM2Low  float64 // lowest number of weeds assumed, from what the grower saw or the last pass left
	WeedsPerM2High float64 // highest number assumed
	HeadStartDays  int     // days from the emergence of the rice to that of the weeds

	// Score ranks plots, the most urgent highest: the middle loss in % times leaves / WindowOpensLeaves. It rises every
	// day until the critical period ends, and is 0 afterwards.
	Score float64
}

// Risk returns the risk of waiting as known on day today.
//
// The loss is that of barnyardgrass in irrigated sown rice (Richter et al. 2019): the lowest for the fewest weeds in a
// well-farmed field, the highest for the most weeds in a poorly farmed field. The head start of the rice reduces the
// loss as in Cousens et al. 1987, by HeadStartDecay a day. The level depends on the middle loss times leaves / 2, with
// four leaves at most: the factor is 1 when the window opens and 2 when it closes. Outside the critical period the
// level is low, because waiting changes little. A closed plot has no risk.
func (s Season) Risk(today Day) Risk {
	return s.riskOf(Plan{On: today, WeedLeaves: s.WeedLeaves(today)})
}

// riskOf is Risk for a result of Plan; Windows does not compute WeedLeaves.
func (s Season) riskOf(p Plan) Risk {
	r := Risk{Level: RiskLow}
	if s.ClosedOn != 0 && p.On >= s.ClosedOn {
		return r
	}
	s = s.asOf(p.On)
	period, after := CriticalPeriodOf(s.Plot.Method), int(p.On-s.Plot.Planted)
	r.Critical = period.Contains(after)

	seen, leaves := s.amountSeen(), p.WeedLeaves
	if seen != AmountUnknown {
		leaves = max(leaves, 1) // weeds that were seen have at least one leaf
	}
	weeds := s.stand(p.On, seen, leaves)
	loss := weeds.loss()
	if left, ok := s.leftStand(); ok && seen == AmountUnknown {
		old := left.loss()
		if old.highPct >= loss.highPct {
			weeds.headStart = left.headStart
		}
		weeds.low, weeds.high = max(weeds.low, left.low), max(weeds.high, left.high)
		loss = loss.worse(old)
	}
	r.LowPct, r.middlePct, r.HighPct = loss.lowPct, loss.middlePct, loss.highPct
	r.BoundPct = Barnyardgrass(TechnologyLow).LossPct(weeds.high)
	r.WeedsPerM2Low, r.WeedsPerM2High, r.HeadStartDays = weeds.low, weeds.high, int(weeds.headStart)
	if after > period.To {
		return r
	}
	r.Score = loss.middlePct * leaves / WindowOpensLeaves
	if after >= period.From {
		r.Level = levelOf(loss.middlePct * min(leaves, WindowClosesLeaves) / WindowOpensLeaves)
	}
	return r
}

func levelOf(lossPct float64) Level {
	switch {
	case lossPct >= RiskHighPct:
		return RiskHigh
	case lossPct >= RiskMiddlePct:
		return RiskMiddle
	}
	return RiskLow
}

// stand is the weeds on a plot, as a range per m2, and the head start of the rice.
type stand struct {
	low, high float64
	headStart Day
}

// lossRange is a range of loss of yield in %.
type lossRange struct{ lowPct, middlePct, highPct float64 }

// worse returns the higher one of each number.
func (l lossRange) worse(m lossRange) lossRange {
	return lossRange{max(l.lowPct, m.lowPct), max(l.middlePct, m.middlePct), max(l.highPct, m.highPct)}
}

// loss returns the loss of weeds that are never removed: low for the fewest weeds in a well-farmed field, high for the
// most in a poorly farmed field, middle for their geometric mean in a medium field.
func (w stand) loss() lossRange {
	late := HeadStartDecay * float64(w.headStart)
	return lossRange{
		lowPct:    Barnyardgrass(TechnologyHigh).LateLossPct(w.low, late),
		middlePct: Barnyardgrass(TechnologyMedium).LateLossPct(math.Sqrt(w.low*w.high), late),
		highPct:   Barnyardgrass(TechnologyLow).LateLossPct(w.high, late),
	}
}

// weedsOf returns the weeds per m2 that an amount stands for.
func weedsOf(a Amount) (low, high float64) {
	switch a {
	case Few:
		return WeedsFewLow, WeedsSomeLow
	case Some:
		return WeedsSomeLow, WeedsManyLow
	case Many:
		return WeedsManyLow, WeedsManyHigh
	}
	return WeedsUnknownLow, WeedsUnknownHigh
}

// amountSeen returns the last amount that the grower saw after the last pass.
func (s *Season) amountSeen() (a Amount) {
	for _, seen := range s.freshSightings() {
		a = or(seen.Amount, a)
	}
	return a
}

// stand returns the weeds that emerged since the last pass and have the given number of leaves today. If the grower saw
// weeds, stand assumes the amount that the grower saw. If nobody looked, stand assumes no weeds until the day on which
// half of the weeds have emerged. From then on it assumes half of the range WeedsUnknownLow to WeedsUnknownHigh, rising
// to the full range when the weeds have two leaves.
func (s *Season) stand(today Day, seen Amount, leaves float64) (w stand) {
	w.low, w.high = weedsOf(seen)
	if seen != AmountUnknown {
		w.headStart = s.headStart(s.oldUp()) // the weeds that the grower saw may be old ones that a pass left
		return w
	}
	emerged := s.newUp()
	if today <= emerged {
		return stand{}
	}
	up := min(1, (1+leaves/WindowOpensLeaves)/2)
	w.low, w.high, w.headStart = up*w.low, up*w.high, s.headStart(emerged)
	return w
}

// leftStand returns the weeds that the last pass left in the rows; false if there are few or none.
func (s *Season) leftStand() (stand, bool) {
	last, passed := s.lastPass()
	if !passed || !leavesWeeds(last) {
		return stand{}, false
	}
	low, high := weedsOf(last.Left)
	return stand{WeedsLeftShare * low, WeedsLeftShare * high, s.headStart(s.oldUp())}, true
}

// leavesWeeds reports whether a pass left some or many weeds.
func leavesWeeds(p Pass) bool { return p.Left == Some || p.Left == Many }

// headStart returns the days from the emergence of the rice to that of the weeds; 0 if the weeds emerged first, for
// which the hyperbola is not valid.
func (s *Season) headStart(weedsUp Day) Day {
	riceUp := s.Plot.Planted + RiceUpDays
	if s.Plot.Method == Transplanted {
		riceUp -= Day(s.Plot.seedlingAge())
	}
	return max(0, weedsUp-riceUp)
}

// oldUp returns the day on which half of the oldest weeds had emerged: before the last pass, if that pass left weeds.
func (s *Season) oldUp() Day {
	last, passed := s.lastPass()
	if !passed || !leavesWeeds(last) {
		return s.newUp()
	}
	before := s.asOf(last.On)
	before.Passes = before.Passes[:len(before.Passes)-1]
	return min(before.oldUp(), last.On)
}

// newUp returns the day on which half of the weeds that grew since the last pass had emerged. The result is not later
// than the day on which the grower saw these weeds, and not before the pass: a pass that left few weeds left clean
// ground, even if a second flush had begun.
func (s *Season) newUp() Day {
	up := s.weeds().reached(0, 1.0/2)
	if last, passed := s.lastPass(); passed {
		up = max(up, last.On)
	}
	for _, seen := range s.freshSightings() {
		if seen.Amount != AmountUnknown || seen.Leaves != LeavesUnknown && seen.Leaves != NoneUp {
			return min(up, seen.On)
		}
	}
	return up
}
