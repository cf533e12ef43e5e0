package engine

import "math"

// Observation says how fast the weeds of one plot grew after a puddling or a pass, by the leaf counts of the grower:
// between Slow and Fast times as fast as published. It is an interval because a grower gives a range of leaves.
type Observation struct {
	From Day     // day of the last puddling or pass, on which the weed clock starts
	On   Day     // day of the last leaf count used
	Slow float64 // 0 = no lower bound
	Fast float64 // +Inf = no upper bound
}

// stages returns the leaf counts that an answer may mean. Growers see the first weeds before half of them have emerged,
// so OneLeaf has no lower bound.
func (l Leaves) stages() (from, to float64) {
	switch l {
	case OneLeaf:
		return 0, OneLeafTo
	case TwoThree:
		return OneLeafTo, TwoThreeTo
	}
	return TwoThreeTo, math.Inf(1)
}

// Observe compares the leaf counts of a season with the weed clock at the published rate, not at the learned rate, so
// that learning does not depend on its own results. Weeds with L leaves need
//
//	need(L) = HalfEmergence + FloodDelay + L WeedPhyllochron
//
// degree-days, with FloodDelay only if the weed clock of the plot has it. If H degree-days have passed on the day of
// the count, the rate is need(L) / H. The two ends of the range of leaves give the two bounds.
//
// All counts after the same puddling or pass make one observation, the intersection of their intervals. A count that
// contradicts the earlier ones replaces them. Not used are a count on the day of a pass, which may be from before or
// after the pass, and a count after a pass that left many weeds, because the window then does not depend on the weed
// clock.
func Observe(s Season) []Observation {
	s = s.asOf(s.Plot.Planted + horizon)
	var out []Observation
	for _, seen := range s.Sightings {
		if seen.Leaves == LeavesUnknown {
			continue
		}
		o, ok := s.asOf(seen.On).observe(seen)
		if !ok {
			continue
		}
		last := len(out) - 1
		if last < 0 || out[last].From != o.From {
			out = append(out, o)
			continue
		}
		if both := out[last].meet(o); both.Slow < both.Fast {
			o = both
		}
		out[last] = o
	}
	return out
}

// observe returns the observation from one leaf count; false if the count is not used.
func (s Season) observe(seen Sighting) (Observation, bool) {
	if last, passed := s.lastPass(); passed && (last.Left == Many || last.On == seen.On) {
		return Observation{}, false
	}
	c := s.weedClock()
	heat := 0.0
	for d := c.from + 1; d <= seen.On; d++ {
		heat += s.Weather.weedHeat(d)
	}
	if heat <= 0 {
		return Observation{}, false
	}
	from, to := seen.Leaves.stages()
	o := Observation{From: c.from, On: seen.On, Fast: (to*WeedPhyllochron - c.heat) / heat}
	if from > 0 {
		o.Slow = (from*WeedPhyllochron - c.heat) / heat
	}
	return o, true
}

// meet returns the intersection of two observations after the same puddling or pass.
func (o Observation) meet(later Observation) Observation {
	return Observation{From: o.From, On: later.On, Slow: max(o.Slow, later.Slow), Fast: min(o.Fast, later.Fast)}
}

// knownRates is how many rates a place can learn: MinWeedRate to MaxWeedRate in steps of 1/RateSteps.
const knownRates = (MaxWeedRate-MinWeedRate)*RateSteps + 1

// rateAt returns the rate with index i, 0 <= i < knownRates.
func rateAt(i int) float64 { return (MinWeedRate*RateSteps + float64(i)) / RateSteps }

// Tally is what a place stores of its observations: their number, and the log likelihood of each rate. Their order does
// not matter.
type Tally struct {
	N   int                 `json:"n"`
	Fit [knownRates]float64 `json:"fit"`
}

// Add adds an observation. The model assumes that the logarithm of a plot's rate is normally distributed around the
// logarithm of the place's rate, with standard deviation ObservedSpread. If P is the normal distribution function, the
// likelihood of the place's rate R is
//
//	(1 - e) [P(ln(Fast/R) / spread) - P(ln(Slow/R) / spread)] + e / 3
//
// where e is WrongAnswers, the share of answers that have nothing to do with the weeds and name any of three leaf
// stages; this limits the influence of each answer. An observation without an upper bound is the answer that weeds are
// too big. Its weight is BigWeight, because some growers give this answer to get no more questions.
func (t *Tally) Add(o Observation) {
	if !(o.Slow >= 0 && o.Slow < o.Fast) {
		return // not a valid interval; Observe never returns such an observation
	}
	t.N++
	weight := 1.0
	if math.IsInf(o.Fast, 1) {
		weight = BigWeight
	}
	for i := range t.Fit {
		rate := rateAt(i)
		inside := normal(math.Log(o.Fast/rate)/ObservedSpread) - normal(math.Log(o.Slow/rate)/ObservedSpread)
		t.Fit[i] += weight * math.Log((1-WrongAnswers)*inside+WrongAnswers/float64(FourPlus))
	}
}

// normal is the distribution function of the standard normal distribution.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// Learned is the estimate of the weed rate of a place, as a factor on the published rate.
type Learned struct {
	Rate    float64 // the estimate, for use as Local.WeedRate; 1 if there are no observations
	N       int     // number of observations
	StdErr  float64 // posterior standard deviation around Rate
	Bounded bool    // the estimate without the limits would be outside MinWeedRate to MaxWeedRate
}

// Learned returns the rate with the highest posterior probability. The prior assumes that the logarithm of the rate is
// normally distributed with mean 0 and standard deviation RateSpread. The learned rate is the R that maximizes
//
//	sum of log likelihoods - (ln R / RateSpread)^2 / 2
//
// With few observations the learned rate stays near 1. The reason for another rate is unknown: other weeds, another
// depth of flood or warmer ground.
func (t Tally) Learned() Learned {
	best, agree := 0, [knownRates]float64{}
	for i := range agree {
		from := math.Log(rateAt(i)) / RateSpread
		agree[i] = t.Fit[i] - from*from/2
		if agree[i] > agree[best] {
			best = i
		}
	}
	l := Learned{Rate: rateAt(best), N: t.N, Bounded: best == 0 || best == knownRates-1}
	weights, squares := 0.0, 0.0
	for i, a := range agree {
		w, off := math.Exp(a-agree[best]), rateAt(i)-l.Rate
		weights += w
		squares += w * off * off
	}
	l.StdErr = math.Sqrt(squares / weights)
	return l
}
