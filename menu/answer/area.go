package answer

import (
	"regexp"
	"strings"

	"rowbell/engine"
)

// AreaUnits are the units in which a side or an area is read if the grower types no unit, and the operator's local
// units of area.
type AreaUnits struct {
	SideM float64    // metres in one unit, for a side typed without a unit
	M2    float64    // m2 in one unit, for an area typed without a unit; 0: an area needs a unit
	Unit  string     // name of the unit of M2; "" for m2
	StepM float64    // metres in one step; 0 if the length of a step is unknown
	Local LocalUnits // the operator's own units of area
}

// Size is the size of a plot, with the numbers and the unit that the grower typed. Either both sides are given, or the
// number N.
type Size struct {
	M2   float64
	N    float64 // the area in Unit
	A, B float64 // the two sides in Unit
	Unit string  // one of the units below, or the name of a local unit
}

// These are the units of a Size.
const (
	UnitM2    = "m2"
	UnitHa    = "ha"
	UnitAre   = "are"
	UnitAcre  = "acre"
	UnitMetre = "m"
	UnitStep  = "st"
	UnitFoot  = "ft"
)

// areaSigns has the m2 of each unit of area that is the same everywhere. The international acre has 4046.86 m2.
var areaSigns = map[string]float64{UnitM2: 1, UnitHa: 10_000, UnitAre: 100, UnitAcre: 4046.86}

// hasSides reports whether two sides were typed.
func (s Size) hasSides() bool { return s.A > 0 && s.B > 0 }

var (
	areaLimits = Range{1, engine.MaxAreaM2}   // in m2; any other area is refused
	sideLimits = Range{1, engine.MaxSideM}    // in m; any other side is refused
	usualSides = Range{50, maxSmallholdingM2} // in m2; any other area of two sides is doubted
	// usualNumber is for an area that was typed as one number, which is more often wrong than two sides: the number may
	// be one side, or in another unit (judgement).
	usualNumber = Range{50, 5000}
)

// maxSmallholdingM2 is the largest plot that a family weeds by hand or with a pushed tool. It is two hectares, the
// usual limit of a smallholding (common practice, no source).
const maxSmallholdingM2 = 20_000

func (s Size) usual() bool {
	if s.hasSides() {
		return usualSides.Contains(s.M2)
	}
	return usualNumber.Contains(s.M2)
}

// tenfoldLess returns the size with one zero less in each number. A zero too many is the most frequent mistake.
func (s Size) tenfoldLess() Size {
	if s.hasSides() {
		return Size{tenth(s.M2 / 100), 0, s.A / 10, s.B / 10, s.Unit}
	}
	return Size{tenth(s.M2 / 10), s.N / 10, 0, 0, s.Unit}
}

// Area reads the size of a plot. The entry is two sides (20x30, 20 by 30, 20 m x 30 m), or an area (600, 600 m2, 1,200,
// 0.5 ha, half an acre), or an area in local units (2 katha, 1 bigha 5 katha). A number without a unit is in the units
// of u. If an entry can mean two sizes (10 100, 20.30, 2-3 acres), Area returns one with the doubt Unusual and offers
// the other. An unusual size is doubted: 200*300 may be a mistake for 20*30, and 6 ha a mistake for 0.6 ha.
func Area(s string, u AreaUnits) (Size, Doubt[Size], *Refusal) {
	all, r := u.read(s, areaLimits)
	switch {
	case r != nil:
		return Size{}, Doubt[Size]{}, r
	case len(all) > 1:
		return all[0], unusual(all[1], true), nil
	case all[0].usual():
		return all[0], Doubt[Size]{}, nil
	}
	meant := all[0].tenfoldLess()
	return all[0], unusual(meant, meant.usual()), nil
}

// Sides are the two sides of a field in m, in the order typed.
type Sides struct{ Length, Width float64 }

