package engine

import (
	"fmt"
	"math"
	"time"
)

// Method is how the rice was planted.
type Method uint8

const (
	Transplanted Method = iota + 1 // seedlings set in lines
	RowSown                        // seed sown in lines
	Broadcast                      // seed or seedlings scattered: there are no rows for a tool
)

func (m Method) String() string { return name(m, "", "transplanted", "row-sown", "broadcast") }

// Flood says whether water stands on the plot, as the grower told it. Later answers about the water count too.
type Flood uint8

const (
	FloodUnknown Flood = iota // not given
	FloodKept                 // water always stands on the field, about 5 cm (common practice)
	FloodMoist                // the field is only wet
	FloodOnOff                // water comes and goes
)

func (f Flood) String() string { return name(f, "unknown", "kept", "moist", "on and off") }

// Soil says how fast water leaves the puddled ground.
type Soil uint8

const (
	SoilUnknown Soil = iota // not given: SoilMedium is assumed
	SoilHeavy               // clay: water leaves slowly
	SoilMedium              // loam
	SoilLight               // sand: water leaves fast
)

func (s Soil) String() string { return name(s, "unknown", "heavy", "medium", "light") }

// Plot is one piece of rice ground in one season. Only Method and Planted are required; a zero value in another field
// means not given.
type Plot struct {
	Label            string // the grower's name for the plot; the engine does not use the label
	Method           Method
	Planted          Day     // day of transplanting or sowing
	Puddled          Day     // day of the last puddling or levelling; 0 = the day of planting
	SeedlingAgeDays  int     // age at transplanting; 0 = DefaultSeedlingAgeDays
	SeedlingsPerHill int     // 0 = DefaultSeedlingsPerHill
	Deep             bool    // the seedlings were planted deeper than the white of the stem
	RowSpacingCM     float64 // between rows
	HillSpacingCM    float64 // between hills in a row; 0 = a continuous row, or not given
	AreaM2           float64 // 0 = not given
	Flood            Flood
	DurationDays     int // days from sowing to harvest for this variety; 0 = DefaultDurationDays
	Soil             Soil
	InflowLS         float64 // flow of water through the inlet in litres a second; 0 = not given
}

// Validate returns an error for the first field outside the limits of facts_limits.go or in contradiction to another
// one.
func (p Plot) Validate() error {
	switch {
	case p.Method < Transplanted || p.Method > Broadcast:
		return fmt.Errorf("engine: method %d is not one of transplanted, row-sown, broadcast", p.Method)
	case p.Method != Broadcast && !(p.RowSpacingCM >= MinSpacingCM && p.RowSpacingCM <= MaxSpacingCM):
		return fmt.Errorf("engine: row spacing %g cm is not between %d and %d", p.RowSpacingCM, MinSpacingCM,
			MaxSpacingCM)
	case p.HillSpacingCM != 0 && !(p.HillSpacingCM >= MinSpacingCM && p.HillSpacingCM <= MaxSpacingCM):
		return fmt.Errorf("engine: hill spacing %g cm is not between %d and %d", p.HillSpacingCM, MinSpacingCM,
			MaxSpacingCM)
	case !(p.AreaM2 >= 0 && p.AreaM2 <= MaxAreaM2):
		return fmt.Errorf("engine: area %g m2 is not between 0 and %d", p.AreaM2, MaxAreaM2)
	case p.SeedlingAgeDays != 0 && (p.SeedlingAgeDays < MinSeedlingAgeDays || p.SeedlingAgeDays > MaxSeedlingAgeDays):
		return fmt.Errorf("engine: seedling age %d days is not between %d and %d", p.SeedlingAgeDays,
			MinSeedlingAgeDays, MaxSeedlingAgeDays)
	case p.SeedlingsPerHill < 0 || p.SeedlingsPerHill > MaxSeedlingsPerHill:
		return fmt.Errorf("engine: %d seedlings a hill is not between 1 and %d", p.SeedlingsPerHill,
			MaxSeedlingsPerHill)
	case p.DurationDays != 0 && (p.DurationDays < MinDurationDays || p.DurationDays > MaxDurationDays):
		return fmt.Errorf("engine: duration %d days is not between %d and %d", p.DurationDays, MinDurationDays,
			MaxDurationDays)
	case p.Planted < Date(MinYear, time.January, 1) || p.Planted > Date(MaxYear, time.December, 31):
		return fmt.Errorf("engine: planting day %s is not between the years %d and %d", p.Planted, MinYear, MaxYear)
	case p.Puddled != 0 && (p.Puddled > p.Planted || p.Puddled < p.Planted-MaxPuddledBeforeDays):
		return fmt.Errorf("engine: puddled %s is not in the %d days before planting %s", p.Puddled,
			MaxPuddledBeforeDays, p.Planted)
	case p.Flood > FloodOnOff:
		return fmt.Errorf("engine: flood %d is unknown", p.Flood)
	case p.Soil > SoilLight:
		return fmt.Errorf("engine: soil %d is unknown", p.Soil)
	case !(p.InflowLS >= 0 && p.InflowLS <= MaxInflowLS):
		return fmt.Errorf("engine: inflow of %g l/s is not between 0 and %d", p.InflowLS, MaxInflowLS)
	}
	return nil
}

