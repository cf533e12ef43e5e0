package report

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"rowbell/engine"
)

// Week is a week from Monday to Sunday (ISO 8601), counted from the one of 1 January 1970, which has the number 0.
type Week int32

// mondayOf0 is how many days before 1 January 1970, a Thursday, its week began.
const (
	mondayOf0  = 3
	daysOfWeek = 7
)

// WeekOf returns the week of a day.
func WeekOf(d engine.Day) Week {
	n := int(d) + mondayOf0
	if n < 0 {
		n -= daysOfWeek - 1
	}
	return Week(n / daysOfWeek)
}

// Monday returns the first day of the week.
func (w Week) Monday() engine.Day { return engine.Day(int(w)*daysOfWeek - mondayOf0) }

// Month is a month of the calendar, counted from January 1970, which has the number 0.
type Month int32

const monthsOfYear = 12

// MonthOf returns the month of a day.
func MonthOf(d engine.Day) Month {
	y, m, _ := d.Date()
	return monthOf(y, m)
}

func monthOf(year int, m time.Month) Month { return Month((year-1970)*monthsOfYear + int(m) - 1) }

// First returns the first day of the month.
func (m Month) First() engine.Day { return engine.Date(1970, time.January+time.Month(m), 1) }

// String returns the month as YYYY-MM (ISO 8601).
func (m Month) String() string { return m.First().String()[:len("2006-01")] }

// Span is months of planting, both included.
type Span struct{ From, To Month }

// ErrSpan says that a text does not name months.
var ErrSpan = errors.New("not months written YYYY-MM..YYYY-MM")

// String returns the months as YYYY-MM..YYYY-MM, which ParseSpan reads.
func (s Span) String() string { return fmt.Sprintf("%s..%s", s.From, s.To) }

// Has reports whether the month is in the span.
func (s Span) Has(m Month) bool { return s.From <= m && m <= s.To }

// Words returns the months for people, such as "May to August 2026".
func (s Span) Words() string {
	fromYear, from, _ := s.From.First().Date()
	toYear, to, _ := s.To.First().Date()
	switch {
	case s.From == s.To:
		return fmt.Sprintf("%s %d", from, fromYear)
	case fromYear == toYear:
		return fmt.Sprintf("%s to %s %d", from, to, toYear)
	}
	return fmt.Sprintf("%s %d to %s %d", from, fromYear, to, toYear)
}

// ParseSpan reads months written YYYY-MM..YYYY-MM.
func ParseSpan(text string) (s Span, err error) {
	from, to, cut := strings.Cut(text, "..")
	if !cut {
		return s, ErrSpan
	}
	for at, part := range map[*Month]string{&s.From: from, &s.To: to} {
		t, err := time.Parse("2006-01", part)
		if err != nil || t.Year() < engine.MinYear || t.Year() > engine.MaxYear {
			return Span{}, ErrSpan
		}
		*at = monthOf(t.Year(), t.Month())
	}
	if s.From > s.To {
		return Span{}, ErrSpan
	}
	return s, nil
}

// mostMonths is the longest time of planting that counts as one season: two crops a year are planted half a year apart
// (judgement).
const mostMonths = 8

// Seasons returns the seasons of the places, the latest first: months of planting without a gap. Months in which nobody
// planted part them. A time of planting longer than mostMonths is parted before the month within it in which the fewest
// plots were planted; of several, before the one nearest to the middle.
func Seasons(planted map[Month]int64) []Span {
	var months []Month
	for m, n := range planted {
		if n > 0 {
			months = append(months, m)
		}
	}
	slices.Sort(months)
	var list []Span
	for i, m := range months {
		if i > 0 && months[i-1] == m-1 {
			list[len(list)-1].To = m
		} else {
			list = append(list, Span{m, m})
		}
	}
	var parted []Span
	for _, s := range list {
		parted = append(parted, s.part(planted)...)
	}
	slices.Reverse(parted)
	return parted
}

// part parts a span until no part is longer than mostMonths, in the order of the months.
func (s Span) part(planted map[Month]int64) []Span {
	if s.To-s.From < mostMonths {
		return []Span{s}
	}
	const least = 2 // months of a part
	lowest := s.From + least
	for m := lowest; m <= s.To-least+1; m++ {
		if c := cmp.Compare(planted[m], planted[lowest]); c < 0 || c == 0 && s.offMiddle(m) < s.offMiddle(lowest) {
			lowest = m
		}
	}
	return append(Span{s.From, lowest - 1}.part(planted), Span{lowest, s.To}.part(planted)...)
}

// offMiddle returns how far from the middle the span would be parted before a month, in half months.
func (s Span) offMiddle(m Month) Month {
	off := 2*m - s.From - s.To - 1
	return max(off, -off)
}
