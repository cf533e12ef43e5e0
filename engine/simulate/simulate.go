// Package simulate plays seasons of invented growers with and without the bell, to
// see how many plots are weeded in time. The assumptions are stated: how growers
// answer, forget, lie and weed late, the weather, and how fast weeds really grow.
//
//	result, err := simulate.Run(simulate.Options{})
//	// result.Without.PlotsFirstInTime, result.With.PlotsFirstInTime, result.Assumptions
//
// The agronomy is the engine's. All numbers of the behaviour are chosen here and rest on no survey, so a result
// follows from its assumptions and is no forecast. Random numbers depend on the seed only: equal options give equal
// results. Clocks, files and texts for people do not belong here.
package simulate

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"rowbell/engine"
)

// Options say what to simulate. A zero value is replaced by the default named.
type Options struct {
	Seed     uint64
	Plots    int            // DefaultPlots; at most MaxPlots
	First    engine.Day     // first day of planting; 0 = FirstPlanting
	Spread   int            // days over which the plots are planted; 0 = DefaultSpread
	Weather  engine.Weather // true weather; zero = the normals of Valley
	Measured bool           // the service knows the measured weather of past days, else only the normals
	Place    *engine.Local  // what the service assumes of the place; nil = engine.NewLocal()
	TrueRate float64        // true weed rate of the place, as a factor on the table's rate; 0 = 1
	Scatter  float64        // standard deviation of the logarithm of plots' rates around it; 0 = DefaultScatter
	Nature   Nature         // behaviour of the growers; zero = Usual
	Played   func()         // called after each plot; nil = not called
}

// Defaults and limits of Options. All chosen here.
const (
	DefaultPlots   = 1000
	MaxPlots       = 100_000 // keeps a run below a few minutes
	DefaultSpread  = 30      // days; a valley that shares water is planted within a month
	MaxSpread      = 365
	DefaultScatter = 0.05 // plots differ in puddling and flood; moves the first window by about a day
	MaxScatter     = 0.5
)

// FirstPlanting is the default of Options.First.
var FirstPlanting = engine.Date(2027, 6, 15)

// Outcome counts the results of one season. A pass is in time if it falls into the
// true window, from two to four leaves of the true weeds.
type Outcome struct {
	Plots            int
	Passes           int
	PassesInTime     int
	PlotsFirstInTime int // plots whose first pass was in time
	PlotsAllInTime   int // plots with all passes in time and no window left out
	TextsSent        int
	// MeanErrDays is the mean absolute error, in days, of the predicted openings
	// of windows before anybody looked; 0 without the bell.
	MeanErrDays float64
}

// Result holds the outcomes of the same growers and plots without and with the bell.
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

// SeasonError is one season of a place that learns.
type SeasonError struct {
	Season      int            // 1 = the first season, played with the rate of Options.Place
	Rate        float64        // weed rate that the service used
	MeanErrDays float64        // Outcome.MeanErrDays
	With        Outcome        // outcome with the bell
	Learned     engine.Learned // estimate from all seasons up to this one, used in the next
}

// MaxSeasons is the largest number of seasons for Learn.
const MaxSeasons = 50

// Learn plays consecutive seasons, a year apart and with equal weather. In each one the
// service uses the weed rate learned from what growers saw in the earlier ones.
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
		now := place // a copy, because the seasons of this year keep a pointer to their place
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

// yearDays is the distance between the seasons of Learn, in days.
const yearDays = 365

// filled returns the options with their defaults, or an error if they are not valid.
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

// Range of Options.First. The last season of Learn must not be after engine.MaxYear.
var earliest, latest = engine.Date(engine.MinYear, 2, 1), engine.Date(engine.MaxYear-MaxSeasons-2, 1, 1)

// Range of the plots, chosen here as common in line-planted rice.
var (
	rows        = [...]float64{20, 22, 25, 30} // cm, planted square
	toolRoomCM  = 5.0                          // row spacing less tool width
	seedlingAge = between{15, 20}              // days
	areas       = between{500, 5000}           // m2
)

// between is a range of whole numbers, both ends included.
type between struct{ From, To int }

func (b between) draw(r *rand.Rand) int { return b.From + r.IntN(b.To-b.From+1) }

// plot draws a plot with its tool and its true weed rate.
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

// play plays the season on all plots. It returns the observations of weeds, too.
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
			seen = append(seen, engine.Observe(g.known)...)
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
