package menu

import (
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"rowbell/engine"
	"rowbell/menu/text"
)

// reach is how far from today a date may lie, in days.
type reach struct{ back, ahead int }

// plantingReach covers a crop from some days before planting to canopy.
var plantingReach = reach{back: 150, ahead: 14}

// dateRead is a date as it was understood.
type dateRead struct {
	Day     engine.Day
	Swapped bool // the month was typed before the day: to be read back
}

var (
	dateForm  = regexp.MustCompile(`^[\d\pL\pM /.,*-]+$`)
	dateToken = regexp.MustCompile(`\d+|[\pL\pM]+`)
)

// parseDate reads a date near today, day before month: 5, 5/11, 5-11-26, 0511,
// 051126, 5 nov, nov 5. months are the words for months, in small letters; the
// beginning of one, from three letters, will do. A day alone is the latest such
// day up to today; a day without a year is the one nearest to what reach
// allows.
func parseDate(s string, today engine.Day, within reach, months map[string]time.Month) (dateRead, *Refusal) {
	d, ok := readDate(clean(s), months)
	if !ok {
		return dateRead{}, refuse("refuse.date", s, nil)
	}
	day, ok := d.near(today, within)
	if !ok {
		return dateRead{}, refuse("refuse.date-none", s, nil)
	}
	if r := within.refuse(day, today, s); r != nil {
		return dateRead{}, r
	}
	return dateRead{Day: day, Swapped: d.swapped}, nil
}

func (w reach) refuse(day, today engine.Day, s string) *Refusal {
	y, m, d := day.Date()
	args := text.Args{"date": text.Date{Weekday: day.Weekday(), Day: d, Month: m}, "year": y}
	switch {
	case day > today && w.ahead == 0:
		return refuse("refuse.date-future", s, args)
	case int(day-today) > w.ahead:
		args["days"] = w.ahead
		return refuse("refuse.date-ahead", s, args)
	case int(today-day) > w.back:
		args["days"] = w.back
		return refuse("refuse.date-old", s, args)
	}
	return nil
}

// writtenDate is a date as typed.
type writtenDate struct {
	day, month, year  int
	hasMonth, swapped bool
}

// readDate takes a cleaned entry apart.
func readDate(s string, months map[string]time.Month) (writtenDate, bool) {
	if len(s) > 64 || !dateForm.MatchString(s) {
		return writtenDate{}, false
	}
	tokens := dateToken.FindAllString(s, -1)
	if len(tokens) == 1 {
		tokens = splitRun(tokens[0])
	}
	if len(tokens) == 0 || len(tokens) > 3 {
		return writtenDate{}, false
	}
	var d writtenDate
	if word := wordAt(tokens); word >= 0 {
		m, ok := monthOf(tokens[word], months)
		if !ok || word > 1 || len(tokens) < 2 {
			return d, false
		}
		d.month, d.hasMonth = int(m), true
		tokens = append(tokens[:word:word], tokens[word+1:]...)
		ok = d.take(tokens, &d.day, &d.year)
		return d, ok
	}
	if len(tokens) == 3 && len(tokens[0]) == 4 {
		ok := d.take(tokens, &d.year, &d.month, &d.day)
		return d, ok
	}
	if !d.take(tokens, &d.day, &d.month, &d.year) {
		return d, false
	}
	if d.month > 12 && d.day <= 12 {
		d.day, d.month, d.swapped = d.month, d.day, true
	}
	return d, true
}

// take reads numbers into the fields of d in order. A day or month has one or
// two digits, a year two or four.
func (d *writtenDate) take(tokens []string, into ...*int) bool {
	if len(tokens) > len(into) {
		return false
	}
	for i, t := range tokens {
		n, err := strconv.Atoi(t)
		if err != nil {
			return false
		}
		switch {
		case into[i] != &d.year:
			if len(t) > 2 {
				return false
			}
		case len(t) == 2:
			n += 2000
		case len(t) != 4 || n == 0:
			return false
		}
		*into[i] = n
		d.hasMonth = d.hasMonth || into[i] == &d.month
	}
	return true
}

// splitRun cuts digits typed in one run: 0511, 051126, 05112026.
func splitRun(t string) []string {
	if t[0] > '9' {
		return []string{t}
	}
	switch len(t) {
	case 4:
		return []string{t[:2], t[2:]}
	case 6, 8:
		return []string{t[:2], t[2:4], t[4:]}
	}
	return []string{t}
}

func wordAt(tokens []string) int {
	for i, t := range tokens {
		if t[0] > '9' {
			return i
		}
	}
	return -1
}

// monthOf finds the one month that a word stands for: a word of the list, or
// the beginning of it, or a longer form of it.
func monthOf(word string, months map[string]time.Month) (time.Month, bool) {
	if m, ok := months[word]; ok {
		return m, true
	}
	const enough = 3 // letters
	var found time.Month
	for w, m := range months {
		begins := utf8.RuneCountInString(word) >= enough && strings.HasPrefix(w, word)
		longer := utf8.RuneCountInString(w) >= enough && strings.HasPrefix(word, w)
		if !begins && !longer {
			continue
		}
		if found != 0 && found != m {
			return 0, false
		}
		found = m
	}
	return found, found != 0
}

// near is the day meant, seen from today; ok is false where the calendar has
// no such day.
func (d writtenDate) near(today engine.Day, within reach) (engine.Day, bool) {
	if !d.hasMonth {
		return latest(d.day, today)
	}
	if d.year != 0 {
		return civil(d.year, d.month, d.day)
	}
	this, _, _ := today.Date()
	var best engine.Day
	found := false
	for y := this - 1; y <= this+1; y++ {
		day, ok := civil(y, d.month, d.day)
		if ok && (!found || within.outside(day, today) < within.outside(best, today)) {
			best, found = day, true
		}
	}
	return best, found
}

// outside is how many days a day lies past what w allows; for a day within, 0.
func (w reach) outside(day, today engine.Day) int {
	return max(int(today-day)-w.back, int(day-today)-w.ahead, 0)
}

// latest is the last day of that number up to today.
func latest(dayOfMonth int, today engine.Day) (engine.Day, bool) {
	y, m, _ := today.Date()
	for back := range 3 { // no two months in a row lack a day 31
		first := engine.Date(y, m-time.Month(back), 1)
		fy, fm, _ := first.Date()
		if day, ok := civil(fy, int(fm), dayOfMonth); ok && day <= today {
			return day, true
		}
	}
	return 0, false
}

// civil is a day of the calendar, if there is one.
func civil(y, m, d int) (engine.Day, bool) {
	day := engine.Date(y, time.Month(m), d)
	ry, rm, rd := day.Date()
	return day, ry == y && int(rm) == m && rd == d
}
