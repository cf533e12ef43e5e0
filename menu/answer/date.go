package answer

import (
	"cmp"
	"regexp"
	"slices"
	"strconv"
	"time"

	"rowbell/engine"
	"rowbell/menu/text"
)

// Reach limits the dates that a question accepts. Back and Ahead are the largest numbers of days before and after
// today.
type Reach struct {
	Back, Ahead int
	Usual       int // most growers type a date that is at most this many days back
}

// Each date that the menu asks for has its own Reach. The values of Usual are common practice, no source.
var (
	// PlantedReach limits the planting day of a plot at registration. A plot can be registered from some days before
	// planting until the rice covers the ground. Most growers register within two months of planting, because a later
	// plot needs no more weeding.
	PlantedReach = Reach{Back: 150, Ahead: 14, Usual: 60}
	// WeededReach limits the day of a weeding that is logged or corrected. It reaches back beyond any season of a tool,
	// but less than half a year, so that a date without a year has one meaning. Most weedings are logged before the
	// next weeding is due, which is at most three weeks later.
	WeededReach = Reach{Back: 180, Usual: 21}
	// NurseryReach limits the day on which a nursery was sown or will be sown.
	NurseryReach = Reach{Back: 90, Ahead: 90, Usual: 45}
	// PlanReach limits the day of a planting that is planned.
	PlanReach = Reach{Back: 30, Ahead: 120, Usual: 30}
	// AskedReach limits the day for which a grower asks another for a tool or for work.
	AskedReach = Reach{Ahead: 60}
)

// Date reads a date near today, with the day before the month: 5, 5/11, 5-11-26, 0511, 051126, 20261105, 5 nov, nov 5,
// Thu 5 Nov, yesterday, 20 days ago, 511. The first three letters of a month are enough. A day without a month is the
// latest such day that is not after today. A day and month without a year mean the year in which the date is within
// reach or nearest to reach.
//
// If a date is out of reach or does not exist, Date tries the same date with month and day swapped, and with the year
// before or after. Date returns the first of these dates that is within reach, with the doubt Corrected or
// CorrectedYear. If a date is further back than usual, and the date with day and month swapped is usual, Date returns
// the typed date with the doubt Unusual and offers the swapped date.
func Date(s string, today engine.Day, reach Reach, words DateWords) (engine.Day, Doubt[engine.Day], *Refusal) {
	var sure Doubt[engine.Day]
	entry := dateKey(Clean(s))
	if day, ok := words.day(entry); ok {
		return reach.either(today, today+engine.Day(day.Days), today+engine.Day(cmp.Or(day.Or, day.Days)), s)
	}
	if span, ok := readSpan(entry); ok {
		return span.day(s, today, reach)
	}
	if f := threeDigits.FindString(entry); f != "" {
		return shortRun(s, f, today, reach)
	}
	if f := bareAgo.FindStringSubmatch(entry); f != nil && words.ownLacks("ago") {
		ago := today - engine.Day(amount(f[1]))
		if month, ok := parseDate(entry, words); ok {
			if other, exists := month.near(today, reach); exists {
				return reach.either(today, ago, other, s)
			}
		}
		return reach.either(today, ago, ago, s)
	}
	typed, ok := parseDate(entry, words)
	if !ok {
		return 0, sure, Refuse("refuse.date", s, nil)
	}
	day, exists := typed.near(today, reach)
	other, turns := engine.Day(0), false
	if t, ok := typed.swapped(); ok {
		other, turns = t.near(today, reach)
	}
	if exists && reach.outside(day, today) == 0 {
		switch {
		case typed.foreign:
			return day, corrected[engine.Day](), nil
		case turns && !reach.isUsual(day, today) && reach.isUsual(other, today):
			return day, unusual(other, true), nil
		}
		return day, sure, nil
	}
	if exists && reach.Ahead > 0 && int(day-today) > reach.Ahead && int(day-today) <= reach.Ahead+nearAheadDays {
		return 0, sure, reach.refuse(day, today, s) // a day that is a little too far ahead is hardly another month
	}
	if meant, d, ok := typed.meant(today, reach); ok && (!exists || d.Why == CorrectedYear ||
		reach.outside(day, today) > nearMissDays || reach.isUsual(meant, today)) {
		return meant, d, nil
	}
	switch {
	case exists:
	case turns:
		day = other
	default:
		return 0, sure, Refuse("refuse.date-none", s, nil)
	}
	return 0, sure, reach.refuse(day, today, s)
}

