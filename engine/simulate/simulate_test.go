package simulate

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// must returns the value v, or panics if there is an error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func TestTheSameSeedTellsTheSame(t *testing.T) {
	o := Options{Seed: 7, Plots: 60}
	first, second := must(Run(o)), must(Run(o))
	if !reflect.DeepEqual(first, second) {
		t.Errorf("%+v, and again %+v", first, second)
	}
	o.Seed = 8
	if other := must(Run(o)); reflect.DeepEqual(first.With, other.With) {
		t.Errorf("another seed tells the same: %+v", other.With)
	}
}

func TestZeroOptionsMeanTheDefaults(t *testing.T) {
	place := engine.NewLocal()
	told := Options{Plots: DefaultPlots, First: FirstPlanting, Spread: DefaultSpread,
		Weather: engine.Weather{Normals: Valley()},
		Place:   &place, TrueRate: 1, Scatter: DefaultScatter, Nature: Usual()}
	if zero, full := must(Run(Options{})), must(Run(told)); !reflect.DeepEqual(zero, full) {
		t.Errorf("%+v\n%+v", zero, full)
	}
}

// average returns two shares of plots, each as the mean of several seeds: first has the share of plots whose first pass
// was in time, all has the share of plots whose passes were all in time. Index 0 is without the bell, index 1 is with
// the bell.
func average(t *testing.T, o Options, seeds int) (first, all [2]float64) {
	t.Helper()
	plots := 0.0
	for range seeds {
		o.Seed++
		r := must(Run(o))
		plots += float64(r.With.Plots)
		for i, x := range []Outcome{r.Without, r.With} {
			first[i] += float64(x.PlotsFirstInTime)
			all[i] += float64(x.PlotsAllInTime)
		}
	}
	for i := range first {
		first[i] /= plots
		all[i] /= plots
	}
	return first, all
}

// In a dry and hot year the usual first pass, 14 to 21 days after transplanting, is in the window anyway. So in a dry
// year the first pass is not compared: waiting for a text cannot improve it.
func TestTheBellHelpsThoseWhoAnswerAndAct(t *testing.T) {
	for _, c := range []struct {
		name    string
		o       Options
		allOnly bool
	}{
		{"usual weather", Options{Nature: Honest()}, false},
		{"usual growers", Options{}, false},
		{"a wet year, as measured", Options{Nature: Honest(), Measured: true,
			Weather: engine.Weather{Daily: Year(Wet, 2027)}}, false},
		{"a cool year, as measured", Options{Nature: Honest(), Measured: true,
			Weather: engine.Weather{Daily: Year(Cool, 2027)}}, false},
		{"a dry year, as measured", Options{Nature: Honest(), Measured: true,
			Weather: engine.Weather{Daily: Year(Dry, 2027)}}, true},
	} {
		c.o.Plots = 200
		first, all := average(t, c.o, 3)
		if !c.allOnly && first[1] < first[0] || all[1] < all[0] {
			t.Errorf("%s: first pass in time %.2f without the bell, %.2f with it; all %.2f and %.2f", c.name, first[0],
				first[1], all[0], all[1])
		}
	}
}

func TestLyingHelpsNobody(t *testing.T) {
	honest, lying := Honest(), Honest()
	truly, trulyAll := average(t, Options{Plots: 200, Nature: honest}, 3)
	for _, lies := range []float64{0.2, 0.6, 1} {
		lying.Lies = lies
		falsely, falselyAll := average(t, Options{Plots: 200, Nature: lying}, 3)
		if falsely[1] > truly[1] || falselyAll[1] > trulyAll[1] {
			t.Errorf("%g of texts answered with a lie: first in time %.2f, all %.2f; honest %.2f, %.2f", lies,
				falsely[1], falselyAll[1], truly[1], trulyAll[1])
		}
		if falsely[0] != truly[0] {
			t.Errorf("without the bell nobody lies: %.2f and %.2f", falsely[0], truly[0])
		}
	}
}

func TestWithoutHeedAndAnswersTheBellChangesNothing(t *testing.T) {
	r := must(Run(Options{Plots: 300, Nature: Nature{Misreads: 1}}))
	r.With.TextsSent, r.With.MeanErrDays, r.Without.MeanErrDays = 0, 0, 0
	with, without := float64(r.With.PassesInTime), float64(r.Without.PassesInTime)
	if r.With.Passes == 0 || math.Abs(with-without) > 0.1*without {
		t.Errorf("%+v, %+v", r.Without, r.With)
	}
}

