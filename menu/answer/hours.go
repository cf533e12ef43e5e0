package answer

import (
	"regexp"

	"rowbell/engine"
)

const hoursPerDay = 24

// These are the limits of typed hours. Hours outside workHours or dayHours are refused.
var (
	workHours = Range{0.1, 500}                 // hours of one weeding
	dayHours  = Range{0.5, engine.MaxHoursADay} // hours of one day
	// usualDayHours is how many hours growers usually weed on one day (common practice, no source).
	usualDayHours = Range{2, 12}
)

// maxTimesHand decides when more than 24 hours for one weeding are doubted: if they are more than this many times the
// usual hours of weeding the plot by hand (judgement).
const maxTimesHand = 2

// Hours reads how long a weeding took, in hours to the nearest tenth: 3, 2.5, 2,5, 2h30, 2:30, 90 min, half an hour, 3
// heures, saa 3. If an entry can mean two lengths of time, or a time of the day (2.30, 2-3, 08:00, 8-12), it is
// doubted.
// More than 24 hours are doubted too if they are more than maxTimesHand times what weeding areaM2 by hand takes: 25 may
// be a mistake for 2.5.
func Hours(s string, areaM2 float64) (h float64, d Doubt[float64], r *Refusal) {
	h, d, r = readHours(s, workHours)
	if r == nil && d.Why == NoDoubt && h > max(hoursPerDay, maxTimesHand*engine.HandHoursPerHa*areaM2/1e4) {
		d = unusual(tenth(h/10), true)
	}
	return h, d, r
}

// DayHours reads how many hours are worked on one day, as Hours does. If a number without a unit is out of range, and a
// tenth of the number is usual, DayHours returns the tenth with the doubt Corrected (75 is read as 7.5).
func DayHours(s string) (h float64, d Doubt[float64], r *Refusal) {
	if h, d, r = readHours(s, dayHours); r == nil || r.Key != "refuse.hours-range" {
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

	colonForm  = regexp.MustCompile(`^(\d{1,2}):[0-5]\d$`)
	dottedForm = regexp.MustCompile(`^(\d{1,2})[.,]([0-5]\d)(?: ?h)?$`)
	spanForm   = regexp.MustCompile(`^` + numberForm + `( ?- ?| to | or )` + numberForm + ` ?h?$`)
	daySpan    = regexp.MustCompile(`^(\d{1,2})[:.h]([0-5]\d)(?: ?- ?| to )(\d{1,2})[:.h]([0-5]\d)$`)
)

// morning is the hour from which a time with a colon may be a time of the day. Fewer hours are rather a length of time:
// nobody begins to weed at half past two in the night (judgement).
const morning = 5

// readHours reads a length of time within l, with the doubts that Hours describes.
func readHours(s string, l Range) (h float64, d Doubt[float64], r *Refusal) {
	e, _ := withFractions(s)
	if f := fractionOnly.FindStringSubmatch(e); f != nil {
		if part := fraction(f[1], f[2]); part > 0 {
			e = decimal(part)
		}
	}
	both := func(a, b float64) (float64, Doubt[float64], *Refusal) {
		a, b = tenth(a), tenth(b)
		switch {
		case !l.Contains(a) && !l.Contains(b):
			return 0, d, hoursRange(s, a, l)
		case !l.Contains(a):
			return b, unusual(0.0, false), nil
		}
		return a, unusual(b, l.Contains(b) && a != b), nil
	}
	if f := dottedForm.FindStringSubmatch(e); f != nil && f[2] != "00" {
		return both(amount(f[1])+amount(f[2])/60, amount(f[1])+amount(f[2])/100)
	}
	if f := daySpan.FindStringSubmatch(e); f != nil {
		hours := amount(f[3]) + amount(f[4])/60 - amount(f[1]) - amount(f[2])/60
		return both(hours, hours)
	}
	if f := spanForm.FindStringSubmatch(e); f != nil && amount(f[1]) < amount(f[3]) {
		if amount(f[1]) >= morning && f[2] != " or " { // from 8 to 12 o'clock
			return both(amount(f[3])-amount(f[1]), 0)
		}
		return both(amount(f[1]), amount(f[3]))
	}
	if h, r = parseHours(e, s, l); r != nil {
		return 0, d, r
	}
	if f := colonForm.FindStringSubmatch(e); f != nil && (h >= morning || f[1] != "0" && f[1][0] == '0') {
		d = unusual(0.0, false)
	}
	return h, d, nil
}

// parseHours reads the entry e, which must come from withFractions. s is the entry as typed.
func parseHours(e, s string, l Range) (float64, *Refusal) {
	var h float64
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
		return 0, hoursRange(s, h, l)
	}
	return h, nil
}

func hoursRange(s string, h float64, l Range) *Refusal {
	args := l.args()
	args["hours"] = oneDecimal(h)
	return Refuse("refuse.hours-range", s, args)
}

var tookForm = regexp.MustCompile(
	`^` + numberForm + ` ?h(?: ?(\d)|(?: ?[x*] ?| and |, )(\d{1,2})| ?(\d{1,2}) ?p)?(?: ?p)?$`)

// Took reads how long a weeding took and how many people worked, from a reply to a text: 3h is one person, 3h2 is two
// people, and 3h x 12 is twelve people. Two digits after the h are minutes (2h30, 2 h 30), unless x, a comma, "and" or
// a word for people marks the digits as people. Hours in other forms (2.5, 2:30, 90 min) are the hours of one person. A
// whole number without a unit is not read, because a digit may be the answer to another question. Took doubts the same
// entries as Hours, and every time of more than 24 hours: a weeding is logged on one day.
func Took(s string) (hours float64, people int, d Doubt[float64], ok bool) {
	e, people := inUnits(s), 1
	var r *Refusal
	if f := tookForm.FindStringSubmatch(e); f != nil {
		if told := f[2] + f[3] + f[4]; told != "" {
			if people, r = People(told); r != nil {
				return 0, 0, d, false
			}
		}
		if hours, d, r = readHours(f[1]+" h", workHours); r != nil {
			return 0, 0, d, false
		}
	} else {
		if wholeForm.MatchString(Digits(s)) {
			return 0, 0, d, false
		}
		if hours, d, r = readHours(s, workHours); r != nil {
			return 0, 0, d, false
		}
	}
	if d.Why == NoDoubt && hours > hoursPerDay {
		d = unusual(tenth(hours/10), true)
	}
	return hours, people, d, true
}
