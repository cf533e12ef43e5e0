package engine

import (
	"fmt"
	"math"
)

// Planting is a field that is still to be planted in lines, and how. What is 0
// of the last four is taken as usual, see the table of facts.
type Planting struct {
	LengthM, WidthM  float64 // the field's two sides; rows run along LengthM
	RowCM, HillCM    float64 // between rows, and between hills in a row
	SeedlingsPerHill int     // 0 = 2
	GrainMG          float64 // weight of one grain, the grams of a thousand; 0 = 25
	Germination      float64 // share of seed that comes up, 0..1; 0 = 0.80
	Establishment    float64 // share of seedlings that live to be planted and take, 0..1; 0 = 0.85
}

// SeedWarning says whether the seed that a layout needs is near what is
// published.
type SeedWarning uint8

const (
	SeedUsual    SeedWarning = iota // near the published rates
	SeedFarBelow                    // SeedFarFactor below the lowest of them, or more
	SeedFarAbove                    // SeedFarFactor above the highest of them, or more
)

func (s SeedWarning) String() string { return name(s, "usual", "far below", "far above") }

// Layout is a planting in numbers. Rows and hills begin half a spacing from
// the bunds. The marked string lies along the shorter side, where it sags and
// stretches least: a hill at each mark, and then it is moved on.
type Layout struct {
	AreaM2      float64
	Rows        int
	HillsPerRow int
	Hills       int
	Seedlings   int
	HillsPerM2  float64 // by the spacing, without the edges
	WalkKM      float64 // one pass of the tool along all rows

	SeedKG          float64
	SeedKGPerHa     float64 // by the spacing, without the edges
	PublishedLowKG  float64 // published rates for so many seedlings a hill, per hectare
	PublishedHighKG float64
	SeedWarning     SeedWarning
	NurseryM2Low    float64 // nursery for this field: 400 m2 a hectare,
	NurseryM2High   float64 // to a tenth of the field
	StringM         float64 // length of the marked string, the shorter side
	StringAcross    bool    // it lies across the rows, so that its marks are the rows; else along a row
	MarkEveryCM     float64
	Marks           int     // on the string
	MoveCM          float64 // how far it is moved each time: the marks on the guides at the two sides
	Moves           int     // times that it is laid: the marks on each guide
}

// Validate reports the first figure that cannot be right.
func (p Planting) Validate() error {
	switch {
	case !(p.LengthM > 0 && p.LengthM <= MaxSideM):
		return fmt.Errorf("engine: rows of %g m are not between 0 and %d", p.LengthM, MaxSideM)
	case !(p.WidthM > 0 && p.WidthM <= MaxSideM):
		return fmt.Errorf("engine: a field %g m wide is not between 0 and %d", p.WidthM, MaxSideM)
	case !(p.LengthM*p.WidthM <= MaxAreaM2):
		return fmt.Errorf("engine: a field of %g m2 is more than %d", p.LengthM*p.WidthM, MaxAreaM2)
	case !(p.RowCM >= MinSpacingCM && p.RowCM <= MaxSpacingCM):
		return fmt.Errorf("engine: row spacing %g cm is not between %d and %d", p.RowCM, MinSpacingCM, MaxSpacingCM)
	case !(p.HillCM >= MinSpacingCM && p.HillCM <= MaxSpacingCM):
		return fmt.Errorf("engine: hill spacing %g cm is not between %d and %d", p.HillCM, MinSpacingCM, MaxSpacingCM)
	case fits(p.WidthM, p.RowCM) == 0:
		return fmt.Errorf("engine: a field %g m wide has no room for a row of %g cm", p.WidthM, p.RowCM)
	case fits(p.LengthM, p.HillCM) == 0:
		return fmt.Errorf("engine: a row of %g m has no room for a hill of %g cm", p.LengthM, p.HillCM)
	case p.SeedlingsPerHill < 0 || p.SeedlingsPerHill > MaxSeedlingsPerHill:
		return fmt.Errorf("engine: %d seedlings a hill is not between 1 and %d", p.SeedlingsPerHill, MaxSeedlingsPerHill)
	case p.GrainMG != 0 && !(p.GrainMG >= MinGrainMG && p.GrainMG <= MaxGrainMG):
		return fmt.Errorf("engine: a grain of %g mg is not between %d and %d", p.GrainMG, MinGrainMG, MaxGrainMG)
	case p.Germination != 0 && !(p.Germination >= MinSurvival && p.Germination <= 1):
		return fmt.Errorf("engine: germination %g is not between %g and 1", p.Germination, MinSurvival)
	case p.Establishment != 0 && !(p.Establishment >= MinSurvival && p.Establishment <= 1):
		return fmt.Errorf("engine: establishment %g is not between %g and 1", p.Establishment, MinSurvival)
	}
	return nil
}

