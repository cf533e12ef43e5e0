package engine

import (
	"errors"
	"testing"
	"time"
	_ "time/tzdata" // contains the time zones of the tests, for machines without a time zone database

	"pgregory.net/rapid"
)

func TestDayCounts(t *testing.T) {
	for _, c := range []struct {
		name           string
		from, to, days Day
	}{
		{"the first day", 0, Date(1970, 1, 1), 0},
		{"a leap February", Date(2028, 2, 28), Date(2028, 3, 1), 2},
		{"a common February", Date(2026, 2, 28), Date(2026, 3, 1), 1},
		{"2000 was a leap year", Date(2000, 2, 28), Date(2000, 3, 1), 2},
		{"2100 will not be", Date(2100, 2, 28), Date(2100, 3, 1), 1},
		{"a leap year", Date(2028, 1, 1), Date(2029, 1, 1), 366},
		{"over the new year", Date(2026, 12, 31), Date(2027, 1, 1), 1},
		{"before 1970", Date(1969, 12, 31), Date(1970, 1, 1), 1},
		{"past the end of a month", Date(2026, 11, 30) + 1, Date(2026, 11, 31), 0},
	} {
		wantEqual(t, "%s: days from %s to %s", c.to-c.from, c.days, c.name, c.from, c.to)
	}
}

func TestDayAgreesWithPackageTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := Day(rapid.Int32Range(-800_000, 800_000).Draw(t, "day"))
		want := time.Date(1970, 1, 1+int(d), 0, 0, 0, 0, time.UTC)
		y, m, day := d.Date()
		if wy, wm, wd := want.Date(); y != wy || m != wm || day != wd {
			t.Errorf("Date() = %d-%d-%d, want %s", y, m, day, want)
		}
		if d.Weekday() != want.Weekday() {
			t.Errorf("Weekday() = %s, want %s", d.Weekday(), want.Weekday())
		}
		wantEqual(t, "back to", Date(y, m, day), d)
		if y >= 0 && y <= 9999 {
			if got, err := ParseDay(d.String()); err != nil || got != d {
				t.Errorf("ParseDay(%q) = %d, %v", d.String(), got, err)
			}
		}
		if next := Date(y, m+1, 1) - Date(y, m, 1); int(next) != monthDays(y, m) {
			t.Errorf("month %d of %d has %d days, want %d", m, y, monthDays(y, m), next)
		}
	})
}

func TestParseDayRefuses(t *testing.T) {
	for _, s := range []string{"", "2026-02-29", "2026-13-01", "25-11-2026", "2026-11-25T00:00", "2026-1-1",
		"tomorrow"} {
		if _, err := ParseDay(s); !errors.Is(err, ErrDay) {
			t.Errorf("ParseDay(%q): %v, want ErrDay", s, err)
		}
	}
}

func TestDayOfIsThePlacesOwnDay(t *testing.T) {
	instant := time.Date(2026, 11, 25, 20, 30, 0, 0, time.UTC)
	for _, c := range []struct {
		zone string
		want Day
	}{
		{"UTC", Date(2026, 11, 25)},
		{"Asia/Manila", Date(2026, 11, 26)},           // local time 04:30
		{"Asia/Kolkata", Date(2026, 11, 26)},          // local time 02:00
		{"America/Santo_Domingo", Date(2026, 11, 25)}, // local time 16:30
		{"Pacific/Kiritimati", Date(2026, 11, 26)},    // UTC+14: local time 10:30
		{"Pacific/Pago_Pago", Date(2026, 11, 25)},     // UTC-11: local time 09:30
	} {
		wantEqual(t, c.zone, DayOf(instant, must(time.LoadLocation(c.zone))), c.want)
	}
}