// PastDate reads a number of days ago, or else a date in the same way as Date.
func PastDate(s string, today engine.Day, reach Reach, words DateWords) (engine.Day, Doubt[engine.Day], *Refusal) {
	if span, ok := readSpan(dateKey(Clean(s))); ok {
		span.past = span.past || !span.ahead
		return span.day(s, today, reach)
	}
	if n, refused := DaysAgo(s, reach.Back); refused == nil {
		return today - engine.Day(n), Doubt[engine.Day]{}, nil
	}
	return Date(s, today, reach, words)
}

// either returns the first of two days that are both meant by an entry, if it is within reach, and offers the other one
// if that is within reach too.
func (w Reach) either(today, first, other engine.Day, s string) (engine.Day, Doubt[engine.Day], *Refusal) {
	switch {
	case w.outside(first, today) != 0 && w.outside(other, today) == 0:
		return other, Doubt[engine.Day]{}, nil
	case first == other || w.outside(other, today) != 0:
		return first, Doubt[engine.Day]{}, w.refuse(first, today, s)
	}
	return first, unusual(other, true), nil
}

var (
	threeDigits = regexp.MustCompile(`^\d{3}$`)
	bareAgo     = regexp.MustCompile(`^(\d{1,3}) ago$`)
)

// shortRun reads a day and a month of three digits without a separator: 511 is 5/11, and 111 is 1/11 or 11/1.
func shortRun(s, run string, today engine.Day, reach Reach) (engine.Day, Doubt[engine.Day], *Refusal) {
	var days []engine.Day
	for _, cut := range []int{1, 2} {
		d := writtenDate{day: int(amount(run[:cut])), month: int(amount(run[cut:])), hasMonth: true}
		if day, ok := d.near(today, reach); ok && run[0] != '0' && run[cut] != '0' || ok && cut == 1 && run[1] == '0' {
			days = append(days, day)
		}
	}
	switch len(days) {
	case 0:
		return 0, Doubt[engine.Day]{}, Refuse("refuse.date-none", s, nil)
	case 1:
		return reach.either(today, days[0], days[0], s)
	}
	return reach.either(today, days[0], days[1], s)
}

// nearAheadDays limits how far a typed date may be beyond the days ahead of a reach and still be what the grower meant
// (judgement).
const nearAheadDays = 14

// nearMissDays limits how far a typed date may be out of reach and still be what the grower meant (judgement). Up to
// this limit, Date replaces the typed date by the date with day and month swapped only if that date is usual. Date
// corrects a year that is wrong by one at any distance.
const nearMissDays = 30

// meant looks for the typing mistake that explains a date out of reach. meant tries three mistakes in this order: day
// and month swapped; a year that is wrong by one; both mistakes together. ok is false if none of these gives a date
// within reach.
func (d writtenDate) meant(today engine.Day, reach Reach) (engine.Day, Doubt[engine.Day], bool) {
	swapped, swaps := d.swapped()
	for _, try := range []struct {
		date writtenDate
		may  bool
		why  Why
	}{{swapped, swaps, Corrected}, {d, d.year != 0, CorrectedYear}, {swapped, swaps && d.year != 0, CorrectedYear}} {
		if !try.may {
			continue
		}
		if try.why == CorrectedYear {
			try.date.year = 0
		}
		day, ok := try.date.near(today, reach)
		if !ok || reach.outside(day, today) != 0 {
			continue
		}
		if y, _, _ := day.Date(); try.why == Corrected || y == d.year-1 || y == d.year+1 {
			return day, Doubt[engine.Day]{Why: try.why}, true
		}
	}
	return 0, Doubt[engine.Day]{}, false
}

// refuse returns the refusal of a day that is out of reach, and nil for a day within reach.
func (w Reach) refuse(day, today engine.Day, s string) *Refusal {
	y, m, d := day.Date()
	args := text.Args{"date": text.Date{Weekday: day.Weekday(), Day: d, Month: m}, "year": y}
	switch {
	case day > today && w.Ahead == 0:
		return Refuse("refuse.date-future", s, args)
	case int(day-today) > w.Ahead:
		args["days"] = w.Ahead
		return Refuse("refuse.date-ahead", s, args)
	case int(today-day) > w.Back:
		args["days"] = w.Back
		return Refuse("refuse.date-old", s, args)
	}
	return nil
}

// outside returns by how many days a day is out of reach. outside returns 0 for a day within reach.
func (w Reach) outside(day, today engine.Day) int {
	return max(int(day-today)-w.Ahead, int(today-day)-w.Back, 0)
}

