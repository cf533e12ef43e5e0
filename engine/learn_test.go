package engine

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// observed returns the observations from these sightings on a flooded plot at 28 °C, where a day has 17.2 degree-days.
// Half of the weeds emerge after 163 degree-days; each leaf takes 45 more.
func observed(seen ...Sighting) []Observation {
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	for _, x := range seen {
		x.On += s.Plot.Planted
		s.Sightings = append(s.Sightings, x)
	}
	return Observe(s)
}

func TestALeafCountBoundsTheRate(t *testing.T) {
	// Computed by hand: (163 + 45 x leaves) / (17.2 x days).
	for _, c := range []struct {
		name       string
		seen       []Sighting
		slow, fast float64
	}{
		{"one leaf on day 15: 1.5 leaves at most", []Sighting{{On: 15, Leaves: OneLeaf}}, 0, 230.5 / 258},
		{"two or three", []Sighting{{On: 15, Leaves: TwoThree}}, 230.5 / 258, 320.5 / 258},
		{"four or more: no upper bound", []Sighting{{On: 15, Leaves: FourPlus}}, 320.5 / 258, math.Inf(1)},
		{"two counts narrow it", []Sighting{{On: 13, Leaves: OneLeaf}, {On: 15, Leaves: TwoThree}}, 230.5 / 258,
			230.5 / 223.6},
		{"the same day twice is once", []Sighting{{On: 15, Leaves: TwoThree}, {On: 15, Leaves: TwoThree}}, 230.5 / 258,
			320.5 / 258},
		{"the later of two that contradict each other",
			[]Sighting{{On: 12, Leaves: FourPlus}, {On: 15, Leaves: OneLeaf}}, 0, 230.5 / 258},
		{"amounts tell no stage", []Sighting{{On: 15, Leaves: TwoThree}, {On: 16, Amount: Many}}, 230.5 / 258,
			320.5 / 258},
	} {
		got := observed(c.seen...)
		if len(got) != 1 {
			t.Fatalf("%s: %d observations", c.name, len(got))
		}
		if o := got[0]; !near(o.Slow, c.slow, 1e-9) || !near(o.Fast, c.fast, 1e-9) && o.Fast != c.fast {
			t.Errorf("%s: %g to %g, want %g to %g", c.name, o.Slow, o.Fast, c.slow, c.fast)
		}
	}
}

func TestWhatTeachesNothing(t *testing.T) {
	warm, cold := Steady(24, 32), Steady(2, 8)
	planted := square(20).Planted
	for _, c := range []struct {
		name    string
		weather Weather
		passes  []Pass
		seen    Sighting
	}{
		{"no leaves told", warm, nil, Sighting{On: planted + 15, Amount: Many}},
		{"before planting", warm, nil, Sighting{On: planted - 1, Leaves: OneLeaf}},
		{"on the day of planting, before any heat", warm, nil, Sighting{On: planted, Leaves: OneLeaf}},
		{"too cold for the clock", cold, nil, Sighting{On: planted + 15, Leaves: OneLeaf}},
		{"on the day of a pass", warm, []Pass{{On: planted + 15, With: ByTool}},
			Sighting{On: planted + 15, Leaves: TwoThree}},
		{"after many were left", warm, []Pass{{On: planted + 15, With: ByTool, Left: Many}},
			Sighting{On: planted + 22, Leaves: TwoThree}},
	} {
		s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: c.weather, Passes: c.passes,
			Sightings: []Sighting{c.seen}}
		if got := Observe(s); len(got) != 0 {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestEachClockTellsOnce(t *testing.T) {
	planted := square(20).Planted
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32), Passes: []Pass{{On: planted + 16,
		With: ByTool, Left: Some}}, Sightings: []Sighting{{On: planted + 13, Leaves: OneLeaf}, {On: planted + 15,
		Leaves: TwoThree}, {On: planted + 24, Leaves: OneLeaf}, {On: planted + 28, Leaves: TwoThree}}}
	got := Observe(s)
	if len(got) != 2 || got[0].From != planted || got[0].On != planted+15 || got[1].From != planted+16 ||
		got[1].On != planted+28 {
		t.Fatalf("%+v", got)
	}
	// The weeds that the pass left have emerged already, so the flood does not delay them.
	if o := got[1]; !near(o.Slow, (93+45*1.5)/(12*17.2), 1e-9) || !near(o.Fast, (93+45*1.5)/(8*17.2), 1e-9) {
		t.Errorf("after the pass %g to %g", o.Slow, o.Fast)
	}
}

func TestAPlaceThatSawNothingKeepsTheTable(t *testing.T) {
	l := Tally{}.Learned()
	if l.Rate != 1 || l.N != 0 || l.Bounded || !near(l.StdErr, RateSpread, 0.02) {
		t.Errorf("%+v", l)
	}
	if rateAt(0) != MinWeedRate || rateAt(knownRates-1) != MaxWeedRate {
		t.Errorf("rates from %g to %g", rateAt(0), rateAt(knownRates-1))
	}
}

func TestTheRateComesOutOfManyBrackets(t *testing.T) {
	for _, want := range []float64{0.8, 0.9, 1, 1.16, 1.3} {
		tallyOf := func(n int) Tally {
			return tallied(slices.Repeat([]Observation{{Slow: want * 0.93, Fast: want * 1.07}}, n))
		}
		few, many := tallyOf(2).Learned(), tallyOf(40).Learned()
		if math.Abs(many.Rate-want) > 1.01/RateSteps || many.Bounded || many.N != 40 {
			t.Errorf("%g: learned %+v", want, many)
		}
		if math.Abs(few.Rate-1) > math.Abs(many.Rate-1) || few.StdErr <= many.StdErr {
			t.Errorf("%g: of two %+v, of many %+v", want, few, many)
		}
	}
}

