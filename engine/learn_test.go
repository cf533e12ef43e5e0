package engine

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// lookTexts returns texts that ask for a look on these days.
func lookTexts(days ...Day) (told []Told) {
	for _, d := range days {
		told = append(told, Told{Kind: KindPrepare, On: d})
	}
	return told
}

// observed returns the observations of a flooded plot at 28 °C. Days are in days after planting.
func observed(told []Told, seen ...Sighting) []Observation {
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	for _, x := range seen {
		x.On += s.Plot.Planted
		s.Sightings = append(s.Sightings, x)
	}
	told = slices.Clone(told)
	for i := range told {
		told[i].On += s.Plot.Planted
	}
	return Observe(s, told)
}

func TestWhatIsObserved(t *testing.T) {
	planted := square(20).Planted
	for _, c := range []struct {
		name string
		told []Told
		seen []Sighting
		want []event // days after planting
	}{
		{"two counts", nil, []Sighting{{On: 12, Leaves: NoneUp}, {On: 15, Leaves: OneLeaf}},
			[]event{{12, NoneUp, false}, {15, OneLeaf, false}}},
		{"amounts and water tell no leaves", nil,
			[]Sighting{{On: 12, Amount: Many, Water: StandsDry}, {On: 15, Leaves: TwoThree}},
			[]event{{15, TwoThree, false}}},
		{"asked, and answered on the third day", lookTexts(10), []Sighting{{On: 13, Leaves: OneLeaf}},
			[]event{{13, OneLeaf, false}}},
		{"asked, and a count on the fourth day is not the answer", lookTexts(10), []Sighting{{On: 14, Leaves: OneLeaf}},
			[]event{{14, OneLeaf, false}, {10, LeavesUnknown, false}}},
		{"asked whether the plot was weeded", []Told{{Kind: KindOpen, On: 10}, {Kind: KindMissed, On: 20}},
			[]Sighting{{On: 15, Leaves: FourPlus}}, []event{{15, FourPlus, false}, {10, LeavesUnknown, true}}},
		{"asked twice, answered once", lookTexts(10, 18), []Sighting{{On: 10, Leaves: OneLeaf}},
			[]event{{10, OneLeaf, false}, {18, LeavesUnknown, false}}},
	} {
		got := observed(c.told, c.seen...)
		if len(got) != 1 || got[0].From != planted {
			t.Fatalf("%s: %d observations", c.name, len(got))
		}
		for i := range c.want {
			c.want[i].on += planted
		}
		if !slices.Equal(got[0].events, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got[0].events, c.want)
		}
	}
}

func TestWhatTeachesNothing(t *testing.T) {
	planted := square(20).Planted
	for _, c := range []struct {
		name   string
		passes []Pass
		seen   Sighting
	}{
		{"no leaves told", nil, Sighting{On: planted + 15, Amount: Many}},
		{"before planting", nil, Sighting{On: planted - 1, Leaves: OneLeaf}},
		{"on the day of planting, before any heat", nil, Sighting{On: planted, Leaves: OneLeaf}},
		{"on the day of a pass", []Pass{{On: planted + 15, With: ByTool}},
			Sighting{On: planted + 15, Leaves: TwoThree}},
		{"after many were left", []Pass{{On: planted + 15, With: ByTool, Left: Many}},
			Sighting{On: planted + 22, Leaves: TwoThree}},
	} {
		s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32), Passes: c.passes,
			Sightings: []Sighting{c.seen}}
		if got := Observe(s, nil); len(got) != 0 {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestEachPassBeginsAnObservation(t *testing.T) {
	planted := square(20).Planted
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32), Passes: []Pass{{On: planted + 16,
		With: ByTool, Left: Some}}, Sightings: []Sighting{{On: planted + 13, Leaves: OneLeaf}, {On: planted + 15,
		Leaves: TwoThree}, {On: planted + 24, Leaves: OneLeaf}, {On: planted + 28, Leaves: TwoThree}}}
	got := Observe(s, nil)
	if len(got) != 2 || got[0].From != planted || len(got[0].events) != 2 || got[0].left ||
		got[1].From != planted+16 || len(got[1].events) != 2 || !got[1].left {
		t.Errorf("%+v", got)
	}
}

func TestAPlaceThatSawNothingKeepsTheTable(t *testing.T) {
	var tally Tally
	tally.Add(Observation{})
	wantEqual(t, "learned from nothing", tally.Learned(), Learned{Rate: 1})
	if rateAt(0) != MinWeedRate || !near(rateAt(knownRates-1), MaxWeedRate, 1e-9) {
		t.Errorf("rates from %g to %g", rateAt(0), rateAt(knownRates-1))
	}
}

// nature is a place whose weeds follow one book at one speed. Its plots differ in speed and start.
type nature struct {
	book int
	rate float64
	rand *rand.Rand
}

