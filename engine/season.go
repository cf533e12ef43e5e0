package engine

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Season is the input of a plan. Passes and sightings from before the planting day are ignored.
type Season struct {
	Plot      Plot
	Tool      Tool
	Passes    []Pass     // in order of day
	Sightings []Sighting // in order of day
	Weather   Weather
	Local     *Local    // figures, prices and weed rate of the place; nil means the result of NewLocal()
	Home      Household // people, hours and prices of the grower's household
	Announced Window    // the window that the grower was told; only another text moves its days
	Since     Day       // day of registration (0 = before planting); what was over before that day causes no text
	AskedOn   Day       // day of the first text that asked the grower to look at the weeds; 0 = none did
	ClosedOn  Day       // day on which the grower closed the plot; 0 = not closed

	heat   *heatSums // sums of Weather, kept while one plan is computed
	joined *joined   // what join found; nil before it
}

// ErrOrder says that passes or sightings are not in order of day.
var ErrOrder = errors.New("engine: passes and sightings must be in order of day")

// ErrNoPlot is the error of the store for a number without an open plot. It is declared here because the menu uses it,
// too.
var ErrNoPlot = errors.New("no open plot has this number")

// Validate returns an error for the first part that is outside its limits, or ErrOrder.
func (s Season) Validate() error {
	if err := s.Plot.Validate(); err != nil {
		return err
	}
	if err := s.Tool.Validate(); err != nil {
		return err
	}
	for i, n := range s.Weather.Normals {
		if !(ColdestC <= n.MinC && n.MinC <= n.MaxC && n.MaxC <= HottestC) {
			return fmt.Errorf("engine: month %d has no usable temperatures (%g to %g °C)", i+1, n.MinC, n.MaxC)
		}
		if !(0 <= n.RainMM && n.RainMM <= MaxMonthRainMM) {
			return fmt.Errorf("engine: month %d cannot have %g mm of rain", i+1, n.RainMM)
		}
	}
	if l := s.Weather.LatitudeDeg; !(-poleDeg <= l && l <= poleDeg) {
		return fmt.Errorf("engine: latitude %g is not between -90 and 90", l)
	}
	if s.Local != nil {
		if err := s.Local.Validate(); err != nil {
			return err
		}
	}
	if err := s.Home.Validate(); err != nil {
		return err
	}
	for _, p := range s.Passes {
		if !(p.Share >= 0 && p.Share <= 1) {
			return fmt.Errorf("engine: a pass cannot have weeded %g of the plot", p.Share)
		}
	}
	if !slices.IsSortedFunc(s.Passes, func(a, b Pass) int { return cmp.Compare(a.On, b.On) }) ||
		!slices.IsSortedFunc(s.Sightings, func(a, b Sighting) int { return cmp.Compare(a.On, b.On) }) {
		return ErrOrder
	}
	return nil
}

// asOf returns the season without passes and sightings after today or before planting. The latter belong to another
// season, or the planting day was corrected. Passes over parts of the plot are joined; see join.
func (s Season) asOf(today Day) Season {
	weather := s.Weather // a copy, so that the season itself does not move to the heap
	s.heat = newHeatSums(&weather, s.Plot.puddled())
	for len(s.Passes) > 0 && s.Passes[0].On < s.Plot.Planted {
		s.Passes = s.Passes[1:]
	}
	for n := len(s.Passes); n > 0 && s.Passes[n-1].On > today; n-- {
		s.Passes = s.Passes[:n-1]
	}
	for len(s.Sightings) > 0 && s.Sightings[0].On < s.Plot.Planted {
		s.Sightings = s.Sightings[1:]
	}
	for n := len(s.Sightings); n > 0 && s.Sightings[n-1].On > today; n-- {
		s.Sightings = s.Sightings[:n-1]
	}
	if s.joined == nil {
		s.join(today)
	}
	return s
}

// lastPass returns the latest pass.
func (s Season) lastPass() (Pass, bool) {
	if len(s.Passes) == 0 {
		return Pass{}, false
	}
	return s.Passes[len(s.Passes)-1], true
}

func (s Season) fit() Fit { return fitOf(s.Plot, s.Tool, &s.local().Figures) }
