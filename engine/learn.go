package engine

import "math"

// Observation is an interval for the weed rate of one plot after a puddling or a
// pass, from the leaf counts of its grower: from Slow to Fast times the table's rate.
// It has bounds and no value because a grower tells a class of stages.
type Observation struct {
	From Day     // last puddling or pass, where the weed clock starts
	On   Day     // day of the last leaf count used
	Slow float64 // 0 = no lower bound
	Fast float64 // +Inf = no upper bound
}

// stages returns the range of leaves that a told stage may stand for. Growers see the
// first weeds before half of them have emerged, so OneLeaf has no lower bound.
func (l Leaves) stages() (from, to float64) {
	switch l {
	case OneLeaf:
		return 0, OneLeafTo
	case TwoThree:
		return OneLeafTo, TwoThreeTo
	}
	return TwoThreeTo, math.Inf(1)
}

// Observe compares the leaf counts of a season with the weed clock at the table's rate, not at the rate that the
// place has learned, so that learning does not depend on its own results. A stage of L leaves needs
//
//	need(L) = HalfEmergence + FloodDelay + L WeedPhyllochron
//
// degree-days (FloodDelay if the weed clock includes it). With H degree-days on the day of the count the rate is
// need(L) / H, and the two ends of the told class are its bounds.
//
// All counts after one puddling or pass make one observation, the intersection of their intervals. A count that
// contradicts the earlier ones replaces them, as in a plan. Two kinds of counts are not used: those on the day of a
// pass, which may be from before or after it, and those after a pass that left many weeds, where the window is an
// interval of days.
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

// observe returns the observation of a single leaf count; false if it is not used.
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

// knownRates is the number of rates that a place can learn: MinWeedRate to MaxWeedRate in steps of 1/RateSteps.
const knownRates = (MaxWeedRate-MinWeedRate)*RateSteps + 1

// rateAt returns the rate with index i, 0 <= i < knownRates.
func rateAt(i int) float64 { return (MinWeedRate*RateSteps + float64(i)) / RateSteps }

// Tally holds what a place stores of its observations: their number, and the log likelihood of each rate. The zero
// value is empty. The order of observations does not matter.
type Tally struct {
	N   int                 `json:"n"`
	Fit [knownRates]float64 `json:"fit"`
}

// Add adds an observation. The logarithm of a plot's rate is normally distributed around that of its place with
// standard deviation ObservedSpread. With P the normal distribution function, the likelihood of the place's rate R is
//
//	(1 - e) [P(ln(Fast/R) / spread) - P(ln(Slow/R) / spread)] + e / 3
//
// where e, WrongAnswers, is the share of answers that are unrelated to the weeds and name any of the three stages. It
// limits the influence of each answer. Observations without an upper bound (weeds told too big) have the weight
// BigWeight, because growers also say so to get no more questions.
func (t *Tally) Add(o Observation) {
	if !(o.Slow >= 0 && o.Slow < o.Fast) {
		return // not a result of Observe
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

// Learned is the estimate of a place's weed rate, as a factor on the table's rate.
type Learned struct {
	Rate    float64 // for Local.WeedRate; 1 without observations
	N       int     // number of observations
	StdErr  float64 // posterior standard deviation around Rate
	Bounded bool    // the rate is at MinWeedRate or MaxWeedRate and would be beyond it
}

// Learned returns the rate with the highest posterior probability, with a prior that is normal in the logarithm, with
// mean 0 and standard deviation RateSpread. It is the R that maximizes
//
//	sum of log likelihoods - (ln R / RateSpread)^2 / 2
//
// so that it stays near 1 with few observations. The cause of another rate is not
// known: it may be another weed, another flood or warmer ground.
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

// LearnRate returns the estimate from a list of observations.
func LearnRate(obs []Observation) Learned {
	var t Tally
	for _, o := range obs {
		t.Add(o)
	}
	return t.Learned()
}
