package engine

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// drawField draws a season with a tool that fits, at most one pass, and no sightings. The mean temperature is 15 to 32
// °C.
func drawField(t *rapid.T) Season {
	mean, half := rapid.Float64Range(15, 32).Draw(t, "mean"), rapid.Float64Range(0, 6).Draw(t, "half range")
	s := Season{Plot: square(25), Tool: Tool{WidthCM: 18}, Weather: Steady(mean-half, mean+half)}
	s.Plot.Flood = Flood(rapid.IntRange(0, int(FloodOnOff)).Draw(t, "flood"))
	s.Plot.DurationDays = 150
	s.Plot.Puddled = s.Plot.Planted - Day(rapid.IntRange(0, 6).Draw(t, "puddled before"))
	if rapid.Bool().Draw(t, "weeded") {
		s.Passes = []Pass{{On: s.Plot.Planted + Day(rapid.IntRange(10, 20).Draw(t, "pass")), With: ByTool,
			Left: rapid.SampledFrom([]Amount{AmountUnknown, Few, Some}).Draw(t, "left")}}
	}
	return s
}

// checkBelief fails unless the weights are a distribution and the stages are in order.
func checkBelief(t reporter, c *belief) {
	t.Helper()
	sum := 0.0
	for b := range c.weight {
		for i := range c.weight[b] {
			if p := c.point[b][i]; !(p.up <= p.opens && p.opens <= p.closes && p.closes < 2*horizon) {
				t.Errorf("book %d, speed %d: %+v", b, i, p)
			}
			for _, w := range c.weight[b][i] {
				if !(w >= 0 && w <= 1) {
					t.Errorf("weight %g", w)
				}
				sum += w
			}
		}
	}
	wantNear(t, "sum of the weights", sum, 1, 1e-9)
	for d, p := range c.inWindow() {
		if !(p >= 0 && p <= 1+1e-9) {
			t.Errorf("day %d: chance %g", d, p)
		}
	}
}

func TestTheBeliefIsADistribution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		if rapid.Bool().Draw(t, "learned") {
			at := NewLocal()
			at.WeedRate = rapid.Float64Range(MinWeedRate, MaxWeedRate).Draw(t, "rate")
			s.Local = &at
		}
		season := s.asOf(drawDay(t, s))
		checkBelief(t, season.weeds())
	})
}

// Looks that the clocks do not expect, again and again, must not leave a distribution without weight.
func TestWeedsFarOffTheGrid(t *testing.T) {
	for _, l := range []Leaves{NoneUp, OneLeaf, TwoThree, FourPlus} {
		for _, meanC := range []float64{3, 12, 20, 34} {
			s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(meanC-3, meanC+3)}
			for d := Day(1); d < 60; d++ {
				s.Sightings = append(s.Sightings, Sighting{On: s.Plot.Planted + d, Leaves: l})
			}
			season := s.asOf(s.Plot.Planted + 60)
			checkBelief(t, season.weeds())
			if leaves := s.WeedLeaves(s.Plot.Planted + 60); math.IsNaN(leaves) || math.IsInf(leaves, 0) {
				t.Errorf("%s at %g °C: %g leaves", l, meanC, leaves)
			}
		}
	}
}

// The window after a look on the same day, and the window without it.
func withLook(s Season, d Day, l Leaves) (without, with Window) {
	without = s.asOf(d).nextWindow(d)
	s.Sightings = append(slices.Clone(s.Sightings), Sighting{On: d, Leaves: l})
	return without, s.asOf(d).nextWindow(d)
}

// A look never moves the window away from what was seen. Looks that are likelier misread than true are left out.
func TestALookMovesTheWindowTowardsWhatWasSeen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		d := s.asOf(s.Plot.Planted+60).nextWindow(s.Plot.Planted).Best + Day(rapid.IntRange(-6, 4).Draw(t, "look"))
		l := Leaves(rapid.IntRange(int(OneLeaf), int(NoneUp)).Draw(t, "leaves"))
		if last, passed := s.lastPass(); !expected(s, d, l) || passed && d <= last.On {
			return
		}
		without, with := withLook(s, d, l)
		rooted := s.firstToolDay()
		switch l {
		case NoneUp, OneLeaf:
			// One leaf where less was expected means that the weeds are fast.
			fewer := l == NoneUp || s.WeedLeaves(d) > OneLeafTo
			if fewer && with.Best < without.Best || with.Opens <= d && d >= rooted && l == NoneUp {
				t.Errorf("day %s, %s: %+v, before %+v", d, l, with, without)
			}
			if _, w := withLook(s, d, TwoThree); expected(s, d, TwoThree) && w.Opens > with.Opens {
				t.Errorf("day %s: %+v after two or three leaves, %+v after %s", d, w, with, l)
			}
		case TwoThree:
			if d >= rooted && !with.Contains(d) || d < rooted && with.Opens < rooted {
				t.Errorf("day %s, rooted %s: %+v", d, rooted, with)
			}
		case FourPlus:
			if with.Best > max(without.Best, d) || with.Closes > max(without.Closes, d) {
				t.Errorf("day %s: %+v, before %+v", d, with, without)
			}
		}
	})
}

func TestNoToolDayAfterAnyEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		p := must(s.Plan(today))
		if p.Fit.Hand() {
			return
		}
		c := p.Closure
		for _, w := range append([]Window{p.Next}, p.Later...) {
			if w.Exists() && (w.Closes > c.LastToolDay || w.Closes >= c.PlantsBig || w.Closes >= c.PanicleStarts) {
				t.Errorf("%+v after an end: %+v", w, c)
			}
		}
	})
}

func TestWaterWordsInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		words := rapid.SliceOfN(rapid.IntRange(int(StandsDry), int(StandsHand)), 2, 6).Draw(t, "water")
		season := func(words []int) *belief {
			s := s
			s.Passes = nil // a pass after the ground was dry may leave a second flush, and then the order counts
			for i, w := range words {
				s.Sightings = append(s.Sightings, Sighting{On: s.Plot.Planted + Day(i), Water: Stands(w)})
			}
			return s.weeds()
		}
		one := season(words)
		slices.Reverse(words)
		other := season(words)
		for b := range one.weight {
			for i := range one.weight[b] {
				for j, w := range one.weight[b][i] {
					if !near(w, other.weight[b][i][j], 1e-12) {
						t.Fatalf("%v: %g, the other way round %g", words, w, other.weight[b][i][j])
					}
				}
			}
		}
	})
}

func TestWaterWordsMoveTheChanceOfAFlood(t *testing.T) {
	chance := func(f Flood, words ...Stands) float64 {
		s := Season{Plot: Plot{Flood: f}}
		for i, w := range words {
			s.Sightings = append(s.Sightings, Sighting{On: Day(i), Water: w})
		}
		return s.keptChance()
	}
	for i, c := range []struct{ more, less float64 }{
		{chance(FloodKept), chance(FloodUnknown)}, {chance(FloodUnknown), chance(FloodMoist)},
		{chance(FloodKept), chance(FloodOnOff)}, {chance(FloodOnOff), chance(FloodMoist)},
		{chance(FloodUnknown, StandsHand), chance(FloodUnknown)},
		{chance(FloodUnknown), chance(FloodUnknown, StandsMud)},
		{chance(FloodUnknown, StandsMud), chance(FloodUnknown, StandsDry)},
		{chance(FloodUnknown, StandsDry), chance(FloodUnknown, StandsDry, StandsDry)},
	} {
		if c.more <= c.less {
			t.Errorf("pair %d: %g is not more than %g", i, c.more, c.less)
		}
	}
	// Bayes by hand: 0.6 kept; dry 0.05 to 0.3: 0.6 x 0.05 / (0.6 x 0.05 + 0.4 x 0.3).
	wantNear(t, "chance of a flood after dry ground", chance(FloodUnknown, StandsDry), 0.2, 1e-9)
}

// A second look of the same kind makes the best day surer on average.
func TestASecondLookIsSurer(t *testing.T) {
	once, twice, n := 0.0, 0.0, 0
	for _, meanC := range []float64{18, 20, 22, 24, 26, 28, 30} {
		for _, f := range []Flood{FloodKept, FloodMoist, FloodUnknown} {
			for _, l := range []Leaves{OneLeaf, TwoThree} {
				s := Season{Plot: square(25), Tool: Tool{WidthCM: 18}, Weather: Steady(meanC-4, meanC+4)}
				s.Plot.Flood = f
				d := s.asOf(s.Plot.Planted+40).nextWindow(s.Plot.Planted).Best - 4
				if l == TwoThree {
					d += 4
				}
				_, one := withLook(s, d, l)
				s.Sightings = []Sighting{{On: d - 1, Leaves: l}}
				_, two := withLook(s, d, l)
				once, twice, n = once+one.Chance, twice+two.Chance, n+1
			}
		}
	}
	if twice < once {
		t.Errorf("mean chance %.3f after one look, %.3f after two", once/float64(n), twice/float64(n))
	}
}

