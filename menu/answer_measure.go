package menu

import (
	"regexp"

	"rowbell/engine"
	"rowbell/menu/text"
)

var inletForm = regexp.MustCompile(`^` + numberForm + ` ?l?(?: ?[*x×/] ?| )` + numberForm + ` ?s?$`)

// Limits of what a bucket under an inlet may show, in litres and seconds.
const (
	maxBucketL  = 1000
	maxBucketS  = 3600
	leastInflow = 0.01 // l/s: with less it would take weeks
)

// parseInlet reads how a bucket fills, litres and seconds, as 10*5 or 10 5,
// and returns litres a second.
func parseInlet(s string) (float64, *Refusal) {
	f := inletForm.FindStringSubmatch(inUnits(s))
	if f == nil {
		return 0, refuse("refuse.inlet", s, nil)
	}
	litres, seconds := amount(f[1]), amount(f[2])
	if !(litres > 0 && litres <= maxBucketL && seconds > 0 && seconds <= maxBucketS) {
		return 0, refuse("refuse.inlet", s, nil)
	}
	ls := litres / seconds
	if !(ls >= leastInflow && ls <= engine.MaxInflowLS) {
		return 0, refuse("refuse.inlet-range", s, text.Args{"flow": number(ls)})
	}
	return ls, nil
}

// maxBags is the largest harvest of a plot that is believed.
const maxBags = 10_000

var bagsForm = regexp.MustCompile(`^` + numberForm + `(?: ?bag)?$`)

// parseBags reads a harvest in bags: 12, 7.5, 7,5, 12 bags.
func parseBags(s string) (float64, *Refusal) {
	if f := bagsForm.FindStringSubmatch(inUnits(s)); f != nil {
		if n := amount(f[1]); n >= 0 && n <= maxBags {
			return n, nil
		}
	}
	return 0, refuse("refuse.bags", s, nil)
}

// tookLimits are the hours of one weeding as a text tells them. A pass is logged
// on one day, so more than a day has is likely a slip (25 for 2.5); the menu takes
// more, and asks back (common practice, no source).
var tookLimits = limits{hoursLimits.from, hoursADay}

var tookForm = regexp.MustCompile(`^` + numberForm + ` ?h(?: ?(\d)|(?: ?[x*] ?| and |, )(\d{1,2})| ?(\d{1,2}) ?p)?(?: ?p)?$`)

// parseTook reads how long a weeding took, in reply to a text: 3h, 2.5h, or
// 3h2 and 3h x 12 for two and twelve people. Two digits after the hours that
// nothing says are people are minutes, as everywhere (2h30, 2 h 30). Whatever
// else says hours (2.5, 2:30, 90 min) is of one person; a bare whole number is
// not taken, for a digit may be the answer to something else.
func parseTook(s string) (hours float64, people int, ok bool) {
	e, people := inUnits(s), 1
	if f := tookForm.FindStringSubmatch(e); f != nil {
		if told := f[2] + f[3] + f[4]; told != "" {
			n, refused := parsePeople(told)
			if refused != nil {
				return 0, 0, false
			}
			people = n
		}
		hours = tenth(amount(f[1]))
		return hours, people, tookLimits.hold(hours)
	}
	if wholeForm.MatchString(digits(s)) {
		return 0, 0, false
	}
	hours, refused := parseHours(s, tookLimits)
	return hours, people, refused == nil
}
