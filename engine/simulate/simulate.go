// Package simulate plays seasons of invented growers with and without the bell (the service's texts), to see how many
// plots are weeded in time. Its assumptions are stated: how growers answer, forget, lie and weed late, what the weather
// is, and how fast weeds really grow.
//
//	result, err := simulate.Run(simulate.Options{})
//	// result.Without.PlotsFirstInTime, result.With.PlotsFirstInTime, result.Assumptions
//
// All agronomy comes from package engine. All numbers about the growers' behaviour were chosen for this simulation, and
// no survey supports them. So a result depends on its assumptions and is not a forecast. Random numbers depend only on
// the seed: equal options give equal results. Clocks, files and texts for people do not belong in this package.
package simulate

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

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
	TrueRate float64        // how fast weeds really grow, as a factor on the engine's rate; 0 = 1
	Scatter  float64        // standard deviation of the logarithm of the plots' rates; 0 = DefaultScatter
	Nature   Nature         // behaviour of the growers; zero = Usual()
	Played   func()         // is called after each simulated plot; may be nil
}

// Defaults and limits of Options. All these numbers were chosen for this simulation.
const (
	DefaultPlots   = 1000
	MaxPlots       = 100_000 // so that a simulation takes at most a few minutes
	DefaultSpread  = 30      // days; growers who share water plant within about a month
	MaxSpread      = 365
	DefaultScatter = 0.05 // plots differ in puddling and flooding; this scatter moves the first window by about a day
	MaxScatter     = 0.5
)

// FirstPlanting is the default of the field Options.First.
var FirstPlanting = engine.Date(2027, 6, 15)

// Outcome counts the results of one season. A pass is in time if it is inside the true window, in which the real weeds
// have two to four leaves.
type Outcome struct {
	Plots            int
	Passes           int
	PassesInTime     int
	PlotsFirstInTime int // plots whose first pass was in time
	PlotsAllInTime   int // plots whose passes were all in time, with a pass in every window
	TextsSent        int
	// MeanErrDays is the mean absolute error, in days, of the predicted first days of windows. It counts only
	// predictions made before the grower looked at the weeds. It is 0 without the bell.
	MeanErrDays float64
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

// SeasonError is the result of one of the seasons in which the service learns the weed rate of a place.
type SeasonError struct {
	Season      int            // number of the season; season 1 is played with the rate of Options.Place
	Rate        float64        // weed rate that the service assumed in this season
	MeanErrDays float64        // the field MeanErrDays of With
	With        Outcome        // outcome with the bell
	Learned     engine.Learned // estimate from all seasons including this one; the next season uses it
}

// MaxSeasons is the largest number of seasons that Learn accepts.
const MaxSeasons = 50

// Learn plays consecutive seasons, a year apart, which all have the same weather. In each season the service assumes
// the weed rate that it learned from what growers saw in the earlier seasons.
func Learn(o Options, seasons int) ([]SeasonError, error) {
	o, err := o.filled()
	if err != nil {
		return nil, err
	}
	if seasons < 0 || seasons > MaxSeasons {
		return nil, fmt.Errorf("simulate: %d seasons are not between 0 and %d", seasons, MaxSeasons)
	}
	var tally engine.Tally
	place := *o.Place
	out := make([]SeasonError, 0, seasons)
	for n := range seasons {
		now := place // a copy for each season, because the season's plots keep a pointer to their place
		o.Place = &now
		with, seen := o.play(true)
		for _, x := range seen {
			tally.Add(x)
		}
		learned := tally.Learned()
		out = append(out, SeasonError{Season: n + 1, Rate: place.WeedRate, MeanErrDays: with.MeanErrDays, With: with,
			Learned: learned})
		place.WeedRate = learned.Rate
		o.Seed++
		o.First += yearDays
		o.Weather.Daily.From += yearDays
	}
	return out, nil
}

// yearDays is the number of days from one season of Learn to the next.
const yearDays = 365

// filled returns the options with the defaults filled in, or an error if an option is not valid.
func (o Options) filled() (Options, error) {
	o.Plots = cmp.Or(o.Plots, DefaultPlots)
	o.First = cmp.Or(o.First, FirstPlanting)
	o.Spread = cmp.Or(o.Spread, DefaultSpread)
	o.Weather.Normals = cmp.Or(o.Weather.Normals, Valley())
	o.TrueRate = cmp.Or(o.TrueRate, 1)
	o.Scatter = cmp.Or(o.Scatter, DefaultScatter)
	o.Nature = cmp.Or(o.Nature, Usual())
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
	case !(o.TrueRate >= engine.MinWeedRate && o.TrueRate <= engine.MaxWeedRate):
		return fmt.Errorf("simulate: true weed rate %g is not between %g and %g", o.TrueRate, engine.MinWeedRate,
			engine.MaxWeedRate)
	case !(o.Scatter >= 0 && o.Scatter <= MaxScatter):
		return fmt.Errorf("simulate: scatter %g is not between 0 and %g", o.Scatter, MaxScatter)
	case o.First < earliest || o.First > latest:
		return fmt.Errorf("simulate: first planting %s is not between %s and %s", o.First, earliest, latest)
	}
	if err := o.Nature.validate(); err != nil {
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

// plot draws a plot with its tool, and the rate at which weeds really grow on the plot.
func (o *Options) plot(r *rand.Rand) (engine.Plot, engine.Tool, float64) {
	row := rows[r.IntN(len(rows))]
	p := engine.Plot{
		Method: engine.Transplanted, Planted: o.First + engine.Day(r.IntN(o.Spread)),
		SeedlingAgeDays: seedlingAge.draw(r),
		RowSpacingCM:    row, HillSpacingCM: row, AreaM2: float64(areas.draw(r)), Flood: engine.FloodKept,
	}
	rate := o.TrueRate * math.Exp(o.Scatter*r.NormFloat64())
	return p, engine.Tool{WidthCM: row - toolRoomCM}, min(max(rate, engine.MinWeedRate), engine.MaxWeedRate)
}

// play plays the season on all plots. It returns the outcome, and what the growers saw of the weeds.
func (o Options) play(bell bool) (Outcome, []engine.Observation) {
	out := Outcome{Plots: o.Plots}
	var seen []engine.Observation
	missBy, foretold := 0.0, 0
	for i := range o.Plots {
		g := o.grower(i)
		if bell {
			g.withBell()
			out.TextsSent += len(g.told)
			missBy += g.missBy
			foretold += g.foretold
			seen = append(seen, engine.Observe(g.known, nil)...)
		} else {
			g.byHabit()
		}
		out.Passes += len(g.truth.Passes)
		out.PassesInTime += g.inTime
		if g.firstInTime {
			out.PlotsFirstInTime++
		}
		if g.inTime == len(g.truth.Passes) && g.inTime > 0 && !g.window.Exists() {
			out.PlotsAllInTime++
		}
		if o.Played != nil {
			o.Played()
		}
	}
	if foretold > 0 {
		out.MeanErrDays = missBy / float64(foretold)
	}
	return out, seen
}
