package simulate

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

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
		Weather: engine.Weather{Normals: Valley()}, Place: &place, Rate: 1, Scatter: DefaultScatter, Growers: Usual(),
		Habit: Habit{14, 21}}
	if zero, full := must(Run(Options{})), must(Run(told)); !reflect.DeepEqual(zero, full) {
		t.Errorf("%+v\n%+v", zero, full)
	}
}

// A grower who does not heed the service acts alike with and without it, to the day.
func TestWithoutHeedTheBellChangesNothing(t *testing.T) {
	for _, habit := range []Habit{{21, 21}, {14, 21}, {16, 18}} {
		growers := Honest()
		growers.Heeds = 0
		r := must(Run(Options{Plots: 100, Growers: growers, Habit: habit}))
		a, b := r.Without, r.With
		if a.Passes == 0 || a.Passes != b.Passes || a.PassesInTime != b.PassesInTime ||
			a.PlotsFirstInTime != b.PlotsFirstInTime || a.PlotsAllInTime != b.PlotsAllInTime || b.Texts == 0 {
			t.Errorf("habit %s: %+v, %+v", habit, a, b)
		}
	}
}

// inTime returns the share of plots whose first pass is in time, without and with the bell.
func inTime(t *testing.T, o Options) (without, with float64) {
	t.Helper()
	r := must(Run(o))
	return float64(r.Without.PlotsFirstInTime) / float64(r.Without.Plots),
		float64(r.With.PlotsFirstInTime) / float64(r.With.Plots)
}

// Growers who look and act are helped in each kind of year, on each kind of ground and against each habit.
func TestTheBellHelpsWhoLooksAndActs(t *testing.T) {
	for _, habit := range []Habit{{21, 21}, {14, 21}, {16, 18}} {
		for i, year := range []string{"normal", "dry", "wet", "cool", "19"} {
			for _, water := range []Water{Water(i % 3), Water((i + 1) % 3)} {
				weather, _ := WeatherOf(year)
				o := Options{Plots: 60, Seed: 1, Growers: Honest(), Habit: habit, Water: water, Weather: weather,
					Measured: true}
				if without, with := inTime(t, o); with < without+0.05 {
					t.Errorf("habit %s, %s year, water %s: first pass in time %.2f without the bell, %.2f with it",
						habit, year, water, without, with)
				}
			}
		}
	}
}

// The better growers look, the better the advised day. Whether they act is another score.
func TestTwoScores(t *testing.T) {
	advised := func(g Growers) (good, followed float64) {
		r := must(Run(Options{Plots: 300, Growers: g})).With
		return float64(r.AdvisedInTime) / float64(r.Advised), float64(r.Followed) / float64(r.Advised)
	}
	honest, lazy, never := Honest(), Honest(), Honest()
	lazy.Acts, lazy.DelayDays = 0.3, 3
	never.Looks = 0
	good, followed := advised(honest)
	if lazyGood, lazyFollowed := advised(lazy); lazyGood < good/3 || lazyFollowed > followed-0.2 {
		t.Errorf("growers who seldom act: advised in time %.2f, followed %.2f; others %.2f, %.2f", lazyGood,
			lazyFollowed, good, followed)
	}
	if neverGood, _ := advised(never); neverGood > good-0.05 {
		t.Errorf("advised in time %.2f where nobody looks, %.2f where growers look", neverGood, good)
	}
}

func TestLyingHelpsNobody(t *testing.T) {
	lying := Honest()
	lying.Lies = 0.6
	without, truly := inTime(t, Options{Plots: 300, Growers: Honest()})
	again, falsely := inTime(t, Options{Plots: 300, Growers: lying})
	if falsely >= truly || again != without {
		t.Errorf("first pass in time %.2f with lies, %.2f without; without the bell %.2f and %.2f", falsely, truly,
			again, without)
	}
}

// Before growers were asked for looks, honest growers got 6.6 texts a season in the same year, and usual growers 7.0
// (measured once on the service of that time). At most one text more is spent on looks.
func TestTextsASeason(t *testing.T) {
	for _, c := range []struct {
		name   string
		of     Growers
		before float64
	}{{"honest", Honest(), 6.6}, {"usual", Usual(), 7.0}} {
		r := must(Run(Options{Plots: 300, Growers: c.of, Measured: true})).With
		texts := float64(r.Texts) / float64(r.Plots)
		t.Logf("%s growers: %.2f texts a season", c.name, texts)
		if texts > c.before+1 {
			t.Errorf("%s growers: %.2f texts a season", c.name, texts)
		}
	}
}

