package engine

import (
	"errors"
	"time"
)

// Day is a civil day of the place: the days since 1 January 1970 in the proleptic Gregorian calendar.
type Day int32

// Date returns a civil day. A day past the end of the month falls into the next month, as in package time.
func Date(y int, m time.Month, d int) Day {
	return Day(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// DayOf returns the civil day on which the instant t falls in zone loc.
func DayOf(t time.Time, loc *time.Location) Day {
	y, m, d := t.In(loc).Date()
	return Date(y, m, d)
}

// Date splits the day into year, month and day of the month.
func (d Day) Date() (year int, month time.Month, day int) { return d.utc().Date() }

// Weekday returns the day of the week.
func (d Day) Weekday() time.Weekday { return time.Weekday(((int(d)+4)%7 + 7) % 7) }

// String returns the day as YYYY-MM-DD (ISO 8601).
func (d Day) String() string { return d.utc().Format(time.DateOnly) }

// At returns the instant of hour:00 (0 to 23) on this day in zone loc. If the zone skips this hour or day because its
// clock is put forward, At returns the end of the skipped time. If the hour comes twice, At returns either instant.
// Compute local instants only with At, because even midnight does not exist on some days.
func (d Day) At(hour int, loc *time.Location) time.Time {
	y, m, dd := d.Date()
	t := time.Date(y, m, dd, hour, 0, 0, 0, loc)
	// If the zone skips the hour, time.Date may return an instant before the skipped time or after its end.
	switch day := DayOf(t, loc); {
	case day == d && t.Hour() == hour:
		return t
	case day < d || day == d && t.Hour() < hour:
		_, gap := t.ZoneBounds()
		return gap
	default:
		gap, _ := t.ZoneBounds()
		return gap
	}
}

func (d Day) utc() time.Time { return time.Unix(int64(d)*86400, 0).UTC() }

// monthDays is the length of a month in days.
func monthDays(y int, m time.Month) int {
	switch m {
	case time.April, time.June, time.September, time.November:
		return 30
	case time.February:
		if y%4 == 0 && (y%100 != 0 || y%400 == 0) {
			return 29
		}
		return 28
	}
	return 31
}

// ErrDay says that a text is not a day written YYYY-MM-DD.
var ErrDay = errors.New("not a day written YYYY-MM-DD")

// ParseDay reads a day written YYYY-MM-DD.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, ErrDay
	}
	return Day(t.Unix() / 86400), nil
}