// A leaf count that no clock expected is believed, unless an earlier one on the plot contradicts it: the weeds then
// have as many leaves as were seen, and grow from there.
func TestALookThatNoClockExpected(t *testing.T) {
	surprises := 0
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		s.Passes = nil
		d := s.Plot.Planted + Day(rapid.IntRange(1, 60).Draw(t, "look"))
		l := rapid.SampledFrom([]Leaves{NoneUp, OneLeaf, TwoThree}).Draw(t, "leaves")
		before := s.weeds()
		chance := before.multiply(d, &lookChances[l])
		without, with := withLook(s, d, l)
		if chance >= SurpriseChance {
			return
		}
		surprises++
		s.Sightings = []Sighting{{On: d, Leaves: l}}
		if leaves := s.weeds().leaves(d); !near(leaves, l.usual(), 0.5) {
			t.Errorf("%s on %s: %.2f leaves", l, d, leaves)
		}
		if later := s.weeds().leaves(d + 20); later < s.weeds().leaves(d) {
			t.Errorf("%s on %s: %.2f leaves 20 days later", l, d, later)
		}
		late := d >= s.firstToolDay()
		if with.SeenOn != d || l == NoneUp && with.Opens <= d || l == TwoThree && late && !with.Contains(d) {
			t.Errorf("%s on %s: %+v, before %+v", l, d, with, without)
		}
		checkBelief(t, s.weeds())
	})
	if surprises < 10 {
		t.Errorf("only %d looks were not expected", surprises)
	}
}

// A wrong key, or a look at another plot: one answer that the others contradict changes little.
func TestOneWrongAnswerDoesNotExcludeTheTruth(t *testing.T) {
	for _, wrong := range []Leaves{NoneUp, FourPlus} {
		s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
		day := s.Plot.Planted + 12
		look := func(d Day, l Leaves) Sighting { return Sighting{On: day + d, Leaves: l} }
		s.Sightings = []Sighting{look(0, OneLeaf), look(2, TwoThree), look(4, TwoThree), look(6, TwoThree)}
		right := s.WeedLeaves(day + 6)
		s.Sightings = slices.Insert(s.Sightings, 2, look(3, wrong))
		wantNear(t, "%s among two or three: leaves", s.WeedLeaves(day+6), right, 0.25, wrong)
	}
}

// On wet ground the books for kept ground give all of their weight to the same clock on wet ground.
func TestWeightsOnWetGround(t *testing.T) {
	s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	all := s.prior()
	wet := all.onWet()
	for b := range bookTable {
		for i := range all[b] {
			want := all[b][i]
			switch bookTable[b].water {
			case bookKept:
				want = 0
			case bookWet:
				want += all[b-1][i]
			}
			wantNear(t, "book %d, speed %d", wet[b][i], want, 1e-12, b, i)
		}
		x := &bookTable[b]
		if x.water == bookWet && (x.clock != bookTable[b-1].clock || bookTable[b-1].water != bookKept) {
			t.Errorf("book %d does not follow the book of its clock for kept ground", b)
		}
	}
}

// On wet ground at 28 °C weeds have two leaves 10.6 days (45 °C d a leaf above 10.8 °C) to 12.4 days (Iwasaki et al.
// 1978) after they begin. A pass up to then leaves weeds of the second flush that are too small for it, a later pass
// takes them.
func TestASecondFlushIsTakenWhenItHasTwoLeaves(t *testing.T) {
	s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	again := s.Plot.Planted + 6
	s.Sightings = []Sighting{{On: s.Plot.Planted + 3, Water: StandsDry}, {On: again, Water: StandsHand}}
	last := Day(0) // last day after the water came back on which a pass leaves the second flush
	for d := Day(1); d < 20; d++ {
		s.Passes = []Pass{{On: again + d, With: ByTool, Left: Few}}
		if s.weeds().from == again {
			last = d
		}
	}
	if last < 10 || last > 12 {
		t.Errorf("a pass leaves the second flush up to day %d after the water came back", last)
	}
}

