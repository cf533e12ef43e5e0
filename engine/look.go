package engine

import (
	"iter"
	"math"
	"slices"
)

// leafChance is the chance of an answer about the weeds for each number of leaves they may have, in steps of
// 1/leafSteps of a leaf.
type leafChance [leafMost*leafSteps + 1]float64

const (
	leafMost    = 8 // weeds with more leaves count as weeds with this many
	leafSteps   = 32
	leafAnswers = 4 // answers other than LeavesUnknown
)

func (t *leafChance) at(leaves float64) float64 {
	return t[int(min(leaves, leafMost)*leafSteps+1.0/2)]
}

// stages returns the range of leaf counts that the grower's answer stands for.
func (l Leaves) stages() (from, to float64) {
	switch l {
	case NoneUp:
		return math.Inf(-1), NoneUpTo
	case OneLeaf:
		return NoneUpTo, OneLeafTo
	case TwoThree:
		return OneLeafTo, TwoThreeTo
	}
	return TwoThreeTo, math.Inf(1)
}

// usual returns the number of leaves for which the answer stands if nothing else is known. For weeds that are too big,
// with 3.5 leaves or more, it is one leaf more than the tool can weed.
func (l Leaves) usual() float64 {
	switch l {
	case NoneUp:
		return 0
	case OneLeaf:
		return 1
	case TwoThree:
		return (OneLeafTo + TwoThreeTo) / 2
	}
	return WindowClosesLeaves + 1
}

// ofPace reports whether a sighting says how fast the weeds grow. That none are up says only when they come up.
func (x Sighting) ofPace() bool { return x.ofLeaves() && x.Leaves != NoneUp }

// lookChances[l] is the chance that a grower who looks at weeds with L leaves answers l:
//
//	MisreadShare + normal((to - L) / ReadingError) - normal((from - L) / ReadingError)
//
// where from and to are the range of the answer. MisreadShare keeps one wrong answer from excluding the truth.
var lookChances = func() (t [NoneUp + 1]leafChance) {
	for l := OneLeaf; l <= NoneUp; l++ {
		from, to := l.stages()
		for i := range t[l] {
			leaves := float64(i) / leafSteps
			t[l][i] = MisreadShare + normal((to-leaves)/ReadingError) - normal((from-leaves)/ReadingError)
		}
	}
	return t
}()

// waterChance is the chance of each answer about the water on ground that is kept under water, and on ground that is
// only wet.
var waterChance = [...]struct{ kept, wet float64 }{
	StandsDry:     {DryIfKept, DryIfWet},
	StandsMud:     {MudIfKept, MudIfWet},
	StandsFingers: {FingersIfKept, FingersIfWet},
	StandsHand:    {HandIfKept, HandIfWet},
}

// keptChance returns the chance that the ground is kept under water. It starts from what the grower told about the plot
// and follows each later answer about the water.
func (s *Season) keptChance() float64 {
	kept := s.Plot.Flood.kept()
	wet := 1 - kept
	for seen := range lastOfDay(s.Sightings, Sighting.ofWater) {
		c := waterChance[min(seen.Water, StandsHand)]
		kept, wet = kept*c.kept, wet*c.wet
	}
	return kept / (kept + wet)
}

// KeptChance returns the chance, as known on day today, that the ground of the plot is kept under water.
func (s Season) KeptChance(today Day) float64 {
	s = s.asOf(today)
	return s.keptChance()
}

// lastOfDay yields the sightings that are of a kind. Of several on one day it yields the last one: the grower corrected
// the others.
func lastOfDay(seen []Sighting, of func(Sighting) bool) iter.Seq[Sighting] {
	return func(yield func(Sighting) bool) {
		for i, x := range seen {
			again := slices.ContainsFunc(seen[i+1:], func(y Sighting) bool { return y.On == x.On && of(y) })
			if of(x) && !again && !yield(x) {
				return
			}
		}
	}
}

func (x Sighting) ofWater() bool { return x.Water != StandsUnknown }

func (x Sighting) ofLeaves() bool { return x.Leaves != LeavesUnknown }

func (f Flood) kept() float64 {
	switch f {
	case FloodKept:
		return KeptIfAlways
	case FloodOnOff:
		return KeptIfOnOff
	case FloodMoist:
		return KeptIfWet
	}
	return KeptIfUnknown
}

