package engine

import "math"

// Observation is what growers' leaf counts tell of how fast the weeds of one
// plot went from a puddling or a pass on: between Slow and Fast times as fast
// as the table's clock. A count says a class of stages, never a number, so it
// gives bounds and no value.
type Observation struct {
	From Day     // last puddling or pass: where the clock started
	On   Day     // the last leaf count that it rests on
	Slow float64 // 0: no lower bound
	Fast float64 // +Inf: no upper bound
}

// stages are the leaves that a told stage may stand for, from and to. The
// first weeds are seen before half of them are up, so that one leaf bounds
// from above only.
func (l Leaves) stages() (from, to float64) {
	switch l {
	case OneLeaf:
		return 0, OneLeafTo
	case TwoThree:
		return OneLeafTo, TwoThreeTo
	}
	return TwoThreeTo, math.Inf(1)
}

// Observe compares the leaf counts of a season with the table's weed clock,
// whatever rate the place has by now, so that learning never feeds on itself.
// A stage of L leaves needs
//
//	need(L) = HalfEmergence + FloodDelay + L WeedPhyllochron
//
// degree-days (FloodDelay where the clock has it); if H had gathered by then,
// the weeds went need(L) / H times as fast as the table says, and the two ends
// of the told class bound that.
//
// All counts since one puddling or pass are one observation, the narrower for
// each of them; one that contradicts those before it replaces them, as in a
// plan. A count on the day of a pass may be from before it or after it, and
// after a pass that left many weeds the window is an interval of days and not
// the clock's: neither tells anything.
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

// observe is one leaf count against the table's clock.
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

// meet is what both observations of one clock allow.
func (o Observation) meet(later Observation) Observation {
	return Observation{From: o.From, On: later.On, Slow: max(o.Slow, later.Slow), Fast: min(o.Fast, later.Fast)}
}

// knownRates is how many rates a place may learn: MinWeedRate to MaxWeedRate
// in RateSteps to the whole.
const knownRates = (MaxWeedRate-MinWeedRate)*RateSteps + 1

// rateAt is the i-th of them.
func rateAt(i int) float64 { return (MinWeedRate*RateSteps + float64(i)) / RateSteps }

// Tally is all that a place needs to keep of its observations: how many they
// are, and for each rate that it may learn, the sum of how well they agree
// with it (log likelihoods, never above 0). Its zero value is empty. The order
// of adding plays no part.
type Tally struct {
	N   int                 `json:"n"`
	Fit [knownRates]float64 `json:"fit"`
}

// Add counts one more observation. The logarithm of a plot's rate scatters
// around the place's with the standard deviation ObservedSpread, so with
// P the normal distribution the place's rate R fits an observation by
//
//	(1 - e) [P(ln(Fast/R) / spread) - P(ln(Slow/R) / spread)] + e / 3
//
// where e, WrongAnswers, is the share of answers that have nothing to do with
// the weeds and name any of the three stages. This bounds what any one answer
// can do: a lie counts, but no more than a little. Observations with no upper
// bound, weeds told too big, weigh BigWeight: it is also what one says to be
// left in peace, and where it is true, the next seasons' windows come sooner
// and counts of both bounds follow.
func (t *Tally) Add(o Observation) {
	if !(o.Slow >= 0 && o.Slow < o.Fast) {
		return // nothing that Observe gives
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

// normal is the distribution function of the normal distribution.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// Learned is how fast weeds go at a place, to the table's clock.
type Learned struct {
	Rate    float64 // 1 where nothing was observed; for Local.WeedRate
	N       int     // observations
	StdErr  float64 // standard deviation of what the rate may be, around Rate
	Bounded bool    // the rate stands at MinWeedRate or MaxWeedRate and would go on
}

// Learned is the rate that agrees best with the observations and with what is
// known before any: that places scatter around the table with the standard
// deviation RateSpread in the logarithm. It is the R for which
//
//	sum of log fits - (ln R / RateSpread)^2 / 2
//
// is largest: few observations leave it near 1, many move it, and it never
// leaves MinWeedRate to MaxWeedRate. It says nothing of the cause: another
// weed, another flood or a warmer valley floor look the same.
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

// LearnRate is what the observations teach, all at once.
func LearnRate(obs []Observation) Learned {
	var t Tally
	for _, o := range obs {
		t.Add(o)
	}
	return t.Learned()
}