// ReadSides reads the two sides of a field: 20*30, 20 by 30, 20 m x 30 m. A number without a unit is in units of
// u.SideM; m always means metres. ReadSides doubts an unusual area in the same way as Area.
func ReadSides(s string, u AreaUnits) (Sides, Doubt[Sides], *Refusal) {
	var sure Doubt[Sides]
	size, sideM, ok := u.sides(inUnits(s))
	sides := Sides{size.A * sideM, size.B * sideM}
	if !ok || !sideLimits.Contains(sides.Length) || !sideLimits.Contains(sides.Width) {
		return Sides{}, sure, Refuse("refuse.sides", s, sideLimits.args())
	}
	if !areaLimits.Contains(size.M2) {
		return Sides{}, sure, areaRange(s, size.M2, areaLimits)
	}
	if size.usual() {
		return sides, sure, nil
	}
	meant := Sides{tenth(sides.Length / 10), tenth(sides.Width / 10)}
	return sides, unusual(meant, usualSides.Contains(size.M2/100) &&
		sideLimits.Contains(meant.Length) && sideLimits.Contains(meant.Width)), nil
}

// read returns the sizes within l that an entry can mean, the likeliest first. There are one or two.
func (u AreaUnits) read(s string, l Range) ([]Size, *Refusal) {
	var within []Size
	all := u.readings(s)
	for _, size := range all {
		if l.Contains(size.M2) && len(within) < 2 {
			within = append(within, size)
		}
	}
	switch {
	case len(within) > 0:
		return within, nil
	case len(all) > 0:
		return nil, areaRange(s, all[0].M2, l)
	case u.M2 == 0:
		return nil, Refuse("refuse.steps", s, nil)
	}
	return nil, Refuse("refuse.area", s, nil)
}

func areaRange(s string, m2 float64, l Range) *Refusal {
	args := l.args()
	args["area"] = oneDecimal(m2)
	return Refuse("refuse.area-range", s, args)
}

var (
	sidesForm = regexp.MustCompile(`^` + numberForm + ` ?(m|st|ft)?(?: ?(?:x|\*|×|х|by|/|-) ?| )` +
		numberForm + ` ?(m|st|ft)?$`)
	areaForm    = regexp.MustCompile(`^(.*?\d) ?(m2|m²|m\^2|ha|acre|are)?$`)
	groupedForm = regexp.MustCompile(`^[1-9]\d{0,2}(?:(?:[.,]\d{3})+|(?: \d{3})+)$`) // 1,200 or 1.200 or 1 200
	numberOnly  = regexp.MustCompile(`^` + numberForm + `$`)
	// joinedSides matches a number with a separator that may also stand between two sides: 20,30 and 20.30 and 10 100.
	joinedSides = regexp.MustCompile(`^([1-9]\d{0,2})[., ]([1-9]\d{0,2})$`)
	rangeForm   = regexp.MustCompile(`^` + numberForm + `(?: ?(-) ?| (?:to|or) )` + numberForm + `(?: ?(\pL.*))?$`)
)

// readings returns the sizes of any area that an entry can mean, the likeliest first.
func (u AreaUnits) readings(s string) []Size {
	e, mixed := withFractions(s)
	words, _ := inFractions(s)
	if size, ok := u.Local.read(words); ok {
		return []Size{size}
	}
	if all := u.ranges(e); all != nil {
		return all
	}
	if f := fractionOnly.FindStringSubmatch(e); f != nil {
		part := fraction(f[1], f[2])
		if part > 0 && u.Unit != "" {
			e = decimal(part)
		} else if part > 0 { // half of what? Nobody has a field of 1 m by 2 m.
			return nil
		}
	}
	joined := joinedSides.FindStringSubmatch(e)
	if sides, _, ok := u.sides(e); ok && (joined == nil || !groupedForm.MatchString(e)) {
		return []Size{sides}
	}
	size, hasUnit, ok := u.number(e)
	if mixed && !hasUnit && u.Unit == "" {
		return nil
	}
	if joined == nil || u.Unit != "" {
		return only(size, ok)
	}
	sides, _, _ := u.sides(joined[1] + "*" + joined[2])
	switch {
	case !ok:
		return []Size{sides}
	case !sides.plausible():
		return []Size{size}
	case size.usual() && len(joined[2]) == 1: // 60.5 is rather an area than 60 m by 5 m
		return []Size{size, sides}
	}
	return []Size{sides, size}
}