func TestAtTheHour(t *testing.T) {
	for _, c := range []struct {
		name, zone string
		day        Day
		hour       int
		want       string // RFC 3339
	}{
		{"an ordinary morning", "Asia/Dhaka", Date(2026, 7, 1), 7, "2026-07-01T07:00:00+06:00"},
		{"clock skips 02:00", "America/New_York", Date(2026, 3, 8), 2, "2026-03-08T03:00:00-04:00"},
		{"the hour after the gap", "America/New_York", Date(2026, 3, 8), 3, "2026-03-08T03:00:00-04:00"},
		{"midnight does not exist", "Africa/Cairo", Date(2026, 4, 24), 0, "2026-04-24T01:00:00+03:00"},
		{"midnight does not exist, west", "America/Asuncion", Date(2023, 10, 1), 0, "2023-10-01T01:00:00-03:00"},
		{"the whole day is skipped", "Pacific/Apia", Date(2011, 12, 30), 7, "2011-12-31T00:00:00+14:00"},
	} {
		got := c.day.At(c.hour, must(time.LoadLocation(c.zone)))
		if got.Format(time.RFC3339) != c.want {
			t.Errorf("%s: %s, want %s", c.name, got.Format(time.RFC3339), c.want)
		}
	}
	// 01:00 comes twice on this day, because summer time ends. At may return either instant.
	twice := Date(2026, 11, 1).At(1, must(time.LoadLocation("America/New_York")))
	if twice.Hour() != 1 || DayOf(twice, twice.Location()) != Date(2026, 11, 1) {
		t.Errorf("an hour that comes twice: %s", twice)
	}
}

func TestAtRoundTrips(t *testing.T) {
	zones := []string{"UTC", "Asia/Manila", "Africa/Cairo", "America/New_York", "Australia/Lord_Howe", "Pacific/Apia",
		"America/Asuncion"}
	rapid.Check(t, func(t *rapid.T) {
		loc := must(time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone")))
		d := Date(2000, 1, 1) + Day(rapid.IntRange(0, 14_000).Draw(t, "day"))
		hour := rapid.IntRange(0, 23).Draw(t, "hour")
		at := d.At(hour, loc)
		skipped := d == Date(2011, 12, 30) && loc.String() == "Pacific/Apia"
		if got := DayOf(at, loc); got != d && !skipped {
			t.Errorf("%s at %d is %s, on %s", d, hour, at, got)
		}
		if next := (d + 1).At(hour, loc); !next.After(at) && !skipped {
			t.Errorf("%s at %d is %s, and a day later %s", d, hour, at, next)
		}
	})
}

func TestWeatherJoinsTheMiddlesOfMonths(t *testing.T) {
	var w Weather
	for i := range w.Normals {
		w.Normals[i] = Normal{MinC: float64(i), MaxC: float64(10 + 2*i)}
	}
	for _, c := range []struct {
		name     string
		on       Day
		min, max float64
	}{
		{"the middle of a month is its mean", Date(2026, 3, 15), 2, 14},
		{"halfway, a month of 30 days", Date(2026, 4, 30), 3.5, 17},
		{"before January's middle, from December's", Date(2026, 1, 1), 11 - 11*17/31.0, 32 - 22*17/31.0},
		{"after December's middle, to January's", Date(2025, 12, 31), 11 - 11*16/31.0, 32 - 22*16/31.0},
		{"the 29th of February", Date(2028, 2, 29), 1 + 14/29.0, 12 + 2*14/29.0},
		{"the same day in a common year", Date(2027, 2, 28), 1 + 13/28.0, 12 + 2*13/28.0},
	} {
		got := w.On(c.on)
		if !near(got.MinC, c.min, 1e-9) || !near(got.MaxC, c.max, 1e-9) {
			t.Errorf("%s, %s: %v, want %g to %g", c.name, c.on, got, c.min, c.max)
		}
	}
	w.Normals[6].RainMM = 310
	wantNear(t, "mm a day of 310 mm in July", w.On(Date(2026, 7, 9)).RainMM, 10, 1e-12)
	wantEqual(t, "steady weather", Steady(22, 32).On(Date(2026, 6, 3)), DayWeather{MinC: 22, MaxC: 32})
}

func FuzzParseDay(f *testing.F) {
	for _, s := range []string{"2026-11-25", "2028-02-29", "0000-01-01", "9999-12-31", "2026-2-3"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseDay(s); err == nil && d.String() != s {
			t.Errorf("ParseDay(%q) is %s", s, d)
		}
	})
}
