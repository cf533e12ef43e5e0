package engine

// Verdict says whether a tool can work between the rows.
type Verdict uint8

const (
	FitUnknown Verdict = iota // no tool told yet
	FitGood                   // clears the plants on both sides and leaves little between
	FitLoose                  // passes, but leaves a wide strip to pull by hand
	FitTooWide                // would tear plants: less than the clearance each side
	FitNoRows                 // scattered rice: there are no rows
)

func (v Verdict) String() string {
	return name(v, "no tool yet", "fits", "loose", "too wide", "no rows")
}

// Fit is the answer to "does this tool suit these rows, and what does a pass
// take?". Figures that need something not told are 0.
type Fit struct {
	Verdict       Verdict
	WidthCM       float64 // working width used: an adjustable tool is set as wide as the rows allow
	ClearanceCM   float64 // free space on each side of the tool
	SmallestRowCM float64 // narrowest rows for this tool: its width and the clearance twice
	LargestRowCM  float64 // widest rows it still weeds well
	Square        bool    // may also go across
	CrossFits     bool    // square enough and the tool clears the plants across too
	SweptOnce     float64 // share of the ground one pass sweeps, 0..1
	SweptCrossed  float64 // share that an along and an across pass sweep together
	HillsPerM2    float64
	WalkKMPerHa   float64 // one pass: 10 km·m / row spacing in m
	WalkKM        float64 // one pass over this plot
	HoursPerHa    float64 // one pass, one person, at the usual pace
	Hours         float64 // one pass over this plot
	HoursCrossed  float64 // along and across
}

// Hand reports that no tool can be used, so that weeding is by hand.
func (f Fit) Hand() bool { return f.Verdict == FitTooWide || f.Verdict == FitNoRows }

// FitOf works out spacing against tool. Rule: the tool leaves at least
// SideClearanceCM free on each side (common practice: a 15 cm tool needs rows
// of at least 20 cm).
func FitOf(p Plot, t Tool) Fit { return fitOf(p, t, &tableFigures) }

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

// FieldCapacity is the effective field capacity in ha/h:
//
//	C = S W E / 10
//
// with speed S in km/h, width W in m (for one pass a row: the row spacing, not
// the tool) and field efficiency E as a fraction. Source: ASAE EP496, as
// taught in the IASRI farm machinery course.
func FieldCapacity(speedKMH, widthM, efficiency float64) float64 {
	return speedKMH * widthM * efficiency / 10
}
