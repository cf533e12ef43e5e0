package engine

import "math"

// Level is the risk of waiting with the weeding, in three steps.
type Level uint8

const (
	RiskLow Level = iota + 1
	RiskMiddle
	RiskHigh
)

func (l Level) String() string { return name(l, "", "low", "middle", "high") }

// Risk estimates what waiting with the weeding may cost. It is used to rank plots and
// to choose the words of a text, and is no prediction of yield: it is based on trials
// of one grass weed, and the number of weeds is assumed, not counted.
type Risk struct {
	Level    Level
	LowPct   float64 // lowest loss of yield in % if the present weeds are never removed
	HighPct  float64 // highest loss
	BoundPct float64 // HighPct if the weeds had emerged together with the rice
	Critical bool    // today is in the published critical period for the planting method

	WeedsPerM2Low  float64 // lowest number of weeds assumed, from what was seen or left
	WeedsPerM2High float64 // highest number assumed
	HeadStartDays  int     // days from the emergence of the rice to that of the weeds

	// Score ranks plots, the most urgent highest: the middle loss in % times leaves / WindowOpensLeaves. It rises
	// every day until the critical period is over, then it is 0.
	Score float64
}

// Risk returns the risk of waiting as known on day today.
//
// The loss is that of the hyperbola of barnyardgrass in irrigated sown rice (Richter et al. 2019), from the fewest
// weeds in a well-farmed field to the most weeds in a poorly farmed one. Transplanted rice emerged weeks before the
// weeds; this head start reduces the loss as in Cousens et al. 1987, by HeadStartDecay a day. The level depends on
// the middle loss times leaves / 2, with at most four leaves: once the loss when the window opens, twice when it
// closes. The level is low before and after the critical period, when waiting changes little. A plot that its grower
// closed has no risk.
func (s Season) Risk(today Day) Risk {
	return s.riskOf(Plan{On: today, WeedLeaves: s.WeedLeaves(today)})
}

// riskOf is Risk for the day and WeedLeaves of a plan made by Plan, not by Windows.
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
	weeds := s.stand(seen, leaves)
	loss := weeds.loss()
	if left, ok := s.leftStand(); ok && seen == AmountUnknown {
		old := left.loss()
		if old.highPct >= loss.highPct {
			weeds.headStart = left.headStart
		}
		weeds.low, weeds.high = max(weeds.low, left.low), max(weeds.high, left.high)
		loss = loss.worse(old)
	}
	r.LowPct, r.HighPct = loss.lowPct, loss.highPct
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

// levelOf returns the level of a loss in %.
func levelOf(lossPct float64) Level {
	switch {
	case lossPct >= RiskHighPct:
		return RiskHigh
	case lossPct >= RiskMiddlePct:
		return RiskMiddle
	}
	return RiskLow
}

// stand describes the weeds on a plot: a range of plants per m2, and the head start of the rice in days.
type stand struct {
	low, high float64
	headStart Day
}

// lossRange is a range of loss of yield in %.
type lossRange struct{ lowPct, middlePct, highPct float64 }

// worse returns the higher of each figure.
func (l lossRange) worse(m lossRange) lossRange {
	return lossRange{max(l.lowPct, m.lowPct), max(l.middlePct, m.middlePct), max(l.highPct, m.highPct)}
}

// loss returns the loss if the weeds are never removed: for the fewest in a well-farmed field, for the most in a
// poorly farmed field, and for their geometric mean in a medium field.
func (w stand) loss() lossRange {
	late := HeadStartDecay * float64(w.headStart)
	return lossRange{
		lowPct:    Barnyardgrass(TechnologyHigh).LateLossPct(w.low, late),
		middlePct: Barnyardgrass(TechnologyMedium).LateLossPct(math.Sqrt(w.low*w.high), late),
		highPct:   Barnyardgrass(TechnologyLow).LateLossPct(w.high, late),
	}
}

// weedsOf returns the range of plants per m2 assumed for what a grower told.
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

// stand returns the weeds since the last pass, which have the given number of leaves: as many as the grower saw. If
// nobody looked, there are none until half of them have emerged; then half of WeedsUnknownLow to WeedsUnknownHigh,
// rising to all at two leaves.
func (s *Season) stand(seen Amount, leaves float64) (w stand) {
	if seen == AmountUnknown && leaves <= 0 {
		return w
	}
	w.low, w.high = weedsOf(seen)
	if seen != AmountUnknown {
		w.headStart = s.headStart(s.oldUp()) // the grower may have seen weeds that a pass left
		return w
	}
	up := min(1, (1+leaves/WindowOpensLeaves)/2)
	w.low, w.high, w.headStart = up*w.low, up*w.high, s.headStart(s.newUp())
	return w
}

// leftStand returns the weeds that the last pass left in the rows; false if it left few or none.
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

// headStart returns the days from the emergence of the rice to a day on which weeds emerged. It is not negative,
// because the hyperbola was fitted to weeds that emerge with the crop.
func (s *Season) headStart(weedsUp Day) Day {
	riceUp := s.Plot.Planted + RiceUpDays
	if s.Plot.Method == Transplanted {
		riceUp -= Day(s.Plot.seedlingAge())
	}
	return max(0, weedsUp-riceUp)
}

// oldUp returns the day on which half of the oldest weeds that may stand now had
// emerged: those since the last pass or, if it left some, those before it.
func (s *Season) oldUp() Day {
	last, passed := s.lastPass()
	if !passed || !leavesWeeds(last) {
		return s.newUp()
	}
	before := s.asOf(last.On)
	before.Passes = before.Passes[:len(before.Passes)-1]
	return min(before.oldUp(), last.On)
}

// newUp returns the day on which half of the weeds since the last pass had emerged,
// by the weed clock or the grower's leaf count, but no later than they were seen.
func (s *Season) newUp() Day {
	c, since := s.weedClock(), s.Plot.puddled()
	if last, passed := s.lastPass(); passed {
		since = last.On
	}
	var seenUp Day
	for _, seen := range s.freshSightings() {
		if seen.ofWeeds() && seenUp == 0 {
			seenUp = seen.On
		}
		if seen.Leaves != LeavesUnknown {
			c = s.seenClock(seen)
		}
	}
	up := c.halfUp(&s.Weather, since)
	if seenUp != 0 {
		up = min(up, seenUp)
	}
	return up
}

// halfUp returns the first day on which half of the weeds have emerged by the clock. If that is before the clock's
// day, it goes back, but not before day clean, the last puddling or pass.
func (c weedClock) halfUp(w *Weather, clean Day) Day {
	d, heat := c.from, c.heat
	for ; heat < 0 && d < c.from+horizon; d++ {
		heat += c.rate * w.weedHeat(d+1)
	}
	if d > c.from {
		return d
	}
	for ; d > clean; d-- {
		if heat -= c.rate * w.weedHeat(d); heat < 0 {
			break
		}
	}
	return d
}
