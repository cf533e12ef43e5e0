// Package simulate plays seasons of invented growers with and without the bell (the service's texts), to see how many
// plots are weeded in time, and how good the days are that the service names. Its assumptions are stated: how growers
// look, answer, forget, lie and weed late, what the weather is, and how the weeds really grow.
//
//	result, err := simulate.Run(simulate.Options{})
//	// result.Without.PlotsFirstInTime, result.With.PlotsFirstInTime, result.Assumptions
//
// The weeds follow clocks of this package, not the weed clock of package engine. All numbers about the growers'
// behaviour were chosen for this simulation, and no survey supports them. So a result depends on its assumptions and is
// not a forecast. Random numbers depend only on the seed: equal options give equal results. Clocks, files and texts for
// people do not belong in this package.
package simulate

import (
	"cmp"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"

	"rowbell/engine"
)

// Options say what to simulate. A field with the value zero gets the default that its comment names.
type Options struct {
	Seed     uint64
	Plots    int            // number of plots; 0 = DefaultPlots; at most MaxPlots
	First    engine.Day     // first day on which a plot is planted; 0 = FirstPlanting
	Spread   int            // number of days over which the plots are planted; 0 = DefaultSpread
	Weather  engine.Weather // the weather that really comes; zero = the usual weather of Valley
	Measured bool           // the service knows the measured weather of past days, else only the normals
	Place    *engine.Local  // what the service assumes about the place; nil = engine.NewLocal()
	Clock    string         // clock of the weeds; "" = each clock for as many plots
	Rate     float64        // how fast weeds really grow, relative to their clock; 0 = 1
	Scatter  float64        // standard deviation of the logarithm of the plots' rates; 0 = DefaultScatter
	Water    Water          // water of the plots, which the growers tell
	Growers  Growers        // behaviour of the growers; zero = Usual()
	Habit    Habit          // days on which growers weed without the service; zero = DefaultHabit
	Played   func()         // is called after each simulated plot; may be nil
}

// Defaults and limits of Options. All these numbers were chosen for this simulation.
const (
	DefaultPlots   = 1000
	MaxPlots       = 100_000 // so that a simulation takes at most some minutes
	DefaultSpread  = 30      // days; growers who share water plant within about a month
	MaxSpread      = 365
	DefaultScatter = 0.12 // plots differ in puddling, water and kinds of weeds
	MaxScatter     = 0.5
	startScatter   = 1.0 // standard deviation of the days by which weeds are late
	longest        = 240 // days of weather after planting; no season is longer
)

// FirstPlanting is the default of the field Options.First.
var FirstPlanting = engine.Date(2027, 6, 15)

// Outcome counts the results of one season. A pass is in time if most weeds have two to four leaves, the plants have
// rooted, and the tool may still be used.
type Outcome struct {
	Plots            int
	Passes           int
	PassesInTime     int
	PlotsFirstInTime int // plots whose first pass was in time
	PlotsAllInTime   int // plots on which each pass that could have been in time was in time

	// With the bell only. Advised counts the passes that could have been in time and for which the service had named
	// a day, AdvisedInTime those of them whose day was in time, Followed those that were made on a day of the window
	// that the service had named.
	Advised, AdvisedInTime, Followed int
	Texts, Looks                     int
}

// Result has the outcomes without the bell and with the bell, for the same growers and plots.
type Result struct {
	Without, With Outcome
	Assumptions   []Assumption
}

// Run plays one season without the bell and one with it.
func Run(o Options) (Result, error) {
	o, err := o.filled()
	if err != nil {
		return Result{}, err
	}
	with, _ := o.play(true)
	without, _ := o.play(false)
	return Result{Without: without, With: with, Assumptions: o.assumptions()}, nil
}

// SeasonLearned is the result of one of the seasons in which the service learns the weeds of a place.
type SeasonLearned struct {
	Season int // number of the season; season 1 is played with Options.Place
	// Foretold is the number of days from planting to three leaves that the service foretells in this season, relative
	// to the true number of days, on a plot of mean speed: 1.1 means a tenth too late.
	Foretold float64
	With     Outcome        // outcome with the bell
	Learned  engine.Learned // estimate from all seasons including this one; the next season uses it
}

// MaxSeasons is the largest number of seasons that Learn accepts.
const MaxSeasons = 50

// Learn plays consecutive seasons, a year apart, which all have the same weather. In each season the service assumes
// what it learned from the growers' answers and silences in the earlier seasons.
func Learn(o Options, seasons int) ([]SeasonLearned, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	if seasons < 0 || seasons > MaxSeasons {
		return nil, fmt.Errorf("simulate: %d seasons are not between 0 and %d", seasons, MaxSeasons)
	}
	var tally engine.Tally
	out := make([]SeasonLearned, 0, seasons)
	for n := range seasons {
		with, seen := o.play(true)
		for _, x := range seen {
			tally.Add(x)
		}
		learned := tally.Learned()
		out = append(out, SeasonLearned{Season: n + 1, Foretold: o.foretold(), With: with, Learned: learned})
		place := *o.Place // a copy for each season, because the season's plots keep a pointer to their place
		place.WeedRate, place.Clocks = learned.Rate, learned.Clocks
		o.Place = &place
		o.Seed++
		o.First += yearDays
		o.Weather.Daily.From += yearDays
	}
	return out, nil
}

// yearDays is the number of days from one season of Learn to the next.
const yearDays = 365

