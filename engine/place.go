package engine

import (
	"fmt"
	"slices"
)

// Figures are those of the engine's numbers that differ from place to place or
// whose source is recalled only: an operator may set them for a place, within
// the bounds of Settings. Units are those of the table of facts.
type Figures struct {
	// Crop.
	CanopyBaseC, TransplantPause, LeafGrowthRate, LeafCeiling, LightExtinction, SownPlantsPerM2 float64
	// Water.
	KcInitial, KcMiddle, KcEnd             float64
	LossHeavyMM, LossMediumMM, LossLightMM float64 // seepage and percolation a day, puddled
	// Work.
	PushSpeedKMH, FieldEfficiency, HandHoursPerHa float64
}

// Setting is one figure that can be set for a place.
type Setting struct {
	Name     string // the constant's name in the table of facts
	Min, Max float64
	of       func(*Figures) *float64
	table    float64
}

// Settings lists the figures that can be set for a place, with the bounds
// within which a value is believed.
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
}

// tableFigures are the figures of the table.
var tableFigures = func() (f Figures) {
	for _, s := range settings {
		*s.of(&f) = s.table
	}
	return f
}()

// Local is what is known of a place beside its weather. It is shared by all
// seasons of the place and never changed once they have it.
type Local struct {
	Figures  Figures
	Prices   Prices
	WeedRate float64 // how fast weeds go there, to the table's clock; learned, bounded; 1 = as the table says
}

// tableLocal is a place of which nothing is known.
var tableLocal = Local{Figures: tableFigures, WeedRate: 1}

// NewLocal is a place of which nothing is known yet: all as in the table.
func NewLocal() Local { return tableLocal }

// Set sets one figure by its name in the table of facts.
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

// Get returns one figure by its name; false for a name that is none.
func (f *Figures) Get(name string) (float64, bool) {
	for _, s := range settings {
		if s.Name == name {
			return *s.of(f), true
		}
	}
	return 0, false
}

// Validate reports the first figure that cannot be right.
func (l *Local) Validate() error {
	for _, s := range settings {
		if v := *s.of(&l.Figures); !(s.Min <= v && v <= s.Max) {
			return fmt.Errorf("engine: %s %g is not between %g and %g", s.Name, v, s.Min, s.Max)
		}
	}
	if !(l.WeedRate >= MinWeedRate && l.WeedRate <= MaxWeedRate) {
		return fmt.Errorf("engine: weed rate %g is not between %g and %g", l.WeedRate, MinWeedRate, MaxWeedRate)
	}
	return l.Prices.Validate()
}

// local is the season's place, or the table.
func (s *Season) local() *Local {
	if s.Local == nil {
		return &tableLocal
	}
	return s.Local
}
