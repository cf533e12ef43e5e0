package menu

import (
	"regexp"
	"strings"
)

// areaRead is an area as it was understood.
type areaRead struct {
	M2   float64
	A, B float64 // the sides in m, where sides were typed
}

// areaUnits are what bare numbers stand for: a side in metres or steps, an
// area in m2 or a local unit.
type areaUnits struct {
	SideM float64 // metres in one unit of a side
	M2    float64 // m2 in one unit of area
}

// metric is sides in m, area in m2.
var metric = areaUnits{SideM: 1, M2: 1}

var (
	sidesForm   = regexp.MustCompile(`^` + numberForm + ` ?(m)?(?: ?(?:x|\*|×|х|by|/|-) ?| )` + numberForm + ` ?(m)?$`)
	areaForm    = regexp.MustCompile(`^(.*?\d) ?(m2|m²|m\^2|sqm|sq m|ha)?$`)
	groupedForm = regexp.MustCompile(`^[1-9]\d{0,2}(?:[.,]\d{3})+$`)
	numberOnly  = regexp.MustCompile(`^` + numberForm + `$`)
)

// parseArea reads two sides (20x30, 20 by 30, 20 m x 30 m) or an area (600,
// 600 m2, 1,200, 0.5 ha). Bare numbers are in the units given; m, m2 and ha
// always mean themselves. l are the limits in m2.
func parseArea(s string, u areaUnits, l limits) (areaRead, *Refusal) {
	a, ok := readArea(clean(s), u)
	if !ok {
		return areaRead{}, refuse("refuse.area", s, nil)
	}
	if !l.hold(a.M2) {
		args := l.args()
		args["area"] = number(a.M2)
		return areaRead{}, refuse("refuse.area-range", s, args)
	}
	return a, nil
}

func readArea(s string, u areaUnits) (areaRead, bool) {
	if f := sidesForm.FindStringSubmatch(s); f != nil {
		unit := u.SideM
		if f[2] != "" || f[4] != "" {
			unit = 1
		}
		a, b := amount(f[1])*unit, amount(f[3])*unit
		return areaRead{M2: tenth(a * b), A: a, B: b}, true
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
	if groupedForm.MatchString(f[1]) && len(f[1]) <= 10 {
		f[1] = strings.NewReplacer(".", "", ",", "").Replace(f[1])
		return areaRead{M2: tenth(amount(f[1]) * unit)}, true
	}
	if !numberOnly.MatchString(f[1]) {
		return areaRead{}, false
	}
	return areaRead{M2: tenth(amount(f[1]) * unit)}, true
}
