package menu

import (
	"regexp"
	"strings"

	"rowbell/menu/text"
)

// areaRead is an area as it was understood.
type areaRead struct {
	M2   float64
	A, B float64 // the sides in m, where sides were typed
}

// areaUnits are what numbers stand for: bare ones for a side in metres or
// steps, or for an area in m2 or a local unit.
type areaUnits struct {
	SideM float64     // metres in one unit of a side
	M2    float64     // m2 in one unit of area
	StepM float64     // metres in a step; 0: steps are not known
	Local []localUnit // units that may be named
}

var (
	sidesForm   = regexp.MustCompile(`^` + numberForm + ` ?(m|st)?(?: ?(?:x|\*|×|х|by|/|-) ?| )` + numberForm + ` ?(m|st)?$`)
	areaForm    = regexp.MustCompile(`^(.*?\d) ?(m2|m²|m\^2|ha)?$`)
	groupedForm = regexp.MustCompile(`^[1-9]\d{0,2}(?:(?:[.,]\d{3})+|(?: \d{3})+)$`)
	numberOnly  = regexp.MustCompile(`^` + numberForm + `$`)
	sideForm    = regexp.MustCompile(`^[1-9]\d{0,3}(?:[.,]\d)?$`) // in a dialled path
)

// localUnit is a unit of area as its name is typed, with its number.
type localUnit struct {
	form *regexp.Regexp
	m2   float64
}

// localUnits makes the forms of the operator's units. The name may stand before
// its number, and in the plural of English, French and Portuguese.
func localUnits(units []AreaUnit) []localUnit {
	out := make([]localUnit, len(units))
	for i, u := range units {
		name := regexp.QuoteMeta(text.Fold(u.Name)) + `s?`
		form := regexp.MustCompile(`^(?:` + numberForm + ` ?` + name + `|` + name + ` ?` + numberForm + `)(?:,? |$)`)
		out[i] = localUnit{form, u.M2}
	}
	return out
}

// parseArea reads two sides (20x30, 20 by 30, 20 m x 30 m) or an area (600,
// 600 m2, 1,200, 0.5 ha, or with local units 2 katha, 1 bigha 5 katha). Bare
// numbers are in the units given; m, m2 and ha always mean themselves. l are
// the limits in m2.
func parseArea(s string, u areaUnits, l limits) (areaRead, *Refusal) {
	a, ok := readArea(inUnits(s), u)
	if !ok {
		a.M2, ok = readLocal(clean(s), u.Local)
	}
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
	if f := sidesForm.FindStringSubmatch(s); f != nil && !groupedForm.MatchString(s) { // 1 200 is a number
		unit := u.SideM
		switch {
		case f[2] == "m" && f[4] == "st" || f[2] == "st" && f[4] == "m":
			return areaRead{}, false
		case f[2] == "m" || f[4] == "m":
			unit = 1
		case f[2] == "st" || f[4] == "st":
			unit = u.StepM
		}
		a, b := amount(f[1])*unit, amount(f[3])*unit
		return areaRead{M2: tenth(a * b), A: a, B: b}, unit > 0
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
	return areaRead{M2: tenth(x * unit)}, ok
}

// readAmount reads a number, with marks between its thousands or without.
func readAmount(s string) (float64, bool) {
	switch {
	case groupedForm.MatchString(s) && len(s) <= 10:
		return amount(strings.NewReplacer(".", "", ",", "", " ", "").Replace(s)), true
	case numberOnly.MatchString(s):
		return amount(s), true
	}
	return 0, false
}

// readLocal reads an area in local units by name, one or several added up, in
// m2.
func readLocal(s string, units []localUnit) (m2 float64, ok bool) {
	s = text.Fold(s)
	for s != "" {
		read := 0
		for _, u := range units {
			if f := u.form.FindStringSubmatch(s); f != nil {
				m2 += amount(f[1]+f[2]) * u.m2
				read = len(f[0])
				break
			}
		}
		if read == 0 {
			return 0, false
		}
		s = s[read:]
	}
	return tenth(m2), m2 > 0
}