// leavesOn returns the leaves of the weeds of one more plot of the place for each day after planting.
func (n nature) leavesOn(s *Season) func(Day) float64 {
	heat := newHeatSums(&s.Weather, s.Plot.Planted)
	factor := math.Exp(ObservedSpread*n.rand.NormFloat64()) / n.rate
	late := StartSpreadDays * n.rand.NormFloat64()
	up, opens, closes := bookTable[n.book].stages(heat, factor, 0, false, 0, 0, 0)
	return func(d Day) float64 { return stages{up, opens, closes}.leaves(float64(d) - late) }
}

// answer returns what a grower reads on weeds with this many leaves.
func (n nature) answer(leaves float64) Leaves {
	for roll, l := n.rand.Float64()*(1+leafAnswers*MisreadShare), OneLeaf; l <= NoneUp; l++ {
		if roll -= lookChances[l].at(leaves); roll < 0 {
			return l
		}
	}
	return FourPlus
}

// season plays a season in which the grower is asked on three days, and returns its observations. tells says which
// answers the grower gives.
func (n nature) season(tells func(Leaves) bool) []Observation {
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	if bookTable[n.book].water == bookWet {
		s.Plot.Flood = FloodMoist
	} else {
		s.Plot.Flood = FloodKept
	}
	leaves := n.leavesOn(&s)
	first := Day(8 + n.rand.IntN(5))
	asked := []Day{s.Plot.Planted + first, s.Plot.Planted + first + 5, s.Plot.Planted + first + 10}
	for _, d := range asked {
		if l := n.answer(leaves(d - s.Plot.Planted)); tells(l) {
			s.Sightings = append(s.Sightings, Sighting{On: d, Leaves: l})
		}
	}
	return Observe(s, lookTexts(asked...))
}

// heatToClose returns the days from planting to four leaves at 28 °C for weeds of book b at a rate.
func heatToClose(b int, rate float64) float64 {
	w := Steady(24, 32)
	_, _, closes := bookTable[b].stages(newHeatSums(&w, 0), 1/rate, 0, false, 0, 0, 0)
	return closes
}

// daysLearned returns the mean days from planting to four leaves at 28 °C by what a place has learned about ground of
// the given kind.
func daysLearned(l Learned, water bookWater) (days float64) {
	for b := range bookTable {
		if w := bookTable[b].water; w == water || w == bookAny {
			c := l.Clocks[bookTable[b].clock]
			days += c.Share * heatToClose(b, c.Rate)
		}
	}
	return days
}

// A place must learn when its weeds have four leaves, also if growers tell only of weeds that are too big. The limits
// of 7 and 10 % are the errors that the advice can bear: a tenth of 16 days is less than half a window.
func TestAPlaceLearnsItsWeeds(t *testing.T) {
	everything := func(Leaves) bool { return true }
	onlyBig := func(l Leaves) bool { return l == FourPlus }
	for b := range bookTable {
		for _, rate := range []float64{0.85, 1, 1.2} {
			for _, c := range []struct {
				name  string
				tells func(Leaves) bool
				limit float64
			}{{"all answers", everything, 0.07}, {"only too big", onlyBig, 0.10}} {
				n := nature{b, rate, rand.New(rand.NewPCG(1, uint64(b)))}
				var tally Tally
				for range 120 {
					for _, o := range n.season(c.tells) {
						tally.Add(o)
					}
				}
				l, truth := tally.Learned(), heatToClose(b, rate)
				water := bookTable[b].water
				if water == bookAny {
					water = bookKept
				}
				if got := daysLearned(l, water); math.Abs(got/truth-1) > c.limit {
					t.Errorf("book %d at rate %g, %s: four leaves after %.1f days, learned %.1f (%+v)", b, rate, c.name,
						truth, got, l)
				}
			}
		}
	}
}

func TestLearnedIsUsable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		told := drawTold(t, s.Plot.Planted, s.Plot.Planted+70)
		obs := Observe(s, told)
		if len(obs) > len(s.Passes)+1 {
			t.Errorf("%d observations with %d passes", len(obs), len(s.Passes))
		}
		events := 0
		for _, o := range obs {
			events += len(o.events)
		}
		if events > len(s.Sightings)+len(told) {
			t.Errorf("%d events of %d sightings and %d questions", events, len(s.Sightings), len(told))
		}
		l := learned(obs)
		if l.N > len(obs) || !(l.StdErr >= 0 && l.StdErr < MaxWeedRate-MinWeedRate) {
			t.Errorf("%+v", l)
		}
		if l.N == 0 {
			wantEqual(t, "learned from questions without a leaf count", l, Learned{Rate: 1})
			return
		}
		at := NewLocal()
		at.WeedRate, at.Clocks = l.Rate, l.Clocks
		if err := at.Validate(); err != nil {
			t.Error(err)
		}
		sum := 0.0
		for _, c := range l.Clocks {
			sum += c.Share
		}
		wantNear(t, "sum of the shares", sum, 1, 1e-9)
		// The result does not depend on the order of the observations, nor on what the place has learned before.
		slices.Reverse(obs)
		back := learned(obs)
		wantNear(t, "rate, the other way round", back.Rate, l.Rate, 1e-9)
		s.Local = &at
		wantNear(t, "rate, observed with what was learned", learned(Observe(s, told)).Rate, l.Rate, 1e-9)
	})
}

