package engine

import (
	"math"
	"slices"
)

// A place learns from all leaf counts of its growers which of the published clocks its weeds follow, and how fast they
// grow by this clock. It also counts growers who were asked and gave no leaf count: where only growers with big weeds
// answer, the silence of the others says that their weeds were smaller.

// event is one occasion on which a grower gave a leaf count, or was asked and did not give one.
type event struct {
	on    Day
	found Leaves // LeavesUnknown: the grower did not answer
	// big says that the question was whether the plot was weeded. Who is asked this tells of weeds that are too big,
	// and does not count the leaves of smaller ones.
	big bool
}

// Observation holds what was told and asked about the weeds of one plot that grew since one puddling or pass.
type Observation struct {
	From   Day // day of the last puddling or pass, on which the weed clock starts
	season *Season
	heat   *heatSums
	left   bool // weeds that the pass left have emerged already
	events []event
}

// Counted reports whether the grower gave a leaf count. If not, the grower was only asked for one.
func (o Observation) Counted() bool {
	return slices.ContainsFunc(o.events, func(e event) bool { return e.found != LeavesUnknown })
}

// Observe returns what is known about the weeds of a season: one observation for each puddling or pass after which the
// grower was asked or looked. told are the texts that the grower got. Counts on the day of a pass are not used, because
// the grower may have counted before or after the pass. Weeds that grow after a pass that left many weeds are not used
// either, because these weeds have no common start.
func Observe(s Season, told []Told) []Observation {
	s = s.asOf(s.Plot.Planted + horizon)
	heat := s.heatSums()
	var out []Observation
	from, left, many := s.Plot.puddled(), false, false
	for i := 0; i <= len(s.Passes); i++ {
		until := s.Plot.Planted + horizon
		if i < len(s.Passes) {
			until = s.Passes[i].On
		}
		if o := (Observation{From: from, season: &s, heat: heat, left: left,
			events: s.events(told, from, until)}); len(o.events) > 0 && !many {
			out = append(out, o)
		}
		if i < len(s.Passes) {
			from, left = regrowth(s.Passes[i])
			many = s.Passes[i].Left == Many
		}
	}
	return out
}

// events returns the leaf counts between two days, and the days of the questions to which no count was the answer. A
// leaf count answers the questions of the AnswerDays days before it.
func (s *Season) events(told []Told, from, until Day) []event {
	var out []event
	for x := range lastOfDay(s.Sightings, Sighting.ofLeaves) {
		if from < x.On && x.On < until {
			out = append(out, event{on: x.On, found: x.Leaves})
		}
	}
	for _, t := range told {
		answered := slices.ContainsFunc(s.Sightings, func(x Sighting) bool {
			return x.Leaves != LeavesUnknown && t.On <= x.On && x.On <= t.On+AnswerDays
		})
		if t.Kind.AsksOfWeeds() && from < t.On && t.On < until && !answered {
			out = append(out, event{on: t.On, big: t.Kind.row().question != AskLook})
		}
	}
	return out
}

// The grids of learning: the rates that a place can have, the speeds that a plot can have, and the chances that growers
// answer.
const (
	knownRates  = int((MaxWeedRate-MinWeedRate)*RateSteps + 1)
	fieldSpeeds = 23
	fieldStep   = 0.06
)

// answerChances are the chances that a grower who is asked tells of weeds with fewer than four leaves (small), and of
// weeds with four leaves or more (big). The first of them are growers who tell only of big weeds.
var answerChances = [...]struct{ small, big float64 }{
	{0.01, 0.2}, {0.01, 0.5}, {0.01, 0.9}, {0.2, 0.2}, {0.2, 0.6}, {0.5, 0.2}, {0.5, 0.5}, {0.5, 0.9}, {0.9, 0.5},
	{0.9, 0.9},
}

// rateAt returns the rate with index i, 0 <= i < knownRates.
func rateAt(i int) float64 { return (MinWeedRate*RateSteps + float64(i)) / RateSteps }

// fieldLog returns the logarithm of the heat factor with index i on the grid of fields.
func fieldLog(i int) float64 { return fieldStep * float64(i-fieldSpeeds/2) }

// spreadOf[r][i] is the weight of heat factor i for a plot at a place with rate r.
var spreadOf = func() (t [knownRates][fieldSpeeds]float64) {
	for r := range t {
		sum := 0.0
		for i := range t[r] {
			z := (fieldLog(i) + math.Log(rateAt(r))) / ObservedSpread
			t[r][i] = math.Exp(-z * z / 2)
			sum += t[r][i]
		}
		for i := range t[r] {
			t[r][i] /= sum
		}
	}
	return t
}()

