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
	M2    float64    // m2 in one unit, for an area typed without a unit
	StepM float64    // metres in one step; 0 if the length of a step is unknown
	Local LocalUnits // the operator's own units of area
}

var (
	areaLimits = Range{1, engine.MaxAreaM2}   // in m2; any other area is refused
	sideLimits = Range{1, engine.MaxSideM}    // in m; any other side is refused
	usualArea  = Range{10, maxSmallholdingM2} // in m2; any other area is doubted
)

// maxSmallholdingM2 is the largest plot that a family weeds by hand or with a pushed tool. It is two hectares, the
// usual limit of a smallholding (common practice, no source).
const maxSmallholdingM2 = 20_000

// Area reads an area and returns m2. The entry is two sides (20x30, 20 by 30, 20 m x 30 m), or an area (600, 600 m2,
// 1,200, 0.5 ha), or an area in local units (2 katha, 1 bigha 5 katha). A number without a unit is in the units of u;
// m, m2 and ha always mean metres, square metres and hectares. An area outside usualArea is doubted: 200*300 may be a
// mistake for 20*30, and 6 ha a mistake for 0.6 ha.
func Area(s string, u AreaUnits) (m2 float64, d Doubt[float64], r *Refusal) {
	a, r := parseArea(s, u, areaLimits)
	if r != nil || usualArea.Contains(a.m2) {
		return a.m2, d, r
	}
	meant := tenth(a.m2 / 10)
	if a.length > 0 {
		meant = tenth(a.m2 / 100) // a zero too many on both sides makes the area 100 times as large
	}
	return a.m2, unusual(meant, usualArea.Contains(meant)), nil
}

// Sides are the two sides of a field in m, in the order typed.
type Sides struct{ Length, Width float64 }

// ReadSides reads the two sides of a field: 20*30, 20 by 30, 20 m x 30 m. A number without a unit is in units of
// u.SideM; m always means metres. ReadSides doubts an unusual area in the same way as Area.
func ReadSides(s string, u AreaUnits) (Sides, Doubt[Sides], *Refusal) {
	var sure Doubt[Sides]
	a, ok := readArea(inUnits(s), u)
	if !ok || !sideLimits.Contains(a.length) || !sideLimits.Contains(a.width) {
		return Sides{}, sure, Refuse("refuse.sides", s, sideLimits.args())
	}
	if !areaLimits.Contains(a.m2) {
		return Sides{}, sure, areaRange(s, a.m2, areaLimits)
	}
	sides := Sides{a.length, a.width}
	if usualArea.Contains(a.length * a.width) {
		return sides, sure, nil
	}
	meant := Sides{tenth(a.length / 10), tenth(a.width / 10)}
	return sides, unusual(meant, usualArea.Contains(a.length*a.width/100) &&
		sideLimits.Contains(meant.Length) && sideLimits.Contains(meant.Width)), nil
}

// areaRead is the area that was read, in m2. length and width are in m; both are 0 if no sides were typed.
type areaRead struct{ m2, length, width float64 }

func parseArea(s string, u AreaUnits, l Range) (areaRead, *Refusal) {
	a, ok := readArea(inUnits(s), u)
	if !ok {
		a.m2, ok = u.Local.read(Clean(s))
	}
	if !ok {
		return areaRead{}, Refuse("refuse.area", s, nil)
	}
	if !l.Contains(a.m2) {
		return areaRead{}, areaRange(s, a.m2, l)
	}
	return a, nil
}

func areaRange(s string, m2 float64, l Range) *Refusal {
	args := l.args()
	args["area"] = oneDecimal(m2)
	return Refuse("refuse.area-range", s, args)
}

var (
	sidesForm = regexp.MustCompile(`^` + numberForm + ` ?(m|st)?(?: ?(?:x|\*|×|х|by|/|-) ?| )` +
		numberForm + ` ?(m|st)?$`)
	areaForm    = regexp.MustCompile(`^(.*?\d) ?(m2|m²|m\^2|ha)?$`)
	groupedForm = regexp.MustCompile(`^[1-9]\d{0,2}(?:(?:[.,]\d{3})+|(?: \d{3})+)$`) // 1,200 or 1.200 or 1 200
	numberOnly  = regexp.MustCompile(`^` + numberForm + `$`)
)

// readArea reads an area or two sides of any size. The entry must come from inUnits. readArea reports false if the
// entry is neither an area nor two sides.
func readArea(s string, u AreaUnits) (areaRead, bool) {
	if f := sidesForm.FindStringSubmatch(s); f != nil && !groupedForm.MatchString(s) {
		unit := u.SideM
		switch {
		case f[2] == "m" && f[4] == "st" || f[2] == "st" && f[4] == "m":
			return areaRead{}, false
		case f[2] == "m" || f[4] == "m":
			unit = 1
		case f[2] == "st" || f[4] == "st":
			unit = u.StepM
		}
		length, width := amount(f[1])*unit, amount(f[3])*unit
		return areaRead{tenth(length * width), length, width}, unit > 0
	}
	f := areaForm.FindStringSubmatch(s)
	if f == nil {
		return areaRead{}, false
	}
	unit := u.M2
	switch f[2] {
	case "":
	case "ha":
		unit = 10_000
	default:
		unit = 1
	}
	x, ok := readAmount(f[1])
	return areaRead{m2: tenth(x * unit)}, ok
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
