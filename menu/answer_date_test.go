package menu

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
	"rowbell/engine"
	"rowbell/menu/text"
)

// slashed writes a day as 25/11/2026.
func slashed(d engine.Day) string {
	y, m, dd := d.Date()
	return fmt.Sprintf("%d/%d/%d", dd, m, y)
}

func TestParseDate(t *testing.T) { // the day is Wednesday 25 November 2026
	for _, c := range []struct{ in, want string }{
		{"5", "2026-11-05"}, {"25", "2026-11-25"}, {"26", "2026-10-26"}, {"31", "2026-10-31"}, {"05", "2026-11-05"}, {" 5. ", "2026-11-05"},
		{"5/11", "2026-11-05"}, {"5-11", "2026-11-05"}, {"5 11", "2026-11-05"}, {"5.11", "2026-11-05"}, {"05/11", "2026-11-05"}, {"5.11.", "2026-11-05"},
		{"5,11", "2026-11-05"}, {"5 / 11", "2026-11-05"}, {"5.11.26", "2026-11-05"}, {"5/11/2026", "2026-11-05"}, {"5 11 26", "2026-11-05"},
		{"0511", "2026-11-05"}, {"051126", "2026-11-05"}, {"05112026", "2026-11-05"}, {"2026-11-05", "2026-11-05"},
		{"5 nov", "2026-11-05"}, {"nov 5", "2026-11-05"}, {"5nov26", "2026-11-05"}, {"5NOV", "2026-11-05"}, {"Nov5", "2026-11-05"}, {"nov 5, 2026", "2026-11-05"},
		{"5-Nov-26", "2026-11-05"}, {"5 november", "2026-11-05"}, {"5. nov.", "2026-11-05"},
		{"9/12", "2026-12-09"}, {"28/6", "2026-06-28"}, {"৫/১১", "2026-11-05"}, {"５／１１", "2026-11-05"}, {"5–11", "2026-11-05"},
		{"11/25", "2026-11-25 swapped"}, {"11/25/26", "2026-11-25 swapped"}, {"1125", "2026-11-25 swapped"}, {"11-05", "refuse.date-old"},

		{"", "refuse.empty"}, {"...", "refuse.empty"},
		{"yes", "refuse.date"}, {"nov", "refuse.date"}, {"5 xyz", "refuse.date"}, {"5 no", "refuse.date"}, {"5 mai", "refuse.date"}, {"511", "refuse.date"}, {"05112", "refuse.date"},
		{"5/11/026", "refuse.date"}, {"5/11/0000", "refuse.date"}, {"5/11/26/1", "refuse.date"}, {"nov nov 5", "refuse.date"}, {"5 5 nov", "refuse.date"}, {"nov 2026", "refuse.date"},
		{"5:11", "refuse.date"}, {"5+11", "refuse.date"}, {"5/nov/dec", "refuse.date"}, {strings.Repeat("5 ", 40), "refuse.date"}, {"5\xff", "refuse.date"},
		{"0", "refuse.date-none"}, {"32", "refuse.date-none"}, {"31/2", "refuse.date-none"}, {"31/9/26", "refuse.date-none"}, {"29/2", "refuse.date-none"}, {"5/0", "refuse.date-none"},
		{"13/13", "refuse.date-none"}, {"0/11", "refuse.date-none"}, {"0011", "refuse.date-none"}, {"2026-13-05", "refuse.date-none"}, {"30 feb", "refuse.date-none"},
		{"10/12", "refuse.date-ahead"}, {"9/12/27", "refuse.date-ahead"}, {"5/11/9999", "refuse.date-ahead"}, {"1/1", "refuse.date-ahead"},
		{"27/6", "refuse.date-old"}, {"5/11/25", "refuse.date-old"}, {"5 may", "refuse.date-old"}, {"5/11/1926", "refuse.date-old"},
	} {
		d, r := parseDate(c.in, wednesday, plantingReach, englishMonths)
		got := d.Day.String()
		switch {
		case r != nil:
			wantRefusal(t, c.in, r)
			got = string(r.Key)
		case d.Swapped:
			got += " swapped"
		}
		if got != c.want {
			t.Errorf("%q: %s, want %s", c.in, got, c.want)
		}
	}
}

func TestParseDateReach(t *testing.T) {
	for _, c := range []struct {
		in     string
		today  engine.Day
		within reach
		want   string
	}{
		{"31", engine.Date(2026, time.March, 1), plantingReach, "2026-01-31"}, // February has none
		{"30", engine.Date(2026, time.March, 15), plantingReach, "2026-01-30"},
		{"29", engine.Date(2028, time.March, 1), plantingReach, "2028-02-29"},
		{"29/2", engine.Date(2028, time.March, 1), plantingReach, "2028-02-29"},
		{"28/12", engine.Date(2027, time.January, 5), plantingReach, "2026-12-28"},
		{"5/1", engine.Date(2026, time.December, 28), plantingReach, "2027-01-05"},
		{"5/1/26", engine.Date(2026, time.December, 28), plantingReach, "refuse.date-old"},
		{"26/11", wednesday, reach{back: 60}, "refuse.date-future"},
		{"25/11", wednesday, reach{back: 60}, "2026-11-25"},
		{"1", wednesday, reach{back: 10}, "refuse.date-old"},
	} {
		d, r := parseDate(c.in, c.today, c.within, englishMonths)
		got := d.Day.String()
		if r != nil {
			got = string(r.Key)
		}
		if got != c.want {
			t.Errorf("%q on %s: %s, want %s", c.in, c.today, got, c.want)
		}
	}
}

