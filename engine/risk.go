package engine

import "math"

// Level is how much there is to lose by waiting.
type Level uint8

const (
	RiskLow Level = iota + 1
	RiskMiddle
	RiskHigh
)

func (l Level) String() string { return name(l, "", "low", "middle", "high") }

// Risk is what waiting with the weeding may cost, to rank plots and to choose
// words. It rests on trials of one grass weed and on counts that nobody made:
// a range, and never a promise.
type Risk struct {
	Level    Level
	LowPct   float64 // loss of harvest, %, if the weeds that stand now were left for good: from
	HighPct  float64 // to
	BoundPct float64 // HighPct without the rice's head start: as if the weeds had come up with it
	Critical bool    // today is in the published critical period for rice planted so

	WeedsPerM2Low  float64 // weeds taken to stand now, by what was seen or left
	WeedsPerM2High float64
	HeadStartDays  int // days that the rice is taken to have been up before them

	// Score ranks plots, the most urgent highest: the middle loss in %, times
	// the weeds' leaves for each leaf that opens a window. It rises with every
	// day waited, and is 0 once the critical period is over.
	Score float64
}

// Risk works out what waiting may cost on a day, by what was known by then.
//
// The loss is the hyperbola of barnyardgrass in irrigated sown rice (Richter
// et al. 2019): from the fewest weeds in a well-farmed field to the most in a
// poorly farmed one. Transplanted rice was up weeks before the weeds; its head
// start damps the loss as in Cousens et al. 1987, with HeadStartDecay a day.
// The level is the middle loss, which counts once at two leaves, when the
// window opens, and twice from four on, when the tool is past. It is low
// before the critical period, and after it, when waiting adds little to what
// is lost already. A plot that its grower closed has no risk.
func (s Season) Risk(today Day) Risk {
	return s.riskOf(Plan{On: today, WeedLeaves: s.WeedLeaves(today)})
}

// riskOf is Risk with a plan of the season in hand, of which it takes the day
// and the weeds' leaves (one of Plan: Windows leaves them out).
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
		leaves = max(leaves, 1) // what was seen has a leaf at least
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

func levelOf(lossPct float64) Level {
	switch {
	case lossPct >= RiskHighPct:
		return RiskHigh
	case lossPct >= RiskMiddlePct:
		return RiskMiddle
	}
	return RiskLow
}

// stand is weeds on a plot, about so many plants a square metre from low to
// high, and the days that the rice was up before them.
type stand struct {
	low, high float64
	headStart Day
}

// lossRange is a loss of harvest in %.
type lossRange struct{ lowPct, middlePct, highPct float64 }

func (l lossRange) worse(m lossRange) lossRange {
	return lossRange{max(l.lowPct, m.lowPct), max(l.middlePct, m.middlePct), max(l.highPct, m.highPct)}
}

// loss is what the weeds cost if they are left: the fewest in a well-farmed
// field, the most in a poorly farmed one, and between the two the geometric
// mean of their numbers in a middling field.
func (w stand) loss() lossRange {
	late := HeadStartDecay * float64(w.headStart)
	return lossRange{
		lowPct:    Barnyardgrass(TechnologyHigh).LateLossPct(w.low, late),
		middlePct: Barnyardgrass(TechnologyMedium).LateLossPct(math.Sqrt(w.low*w.high), late),
		highPct:   Barnyardgrass(TechnologyLow).LateLossPct(w.high, late),
	}
}

// weedsOf is how many plants a square metre a grower's word is taken for.
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

// amountSeen is how much weed the grower last saw since the last pass.
func (s *Season) amountSeen() (a Amount) {
	for _, seen := range s.freshSightings() {
		a = or(seen.Amount, a)
	}
	return a
}

// stand is the weeds of the weed clock that now have so many leaves: as many
// as the grower saw or, where nobody looked, none until half of them are up,
// half of them then and all at two leaves, when a window opens.
func (s *Season) stand(seen Amount, leaves float64) (w stand) {
	if seen == AmountUnknown && leaves <= 0 {
		return w
	}
	w.low, w.high = weedsOf(seen)
	if seen == AmountUnknown {
		up := min(1, (1+leaves/WindowOpensLeaves)/2)
		w.low, w.high = up*w.low, up*w.high
	}
	if seen == AmountUnknown {
		w.headStart = s.headStart(s.newUp())
	} else {
		w.headStart = s.headStart(s.oldUp()) // what was seen may be what was left
	}
	return w
}

// leftStand is the weeds that the last pass left in the rows.
func (s *Season) leftStand() (stand, bool) {
	last, passed := s.lastPass()
	if !passed || !leavesWeeds(last) {
		return stand{}, false
	}
	low, high := weedsOf(last.Left)
	return stand{WeedsLeftShare * low, WeedsLeftShare * high, s.headStart(s.oldUp())}, true
}

// leavesWeeds reports that the ground was not clean after a pass.
func leavesWeeds(p Pass) bool { return p.Left == Some || p.Left == Many }

// headStart is how many days the rice was up before weeds of a day: not below
// none, which is what the hyperbola was fitted to.
func (s *Season) headStart(weedsUp Day) Day {
	riceUp := s.Plot.Planted + RiceUpDays
	if s.Plot.Method == Transplanted {
		riceUp -= Day(s.Plot.seedlingAge())
	}
	return max(0, weedsUp-riceUp)
}

// oldUp is the day on which half of the oldest weeds that may stand were up:
// of those since the last pass or, where it left some, of those before it.
func (s *Season) oldUp() Day {
	last, passed := s.lastPass()
	if !passed || !leavesWeeds(last) {
		return s.newUp()
	}
	before := s.asOf(last.On)
	before.Passes = before.Passes[:len(before.Passes)-1]
	return min(before.oldUp(), last.On)
}

// newUp is the day on which half of the weeds since the last pass were up, by
// the weed clock or the grower's leaf count, and not after they were seen.
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

// halfUp is the first day on which half of the weeds are up by the clock:
// forward from its day, or back from it if they were up by then, though not
// before the ground was clean.
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