// That no weeds were up after the water came back is also known of the second flush that a pass leaves, so the pass
// changes nothing. Weeds that were seen may be older ones: they do not count.
func TestNoneUpBeforeAPassCountsForTheSecondFlush(t *testing.T) {
	s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(20, 26)}
	at := func(d Day) Day { return s.Plot.Planted + d }
	water := []Sighting{{On: at(3), Water: StandsDry}, {On: at(6), Water: StandsHand}}
	leaves := func(seen ...Sighting) float64 {
		s := s
		s.Sightings = append(slices.Clone(water), seen...)
		s.Passes = []Pass{{On: at(12), With: ByTool, Left: Few}}
		wantEqual(t, "%v: clock starts on day", s.weeds().from, at(6), seen)
		return s.WeedLeaves(at(20))
	}
	unseen, none := leaves(), leaves(Sighting{On: at(11), Leaves: NoneUp})
	if none >= unseen || none <= 0 {
		t.Errorf("%g leaves if none were up before the pass, %g if nobody looked", none, unseen)
	}
	wantEqual(t, "leaves, none up before the water came back", leaves(Sighting{On: at(5), Leaves: NoneUp}), unseen)
	corrected := leaves(Sighting{On: at(11), Leaves: NoneUp}, Sighting{On: at(11), Leaves: TwoThree})
	wantEqual(t, "leaves, two or three before the pass", corrected, leaves(Sighting{On: at(11), Leaves: TwoThree}))
}

// Of two answers on one day the later one counts: the grower corrected the first. Other days and answers stay.
func TestTheLaterAnswerOfADay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		draw := func(what string) Sighting {
			return Sighting{
				On:     s.Plot.Planted + Day(rapid.IntRange(1, 40).Draw(t, what)),
				Leaves: Leaves(rapid.IntRange(int(OneLeaf), int(NoneUp)).Draw(t, "leaves")),
				Water:  Stands(rapid.IntRange(int(StandsDry), int(StandsHand)).Draw(t, "water")),
			}
		}
		slip, meant := draw("day"), draw("other day")
		slip.On = meant.On
		corrected, right := s, s
		right.Sightings = []Sighting{meant}
		corrected.Sightings = []Sighting{slip, {On: meant.On}, meant, {On: meant.On}}
		today := meant.On + Day(rapid.IntRange(0, 10).Draw(t, "later"))
		got, want := must(corrected.Plan(today)), must(right.Plan(today))
		got.Next.Edition, want.Next.Edition = 0, 0 // it counts both
		wantEqual(t, "window", got.Next, want.Next)
		wantEqual(t, "leaves", got.WeedLeaves, want.WeedLeaves)
		wantEqual(t, "observations", len(Observe(corrected, nil)), len(Observe(right, nil)))
	})
}

// The mean and the reached days must agree with sums over the grid that are made in another way: one grid point at a
// time with the whole heat of each day.
func TestStagesAreTheDaysOfTheHeat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		s.Passes = nil
		c := s.weeds()
		b := rapid.IntRange(0, books-1).Draw(t, "book")
		i := rapid.IntRange(0, beliefSpeeds-1).Draw(t, "speed")
		x, factor := &bookTable[b], speedFactors[i]
		heat, leaves := 0.0, -1.0
		for d := Day(1); leaves < WindowOpensLeaves && d < 200; d++ {
			w := s.Weather.On(c.from + d)
			rest := 1.0 // share of the day in which leaves grow
			if leaves < 0 {
				gain := DegreeDays(w, heatBasesC[x.upBase], HeatCeilingC)
				if heat += gain; heat < factor*x.upHeat {
					continue
				}
				rest, leaves = (heat-factor*x.upHeat)/gain, 0
			}
			leaves += rest * DegreeDays(w, heatBasesC[x.leafBase], HeatCeilingC) / (factor * x.leafHeat)
			if leaves >= WindowOpensLeaves {
				if got := c.point[b][i].opens; got > float64(d)+1e-6 || got < float64(d)-1-1e-6 {
					t.Errorf("book %d, speed %d: two leaves on day %d, stages say %g", b, i, d, got)
				}
			}
		}
	})
}