// weeds returns what is known about the weeds that grow since the last puddling or pass. It goes through the passes in
// order. What the grower saw before a pass says how fast the weeds of this plot grow and counts on after the pass.
func (s *Season) weeds() *belief {
	field, at, heat := s.prior(), s.local(), s.heatSums()
	from, emerged, seen := s.Plot.puddled(), false, s.Sightings
	for _, p := range s.Passes {
		n := 0
		for n < len(seen) && seen[n].On <= p.On {
			n++
		}
		before := seen[:n]
		seen = seen[n:]
		if slices.ContainsFunc(before, Sighting.ofLeaves) {
			c := newBelief(&field, at, heat, from, emerged)
			c.look(before, Sighting.ofPace)
			field = c.field()
		}
		from, emerged = regrowth(p)
		if wet := s.rewetted(p.On); wet != 0 && !emerged && newBelief(field.onWet(), at, heat, wet,
			false).reached(WindowOpensLeaves, 1.0/2) > p.On {
			from, seen = wet, slices.Concat(noneUpSince(wet, before), seen)
		}
	}
	c := newBelief(&field, at, heat, from, emerged)
	c.look(seen, Sighting.ofLeaves)
	return c
}

// noneUpSince returns the sightings from day d on in which no weeds were up. Then none of the second flush were up
// either. If weeds were seen, they may be older ones.
func noneUpSince(d Day, seen []Sighting) (none []Sighting) {
	for x := range lastOfDay(seen, Sighting.ofLeaves) {
		if x.On >= d && x.Leaves == NoneUp {
			none = append(none, x)
		}
	}
	return none
}

// rewetted returns the last day before a pass on which water came back after the ground had lost it, up to
// SecondFlushTo days after planting; 0 = there was none. Ground has lost its water if the grower saw it dry, or saw mud
// twice, LostDays or more apart. Weeds that emerge from that day on are a second flush. If the pass came before they
// had two leaves, it left them, and the next window counts from the day on which the water came back.
func (s *Season) rewetted(pass Day) (wet Day) {
	var mud Day
	lost := false
	for seen := range lastOfDay(s.Sightings, Sighting.ofWater) {
		if seen.On >= pass || seen.On > s.Plot.Planted+SecondFlushTo {
			break
		}
		switch seen.Water {
		case StandsDry:
			lost = true
		case StandsMud:
			mud = or(mud, seen.On)
			lost = lost || seen.On-mud >= LostDays
		case StandsFingers, StandsHand:
			if lost {
				wet = seen.On
			}
			lost, mud = false, 0
		}
	}
	return wet
}

// onWet returns the weights for ground that is only wet.
func (f fieldWeights) onWet() *fieldWeights {
	for b := range f {
		if bookTable[b].water == bookKept { // the next book is the same clock on wet ground
			for i := range f[b] {
				f[b+1][i] += f[b][i]
				f[b][i] = 0
			}
		}
	}
	return &f
}

// look updates the belief by all leaf counts among the sightings.
// look updates the belief by the sightings that count; of two leaf counts on a day the later one.
func (c *belief) look(seen []Sighting, counts func(Sighting) bool) {
	for x := range lastOfDay(seen, Sighting.ofLeaves) {
		if counts(x) {
			c.see(x.On, &lookChances[x.Leaves], x.Leaves.usual())
		}
	}
}

// regrowth returns the day from which weeds grow after a pass, and whether they have emerged already. Weeds that a pass
// left have emerged. A pass that left few weeds starts the clock again.
func regrowth(p Pass) (from Day, emerged bool) {
	return p.On, p.Left == Some || p.Left == Many
}

// askOn returns the day on which to ask the grower to look at the weeds before window w, given the last
// look since the last pass; 0 = no look is needed. The
// first look is on the first day on which the weeds have AskLeaves leaves with the chance AskShare, so that weeds that
// grow fast are found in time. After a look that found fewer than two leaves, and as long as the best day is not sure,
// the grower looks again AskBeforeBest days before the best day.
func (s *Season) askOn(weeds *belief, w Window, last Sighting) Day {
	switch {
	case last.On == 0:
		return min(max(weeds.reached(AskLeaves, AskShare), s.firstToolDay()-AskAgainFrom, s.grown()+AskAgainFrom),
			w.Opens-1)
	case w.Chance >= SureChance:
		return 0
	}
	return min(max(w.Best-AskBeforeBest, last.On+AskAgainFrom), last.On+AskAgainTo)
}