// isUsual reports whether a day is within reach and no further back than w.Usual.
func (w Reach) isUsual(day, today engine.Day) bool {
	return w.outside(day, today) == 0 && int(today-day) <= w.Usual
}

var (
	dateForm  = regexp.MustCompile(`^[\d\pL](?:[\d\pL\pM /.,*-]*[\d\pL\pM])?$`)
	dateToken = regexp.MustCompile(`\d+|[\pL\pM]+`)
)

// writtenDate is a date as typed. year is 0 if no year was typed.
type writtenDate struct {
	day, month, year int
	hasMonth         bool
	ordered          bool // day and month cannot be confused
	foreign          bool // the month is a word of another language than the grower's
}

// swapped returns the date with day and month swapped. swapped reports false if day and month cannot be confused.
func (d writtenDate) swapped() (writtenDate, bool) {
	if !d.hasMonth || d.ordered || d.day == d.month {
		return d, false
	}
	d.day, d.month = d.month, d.day
	return d, true
}

// parseDate splits an entry into day, month and year. The entry must come from dateKey.
func parseDate(s string, words DateWords) (writtenDate, bool) {
	if len(s) > 64 || !dateForm.MatchString(s) {
		return writtenDate{}, false
	}
	tokens := words.withoutWeekday(dateToken.FindAllString(s, -1))
	switch {
	case len(tokens) == 1:
		tokens = splitRun(tokens[0])
	case len(tokens) == 2 && len(tokens[0]) == 4 && wordAt(tokens) < 0: // 0511 2026 is read like 05112026
		tokens = splitRun(tokens[0] + tokens[1])
	}
	tokens = slices.DeleteFunc(tokens, func(t string) bool { return words.months[t] == 0 && dateFillers[t] })
	if len(tokens) == 0 || len(tokens) > 3 {
		return writtenDate{}, false
	}
	var d writtenDate
	if word := wordAt(tokens); word >= 0 {
		m, ok := monthOf(tokens[word], words.months)
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

// take reads the first token into the first field of into, the second token into the second field, and so on. A day or
// a month has one or two digits; a year has two or four digits.
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

// splitRun splits digits typed without separators: 0511, 051126, 05112026, 20261105.
func splitRun(t string) []string {
	if !isDigit(t[0]) {
		return []string{t}
	}
	switch len(t) {
	case 4:
		return []string{t[:2], t[2:]}
	case 8:
		if t[:2] == "20" && t[2:4] > "12" { // 20261105: 2026 cannot be day 20 of month 26, so 2026 is the year
			return []string{t[:4], t[4:6], t[6:]}
		}
		fallthrough
	case 6:
		return []string{t[:2], t[2:4], t[4:]}
	}
	return []string{t}
}

// wordAt is the index of the first token that is a word, or -1 if no token is a word.
func wordAt(tokens []string) int {
	return slices.IndexFunc(tokens, func(t string) bool { return !isDigit(t[0]) })
}

// near returns the calendar day that a typed date means. Without a month it is the latest such day that is not after
// today. Without a year it is the day of last year, this year or next year that is within reach, or else nearest to
// reach. ok is false if the calendar has no such day.
func (d writtenDate) near(today engine.Day, reach Reach) (best engine.Day, ok bool) {
	if !d.hasMonth {
		return latest(d.day, today)
	}
	if d.year != 0 {
		return calendarDay(d.year, d.month, d.day)
	}
	thisYear, _, _ := today.Date()
	for y := thisYear - 1; y <= thisYear+1; y++ {
		day, exists := calendarDay(y, d.month, d.day)
		if exists && (!ok || reach.outside(day, today) < reach.outside(best, today)) {
			best, ok = day, true
		}
	}
	return best, ok
}

// latest returns the latest day that is not after today and has the given number in its month. ok is false if no such
// day is found.
func latest(dayOfMonth int, today engine.Day) (engine.Day, bool) {
	y, m, _ := today.Date()
	for back := range 3 { // at least one of two successive months has a day 31
		first := engine.Date(y, m-time.Month(back), 1)
		fy, fm, _ := first.Date()
		if day, ok := calendarDay(fy, int(fm), dayOfMonth); ok && day <= today {
			return day, true
		}
	}
	return 0, false
}

// calendarDay returns the day with this year, month and day of the month. It reports false if the calendar has no such
// day, such as 31/2.
func calendarDay(y, m, d int) (engine.Day, bool) {
	day := engine.Date(y, time.Month(m), d)
	ry, rm, rd := day.Date()
	return day, ry == y && int(rm) == m && rd == d
}
