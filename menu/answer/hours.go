package answer

import (
	"regexp"

	"rowbell/engine"
)

const hoursPerDay = 24

// Limits of working hours.
var (
	workHours = Range{0.1, 500}                 // hours of one weeding
	dayHours  = Range{0.5, engine.MaxHoursADay} // hours of one day
	// usualDayHours is a usual day of weeding (common practice, no source).
	usualDayHours = Range{2, 12}
	// sentHours are the hours of one weeding as a text tells them. A pass is logged on one day, so more than a day
	// has is likely a slip (25 for 2.5) and not taken. The menu takes more, and asks back.
	sentHours = Range{workHours.From, hoursPerDay}
)

// maxTimesHand is how many times the usual hours of weeding by hand are believed without asking (judgement).
const maxTimesHand = 2

// Hours reads how long a weeding took, in hours to the nearest tenth: 3, 2.5, 2,5, 2h30, 2:30, 90 min, 3 heures, saa
// 3. More hours than a day has are doubted where weeding areaM2 by hand would take far fewer: 25 may be 2.5.
func Hours(s string, areaM2 float64) (h float64, d Doubt[float64], r *Refusal) {
	h, r = parseHours(s, workHours)
	if r == nil && h > max(hoursPerDay, maxTimesHand*engine.HandHoursPerHa*areaM2/1e4) {
		d = unusual(tenth(h/10), true)
	}
	return h, d, r
}

// DayHours reads the hours that are worked on a day. A bare number that no day has is read as its tenth where that is
// usual (75 as 7.5), and doubted.
func DayHours(s string) (h float64, d Doubt[float64], r *Refusal) {
	if h, r = parseHours(s, dayHours); r == nil || r.Key != "refuse.hours-range" {
		return h, d, r
	}
	if f := numberOnly.FindStringSubmatch(Clean(s)); f != nil {
		if meant := tenth(amount(f[1]) / 10); usualDayHours.Contains(meant) {
			return meant, corrected[float64](), nil
		}
	}
	return 0, d, r
}

var (
	hoursForm   = regexp.MustCompile(`^` + numberForm + ` ?h?$`)
	clockForm   = regexp.MustCompile(`^(\d{1,3})(?: ?[h:] ?| h and )([0-5]?\d) ?(?:m|min)?$`)
	minutesForm = regexp.MustCompile(`^(\d{1,4}) ?min$`)
)

func parseHours(s string, l Range) (float64, *Refusal) {
	var h float64
	e := inUnits(s)
	if f := hoursForm.FindStringSubmatch(e); f != nil {
		h = amount(f[1])
	} else if f := clockForm.FindStringSubmatch(e); f != nil {
		h = amount(f[1]) + amount(f[2])/60
	} else if f := minutesForm.FindStringSubmatch(e); f != nil {
		h = amount(f[1]) / 60
	} else {
		return 0, Refuse("refuse.hours", s, nil)
	}
	if h = tenth(h); !l.Contains(h) {
		args := l.args()
		args["hours"] = oneDecimal(h)
		return 0, Refuse("refuse.hours-range", s, args)
	}
	return h, nil
}

var tookForm = regexp.MustCompile(
	`^` + numberForm + ` ?h(?: ?(\d)|(?: ?[x*] ?| and |, )(\d{1,2})| ?(\d{1,2}) ?p)?(?: ?p)?$`)

// Took reads how long a weeding took and how many people worked, in reply to a text: 3h, 2.5h, or 3h2 and 3h x 12 for
// two and twelve people. Two digits after the hours are minutes, as everywhere (2h30, 2 h 30), unless a word says
// people. Other forms of hours (2.5, 2:30, 90 min) are of one person. A bare whole number is not read: a digit may be
// the answer to something else.
func Took(s string) (hours float64, people int, ok bool) {
	e, people := inUnits(s), 1
	if f := tookForm.FindStringSubmatch(e); f != nil {
		if told := f[2] + f[3] + f[4]; told != "" {
			n, refused := People(told)
			if refused != nil {
				return 0, 0, false
			}
			people = n
		}
		hours = tenth(amount(f[1]))
		return hours, people, sentHours.Contains(hours)
	}
	if wholeForm.MatchString(Digits(s)) {
		return 0, 0, false
	}
	hours, refused := parseHours(s, sentHours)
	return hours, people, refused == nil
}