// A refusal says which day was understood and how far it may lie.
func TestDateRefusalSays(t *testing.T) {
	_, r := parseDate("10/12", wednesday, plantingReach, englishMonths)
	if want := (text.Date{Weekday: time.Thursday, Day: 10, Month: time.December}); r.Args["date"] != want || r.Args["days"] != 14 || r.Args["year"] != 2026 || r.Args["read"] != "10/12" {
		t.Errorf("args %v", r.Args)
	}
}

func TestMonthWords(t *testing.T) {
	months := map[string]time.Month{"mei": 5, "juni": 6, "juli": 7, "januari": 1, "ডিসেম্বর": 12, "de": 11}
	for in, want := range map[string]time.Month{"mei": 5, "juni": 6, "junis": 6, "jan": 1, "janua": 1, "ডিসে": 12, "ডিসেম্বর": 12, "de": 11, "ju": 0, "jun": 6, "jul": 7, "ja": 0, "": 0, "des": 0} {
		if got, ok := monthOf(in, months); got != want || ok != (want != 0) {
			t.Errorf("%q is month %d, %v; want %d", in, got, ok, want)
		}
	}
	if m, ok := monthOf("jun", map[string]time.Month{"juna": 1, "juno": 2}); ok {
		t.Errorf("jun is month %d, though two begin so", m)
	}
}

// Every day within reach can be typed in every manner.
func TestEveryMannerOfDate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := engine.Day(rapid.IntRange(18000, 40000).Draw(t, "today"))
		day := now + engine.Day(rapid.IntRange(-plantingReach.back, plantingReach.ahead).Draw(t, "days"))
		y, m, d := day.Date()
		mon := m.String()[:3]
		for _, entry := range []string{
			fmt.Sprintf("%d/%d", d, m), fmt.Sprintf("%d-%d-%d", d, m, y), fmt.Sprintf("%d.%d.%02d", d, m, y%100), fmt.Sprintf("%02d%02d", d, m),
			fmt.Sprintf("%02d%02d%02d", d, m, y%100), fmt.Sprintf("%02d%02d%d", d, m, y), fmt.Sprintf("%d %s", d, mon), fmt.Sprintf("%s %d", mon, d),
			fmt.Sprintf("%d%s%02d", d, mon, y%100), fmt.Sprintf("%s %d, %d", m, d, y), day.String(),
		} {
			got, r := parseDate(entry, now, plantingReach, englishMonths)
			if r != nil || got.Day != day || got.Swapped {
				t.Fatalf("on %s %q is %s (swapped %v), %v; want %s", now, entry, got.Day, got.Swapped, r, day)
			}
		}
		if d > 12 {
			got, r := parseDate(fmt.Sprintf("%d/%d", m, d), now, plantingReach, englishMonths)
			if r != nil || got.Day != day || !got.Swapped {
				t.Fatalf("on %s %d/%d is %s (swapped %v), %v; want %s, swapped", now, m, d, got.Day, got.Swapped, r, day)
			}
		}
		// A day alone: walk back from today until the calendar shows it.
		want := now
		for {
			if _, _, dd := want.Date(); dd == d {
				break
			}
			want--
		}
		if got, r := parseDate(fmt.Sprint(d), now, plantingReach, englishMonths); r != nil || got.Day != want {
			t.Fatalf("on %s day %d is %s, %v; want %s", now, d, got.Day, r, want)
		}
	})
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"5", "5/11", "0511", "051126", "5 nov", "nov 5", "5nov26", "11/25", "2026-11-05", "31/2", "৫/১১", "5/0"} {
		f.Add(s, 0)
	}
	f.Fuzz(func(t *testing.T, s string, shift int) {
		now := wednesday + engine.Day(shift%20000)
		d, r := parseDate(s, now, plantingReach, englishMonths)
		if r != nil {
			wantRefusal(t, s, r)
			return
		}
		if plantingReach.outside(d.Day, now) != 0 {
			t.Fatalf("%q on %s is %s, out of reach", s, now, d.Day)
		}
		_, _, day := d.Day.Date()
		if !strings.Contains(clean(s), fmt.Sprint(day)) {
			t.Fatalf("%q is %s: the day was never typed", s, d.Day)
		}
		if y, _, _ := d.Day.Date(); y >= 1000 {
			if again, r := parseDate(slashed(d.Day), now, plantingReach, englishMonths); r != nil || again.Day != d.Day || again.Swapped {
				t.Fatalf("%q is %s, but that reads as %s, %v", s, d.Day, again.Day, r)
			}
		}
	})
}
