package engine

// Verdict says whether a tool can work between the rows.
type Verdict uint8

const (
	FitUnknown Verdict = iota // the grower has not described a tool yet
	FitGood                   // at least SideClearanceCM and at most LooseClearanceCM free on each side
	FitLoose                  // more than LooseClearanceCM free on each side: a wide strip is left to pull by hand
	FitTooWide                // less than SideClearanceCM free on each side: the tool would tear plants
	FitNoRows                 // the rice was scattered, so there are no rows for a tool
)

func (v Verdict) String() string {
	return name(v, "no tool yet", "fits", "loose", "too wide", "no rows")
}

// Fit says whether a tool suits the rows of a plot, and how much time and walking a pass takes. A number is 0 if it
// depends on something that was not given.
type Fit struct {
	Verdict       Verdict
	WidthCM       float64 // working width; an adjustable tool is set as wide as the rows allow
	ClearanceCM   float64 // free space on each side of the tool
	SmallestRowCM float64 // narrowest rows for this tool: its width plus twice SideClearanceCM
	LargestRowCM  float64 // widest rows for this tool: its width plus twice LooseClearanceCM
	Square        bool    // row and hill spacing are nearly equal; the result of Plot.Square
	CrossFits     bool    // Square is true, and the tool also has enough clearance across the rows
	SweptOnce     float64 // share of the ground that one pass weeds, 0 to 1
	SweptCrossed  float64 // share of the ground that a pass along and a pass across weed together; 0 unless CrossFits
	HillsPerM2    float64
	WalkKMPerHa   float64 // distance walked in one pass: 10 / (row spacing in m)
	WalkKM        float64 // distance walked in one pass on this plot
	HoursPerHa    float64 // person-hours per hectare of one pass along the rows, at PushSpeedKMH
	Hours         float64 // person-hours of one pass along the rows on this plot
	HoursCrossed  float64 // person-hours of a pass along and a pass across on this plot, added up
}

// Hand reports whether the plot must be weeded by hand: the tool is too wide or there are no rows.
func (f Fit) Hand() bool { return f.Verdict == FitTooWide || f.Verdict == FitNoRows }

// FitOf compares the row spacing with the width of the tool, which needs SideClearanceCM free on each side: a 15 cm
// tool needs rows of at least 20 cm (common practice, no source).
func FitOf(p Plot, t Tool) Fit { return fitOf(p, t, &tableFigures) }

// fitOf is FitOf with the walking speed and the field efficiency of a place.
func fitOf(p Plot, t Tool, at *Figures) Fit {
	f := Fit{HillsPerM2: p.HillsPerM2(), Square: p.Square()}
	if p.Method == Broadcast {
		f.Verdict = FitNoRows
		return f
	}
	row := p.RowSpacingCM
	if row <= 0 {
		return f
	}
	f.WalkKMPerHa = 10 / (row / 100)
	f.WalkKM = f.WalkKMPerHa * p.AreaM2 / 1e4
	f.HoursPerHa = 1 / FieldCapacity(at.PushSpeedKMH, row/100, at.FieldEfficiency)
	f.Hours = f.HoursPerHa * p.AreaM2 / 1e4
	if f.Square {
		f.HoursCrossed = f.Hours + p.AreaM2/1e4/FieldCapacity(at.PushSpeedKMH, p.HillSpacingCM/100, at.FieldEfficiency)
	}
	if t.None() {
		return f
	}
	f.WidthCM = t.WidthCM
	widest := t.WidthCM
	if t.Adjustable() {
		widest = t.MaxWidthCM
		f.WidthCM = min(widest, max(t.WidthCM, row-2*SideClearanceCM))
	}
	f.ClearanceCM = (row - f.WidthCM) / 2
	f.SmallestRowCM = t.WidthCM + 2*SideClearanceCM
	f.LargestRowCM = widest + 2*LooseClearanceCM
	switch {
	case row < f.SmallestRowCM:
		f.Verdict = FitTooWide
		return f
	case row > f.LargestRowCM:
		f.Verdict = FitLoose
	default:
		f.Verdict = FitGood
	}
	f.SweptOnce = f.WidthCM / row
	if f.Square {
		f.CrossFits = p.HillSpacingCM >= f.SmallestRowCM
		if f.CrossFits {
			across := min(f.WidthCM, p.HillSpacingCM-2*SideClearanceCM) / p.HillSpacingCM
			f.SweptCrossed = 1 - (1-f.SweptOnce)*(1-across)
		}
	}
	return f
}

// FieldCapacity returns the effective field capacity in ha/h:
//
//	C = S W E / 10
//
// with speed S in km/h, width W in m and field efficiency E as a fraction. One walk serves one row, so W is the row
// spacing. Source: ASAE EP496, as taught in the IASRI farm machinery course.
func FieldCapacity(speedKMH, widthM, efficiency float64) float64 {
	return speedKMH * widthM * efficiency / 10
}
