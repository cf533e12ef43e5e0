package answer

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"
)

// maxShown is how many characters of an entry are shown in a refusal: enough for the grower to recognise the entry, and
// few enough for a small screen.
const maxShown = 12

// Shown returns the part of an entry that is shown to the grower who typed it: the first maxShown printable characters,
// or "?" if no character is printable.
func Shown(s string) string {
	var out []rune
	for _, r := range foldDigits(strings.ToValidUTF8(strings.TrimSpace(s), "?")) {
		if unicode.IsSpace(r) {
			r = ' '
		}
		if !unicode.IsPrint(r) || r > 0xFFFF { // above U+FFFF a character would need two UCS-2 units
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

// foldDigits converts to ASCII: the decimal digits of every script, full-width characters, and the punctuation that
// phones type in place of ASCII punctuation. foldDigits drops invisible characters.
func foldDigits(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r < unicode.MaxASCII:
			return r
		case unicode.Is(unicode.Nd, r):
			return '0' + digitValue(r)
		case r >= '！' && r <= '～': // full-width characters have the same order as ASCII
			return r - '！' + '!'
		case r == '‐' || r == '‑' || r == '–' || r == '—' || r == '−':
			return '-'
		// The Arabic decimal separator, and the full stop and the abbreviation sign of Devanagari, are read as a point.
		case r == '٫' || r == '।' || r == '॰':
			return '.'
		case r == '،':
			return ','
		case unicode.IsSpace(r):
			return ' '
		case unicode.Is(unicode.Cf, r): // drops invisible characters: direction marks, joiners
			return -1
		}
		return r
	}, s)
}

// digitValue is the value of a decimal digit. The calculation works because Unicode lists the ten digits of each script
// in order, and every range of category Nd consists of whole sets of ten digits.
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

// Clean prepares an entry for reading. Clean makes digits ASCII, letters lower case, and spaces single. Clean removes
// brackets around the entry, and full stops and the keys * and # after it. A letter O in a number becomes a zero.
func Clean(s string) string {
	s = strings.Join(strings.Fields(strings.ToLower(foldDigits(s))), " ")
	return zeros(strings.TrimRight(strings.TrimLeft(s, "([{ "), ")]}.*# "))
}

var (
	zeroForm  = regexp.MustCompile(`o*\d[o\d]*`)
	afterZero = regexp.MustCompile(`^(?:x|(?:cm|mm|m2|m|ha|h)?(?:$|[^\pL\pM\d]))`)
)

// zeros replaces the letter O by a zero in numbers (O511, 2O*3O, 6OO m2), because keypads and thumbs confuse them.
func zeros(s string) string {
	if !strings.Contains(s, "o") {
		return s
	}
	b := []byte(s)
	for _, m := range zeroForm.FindAllStringIndex(s, -1) {
		before, _ := utf8.DecodeLastRuneInString(s[:m[0]])
		inWord := m[0] > 0 && before != 'x' && (unicode.IsLetter(before) || unicode.IsMark(before))
		if !inWord && afterZero.MatchString(s[m[1]:]) {
			copy(b[m[0]:m[1]], strings.ReplaceAll(s[m[0]:m[1]], "o", "0"))
		}
	}
	return string(b)
}

// Digits prepares an entry that should be one or a few digits. Digits removes punctuation around the digits: "1.",
// "(1)" and " 1 " all become "1".
func Digits(s string) string {
	const marks = `.,:;()[]{}"' `
	return strings.TrimRight(strings.Trim(Clean(s), marks), marks+"*#")
}

// isDigit reports whether c is an ASCII digit.
func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// HasDigit reports whether an entry has a digit.
func HasDigit(s string) bool {
	return strings.ContainsFunc(foldDigits(s), func(r rune) bool { return r >= '0' && r <= '9' })
}
