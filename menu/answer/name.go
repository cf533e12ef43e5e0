package answer

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"rowbell/menu/text"
)

// MaxName is the longest name of a plot, in UTF-16 units, because SMS and USSD carry the letters that the GSM alphabet
// lacks in UTF-16. The length of every text is checked with a name of MaxName units.
const MaxName = 10

// Name reads a grower's name for a plot. The name may have letters of any script, digits and spaces.
func Name(s string) (string, *Refusal) {
	name := strings.Join(strings.Fields(s), " ")
	if !utf8.ValidString(s) || name == "" || strings.ContainsFunc(s, notInName) {
		return "", Refuse("refuse.name", s, nil)
	}
	if text.UCS2Units(name) > MaxName {
		return "", Refuse("refuse.name-long", s, text.Args{"max": strconv.Itoa(MaxName)})
	}
	return name, nil
}

func notInName(r rune) bool {
	return unicode.IsControl(r) ||
		!unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) && !unicode.IsSpace(r)
}

var circleForm = regexp.MustCompile(`^\d{1,6}$`)

// Circle reads the number of a circle. Spaces, dashes and points between the digits are ignored.
func Circle(s string) (int, *Refusal) {
	digits := strings.NewReplacer(" ", "", "-", "", ".", "").Replace(Digits(s))
	n, err := strconv.Atoi(digits)
	if !circleForm.MatchString(digits) || err != nil {
		return 0, Refuse("refuse.circle", s, nil)
	}
	return n, nil
}

var codeForm = regexp.MustCompile(`^\d{6}$`)

// Code reads the six digits with which a grower moves records to another phone. Spaces, dashes and points between the
// digits are ignored.
func Code(s string) (string, *Refusal) {
	code := strings.NewReplacer(" ", "", "-", "", ".", "").Replace(Digits(s))
	if !codeForm.MatchString(code) {
		return "", Refuse("refuse.code", s, nil)
	}
	return code, nil
}