func TestNoPlotGetsTwoTextsADayOrTooManyAWeek(t *testing.T) {
	o := must(Options{Nature: Lying()}.filled())
	for i := range 200 {
		g := o.grower(i)
		g.withBell()
		for j, x := range g.told {
			if j > 0 && x.On <= g.told[j-1].On {
				t.Fatalf("plot %d: two texts on %s", i, x.On)
			}
			if j >= engine.TextsAWeek && x.On-g.told[j-engine.TextsAWeek].On < engine.TextsWeekDays {
				t.Fatalf("plot %d: four texts in the week to %s", i, x.On)
			}
		}
		if err := g.known.Validate(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestWhatIsMeasuredIsNotKnownBefore(t *testing.T) {
	o := must(Options{Measured: true, Weather: engine.Weather{Daily: Year(Cool, 2027)}}.filled())
	g := o.grower(1)
	for _, d := range []engine.Day{engine.Date(2026, 12, 1), engine.Date(2027, 1, 1), engine.Date(2027, 7, 1),
		engine.Date(2028, 2, 1)} {
		g.learnWeather(d)
		if _, known := g.known.Weather.Daily.On(d); known {
			t.Errorf("the service knows on %s what the day will bring", d)
		}
		_, known := g.known.Weather.Daily.On(d - 1)
		if _, was := o.Weather.Daily.On(d - 1); known != was {
			t.Errorf("the day before %s: known %t, measured %t", d, known, was)
		}
	}
}

func TestWrongWeedsAreLearned(t *testing.T) {
	const noise = 1.0 // days by which a mean error may be greater by chance
	for _, nature := range []struct {
		name string
		of   Nature
	}{{"usual", Usual()}, {"honest", Honest()}, {"sloppy", Sloppy()}, {"lying", Lying()}} {
		for _, rate := range []float64{0.8, 0.9, 1, 1.15, 1.3} {
			seasons := must(Learn(Options{Plots: 150, TrueRate: rate, Nature: nature.of, Seed: 3}, 6))
			first, best := seasons[0], math.Inf(1)
			if first.Rate != 1 || first.Learned.N == 0 {
				t.Errorf("%s, %g: the first season %+v", nature.name, rate, first)
			}
			for _, s := range seasons {
				if s.MeanErrDays > best+noise || s.MeanErrDays > first.MeanErrDays+noise {
					t.Errorf("%s, %g: season %d errs by %.2f days, the best before it by %.2f", nature.name, rate,
						s.Season, s.MeanErrDays, best)
				}
				if math.Abs(s.Learned.Rate-rate) > 0.1 {
					t.Errorf("%s, %g: after season %d the rate is %g", nature.name, rate, s.Season, s.Learned.Rate)
				}
				best = min(best, s.MeanErrDays)
			}
			last := seasons[len(seasons)-1].MeanErrDays
			if rate != 1 && last > 0.85*first.MeanErrDays {
				t.Errorf("%s, %g: %.2f days in the first season and %.2f in the last", nature.name, rate,
					first.MeanErrDays, last)
			}
		}
	}
}

func TestAPlaceThatLearnsStartsFromWhatItBelieves(t *testing.T) {
	place := engine.NewLocal()
	place.WeedRate = 1.2
	seasons := must(Learn(Options{Plots: 40, TrueRate: 0.9, Place: &place}, 3))
	if seasons[0].Rate != 1.2 || seasons[1].Rate != seasons[0].Learned.Rate || place.WeedRate != 1.2 {
		t.Errorf("%+v, the place %g", seasons, place.WeedRate)
	}
}

func TestOptionsThatCannotBe(t *testing.T) {
	broken := engine.NewLocal()
	broken.WeedRate = 9
	for _, c := range []struct {
		o    Options
		says string
	}{
		{Options{Plots: -1}, "plots"},
		{Options{Plots: MaxPlots + 1}, "plots"},
		{Options{Spread: -1}, "planting over"},
		{Options{TrueRate: 0.1}, "true weed rate"},
		{Options{TrueRate: math.NaN()}, "true weed rate"},
		{Options{Scatter: -1}, "scatter"},
		{Options{Scatter: math.Inf(1)}, "scatter"},
		{Options{First: engine.Date(1800, 1, 1)}, "first planting"},
		{Options{First: engine.Date(2199, 1, 1)}, "first planting"},
		{Options{Nature: Nature{Lies: 1.1}}, "lies"},
		{Options{Nature: Nature{Heeds: -0.1}}, "heeds"},
		{Options{Nature: Nature{Acts: math.NaN()}}, "acts"},
		{Options{Nature: Nature{DelayDays: 1e9}}, "delay"},
		{Options{Place: &broken}, "weed rate"},
		{Options{Weather: engine.Weather{Normals: engine.Normals{{MinC: 30, MaxC: 20}}}}, "temperatures"},
		{Options{Weather: engine.Weather{Daily: engine.Daily{Days: []engine.Measured{{MinC: 99, MaxC: 20}}}}},
			"temperatures"},
	} {
		_, err := Run(c.o)
		_, learnErr := Learn(c.o, 2)
		if err == nil || !strings.Contains(err.Error(), c.says) || learnErr == nil {
			t.Errorf("%q, %v, %v", c.says, err, learnErr)
		}
	}
	for _, n := range []int{-1, MaxSeasons + 1} {
		if _, err := Learn(Options{}, n); err == nil {
			t.Errorf("%d seasons", n)
		}
	}
}

func TestOutcomesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.Float64Range(0, 1)
		o := Options{
			Seed: rapid.Uint64().Draw(t, "seed"), Plots: rapid.IntRange(1, 2).Draw(t, "plots"),
			Spread:   rapid.IntRange(0, MaxSpread).Draw(t, "spread"),
			First:    engine.Date(rapid.IntRange(1901, 2140).Draw(t, "year"), 3, 1),
			TrueRate: rapid.Float64Range(engine.MinWeedRate, engine.MaxWeedRate).Draw(t, "rate"),
			Scatter:  rapid.Float64Range(0, MaxScatter).Draw(t, "scatter"), Measured: rapid.Bool().Draw(t, "measured"),
			Nature: Nature{share.Draw(t, "heeds"), share.Draw(t, "acts"), share.Draw(t, "later"), rapid.Float64Range(0,
				MaxDelayDays).Draw(t, "delay"), share.Draw(t, "looks"), rapid.Float64Range(0, MaxMisreads).Draw(t,
				"misreads"), share.Draw(t, "answers"), share.Draw(t, "lies")},
		}
		mean, half := rapid.Float64Range(0, 40).Draw(t, "mean"), rapid.Float64Range(0, 15).Draw(t, "half range")
		o.Weather = engine.Steady(mean-half, mean+half)
		if rapid.Bool().Draw(t, "days known") {
			o.Weather.Daily = engine.Daily{From: o.First + engine.Day(rapid.IntRange(-50, 50).Draw(t, "from")),
				Days: []engine.Measured{{MinC: 10, MaxC: 12, RainMM: 3}, engine.Unmeasured(), {MinC: 30, MaxC: 40}}}
		}
		r := must(Run(o))
		for _, x := range []Outcome{r.Without, r.With} {
			if x.Plots != o.Plots || x.PassesInTime > x.Passes || x.PlotsFirstInTime > x.Plots ||
				x.PlotsAllInTime > x.PlotsFirstInTime || x.PlotsFirstInTime > x.PassesInTime ||
				!(x.MeanErrDays >= 0) {
				t.Errorf("%+v", x)
			}
		}
		if r.Without.TextsSent != 0 || r.Without.MeanErrDays != 0 {
			t.Errorf("without the bell %+v", r.Without)
		}
		if rapid.IntRange(0, 7).Draw(t, "learn too") == 0 {
			must(Learn(o, 2))
		}
	})
}

func TestEveryAssumptionIsNamed(t *testing.T) {
	names := map[string]bool{}
	for _, a := range must(Run(Options{Plots: 1, Measured: true})).Assumptions {
		if names[a.Name] || a.Name == "" || a.Unit == "" || a.Meaning == "" || math.IsNaN(a.Value) {
			t.Errorf("%+v", a)
		}
		names[a.Name] = true
	}
	// Each field of the nature has a different value, and each of these values must be in the list of assumptions.
	nature := Nature{0.11, 0.12, 0.13, 0.14, 0.15, 0.16, 0.17, 0.18}
	o := Options{Nature: nature, Place: &engine.Local{}}
	values := map[float64]bool{}
	for _, a := range o.assumptions() {
		values[a.Value] = true
	}
	fields := reflect.ValueOf(nature)
	for i := range fields.NumField() {
		if !values[fields.Field(i).Float()] {
			t.Errorf("%s is not told", fields.Type().Field(i).Name)
		}
	}
}

func BenchmarkRun(b *testing.B) {
	for b.Loop() {
		must(Run(Options{}))
	}
}