func (p Plot) seedlingAge() int { return or(p.SeedlingAgeDays, DefaultSeedlingAgeDays) }
func (p Plot) seedlings() int   { return or(p.SeedlingsPerHill, DefaultSeedlingsPerHill) }
func (p Plot) duration() int    { return or(p.DurationDays, DefaultDurationDays) }
func (p Plot) puddled() Day     { return or(p.Puddled, p.Planted) }

// Square reports whether row and hill spacing differ by at most SquareTolerance, so that the tool can go along and
// across the rows.
func (p Plot) Square() bool {
	return p.Method == Transplanted && p.HillSpacingCM > 0 &&
		math.Abs(p.RowSpacingCM-p.HillSpacingCM) <= SquareTolerance*p.RowSpacingCM
}

// HillsPerM2 returns 10^4 / (row spacing x hill spacing), in cm; 0 without a hill spacing.
func (p Plot) HillsPerM2() float64 {
	if p.RowSpacingCM <= 0 || p.HillSpacingCM <= 0 {
		return 0
	}
	return 1e4 / (p.RowSpacingCM * p.HillSpacingCM)
}

// Tool is a rotary weeder. An adjustable tool is set from WidthCM to MaxWidthCM; a fixed one has a MaxWidthCM of 0. The
// zero Tool is no tool.
type Tool struct{ WidthCM, MaxWidthCM float64 }

// None reports whether the grower has no tool.
func (t Tool) None() bool { return t == Tool{} }

// Adjustable reports whether the working width can be changed.
func (t Tool) Adjustable() bool { return t.MaxWidthCM > t.WidthCM }

// Validate returns an error for a width outside MinToolCM to MaxToolCM, except for the zero Tool.
func (t Tool) Validate() error {
	if t.None() {
		return nil
	}
	if !(t.WidthCM >= MinToolCM && t.WidthCM <= MaxToolCM) {
		return fmt.Errorf("engine: tool width %g cm is not between %d and %d", t.WidthCM, MinToolCM, MaxToolCM)
	}
	if t.MaxWidthCM != 0 && !(t.MaxWidthCM > t.WidthCM && t.MaxWidthCM <= MaxToolCM) {
		return fmt.Errorf("engine: widest setting %g cm is not between %g and %d", t.MaxWidthCM, t.WidthCM, MaxToolCM)
	}
	return nil
}

// or returns v, or fallback if v is the zero value.
func or[T comparable](v, fallback T) T {
	var zero T
	if v == zero {
		return fallback
	}
	return v
}

// name returns names[v] for a String method. If that is empty or missing, v is not valid, and name returns its number.
func name[T ~uint8](v T, names ...string) string {
	if int(v) < len(names) && names[v] != "" {
		return names[v]
	}
	return fmt.Sprintf("%d?", uint8(v))
}