// Layout works the planting out. It fails only for one that Validate refuses.
func (p Planting) Layout() (Layout, error) {
	if err := p.Validate(); err != nil {
		return Layout{}, err
	}
	seedlings := or(p.SeedlingsPerHill, DefaultSeedlingsPerHill)
	seed := func(n float64) float64 {
		return SeedKG(n, or(p.GrainMG, DefaultGrainMG), or(p.Germination, DefaultGermination), or(p.Establishment, DefaultEstablishment))
	}
	l := Layout{
		AreaM2:      p.LengthM * p.WidthM,
		Rows:        fits(p.WidthM, p.RowCM),
		HillsPerRow: fits(p.LengthM, p.HillCM),
		HillsPerM2:  1e4 / (p.RowCM * p.HillCM),
	}
	l.Hills = l.Rows * l.HillsPerRow
	l.Seedlings = l.Hills * seedlings
	l.WalkKM = float64(l.Rows) * p.LengthM / (10 * 100)

	l.SeedKG = seed(float64(l.Seedlings))
	l.SeedKGPerHa = seed(l.HillsPerM2 * 1e4 * float64(seedlings))
	l.PublishedLowKG, l.PublishedHighKG = publishedSeed(seedlings)
	switch {
	case l.SeedKGPerHa*SeedFarFactor < l.PublishedLowKG:
		l.SeedWarning = SeedFarBelow
	case l.SeedKGPerHa > l.PublishedHighKG*SeedFarFactor:
		l.SeedWarning = SeedFarAbove
	}
	l.NurseryM2Low, l.NurseryM2High = NurseryShareLow*l.AreaM2, NurseryShareHigh*l.AreaM2

	if l.StringAcross = p.WidthM < p.LengthM; l.StringAcross {
		l.StringM, l.MarkEveryCM, l.Marks, l.MoveCM, l.Moves = p.WidthM, p.RowCM, l.Rows, p.HillCM, l.HillsPerRow
	} else {
		l.StringM, l.MarkEveryCM, l.Marks, l.MoveCM, l.Moves = p.LengthM, p.HillCM, l.HillsPerRow, p.RowCM, l.Rows
	}
	return l, nil
}

// fits is how many spacings a side has room for. Both are taken to the whole
// millimetre, so that a side of 50 spacings has 50 whatever the binary
// fractions say.
func fits(sideM, spacingCM float64) int {
	return int(math.Round(sideM*100*10)) / int(math.Round(spacingCM*10))
}

// SeedKG is the seed, in kg, from which so many seedlings come to stand in the
// field:
//
//	seedlings x grain weight / (germination x establishment)
//
// grainMG is the weight of a grain in mg (the grams of a thousand grains), the
// last two are shares, 0..1. Published rates include the farmers' margin.
func SeedKG(seedlings, grainMG, germination, establishment float64) float64 {
	return seedlings * grainMG / (1e4 * 100) / (germination * establishment)
}

// publishedSeed is the seed in kg/ha that is published for so many seedlings a
// hill.
func publishedSeed(seedlings int) (lowKG, highKG float64) {
	switch seedlings {
	case 1:
		return SeedSingleLowKG, SeedSingleHighKG
	case 2:
		return SeedPairLowKG, SeedHighKG
	}
	return SeedLowKG, SeedHighKG
}

// SpacingFor is the row spacing, in cm, that suits a tool: the smallest that it
// can pass, and the range to plant at, which is the usual 20 to 25 cm as far as
// the tool clears the plants and leaves no wide strip. A tool too broad for
// that gets the smallest it can pass: wider rows only grow more weeds. It is
// not ok without a tool.
func SpacingFor(t Tool) (smallestRowCM, bestLowCM, bestHighCM float64, ok bool) {
	if t.None() || t.Validate() != nil {
		return 0, 0, 0, false
	}
	f := FitOf(Plot{Method: Transplanted, RowSpacingCM: UsualRowLowCM}, t)
	low, high := f.SmallestRowCM, f.LargestRowCM
	switch {
	case low > UsualRowHighCM:
		high = low
	case high >= UsualRowLowCM:
		low, high = max(low, UsualRowLowCM), min(high, UsualRowHighCM)
	}
	return f.SmallestRowCM, low, high, true
}
