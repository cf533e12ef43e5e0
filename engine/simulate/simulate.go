// Package simulate plays seasons of invented growers, with the bell and
// without it, so that anyone can see how many plots are weeded in time under
// assumptions that are written down: how growers answer, forget, lie and weed
// late, what the weather does, and how fast weeds really go.
//
//	result, err := simulate.Run(simulate.Options{})
//	// result.Without.PlotsFirstInTime, result.With.PlotsFirstInTime, result.Assumptions
//
// The agronomy is the engine's; the behaviour is chosen here, every number of
// it, and rests on no survey. A result is a consequence of its assumptions and
// no forecast. Nothing is random but by the seed: the same options give the
// same result.
package simulate

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"rowbell/engine"
)

// Options say what is played. Zero values are replaced by the defaults named.
type Options struct {
	Seed     uint64
	Plots    int            // DefaultPlots; at most MaxPlots
	First    engine.Day     // first day of planting; 0 = FirstPlanting
	Spread   int            // days over which the plots are planted; 0 = DefaultSpread
	Weather  engine.Weather // what it does; zero = Valley, without measured days
	Measured bool           // the service has the weather of days past as measured, else only the normals
	Place    *engine.Local  // what the service believes of the place; nil = the table
	TrueRate float64        // how fast weeds really go, to the table's clock; 0 = 1
	Scatter  float64        // standard deviation of the logarithm of a plot's own rate around it; 0 = DefaultScatter
	Nature   Nature         // how growers are; zero = Usual
}

// Defaults and limits of Options. All chosen here.
const (
	DefaultPlots   = 1000
	MaxPlots       = 100_000 // keeps a run below a few minutes
	DefaultSpread  = 30      // days: a valley that shares water plants within a month
	MaxSpread      = 365
	DefaultScatter = 0.05 // plots of one place differ in puddling and flood; a day of the first window either way
	MaxScatter     = 0.5
)

// FirstPlanting is the first day of planting where none is said.
var FirstPlanting = engine.Date(2027, 6, 15)

// Outcome counts what became of the plots. In time means between two and four
// leaves of the true weeds, whatever the service thought.
type Outcome struct {
	Plots            int
	Passes           int
	PassesInTime     int
	PlotsFirstInTime int // whose first pass was in time
	PlotsAllInTime   int // that had every pass in time and left no window out
	TextsSent        int
	// mean distance of the windows' opening as foretold from the true one, before anybody looks; 0 without the bell
	MeanErrDays float64
}

// Result is the same growers and plots twice.
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
	Season      int     // 1 = the first, at the rate that the place begins with
	Rate        float64 // that the service reckoned with
	MeanErrDays float64 // as in Outcome
	With        Outcome
	Learned     engine.Learned // from all seasons up to this one, for the next
}

// MaxSeasons is how many seasons Learn plays at most.
const MaxSeasons = 50

// Learn plays seasons one after the other, a year apart and in the same
// weather, in which the place's weed rate is learned from what growers saw in
// the seasons before.
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
		now := place // seasons of this year keep their own
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

// yearDays is how far Learn's seasons lie apart.
const yearDays = 365

// filled is the options with the defaults in place, or what is wrong with
// them.
func (o Options) filled() (Options, error) {
	if o.Plots == 0 {
		o.Plots = DefaultPlots
	}
	if o.First == 0 {
		o.First = FirstPlanting
	}
	if o.Spread == 0 {
		o.Spread = DefaultSpread
	}
	if o.Weather.Normals == (engine.Normals{}) {
		o.Weather.Normals = Valley()
	}
	if o.Place == nil {
		place := engine.NewLocal()
		o.Place = &place
	}
	if o.TrueRate == 0 {
		o.TrueRate = 1
	}
	if o.Scatter == 0 {
		o.Scatter = DefaultScatter
	}
	if o.Nature == (Nature{}) {
		o.Nature = Usual()
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

// Days between which planting may begin, so that Learn's last season is still
// one that the engine believes.
var earliest, latest = engine.Date(engine.MinYear, 2, 1), engine.Date(engine.MaxYear-MaxSeasons-2, 1, 1)

// Plots, chosen here to suit what is common in line-planted rice: a tool fits
// all of these rows.
var (
	rows        = [...]float64{20, 22, 25, 30} // cm, planted square
	toolRoomCM  = 5.0                          // the tool is this much narrower than the rows
	seedlingAge = between{15, 20}              // days
	areas       = between{500, 5000}           // m2
)

// between is a range of whole numbers; both ends belong to it.
type between struct{ From, To int }

func (b between) draw(r *rand.Rand) int { return b.From + r.IntN(b.To-b.From+1) }

// plot draws the i-th plot, with its tool and its own weeds. It is the same
// with the bell and without.
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

// play plays all plots and gathers what was seen of the weeds.
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
	}
	if foretold > 0 {
		out.MeanErrDays = missBy / float64(foretold)
	}
	return out, seen
}
