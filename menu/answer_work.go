package menu

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"rowbell/menu/text"
)

var (
	hoursForm   = regexp.MustCompile(`^` + numberForm + ` ?h?$`)
	clockForm   = regexp.MustCompile(`^(\d{1,3})(?: ?[h:] ?| h and )([0-5]?\d) ?(?:m|min)?$`)
	minutesForm = regexp.MustCompile(`^(\d{1,4}) ?min$`)
)

// parseHours reads how long work took, in hours to the nearest tenth: 3, 2.5,
// 2,5, 2h30, 2:30, 90 min, 3 heures, saa 3.
func parseHours(s string, l limits) (float64, *Refusal) {
	var h float64
	e := inUnits(s)
	if f := hoursForm.FindStringSubmatch(e); f != nil {
		h = amount(f[1])
	} else if f := clockForm.FindStringSubmatch(e); f != nil {
		h = amount(f[1]) + amount(f[2])/60
	} else if f := minutesForm.FindStringSubmatch(e); f != nil {
		h = amount(f[1]) / 60
	} else {
		return 0, refuse("refuse.hours", s, nil)
	}
	if h = tenth(h); !l.hold(h) {
		args := l.args()
		args["hours"] = number(h)
		return 0, refuse("refuse.hours-range", s, args)
	}
	return h, nil
}

// likelyHours reads as parseHours does. A bare number that is outside l is taken
// for its tenth where that is usual: it must be asked back.
func likelyHours(s string, l, usual limits) (h float64, guessed bool, r *Refusal) {
	if h, r = parseHours(s, l); r == nil || r.Key != "refuse.hours-range" {
		return h, false, r
	}
	if f := numberOnly.FindStringSubmatch(clean(s)); f != nil {
		if meant := tenth(amount(f[1]) / 10); usual.hold(meant) {
			return meant, true, nil
		}
	}
	return 0, false, r
}

// maxName is the length of a plot's name in characters; every text is measured
// with a name this long.
const maxName = 10

// parseName reads what a grower calls a plot: letters of any script, digits,
// spaces.
func parseName(s string) (string, *Refusal) {
	name := strings.Join(strings.Fields(s), " ")
	if !utf8.ValidString(s) || name == "" || strings.ContainsFunc(s, notInName) {
		return "", refuse("refuse.name", s, nil)
	}
	if utf8.RuneCountInString(name) > maxName {
		return "", refuse("refuse.name-long", s, text.Args{"max": strconv.Itoa(maxName)})
	}
	return name, nil
}

func notInName(r rune) bool {
	return unicode.IsControl(r) || !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) && !unicode.IsSpace(r)
}
