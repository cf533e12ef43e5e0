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
	m2   float64
}

// NewLocalUnits prepares the operator's units for reading. In an entry the unit may be before or after the number
// (bigha 2, 2 bigha). The unit may end in an s for the plural, as in English, French and Portuguese (2 bighas).
func NewLocalUnits(units []AreaUnit) LocalUnits {
	out := make(LocalUnits, len(units))
	for i, u := range units {
		name := regexp.QuoteMeta(text.Fold(u.Name)) + `s?`
		form := regexp.MustCompile(`^(?:` + numberForm + ` ?` + name + `|` + name + ` ?` + numberForm + `)(?:,? |$)`)
		out[i] = localUnit{form, u.M2}
	}
	return out
}

// read returns an area in local units, in m2. If the entry holds several amounts, read adds them up: 1 bigha 5 katha.
func (units LocalUnits) read(s string) (m2 float64, ok bool) {
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
