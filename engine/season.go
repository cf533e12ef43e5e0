package engine

import (
	"errors"
	"fmt"
)

// Season is a plot with its tool, passes, sightings and weather, from planting
// to closure: all that a plan is made of. Passes and sightings from before the
// planting day are kept but play no part.
type Season struct {
	Plot      Plot
	Tool      Tool
	Passes    []Pass     // in order of day
	Sightings []Sighting // in order of day
	Weather   Weather
	Local     *Local    // the place; nil: all as in the table
	Home      Household // the grower's hands, hours and money
	Announced Window    // as the grower was last told it; it moves only by a text that says so
	Since     Day       // day the plot was registered: what was over by then is not rung; 0 = before planting
	ClosedOn  Day       // the grower closed it; 0 = not
}

// ErrOrder says that passes or sightings are not in order of day.
var ErrOrder = errors.New("engine: passes and sightings must be in order of day")

// ErrNoPlot is what records return, wrapped or not, for a plot number under which no
// plot is open. It stands here because the menu and the store both use it.
var ErrNoPlot = errors.New("no open plot has this number")

// Validate reports the first thing that cannot be right.
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
	for i := 1; i < len(s.Passes); i++ {
		if s.Passes[i].On < s.Passes[i-1].On {
			return ErrOrder
		}
	}
	for i := 1; i < len(s.Sightings); i++ {
		if s.Sightings[i].On < s.Sightings[i-1].On {
			return ErrOrder
		}
	}
	return nil
}

// asOf is the season as it was known on a day: later passes and sightings
// have not happened yet, and those from before planting belong to another
// season (the grower moved the planting day).
func (s Season) asOf(today Day) Season {
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
	return s
}

// lastPass returns the latest pass.
func (s Season) lastPass() (Pass, bool) {
	if len(s.Passes) == 0 {
		return Pass{}, false
	}
	return s.Passes[len(s.Passes)-1], true
}

// fit is the tool against the rows; a season has one answer.
func (s Season) fit() Fit { return fitOf(s.Plot, s.Tool, &s.local().Figures) }