// Tally is the sum of observations: for each way of answering, clock and rate, the logarithm of the likelihood. The
// zero value holds no observations. The order in which observations are added does not matter.
type Tally struct {
	N   int
	fit [len(answerChances)][len(clocks)][knownRates]float64
}

// Add adds an observation. For each clock the likelihood of a rate is the sum over the heat factors and starts of the
// plot, of
//
//	weight of the factor at this rate x weight of the start x product over the events of the chance of the event
//
// The chance that a grower tells of l leaves is the chance of reading l (look.go) times the chance of answering; the
// chance of no answer is 1 minus the sum of these. Where the question was whether the plot was weeded, only weeds with
// four leaves or more are told of.
func (t *Tally) Add(o Observation) {
	if len(o.events) == 0 {
		return
	}
	if o.Counted() {
		t.N++
	}
	kept := o.season.keptChance()
	began := float64(o.From - o.heat.from)
	var like [len(answerChances)][len(clocks)][fieldSpeeds]float64
	for b := range bookTable {
		share := 1.0
		switch bookTable[b].water {
		case bookKept:
			share = kept
		case bookWet:
			share = 1 - kept
		}
		clock := bookTable[b].clock
		up, opens, closes := began, began, began
		for i := range fieldSpeeds {
			up, opens, closes = bookTable[b].stages(o.heat, math.Exp(fieldLog(i)), began, o.left, up, opens, closes)
			p := stages{up - began, opens - began, closes - began}
			for j, start := range startWeights {
				var ways [len(answerChances)]float64
				for a := range ways {
					ways[a] = share * start
				}
				for _, e := range o.events {
					e.weigh(&ways, p.leaves(float64(e.on-o.From)-startDays[j]))
				}
				for a, w := range ways {
					like[a][clock][i] += w
				}
			}
		}
	}
	for a := range like {
		for c := range like[a] {
			for r := range knownRates {
				sum := 0.0
				for i, w := range spreadOf[r] {
					sum += w * like[a][c][i]
				}
				t.fit[a][c][r] += math.Log(sum + math.SmallestNonzeroFloat64)
			}
		}
	}
}

// weigh multiplies the weight of each way of answering by its chance of this event, if the weeds have so many leaves.
func (e event) weigh(ways *[len(answerChances)]float64, leaves float64) {
	if e.found == LeavesUnknown {
		big := lookChances[FourPlus].at(leaves) / (1 + leafAnswers*MisreadShare)
		for a, answers := range answerChances {
			silent := 1 - answers.big*big
			if !e.big {
				silent -= answers.small * (1 - big)
			}
			ways[a] *= silent
		}
		return
	}
	read := lookChances[e.found].at(leaves)
	for a, answers := range answerChances {
		if e.found == FourPlus {
			ways[a] *= answers.big * read
		} else {
			ways[a] *= answers.small * read
		}
	}
}

// normal is the distribution function of the standard normal distribution.
func normal(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// Learned is what a place has learned.
type Learned struct {
	Rate   float64 // mean rate over all clocks; 1 if there are no observations
	StdErr float64 // standard deviation around Rate
	N      int     // number of observations
	Clocks ClockWeights
}

// Learned returns the posterior of clocks and rates. Before anything is observed, each clock has its share, and the
// logarithm of the rate is normally distributed with mean 0 and standard deviation RateSpread. With few observations
// the rates therefore stay near 1.
func (t *Tally) Learned() Learned {
	l := Learned{Rate: 1, N: t.N}
	if t.N == 0 {
		return l
	}
	best := math.Inf(-1)
	var log [len(answerChances)][len(clocks)][knownRates]float64
	for a := range log {
		for c := range log[a] {
			for r := range log[a][c] {
				z := math.Log(rateAt(r)) / RateSpread
				log[a][c][r] = t.fit[a][c][r] + math.Log(clocks[c].share) - z*z/2
				best = max(best, log[a][c][r])
			}
		}
	}
	var share, rate [len(clocks)]float64
	sum, mean, square := 0.0, 0.0, 0.0
	for a := range log {
		for c := range log[a] {
			for r := range log[a][c] {
				w, x := math.Exp(log[a][c][r]-best), rateAt(r)
				share[c] += w
				rate[c] += w * x
				sum += w
				mean += w * x
				square += w * x * x
			}
		}
	}
	l.StdErr = math.Sqrt(max(0, square/sum-mean/sum*mean/sum))
	// Rounding can put a mean of rates beyond the limits of the rates.
	l.Rate = min(max(MinWeedRate, mean/sum), MaxWeedRate)
	for c := range share {
		l.Clocks[c] = ClockWeight{Share: share[c] / sum, Rate: 1}
		if share[c] > 0 {
			l.Clocks[c].Rate = min(max(MinWeedRate, rate[c]/share[c]), MaxWeedRate)
		}
	}
	return l
}