func only(size Size, ok bool) []Size {
	if !ok {
		return nil
	}
	return []Size{size}
}

// plausible reports whether two sides are those of a field: neither very small nor very large, nor a strip that is far
// longer than wide (judgement).
func (s Size) plausible() bool {
	const minSide, maxRatio = 3, 20
	short, long := min(s.A, s.B), max(s.A, s.B)
	return s.usual() && short >= minSide && long <= maxRatio*short
}

// ranges returns the two ends of a range of areas: 2-3 acres, 600-700. Two numbers without a unit and with a hyphen
// between them are more often two sides, unless both are large and near each other.
func (u AreaUnits) ranges(e string) []Size {
	f := rangeForm.FindStringSubmatch(e)
	if f == nil || amount(f[1]) >= amount(f[3]) {
		return nil
	}
	near := amount(f[1]) >= 100 && amount(f[3]) <= 2*amount(f[1])
	if f[4] == "" && f[2] == "-" && u.Unit == "" && !near {
		return nil
	}
	low, okLow := u.one(f[1] + " " + f[4])
	high, okHigh := u.one(f[3] + " " + f[4])
	if !okLow || !okHigh {
		return nil
	}
	return []Size{low, high}
}

// one reads an area that is one number, with or without a unit.
func (u AreaUnits) one(e string) (Size, bool) {
	e = strings.TrimSpace(e)
	if size, ok := u.Local.read(e); ok {
		return size, true
	}
	size, _, ok := u.number(e)
	return size, ok
}

// sides reads two sides of any size. The entry must come from inUnits. sideM is the length of the unit in m. ok is
// false if the entry is not two sides.
func (u AreaUnits) sides(e string) (size Size, sideM float64, ok bool) {
	f := sidesForm.FindStringSubmatch(e)
	if f == nil || f[2] != "" && f[4] != "" && f[2] != f[4] {
		return Size{}, 0, false
	}
	switch unit := f[2] + f[4]; {
	case strings.HasPrefix(unit, UnitMetre):
		size.Unit, sideM = UnitMetre, 1
	case strings.HasPrefix(unit, UnitFoot):
		size.Unit, sideM = UnitFoot, cmPerFoot/100
	case strings.HasPrefix(unit, UnitStep), u.SideM != 1:
		size.Unit, sideM = UnitStep, u.StepM
	default:
		size.Unit, sideM = UnitMetre, 1
	}
	size.A, size.B = amount(f[1]), amount(f[3])
	size.M2 = tenth(size.A * sideM * size.B * sideM)
	return size, sideM, sideM > 0 && size.hasSides()
}

// number reads an area of any size that is one number. The entry must come from inUnits.
func (u AreaUnits) number(e string) (size Size, hasUnit, ok bool) {
	f := areaForm.FindStringSubmatch(e)
	if f == nil {
		return Size{}, false, false
	}
	unit, m2 := f[2], areaSigns[f[2]]
	switch {
	case unit == "" && u.Unit != "":
		unit, m2 = u.Unit, u.M2
	case unit == "":
		unit, m2 = UnitM2, u.M2
	case m2 == 0: // m² or m^2
		unit, m2 = UnitM2, 1
	}
	n, ok := readAmount(f[1])
	return Size{M2: tenth(n * m2), N: n, Unit: unit}, f[2] != "", ok && m2 > 0
}

// readAmount reads a number, with or without separators between thousands.
func readAmount(s string) (float64, bool) {
	switch {
	case groupedForm.MatchString(s) && len(s) <= 10:
		return amount(strings.NewReplacer(".", "", ",", "", " ", "").Replace(s)), true
	case numberOnly.MatchString(s):
		return amount(s), true
	}
	return 0, false
}