func TestMoreLeavesAreNotSlower(t *testing.T) {
	// Weeds that are seen with more leaves on the same day have four leaves sooner. The days are those on which each of
	// the answers is possible by the clocks. An answer that no clock expects counts as misread and teaches nothing.
	for _, d := range []Day{10, 11, 12, 13, 14} {
		last := math.Inf(1)
		for _, l := range []Leaves{NoneUp, OneLeaf, TwoThree, FourPlus} {
			obs := observed(nil, Sighting{On: d, Leaves: l})
			got := daysLearned(learned(slices.Repeat(obs, 4)), bookKept)
			if got > last {
				t.Errorf("day %d, %s leaves: four leaves after %g days, with fewer leaves %g", d, l, got, last)
			}
			last = got
		}
	}
}

func TestSilenceOfGrowersWhoTellOfBigWeedsMeansSmallWeeds(t *testing.T) {
	// One in five of those who were asked says that the weeds are too big. The others say nothing. If nobody had been
	// asked, the same answers would mean that all weeds were big.
	told := observed(lookTexts(16), Sighting{On: 16, Leaves: FourPlus})
	silent := observed(lookTexts(16))
	alone, all := learned(slices.Repeat(told, 10)), learned(slices.Concat(slices.Repeat(told, 10),
		slices.Repeat(silent, 40)))
	if all.Rate >= alone.Rate || all.N != 10 {
		t.Errorf("with the silent ones %+v, without them %+v", all, alone)
	}
}

// A grower who is asked whether the plot was weeded does not count the leaves of small weeds. The silence means that
// the weeds are not too big. Silence about a look means no size where many growers answer.
func TestSilenceAboutThePassMeansSmallWeeds(t *testing.T) {
	looked := observed(lookTexts(9), Sighting{On: 9, Leaves: OneLeaf})
	rate := func(silent []Observation) float64 {
		return learned(slices.Concat(slices.Repeat(looked, 20), slices.Repeat(silent, 20))).Rate
	}
	look, pass := rate(observed(lookTexts(16))), rate(observed([]Told{{Kind: KindOpen, On: 16}}))
	if pass >= look {
		t.Errorf("rate %.3f after silence about the pass, %.3f after silence about a look", pass, look)
	}
}

// What is learned can be used, even where all observations are beyond the limits of the rates. The mean of the rates of
// a clock may round to a value beyond the lowest rate.
func TestWhatIsLearnedIsUsable(t *testing.T) {
	for _, seen := range []Sighting{{On: 32, Leaves: TwoThree}, {On: 40, Leaves: NoneUp}, {On: 3, Leaves: FourPlus}} {
		for _, n := range []int{1, 30, 130} {
			place := NewLocal()
			place.Clocks = learned(slices.Repeat(observed(nil, seen), n)).Clocks
			if err := place.Validate(); err != nil {
				t.Errorf("%d times %s on day %d: %v", n, seen.Leaves, seen.On, err)
			}
		}
	}
}

func TestNormalDistribution(t *testing.T) {
	// Abramowitz & Stegun, table 26.1 (source read): P(0) = 0.5, P(1.96) = 0.97500.
	wantNear(t, "P(0)", normal(0), 0.5, 1e-12)
	wantNear(t, "P(1.96)", normal(1.96), 0.97500, 5e-6)
	// For each number of leaves the chances of all answers sum to 1 and the share of misreadings.
	for i := range lookChances[OneLeaf] {
		sum := 0.0
		for l := OneLeaf; l <= NoneUp; l++ {
			sum += lookChances[l][i]
		}
		wantNear(t, "sum of the chances of all answers", sum, 1+leafAnswers*MisreadShare, 1e-9)
	}
	if reflect.DeepEqual(lookChances[OneLeaf], lookChances[TwoThree]) {
		t.Error("two answers mean the same")
	}
}

// If all weight is on one limit of the rates, rounding can put their mean beyond it. A place with such a rate had no
// plans.
func TestARateAtTheLimitIsUsable(t *testing.T) {
	for n := range 200 {
		for _, limit := range []int{0, knownRates - 1} {
			tally := Tally{N: 1}
			for a := range tally.fit {
				for c := range tally.fit[a] {
					for r := range tally.fit[a][c] {
						tally.fit[a][c][r] = -1e9
					}
					tally.fit[a][c][limit] = math.Sin(float64(n + 7*a + 3*c))
				}
			}
			l, at := tally.Learned(), NewLocal()
			at.WeedRate, at.Clocks = l.Rate, l.Clocks
			if err := at.Validate(); err != nil {
				t.Fatalf("weights %d: %v", n, err)
			}
		}
	}
}

// learned returns what a place learns from a list of observations.
func learned(obs []Observation) Learned {
	var t Tally
	for _, o := range obs {
		t.Add(o)
	}
	return t.Learned()
}
