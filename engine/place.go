package engine

import (
	"fmt"
	"math"
	"slices"
)

// Figures are the constants that an operator may set for a place: they differ between places, or come from memory. The
// unit is that of the fact with the same name; texts to growers say "about" before a number that depends on them.
type Figures struct {
	// Crop.
	CanopyBaseC, TransplantPause, LeafGrowthRate, LeafCeiling, LightExtinction, SownPlantsPerM2 float64
	// Water.
	KcInitial, KcMiddle, KcEnd             float64
	LossHeavyMM, LossMediumMM, LossLightMM float64 // seepage and percolation of puddled soil, mm a day
	// Work.
	PushSpeedKMH, FieldEfficiency, HandHoursPerHa, HandRoundsLow, HandRoundsHigh float64
}

// Setting describes one of the Figures.
type Setting struct {
	Name     string                  // name of the constant and of its fact
	Min, Max float64                 // lowest and highest allowed value
	of       func(*Figures) *float64 // the field in Figures
	table    float64                 // the constant's value
}

// Settings returns the Figures with their bounds.
func Settings() []Setting { return slices.Clone(settings) }

var settings = []Setting{
	{"CanopyBaseC", 0, 15, func(f *Figures) *float64 { return &f.CanopyBaseC }, CanopyBaseC},
	{"TransplantPause", 0, 1, func(f *Figures) *float64 { return &f.TransplantPause }, TransplantPause},
	{"LeafGrowthRate", 0.003, 0.012, func(f *Figures) *float64 { return &f.LeafGrowthRate }, LeafGrowthRate},
	{"LeafCeiling", 3, 10, func(f *Figures) *float64 { return &f.LeafCeiling }, LeafCeiling},
	{"LightExtinction", 0.3, 0.8, func(f *Figures) *float64 { return &f.LightExtinction }, LightExtinction},
	{"SownPlantsPerM2", 20, 500, func(f *Figures) *float64 { return &f.SownPlantsPerM2 }, SownPlantsPerM2},
	{"KcInitial", 0.7, 1.5, func(f *Figures) *float64 { return &f.KcInitial }, KcInitial},
	{"KcMiddle", 0.7, 1.5, func(f *Figures) *float64 { return &f.KcMiddle }, KcMiddle},
	{"KcEnd", 0.4, 1.3, func(f *Figures) *float64 { return &f.KcEnd }, KcEnd},
	{"LossHeavyMM", 0, 40, func(f *Figures) *float64 { return &f.LossHeavyMM }, LossHeavyMM},
	{"LossMediumMM", 0, 40, func(f *Figures) *float64 { return &f.LossMediumMM }, LossMediumMM},
	{"LossLightMM", 0, 40, func(f *Figures) *float64 { return &f.LossLightMM }, LossLightMM},
	{"PushSpeedKMH", 0.3, 4, func(f *Figures) *float64 { return &f.PushSpeedKMH }, PushSpeedKMH},
	{"FieldEfficiency", 0.2, 1, func(f *Figures) *float64 { return &f.FieldEfficiency }, FieldEfficiency},
	{"HandHoursPerHa", 20, 1500, func(f *Figures) *float64 { return &f.HandHoursPerHa }, HandHoursPerHa},
	{"HandRoundsLow", 1, 8, func(f *Figures) *float64 { return &f.HandRoundsLow }, HandRoundsLow},
	{"HandRoundsHigh", 1, 8, func(f *Figures) *float64 { return &f.HandRoundsHigh }, HandRoundsHigh},
}

var tableFigures = func() (f Figures) {
	for _, s := range settings {
		*s.of(&f) = s.table
	}
	return f
}()

// Local is what the engine knows about a place apart from its weather. All seasons of a place share one Local, which
// must not change afterwards.
type Local struct {
	Figures  Figures
	Prices   Prices
	WeedRate float64 // learned factor on the weeds' degree-days, MinWeedRate to MaxWeedRate; 1 = the published rate
	Clocks   ClockWeights
}

// ClockWeights says what a place has learned about each of the weed clocks. The zero value means that the place has
// learned nothing about them.
type ClockWeights [len(clocks)]ClockWeight

// ClockWeight is the share of a weed clock, 0 to 1, and the factor on its degree-days at a place.
type ClockWeight struct {
	Share float64 `json:"share"`
	Rate  float64 `json:"rate"`
}

// ClockNames returns the names of the weed clocks, in the order of ClockWeights.
func ClockNames() (names [len(clocks)]string) {
	for i, c := range clocks {
		names[i] = c.name
	}
	return names
}

// Differ returns how far the shares of two places differ in all, from 0 to 2.
func (w ClockWeights) Differ(other ClockWeights) float64 {
	a, b := Local{Clocks: w}, Local{Clocks: other}
	sum := 0.0
	for c := range w {
		sum += math.Abs(a.share(c) - b.share(c))
	}
	return sum
}

// share returns the weight of a clock at the place.
func (l *Local) share(clock int) float64 {
	if l.Clocks == (ClockWeights{}) {
		return clocks[clock].share
	}
	return l.Clocks[clock].Share
}

// rate returns the factor on the degree-days of a clock at the place.
func (l *Local) rate(clock int) float64 {
	if l.Clocks == (ClockWeights{}) {
		return l.WeedRate
	}
	return l.Clocks[clock].Rate
}

// tableLocal replaces a nil Season.Local.
var tableLocal = Local{Figures: tableFigures, WeedRate: 1}

// NewLocal returns a place with the constants, no prices and a weed rate of 1.
func NewLocal() Local { return tableLocal }

// Set sets a figure; an unknown name or a value outside the bounds is an error.
func (f *Figures) Set(name string, value float64) error {
	for _, s := range settings {
		if s.Name != name {
			continue
		}
		if !(s.Min <= value && value <= s.Max) {
			return fmt.Errorf("engine: %s %g is not between %g and %g", name, value, s.Min, s.Max)
		}
		*s.of(f) = value
		return nil
	}
	return fmt.Errorf("engine: no figure called %s can be set for a place", name)
}

// Get returns the figure with the given name; false for an unknown name.
func (f *Figures) Get(name string) (float64, bool) {
	for _, s := range settings {
		if s.Name == name {
			return *s.of(f), true
		}
	}
	return 0, false
}

// Validate returns an error for the first figure or price that is outside its bounds.
func (l *Local) Validate() error {
	for _, s := range settings {
		if v := *s.of(&l.Figures); !(s.Min <= v && v <= s.Max) {
			return fmt.Errorf("engine: %s %g is not between %g and %g", s.Name, v, s.Min, s.Max)
		}
	}
	if !(l.WeedRate >= MinWeedRate && l.WeedRate <= MaxWeedRate) {
		return fmt.Errorf("engine: weed rate %g is not between %g and %g", l.WeedRate, MinWeedRate, MaxWeedRate)
	}
	if l.Clocks != (ClockWeights{}) {
		for c, w := range l.Clocks {
			if !(w.Share >= 0 && w.Share <= 1 && w.Rate >= MinWeedRate && w.Rate <= MaxWeedRate) {
				return fmt.Errorf("engine: weed clock %d has no usable share and rate (%g, %g)", c, w.Share, w.Rate)
			}
		}
	}
	return l.Prices.Validate()
}

func (s *Season) local() *Local {
	if s.Local == nil {
		return &tableLocal
	}
	return s.Local
}