// foretold returns SeasonLearned.Foretold.
func (o *Options) foretold() float64 {
	heat := newWarmth(o.Weather, o.First, longest)
	truth := 0.0
	for _, c := range o.clocks() {
		f := field{clock: c, slow: 1 / o.Rate, wet: float64(o.Water) / float64(WaterMoist), heat: heat}
		w := f.grow(o.First, 0, false)
		truth += w.have(middleLeaves) / float64(len(o.clocks()))
	}
	s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: o.First, RowSpacingCM: rows[0],
		Flood: o.Water.told()}, Weather: o.Weather, Local: o.Place}
	before := 0.0
	for d := range engine.Day(longest) {
		leaves := s.WeedLeaves(o.First + d)
		if leaves >= middleLeaves {
			return (float64(d) - (leaves-middleLeaves)/(leaves-before)) / truth
		}
		before = leaves
	}
	return longest / truth
}

const middleLeaves = 3 // leaves in the middle of the window

// clocks returns the clocks of the plots.
func (o *Options) clocks() []*clock {
	var list []*clock
	for i := range natureClocks {
		if o.Clock == "" || o.Clock == natureClocks[i].name {
			list = append(list, &natureClocks[i])
		}
	}
	return list
}

// filled returns the options with the defaults filled in, or an error if an option is not valid.
func (o Options) filled() (Options, error) {
	o.Plots = cmp.Or(o.Plots, DefaultPlots)
	o.First = cmp.Or(o.First, FirstPlanting)
	o.Spread = cmp.Or(o.Spread, DefaultSpread)
	o.Weather.Normals = cmp.Or(o.Weather.Normals, Valley())
	o.Rate = cmp.Or(o.Rate, 1)
	o.Scatter = cmp.Or(o.Scatter, DefaultScatter)
	o.Growers = cmp.Or(o.Growers, Usual())
	o.Habit = cmp.Or(o.Habit, DefaultHabit)
	if o.Place == nil {
		place := engine.NewLocal()
		o.Place = &place
	}
	return o, o.validate()
}

func (o Options) validate() error {
	switch {
	case o.Plots < 0 || o.Plots > MaxPlots:
		return fmt.Errorf("simulate: %d plots are not between 1 and %d", o.Plots, MaxPlots)
	case o.Spread < 0 || o.Spread > MaxSpread:
		return fmt.Errorf("simulate: planting over %d days is not between 1 and %d", o.Spread, MaxSpread)
	case o.Clock != "" && !slices.Contains(Clocks(), o.Clock):
		return fmt.Errorf("simulate: there is no clock %q", o.Clock)
	case !(o.Rate >= engine.MinWeedRate && o.Rate <= engine.MaxWeedRate):
		return fmt.Errorf("simulate: true weed rate %g is not between %g and %g", o.Rate, engine.MinWeedRate,
			engine.MaxWeedRate)
	case !(o.Scatter >= 0 && o.Scatter <= MaxScatter):
		return fmt.Errorf("simulate: scatter %g is not between 0 and %g", o.Scatter, MaxScatter)
	case o.Water > WaterMoist:
		return fmt.Errorf("simulate: there is no water %d", o.Water)
	case !o.Habit.valid():
		return fmt.Errorf("simulate: habit %s is not between 1 and %d days", o.Habit, MaxHabit)
	case o.First < earliest || o.First > latest:
		return fmt.Errorf("simulate: first planting %s is not between %s and %s", o.First, earliest, latest)
	}
	if err := o.Growers.validate(); err != nil {
		return err
	}
	for _, m := range o.Weather.Daily.Days {
		if m.HasTemperature() && !(m.MinC >= engine.ColdestC && m.MinC <= m.MaxC && m.MaxC <= engine.HottestC) {
			return errors.New("simulate: a measured day has no usable temperatures")
		}
	}
	probe := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: o.First, RowSpacingCM: rows[0]},
		Weather: o.Weather, Local: o.Place}
	return probe.Validate()
}

// The earliest and the latest day for Options.First. The last season of Learn must not be after engine.MaxYear.
var earliest, latest = engine.Date(engine.MinYear, 2, 1), engine.Date(engine.MaxYear-MaxSeasons-2, 1, 1)

// Ranges from which the plots are drawn. They were chosen as common values of rice planted in lines.
var (
	rows        = [...]float64{20, 22, 25, 30} // row spacings in cm; plants have the same spacing in both directions
	toolRoomCM  = 5.0                          // how many cm the tool is narrower than the row spacing
	seedlingAge = between{15, 20}              // days from sowing to transplanting
	areas       = between{500, 5000}           // m²
)

// between is a range of whole numbers that includes both From and To.
type between struct{ From, To int }

func (b between) draw(r *rand.Rand) int { return b.From + r.IntN(b.To-b.From+1) }

// plot draws a plot with its tool.
func (o *Options) plot(r *rand.Rand) (engine.Plot, engine.Tool) {
	row := rows[r.IntN(len(rows))]
	p := engine.Plot{
		Method: engine.Transplanted, Planted: o.First + engine.Day(r.IntN(o.Spread)),
		SeedlingAgeDays: seedlingAge.draw(r),
		RowSpacingCM:    row, HillSpacingCM: row, AreaM2: float64(areas.draw(r)), Flood: o.Water.told(),
	}
	return p, engine.Tool{WidthCM: row - toolRoomCM}
}

// play plays the season on all plots. It returns the outcome, and what the growers told of the weeds.
func (o Options) play(bell bool) (Outcome, []engine.Observation) {
	out := Outcome{Plots: o.Plots}
	heat := newWarmth(o.Weather, o.First, o.Spread+longest)
	clocks := o.clocks()
	var seen []engine.Observation
	for i := range o.Plots {
		g := o.grower(i, clocks[i%len(clocks)], heat)
		g.play(bell)
		g.count(&out)
		if bell {
			seen = append(seen, engine.Observe(g.known, g.told)...)
		}
		if o.Played != nil {
			o.Played()
		}
	}
	return out, seen
}
