package menu

import (
	"regexp"
	"slices"
	"strconv"
	"time"

	"rowbell/engine"
	"rowbell/menu/text"
)

// reach is how far from today a date may lie, in days.
type reach struct {
	back, ahead int
	usual       int // how far back it mostly does, at most
}

// plantingReach covers a crop from some days before planting to canopy. Most
// growers tell of a plot before its second month is over: later there is
// nothing to weed (common practice, no source).
var plantingReach = reach{back: 150, ahead: 14, usual: 60}

// dateRead is a date as it was understood.
type dateRead struct {
	Day     engine.Day
	Guessed bool       // not what was typed: it must be asked back
	Year    bool       // and what was typed otherwise is the year
	Other   engine.Day // what may have been meant instead; 0: nothing
}

var (
	dateForm  = regexp.MustCompile(`^[\d\pL](?:[\d\pL\pM /.,*-]*[\d\pL\pM])?$`)
	dateToken = regexp.MustCompile(`\d+|[\pL\pM]+`)
)

// parseDate reads a date near today, day before month: 5, 5/11, 5-11-26, 0511,
// 051126, 20261105, 5 nov, nov 5, Thu 5 Nov, yesterday; the beginning of a
// month's word, from three letters, will do. A day alone is the latest such day up to today; a day without
// a year is the one nearest to what reach allows.
//
// What is out of reach, or no day at all, is taken for the month before the
// day, or for a year that is one off, where that is within reach; and what is
// further back than usual may be the other way round too.
func parseDate(s string, today engine.Day, within reach, words dateWords) (dateRead, *Refusal) {
	entry := dateKey(clean(s))
	if off, ok := words.day(entry); ok {
		read := dateRead{Day: today + engine.Day(off)}
		if off < 0 && within.ahead > within.back { // a plan: some languages have one word for yesterday and tomorrow
			read.Other = today - engine.Day(off)
		}
		return read, within.refuse(read.Day, today, s)
	}
	d, ok := readDate(entry, words)
	if !ok {
		return dateRead{}, refuse("refuse.date", s, nil)
	}
	day, exists := d.near(today, within)
	other, turns := engine.Day(0), false
	if t, ok := d.turned(); ok {
		other, turns = t.near(today, within)
	}
	if exists && within.outside(day, today) == 0 {
		read := dateRead{Day: day, Guessed: d.foreign}
		if turns && !within.isUsual(day, today) && within.isUsual(other, today) {
			read.Other = other
		}
		return read, nil
	}
	if read, ok := d.meant(today, within); ok && (!exists || read.Year || within.outside(day, today) > nearMiss || within.isUsual(read.Day, today)) {
		return read, nil
	}
	switch {
	case exists:
	case turns:
		day = other
	default:
		return dateRead{}, refuse("refuse.date-none", s, nil)
	}
	return dateRead{}, within.refuse(day, today, s)
}

// nearMiss is how many days out of reach a date may be meant all the same: it
// is refused with the reason, and not taken for another one that is not usual.
const nearMiss = 30

// meant is the first slip that explains an entry: month before day, the year
// one off, both.
func (d writtenDate) meant(today engine.Day, within reach) (dateRead, bool) {
	turned, turns := d.turned()
	for _, try := range []struct {
		date writtenDate
		may  bool
		year bool
	}{{turned, turns, false}, {d, d.year != 0, true}, {turned, turns && d.year != 0, true}} {
		if !try.may {
			continue
		}
		if try.year {
			try.date.year = 0
		}
		day, ok := try.date.near(today, within)
		if !ok || within.outside(day, today) != 0 {
			continue
		}
		if y, _, _ := day.Date(); !try.year || y == d.year-1 || y == d.year+1 {
			return dateRead{Day: day, Guessed: true, Year: try.year}, true
		}
	}
	return dateRead{}, false
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
	day, month, year int
	hasMonth         bool
	ordered          bool // day and month cannot be taken for each other
	foreign          bool // the month is a word of another language
}

// turned is the same with the month before the day.
func (d writtenDate) turned() (writtenDate, bool) {
	if !d.hasMonth || d.ordered || d.day == d.month {
		return d, false
	}
	d.day, d.month = d.month, d.day
	return d, true
}

// readDate takes an entry apart that dateKey wrote.
func readDate(s string, words dateWords) (writtenDate, bool) {
	months := words.months
	if len(s) > 64 || !dateForm.MatchString(s) {
		return writtenDate{}, false
	}
	tokens := dateToken.FindAllString(s, -1)
	tokens = words.withoutWeekday(tokens)
	switch {
	case len(tokens) == 1:
		tokens = splitRun(tokens[0])
	case len(tokens) == 2 && len(tokens[0]) == 4 && wordAt(tokens) < 0: // 0511 2026
		tokens = splitRun(tokens[0] + tokens[1])
	}
	tokens = slices.DeleteFunc(tokens, func(t string) bool { return months[t] == 0 && dateFillers[t] })
	if len(tokens) == 0 || len(tokens) > 3 {
		return writtenDate{}, false
	}
	var d writtenDate
	if word := wordAt(tokens); word >= 0 {
		m, ok := monthOf(tokens[word], months)
		if !ok || word > 1 || len(tokens) < 2 {
			return d, false
		}
		d.month, d.hasMonth, d.ordered = int(m), true, true
		if words.own != nil {
			_, own := monthOf(tokens[word], words.own)
			d.foreign = !own
		}
		tokens = append(tokens[:word:word], tokens[word+1:]...)
		ok = d.take(tokens, &d.day, &d.year)
		return d, ok
	}
	if len(tokens) == 3 && len(tokens[0]) == 4 {
		d.ordered = true
		ok := d.take(tokens, &d.year, &d.month, &d.day)
		return d, ok
	}
	ok := d.take(tokens, &d.day, &d.month, &d.year)
	return d, ok
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

// splitRun cuts digits typed in one run: 0511, 051126, 05112026, 20261105.
func splitRun(t string) []string {
	if t[0] > '9' {
		return []string{t}
	}
	switch len(t) {
	case 4:
		return []string{t[:2], t[2:]}
	case 8:
		if t[:2] == "20" && t[2:4] > "12" { // no month, so a year of this century
			return []string{t[:4], t[4:6], t[6:]}
		}
		fallthrough
	case 6:
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

// isUsual reports that a day lies ahead, or not further back than most do.
func (w reach) isUsual(day, today engine.Day) bool {
	return w.outside(day, today) == 0 && int(today-day) <= w.usual
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