func TestNoPlotGetsTwoTextsADayOrTooManyAWeek(t *testing.T) {
	o := must(Options{Growers: Lying()}.filled())
	heat := newWarmth(o.Weather, o.First, o.Spread+longest)
	for i := range 200 {
		g := o.grower(i, o.clocks()[i%len(natureClocks)], heat)
		g.play(true)
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
	for _, d := range []engine.Day{engine.Date(2026, 12, 1), engine.Date(2027, 1, 1), engine.Date(2027, 7, 1),
		engine.Date(2028, 2, 1)} {
		g := o.grower(1, o.clocks()[0], newWarmth(o.Weather, o.First, o.Spread+longest))
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

// A place ends within 0.07 of the truth where growers tell all that they see, and within 0.10 where they tell only of
// weeds that are too big. The truth is the number of days from planting to the middle of the window. The latter need
// five seasons instead of three, because who never counts leaves is asked only once in a season.
func TestAPlaceLearns(t *testing.T) {
	all, big := Usual(), Honest()
	all.Lies, all.OnlyBig = 0, 0
	big.OnlyBig = 1
	for _, c := range []struct {
		name    string
		of      Growers
		seasons int
		within  float64
	}{{"all looks", Honest(), 3, 0.07}, {"few look", all, 3, 0.07}, {"only too big", big, 5, 0.10}} {
		for _, clock := range Clocks() {
			for i, rate := range []float64{0.85, 1.2} {
				o := Options{Seed: 3, Plots: 20, Clock: clock, Rate: rate, Growers: c.of, Measured: true,
					Water: []Water{WaterKept, WaterMoist}[i]}
				if last := must(Learn(o, c.seasons+1))[c.seasons]; math.Abs(last.Foretold-1) > c.within {
					t.Errorf("%s, %s, water %s, rate %g: the service foretells %.3f times the true days", c.name, clock,
						o.Water, rate, last.Foretold)
				}
			}
		}
	}
}

func TestAPlaceThatLearnsStartsFromWhatItBelieves(t *testing.T) {
	place := engine.NewLocal()
	place.WeedRate = 1.2
	fast := must(Learn(Options{Plots: 5, Place: &place}, 1))
	usual := must(Learn(Options{Plots: 5}, 1))
	if fast[0].Foretold >= usual[0].Foretold || place.WeedRate != 1.2 {
		t.Errorf("foretold %g at a rate of 1.2, %g at 1; the place %g", fast[0].Foretold, usual[0].Foretold,
			place.WeedRate)
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
		{Options{Clock: "sundial"}, "clock"},
		{Options{Rate: 0.1}, "true weed rate"},
		{Options{Rate: math.NaN()}, "true weed rate"},
		{Options{Scatter: -1}, "scatter"},
		{Options{Scatter: math.Inf(1)}, "scatter"},
		{Options{Water: 7}, "water"},
		{Options{Habit: Habit{0, 7}}, "habit"},
		{Options{First: engine.Date(1800, 1, 1)}, "first planting"},
		{Options{First: engine.Date(2199, 1, 1)}, "first planting"},
		{Options{Growers: Growers{Lies: 1.1}}, "lies"},
		{Options{Growers: Growers{Heeds: -0.1}}, "heeds"},
		{Options{Growers: Growers{Acts: math.NaN()}}, "acts"},
		{Options{Growers: Growers{DelayDays: 1e9}}, "delay"},
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
			Spread:  rapid.IntRange(0, MaxSpread).Draw(t, "spread"),
			First:   engine.Date(rapid.IntRange(1901, 2140).Draw(t, "year"), 3, 1),
			Rate:    rapid.Float64Range(engine.MinWeedRate, engine.MaxWeedRate).Draw(t, "rate"),
			Scatter: rapid.Float64Range(0, MaxScatter).Draw(t, "scatter"), Measured: rapid.Bool().Draw(t, "measured"),
			Water: Water(rapid.IntRange(0, 2).Draw(t, "water")), Clock: rapid.SampledFrom(Clocks()).Draw(t, "clock"),
			Growers: Growers{Heeds: share.Draw(t, "heeds"), Reads: share.Draw(t, "reads"), Acts: share.Draw(t, "acts"),
				DelayDays: rapid.Float64Range(0, MaxDelayDays).Draw(t, "delay"), Looks: share.Draw(t, "looks"),
				Misreads: rapid.Float64Range(0, MaxMisreads).Draw(t, "misreads"), OnlyBig: share.Draw(t, "only big"),
				Answers: share.Draw(t, "answers"), Lies: share.Draw(t, "lies")},
		}
		o.Habit.From = rapid.IntRange(1, MaxHabit).Draw(t, "habit from")
		o.Habit.To = rapid.IntRange(o.Habit.From, MaxHabit).Draw(t, "habit to")
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
				x.AdvisedInTime > x.Advised || x.Followed > x.Advised {
				t.Errorf("%+v", x)
			}
		}
		if a := r.Without; a.Texts != 0 || a.Looks != 0 || a.Advised != 0 {
			t.Errorf("without the bell %+v", a)
		}
		if rapid.IntRange(0, 7).Draw(t, "learn too") == 0 {
			must(Learn(o, 2))
		}
	})
}

func BenchmarkRun(b *testing.B) {
	for b.Loop() {
		must(Run(Options{}))
	}
}
