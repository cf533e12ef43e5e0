package answer

import (
	"strings"
	"unicode"
)

// maxShown is how many characters of a refused entry are read back: enough to recognise it, few enough for a small
// screen.
const maxShown = 12

// Shown is an entry as it may be read back to its grower: printable, at most maxShown characters, "?" where nothing
// of it is printable.
func Shown(s string) string {
	var out []rune
	for _, r := range foldDigits(strings.ToValidUTF8(strings.TrimSpace(s), "?")) {
		if unicode.IsSpace(r) {
			r = ' '
		}
		if !unicode.IsPrint(r) || r > 0xFFFF { // beyond 0xFFFF a character takes two UCS-2 units
			continue
		}
		if out = append(out, r); len(out) == maxShown {
			break
		}
	}
	if strings.TrimSpace(string(out)) == "" {
		return "?"
	}
	return string(out)
}

// foldDigits writes the decimal digits of every script, full-width characters and the marks that phones type instead
// of ASCII ones in ASCII. It drops invisible characters.
func foldDigits(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < unicode.MaxASCII:
			return r
		case unicode.Is(unicode.Nd, r):
			return '0' + digitValue(r)
		case r >= '！' && r <= '～': // full-width forms are in the order of ASCII
			return r - '！' + '!'
		case r == '‐' || r == '‑' || r == '–' || r == '—' || r == '−':
			return '-'
		// Arabic decimal separator; full stop and abbreviation sign of Devanagari
		case r == '٫' || r == '।' || r == '॰':
			return '.'
		case r == '،':
			return ','
		case unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Cf, r): // direction marks, joiners
			return -1
		}
		return r
	}, s)
}

// digitValue is the value of a decimal digit. Unicode places the ten digits of each script in order, and every range
// of category Nd holds whole sets of ten.
func digitValue(r rune) rune {
	for _, t := range unicode.Nd.R16 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	for _, t := range unicode.Nd.R32 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	return 0
}

// Clean prepares an entry for reading: ASCII digits, lower case, single spaces, without brackets around it and full
// stops after it.
func Clean(s string) string {
	s = strings.Join(strings.Fields(strings.ToLower(foldDigits(s))), " ")
	return strings.TrimRight(strings.TrimLeft(s, "([{ "), ")]}. ")
}

// Digits prepares an entry where one or a few digits are expected: punctuation around them goes, so that "1.", "(1)"
// and " 1 " are "1".
func Digits(s string) string { return strings.Trim(Clean(s), `.,:;()[]{}"' `) }

// isDigit reports that c is an ASCII digit.
func isDigit(c byte) bool { return c >= '0' && c <= '9' }
