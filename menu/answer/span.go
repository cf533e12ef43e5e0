package answer

import (
	"strings"
	"time"

	"rowbell/engine"
)

// span is a distance from today in days, weeks or months of the calendar.
type span struct {
	n           int
	unit        string // d, wk or mo
	past, ahead bool   // what the entry says of the direction; both are false if it says nothing
	nth         bool   // the unit stands before the number, so that a day of the month may be meant: day 5
	nthOnly     bool   // only the day of the month can be meant: dia 5
}

// These words stand beside a span: 20 days ago, il y a 20 jours, in 5 days.
var (
	agoWords = keySet("ago back before past y passé passés passées iliyopita zilizopita yaliyopita uliyopita nyuma " +
		"पहले पूर्व pahle atrás há ha faz passado passados passada passadas lalu silam")
	aheadWords = keySet("in later hence after dans prochain ijayo zijazo ujao baada बाद daqui em depois lagi " +
		"mendatang kemudian")
	spanFillers = keySet("il a the it was is about now from में de da ya yang")
	oneWords    = keySet("a an one un une moja एक um uma satu")
	// countAfter has the units that stand before a count, as in Swahili: siku 20 is 20 days.
	countAfter = keySet("siku wiki majuma miezi")
	// oneSpan has the words for one day, week or month.
	oneSpan = map[string]string{"sehari": "d", "seminggu": "wk", "sebulan": "mo"}
)

// readSpan reads a span: 20 days ago, 2 weeks, 1 month ago, in 5 days, day 5. The entry must come from dateKey.
// readSpan reports false for any other entry.
func readSpan(entry string) (s span, ok bool) {
	numbers, first, digits := 0, "", strings.ContainsAny(entry, "0123456789")
	for _, word := range dateToken.FindAllString(entry, -1) {
		unit := signOf[word]
		switch {
		case isDigit(word[0]):
			if s.n = int(amount(word)); len(word) > 3 {
				return span{}, false
			}
			numbers++
		case s.unit == "" && (unit == "d" || unit == "wk" || unit == "mo"):
			s.unit, s.nth, first = unit, numbers == 0, word
		case s.unit == "" && oneSpan[word] != "":
			s.n, s.unit, first = 1, oneSpan[word], word
			numbers++
		case oneWords[word] && !digits && s.unit == "":
			s.n, numbers = 1, 1
		case agoWords[word]:
			s.past = true
		case aheadWords[word]:
			s.ahead = true
		case !spanFillers[word]:
			return span{}, false
		}
	}
	s.nth = s.nth && !s.past && !s.ahead && !countAfter[first]
	s.nthOnly = s.nth && first == "dia"
	ok = s.unit != "" && numbers == 1 && !(s.past && s.ahead) && !(s.nth && s.unit != "d") &&
		!strings.ContainsAny(entry, ".,/*")
	return s, ok
}

// from returns the day that is the span before today, or after today if ahead is true.
func (s span) from(today engine.Day, ahead bool) engine.Day {
	n := s.n
	if !ahead {
		n = -n
	}
	switch s.unit {
	case "wk":
		return today + engine.Day(daysAWeek*n)
	case "mo":
		y, m, d := today.Date()
		for last := d; ; last-- { // the month may be too short for the day
			if day, ok := calendarDay(monthOfYear(y, int(m)+n, last)); ok {
				return day
			}
		}
	}
	return today + engine.Day(n)
}

// monthOfYear moves a month outside 1 to 12 to its year.
func monthOfYear(y, m, d int) (year, month, day int) {
	first := time.Date(y, time.Month(m), 1, 0, 0, 0, 0, time.UTC)
	return first.Year(), int(first.Month()), d
}

// day returns the day that a span means. If it can mean two days within reach, day offers the other.
func (s span) day(typed string, today engine.Day, reach Reach) (engine.Day, Doubt[engine.Day], *Refusal) {
	ago, ahead := s.from(today, false), s.from(today, true)
	if s.nth {
		nth, ok := latest(s.n, today)
		switch {
		case !ok:
			return 0, Doubt[engine.Day]{}, Refuse("refuse.date-none", typed, nil)
		case s.nthOnly:
			ago = nth
		}
		return reach.either(today, nth, ago, typed)
	}
	switch {
	case s.past:
		return reach.either(today, ago, ago, typed)
	case s.ahead:
		return reach.either(today, ahead, ahead, typed)
	}
	return reach.either(today, ago, ahead, typed)
}