// The ground was dry and then under water again on day r. A pass soon after r leaves the weeds that emerge then.
func TestASecondFlushAfterTheWaterCameBack(t *testing.T) {
	water := func(d Day, w Stands) Sighting { return Sighting{On: square(20).Planted + d, Water: w} }
	for _, c := range []struct {
		name string
		seen []Sighting
		pass Day
		left Amount
		from Day // day from which the next window counts
	}{
		{"water always", []Sighting{water(5, StandsFingers), water(9, StandsHand)}, 12, Few, 12},
		{"dry, and water again", []Sighting{water(5, StandsDry), water(9, StandsFingers)}, 12, Few, 9},
		{"mud for three days, and water again", []Sighting{water(5, StandsMud), water(8, StandsMud),
			water(9, StandsHand)}, 12, Few, 9},
		{"mud once, and water again", []Sighting{water(5, StandsMud), water(9, StandsHand)}, 12, Few, 12},
		{"dry, water not yet", []Sighting{water(5, StandsDry)}, 12, Few, 12},
		{"the pass came late enough for the second flush", []Sighting{water(3, StandsDry), water(5, StandsHand)}, 22,
			Few, 22},
		{"mud for two days, and water again", []Sighting{water(5, StandsMud), water(7, StandsMud),
			water(9, StandsHand)}, 12, Few, 12},
		{"water again on the day of the pass", []Sighting{water(5, StandsDry), water(12, StandsHand)}, 12, Few, 12},
		{"water again on the last day that counts", []Sighting{water(18, StandsDry), water(21, StandsHand)}, 24,
			Few, 21},
		{"mud, water again, mud", []Sighting{water(2, StandsMud), water(4, StandsHand), water(6, StandsMud),
			water(9, StandsHand)}, 12, Few, 12},
		{"water again after three weeks", []Sighting{water(18, StandsDry), water(22, StandsHand)}, 24, Few, 24},
		{"weeds left grow from the pass", []Sighting{water(5, StandsDry), water(9, StandsFingers)}, 12, Some, 12},
	} {
		s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32), Sightings: c.seen}
		on := s.Plot.Planted + c.pass
		s.Passes = []Pass{{On: on, With: ByTool, Left: c.left}}
		wantEqual(t, "%s: clock starts on day", s.weeds().from-s.Plot.Planted, c.from, c.name)
		dry := s
		dry.Sightings = nil
		second, usual := must(s.Plan(on)).Next, must(dry.Plan(on)).Next
		if second.Opens > usual.Opens+1 || second.Opens <= on || second.AskOn != 0 && second.AskOn <= on {
			t.Errorf("%s: %+v, without water words %+v", c.name, second, usual)
		}
	}
}

// Chances has the chance of the window's best day, and nothing before the tool can be used.
func TestChancesAreThoseOfTheWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawField(t)
		planted := s.Plot.Planted
		w := must(s.Windows(planted)).Next
		if s.Chances(planted, planted+1, planted) != nil {
			t.Error("there are chances of no days")
		}
		for i, chance := range s.Chances(planted, planted-5, planted+horizon) {
			d := planted - 5 + Day(i)
			switch {
			case d < planted+FirstPassDays && chance != 0, chance < 0, chance > 1+1e-9:
				t.Errorf("day %d: %g", d-planted, chance)
			case w.Exists() && d == w.Best && math.Abs(chance-w.Chance) > 1e-12:
				t.Errorf("day %d: %g, the window has %g", d-planted, chance, w.Chance)
			}
		}
	})
}

// The range of leaves holds the share of the chances that it names, the mean is that of WeedLeaves, and nobody weeds
// after the day of the plan.
func TestWeedLeafRanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		share := rapid.Float64Range(0.1, 0.9).Draw(t, "share")
		c := new(s.asOf(today)).weeds()
		before := LeafRange{}
		for i, r := range s.WeedLeafRanges(today, today, today+20, share) {
			below, in := 0.0, 0.0
			for b := range c.weight {
				for i := range c.weight[b] {
					for j, w := range c.weight[b][i] {
						leaves := c.point[b][i].leaves(float64(today-c.from) - startDays[j])
						if leaves < r.Low {
							below += w
						} else if leaves <= r.High {
							in += w
						}
					}
				}
			}
			today++
			if i == 0 {
				wantNear(t, "leaves today", r.Mean, s.WeedLeaves(today-1), 1e-9)
			}
			if r.Low > r.High || r.Mean < before.Mean || r.Low < before.Low || r.High < before.High {
				t.Fatalf("%+v after %+v", r, before)
			}
			if in < share-1e-9 || below > (1-share)/2+1e-9 {
				t.Fatalf("%g of the chances are in %+v and %g below, want %g in it", in, r, below, share)
			}
			before = r
		}
	})
}