func TestTheRateIsBounded(t *testing.T) {
	for _, c := range []struct{ slow, fast, rate float64 }{{0.4, 0.5, MinWeedRate}, {1.6, math.Inf(1), MaxWeedRate}} {
		var tally Tally
		for range 200 {
			tally.Add(Observation{Slow: c.slow * 0.95, Fast: c.fast})
		}
		if l := tally.Learned(); l.Rate != c.rate || !l.Bounded {
			t.Errorf("weeds %g to %g times as fast: %+v", c.slow, c.fast, l)
		}
	}
}

// Liars are growers who say that the weeds are too big although they are not. Liars move the first window of a place,
// 14.7 days after planting at rate 1 and 28 °C. The move is limited but not 0: three liars among ten look like three
// plots with fast weeds.
func TestLiarsMoveAPlaceLittle(t *testing.T) {
	for _, c := range []struct {
		liars int // number of liars among a hundred growers
		days  float64
	}{{0, 1}, {10, 1.2}, {20, 1.7}, {30, 2.2}} {
		var tally Tally
		for i := range 100 {
			if i < c.liars {
				tally.Add(Observation{Slow: 320.5 / 258, Fast: math.Inf(1)})
			} else {
				tally.Add(Observation{Slow: 230.5 / 258, Fast: 320.5 / 258})
			}
		}
		if l := tally.Learned(); math.Abs(14.7/l.Rate-14.7) > c.days {
			t.Errorf("%d liars of 100: %+v", c.liars, l)
		}
	}
}

func TestAddRefusesWhatIsNoObservation(t *testing.T) {
	var tally Tally
	for _, o := range []Observation{{}, {Slow: 1, Fast: 1}, {Slow: 2, Fast: 1}, {Slow: -1, Fast: 1},
		{Slow: math.NaN(), Fast: 1}, {Slow: 1, Fast: math.NaN()}} {
		tally.Add(o)
	}
	if tally != (Tally{}) {
		t.Errorf("%+v", tally)
	}
}

func drawObservation(t *rapid.T) Observation {
	o := Observation{Slow: rapid.Float64Range(0, 3).Draw(t, "slow")}
	o.Fast = o.Slow + rapid.Float64Range(0.001, 3).Draw(t, "fast")
	if rapid.IntRange(0, 3).Draw(t, "open") == 0 {
		o.Fast = math.Inf(1)
	}
	return o
}

func TestLearningProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := rapid.SliceOfN(rapid.Custom(drawObservation), 0, 60).Draw(t, "observations")
		l := tallied(obs).Learned()
		if !(l.Rate >= MinWeedRate && l.Rate <= MaxWeedRate) || l.N != len(obs) ||
			!(l.StdErr >= 0 && l.StdErr < MaxWeedRate-MinWeedRate) {
			t.Errorf("%+v", l)
		}
		at := NewLocal()
		at.WeedRate = l.Rate
		if err := at.Validate(); err != nil {
			t.Error(err)
		}
		// The result does not depend on the order of observations or on storing the tally in between.
		var tally Tally
		for i := len(obs) - 1; i >= 0; i-- {
			tally.Add(obs[i])
			kept := must(json.Marshal(tally))
			tally = Tally{}
			if err := json.Unmarshal(kept, &tally); err != nil {
				t.Fatal(err)
			}
		}
		if back := tally.Learned(); math.Abs(back.Rate-l.Rate) > 1.01/RateSteps || back.N != l.N {
			t.Errorf("%+v, the other way round %+v", l, back)
		}
		// Another observation of fast weeds does not lower the rate.
		tally.Add(Observation{Slow: rapid.Float64Range(0.5, 2).Draw(t, "faster than"), Fast: math.Inf(1)})
		if more := tally.Learned(); more.Rate < l.Rate-1.01/RateSteps {
			t.Errorf("%g, and after a faster one %g", l.Rate, more.Rate)
		}
	})
}

func TestObservingProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		obs := Observe(s)
		if len(obs) > len(s.Sightings) || len(obs) > len(s.Passes)+1 {
			t.Errorf("%d observations of %d sightings and %d passes", len(obs), len(s.Sightings), len(s.Passes))
		}
		for i, o := range obs {
			if !(o.Slow >= 0 && o.Slow < o.Fast) || o.On < o.From || i > 0 && o.From < obs[i-1].On {
				t.Errorf("%+v", obs)
			}
		}
		// The learned weed rate does not change what is observed.
		at := NewLocal()
		at.WeedRate = rapid.Float64Range(MinWeedRate, MaxWeedRate).Draw(t, "rate")
		s.Local = &at
		for i, o := range Observe(s) {
			if o != obs[i] {
				t.Errorf("%+v, at rate %g %+v", obs[i], at.WeedRate, o)
			}
		}
	})
}

func TestLikelihoodOfAnObservation(t *testing.T) {
	// Abramowitz & Stegun, table 26.1 (source read): P(0) = 0.5, P(1.96) = 0.97500.
	wantNear(t, "P(0)", normal(0), 0.5, 1e-12)
	wantNear(t, "P(1.96)", normal(1.96), 0.97500, 5e-6)
	// An observation without bounds fits every rate: its likelihood is (1 - 0.2) + 0.2/3, its weight one half.
	var tally Tally
	tally.Add(Observation{Fast: math.Inf(1)})
	for i, fit := range tally.Fit {
		wantNear(t, "rate %g", fit, 0.5*math.Log(0.8+0.2/3), 1e-12, rateAt(i))
	}
}

func tallied(obs []Observation) (t Tally) {
	for _, o := range obs {
		t.Add(o)
	}
	return t
}
