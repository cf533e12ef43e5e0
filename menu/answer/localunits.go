package answer

import (
	"regexp"

	"rowbell/menu/text"
)

// AreaUnit is a local unit of area, named by the operator.
type AreaUnit struct {
	Name string
	M2   float64
}

// LocalUnits are the operator's units, ready to be recognised in an entry.
type LocalUnits []localUnit

type localUnit struct {
	form *regexp.Regexp // the unit with its number, at the beginning of a text
	m2   float64
}

// NewLocalUnits prepares the operator's units. A name may stand before or after its number, and in the plural with s
// of English, French and Portuguese.
func NewLocalUnits(units []AreaUnit) LocalUnits {
	out := make(LocalUnits, len(units))
	for i, u := range units {
		name := regexp.QuoteMeta(text.Fold(u.Name)) + `s?`
		form := regexp.MustCompile(`^(?:` + numberForm + ` ?` + name + `|` + name + ` ?` + numberForm + `)(?:,? |$)`)
		out[i] = localUnit{form, u.M2}
	}
	return out
}

// read is an area in local units, in m2. Several are added up: 1 bigha 5 katha.
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
