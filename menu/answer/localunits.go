package answer

import (
	"regexp"

	"rowbell/menu/text"
)

// AreaUnit is a local unit of area that the operator has configured.
type AreaUnit struct {
	Name string
	M2   float64
}

// LocalUnits are the operator's units of area, prepared for reading entries.
type LocalUnits []localUnit

type localUnit struct {
	form *regexp.Regexp // matches one number and its unit at the beginning of an entry
	name string
	m2   float64
}

// NewLocalUnits prepares the operator's units for reading. In an entry the unit may be before or after the number
// (bigha 2, 2 bigha). The unit may end in an s for the plural, as in English, French and Portuguese (2 bighas).
func NewLocalUnits(units []AreaUnit) LocalUnits {
	out := make(LocalUnits, len(units))
	for i, u := range units {
		name := regexp.QuoteMeta(text.Fold(u.Name)) + `s?`
		form := regexp.MustCompile(`^(?:` + numberForm + ` ?` + name + `|` + name + ` ?` + numberForm + `)(?:,? |$)`)
		out[i] = localUnit{form, u.Name, u.M2}
	}
	return out
}

// read returns an area in local units. If the entry holds several amounts, read adds them up in m2: 1 bigha 5 katha.
func (units LocalUnits) read(s string) (size Size, ok bool) {
	s = text.Fold(s)
	amounts := 0
	for ; s != ""; amounts++ {
		read := 0
		for _, u := range units {
			if f := u.form.FindStringSubmatch(s); f != nil {
				size.N, size.Unit = amount(f[1]+f[2]), u.name
				size.M2 += size.N * u.m2
				read = len(f[0])
				break
			}
		}
		if read == 0 {
			return Size{}, false
		}
		s = s[read:]
	}
	if size.M2 = tenth(size.M2); amounts > 1 {
		size.N, size.Unit = size.M2, UnitM2
	}
	return size, size.M2 > 0
}
