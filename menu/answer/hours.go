package answer

import (
	"regexp"

	"rowbell/engine"
)

const hoursPerDay = 24

// These are the limits of typed hours. Hours outside workHours, dayHours or sentHours are refused.
var (
	workHours = Range{0.1, 500}                 // hours of one weeding
	dayHours  = Range{0.5, engine.MaxHoursADay} // hours of one day
	// usualDayHours is how many hours growers usually weed on one day (common practice, no source).
	usualDayHours = Range{2, 12}
	// sentHours limits the hours of one weeding that a text message reports. A weeding is logged on one day, so more
	// than 24 hours is likely a mistake (25 for 2.5), and the text is refused. The menu accepts more hours, because the
	// menu can ask whether they are right.
	sentHours = Range{workHours.From, hoursPerDay}
)

// maxTimesHand decides when more than 24 hours for one weeding are doubted: if they are more than this many times the
// usual hours of weeding the plot by hand (judgement).
const maxTimesHand = 2

// Hours reads how long a weeding took, in hours to the nearest tenth: 3, 2.5, 2,5, 2h30, 2:30, 90 min, 3 heures, saa 3.
// More than 24 hours are doubted if they are also more than maxTimesHand times what weeding areaM2 by hand takes: 25
// may be a mistake for 2.5.
func Hours(s string, areaM2 float64) (h float64, d Doubt[float64], r *Refusal) {
	h, r = parseHours(s, workHours)
	if r == nil && h > max(hoursPerDay, maxTimesHand*engine.HandHoursPerHa*areaM2/1e4) {
		d = unusual(tenth(h/10), true)
	}
	return h, d, r
}

// DayHours reads how many hours are worked on one day. If a number without a unit is out of range, and a tenth of the
// number is usual, DayHours returns the tenth with the doubt Corrected (75 is read as 7.5).
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

// Took reads how long a weeding took and how many people worked, from a reply to a text: 3h is one person, 3h2 is two
// people, and 3h x 12 is twelve people. Two digits after the h are minutes (2h30, 2 h 30), unless x, a comma, "and" or
// a word for people marks the digits as people. Hours in other forms (2.5, 2:30, 90 min) are the hours of one person. A
// whole number without a unit is not read, because a digit may be the answer to another question.
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
