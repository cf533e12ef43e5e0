package engine

import (
	"fmt"
	"math"
)

// Planting describes a field to be planted in lines.
type Planting struct {
	LengthM, WidthM  float64 // sides of the field; rows run along LengthM
	RowCM, HillCM    float64 // spacing between rows, and between hills in a row
	SeedlingsPerHill int     // 0 = DefaultSeedlingsPerHill
	GrainMG          float64 // weight of one grain in mg (of a thousand grains in g); 0 = DefaultGrainMG
	Germination      float64 // share of seed that germinates, 0 to 1; 0 = DefaultGermination
	Establishment    float64 // share of seedlings that survive transplanting, 0 to 1; 0 = DefaultEstablishment
}

// SeedWarning compares the seed of a layout with published seed rates.
type SeedWarning uint8

const (
	SeedUsual    SeedWarning = iota // the layout needs about as much seed per hectare as the published rates
	SeedFarBelow                    // less seed than the lowest published rate divided by SeedFarFactor
	SeedFarAbove                    // more seed than the highest published rate times SeedFarFactor
)

func (s SeedWarning) String() string { return name(s, "usual", "far below", "far above") }

// Layout has the numbers for planting a field in lines. Rows and hills begin half a spacing from the bunds. A string
// with marks lies along the shorter side, because a short string sags and stretches less. A hill is planted at each
// mark, then the string is moved.
type Layout struct {
	AreaM2                              float64
	Rows, HillsPerRow, Hills, Seedlings int
	HillsPerM2                          float64 // computed from the spacing; the edges of the field are ignored
	WalkKM                              float64 // distance walked in one pass of the tool along all rows

	SeedKG          float64
	SeedKGPerHa     float64 // computed from the spacing; the edges of the field are ignored
	PublishedLowKG  float64 // lowest published seed rate, kg/ha, for this number of seedlings per hill
	PublishedHighKG float64 // highest published seed rate, kg/ha
	SeedWarning     SeedWarning
	NurseryM2Low    float64 // smallest nursery for this field: NurseryShareLow of the field's area
	NurseryM2High   float64 // largest nursery for this field: NurseryShareHigh of the field's area
	StringM         float64 // length of the marked string: the shorter side
	StringAcross    bool    // the string lies across the rows, one mark per row; if false, along a row
	MarkEveryCM     float64 // distance of the marks on the string
	Marks           int     // number of marks on the string
	MoveCM          float64 // distance by which the string is moved each time
	Moves           int     // how often the string is laid
}

// Validate returns an error for the first number outside its limits, or if the field has no room for a row or a hill.
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
		return fmt.Errorf("engine: %d seedlings a hill is not between 1 and %d", p.SeedlingsPerHill,
			MaxSeedlingsPerHill)
	case p.GrainMG != 0 && !(p.GrainMG >= MinGrainMG && p.GrainMG <= MaxGrainMG):
		return fmt.Errorf("engine: a grain of %g mg is not between %d and %d", p.GrainMG, MinGrainMG, MaxGrainMG)
	case p.Germination != 0 && !(p.Germination >= MinSurvival && p.Germination <= 1):
		return fmt.Errorf("engine: germination %g is not between %g and 1", p.Germination, MinSurvival)
	case p.Establishment != 0 && !(p.Establishment >= MinSurvival && p.Establishment <= 1):
		return fmt.Errorf("engine: establishment %g is not between %g and 1", p.Establishment, MinSurvival)
	}
	return nil
}

// Layout computes the numbers for planting the field in lines. It returns an error only if Validate does.
func (p Planting) Layout() (Layout, error) {
	if err := p.Validate(); err != nil {
		return Layout{}, err
	}
	seedlings := or(p.SeedlingsPerHill, DefaultSeedlingsPerHill)
	seed := func(n float64) float64 {
		return SeedKG(n, or(p.GrainMG, DefaultGrainMG), or(p.Germination, DefaultGermination),
			or(p.Establishment, DefaultEstablishment))
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

// fits returns how many times a spacing fits into a side of the field. It rounds both to whole millimetres, because the
// quotient of two float64 may be a little below a whole number.
func fits(sideM, spacingCM float64) int {
	return int(math.Round(sideM*100*10)) / int(math.Round(spacingCM*10))
}

// SeedKG returns the seed in kg for this number of seedlings:
//
//	seedlings x grain weight / (germination x establishment)
//
// grainMG is the weight of a grain in mg, or of a thousand in g. Germination and establishment are shares, 0 to 1.
// Published seed rates are higher, because farmers sow more to be safe.
func SeedKG(seedlings, grainMG, germination, establishment float64) float64 {
	return seedlings * grainMG / (1e4 * 100) / (germination * establishment)
}

// publishedSeed returns the lowest and the highest published seed rate in kg/ha for a number of seedlings per hill.
func publishedSeed(seedlings int) (lowKG, highKG float64) {
	switch seedlings {
	case 1:
		return SeedSingleLowKG, SeedSingleHighKG
	case 2:
		return SeedPairLowKG, SeedHighKG
	}
	return SeedLowKG, SeedHighKG
}

// SpacingFor returns row spacings in cm for a tool: the smallest that the tool can pass, and the best range. The best
// range is the part of the usual 20 to 25 cm in which the tool has enough clearance and leaves no wide strips of weeds.
// For a tool too wide for 25 cm it is the smallest spacing alone, because wider rows give more room to weeds. ok is
// false if the tool is none or not valid.
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
