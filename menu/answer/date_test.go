package answer

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
	"rowbell/engine"
	"rowbell/menu/text"
)

// slashed writes a day in a form that growers type: 25/11/2026.
func slashed(d engine.Day) string {
	y, m, dd := d.Date()
	return fmt.Sprintf("%d/%d/%d", dd, m, y)
}

// changed reports whether Date replaced the typed date by another date.
func changed(d Doubt[engine.Day]) bool { return d.Why == Corrected || d.Why == CorrectedYear }

// dates holds entries, and the date or the refusal that each entry must give if today is the day wednesday.
var dates = []struct{ in, want string }{
	{"5", "2026-11-05"}, {"25", "2026-11-25"}, {"26", "2026-10-26"}, {"31", "2026-10-31"}, {"05", "2026-11-05"},
	{" 5. ", "2026-11-05"}, {"5/11", "2026-11-05"}, {"5-11", "2026-11-05"}, {"5 11", "2026-11-05"},
	{"5.11", "2026-11-05"}, {"05/11", "2026-11-05"}, {"5.11.", "2026-11-05"}, {"5,11", "2026-11-05"},
	{"5*11", "2026-11-05"}, {"5 / 11", "2026-11-05"}, {"5.11.26", "2026-11-05"}, {"5/11/2026", "2026-11-05"},
	{"5 11 26", "2026-11-05"}, {"0511", "2026-11-05"}, {"051126", "2026-11-05"}, {"05112026", "2026-11-05"},
	{"2026-11-05", "2026-11-05"},
	{"5 nov", "2026-11-05"}, {"nov 5", "2026-11-05"}, {"5nov26", "2026-11-05"}, {"5NOV", "2026-11-05"},
	{"Nov5", "2026-11-05"}, {"nov 5, 2026", "2026-11-05"}, {"5-Nov-26", "2026-11-05"}, {"5 november", "2026-11-05"},
	{"5. nov.", "2026-11-05"}, {"9/12", "2026-12-09"}, {"28/6", "2026-06-28"}, {"৫/১১", "2026-11-05"},
	{"５／１１", "2026-11-05"}, {"5–11", "2026-11-05"}, {"11/25", "2026-11-25 corrected"},
	{"11/25/26", "2026-11-25 corrected"}, {"1125", "2026-11-25 corrected"}, {"11-05", "2026-11-05 corrected"},
	{"1105", "2026-11-05 corrected"}, {"5/11/25", "2026-11-05 year"}, {"5/11/27", "2026-11-05 year"},
	{"9/12/27", "2026-12-09 year"}, {"5 nov 2025", "2026-11-05 year"}, {"2025-11-05", "2026-11-05 year"},
	{"11/25/25", "2026-11-25 year"}, {"11/7", "2026-07-11 or 2026-11-07"}, {"7/11", "2026-11-07"},
	{"12/10", "2026-10-12"}, {"8/9", "2026-09-08"}, {"11/8", "2026-08-11 or 2026-11-08"}, {"11 aug", "2026-08-11"},
	{"8/12", "2026-12-08"}, {"today", "2026-11-25"}, {"Yesterday.", "2026-11-24"}, {"aujourd’hui", "2026-11-25"},
	{"AUJOURD'HUI", "2026-11-25"}, {"leo", "2026-11-25"}, {"jana", "2026-11-24"}, {"आज", "2026-11-25"},
	{"कल।", "2026-11-24 or 2026-11-26"}, {"hoje", "2026-11-25"}, {"ontem", "2026-11-24"}, {"hari ini", "2026-11-25"},
	{"kemarin", "2026-11-24"}, {"today yesterday", "refuse.date"}, {"today 5", "refuse.date"},
	{"5 novembre", "2026-11-05"}, {"le 5 nov.", "2026-11-05"}, {"1er nov", "2026-11-01"}, {"5 aout", "2026-08-05"},
	{"5 Août", "2026-08-05"}, {"5 AOUT 2026", "2026-08-05"}, {"5 novemba", "2026-11-05"},
	{"tarehe 5 Novemba", "2026-11-05"}, {"5 okt", "2026-10-05"}, {"5 Okt.", "2026-10-05"}, {"5 नवंबर", "2026-11-05"},
	{"५ नवम्बर", "2026-11-05"}, {"५ नव॰", "2026-11-05"}, {"5 अक्टूबर", "2026-10-05"}, {"5 अक्तूबर २०२६", "2026-10-05"},
	{"५/११", "2026-11-05"}, {"०५११", "2026-11-05"}, {"5 तारीख", "2026-11-05"}, {"5 जुलाइ", "2026-07-05"},
	{"5 de novembro", "2026-11-05"}, {"5 de setembro de 2026", "2026-09-05"}, {"1 out", "2026-10-01"},
	{"tanggal 5 November", "2026-11-05"}, {"5 agustus", "2026-08-05"}, {"1st of november", "2026-11-01"},
	{"nov 3rd", "2026-11-03"}, {"٥/١١", "2026-11-05"}, {"٥ nov", "2026-11-05"}, {"５ ｎｏｖ", "2026-11-05"},

	// These dates are a little too far ahead as typed. They are refused with this reason, and no other month is
	// guessed.
	{"11/12", "refuse.date-ahead"}, {"1112", "refuse.date-ahead"}, {"10/12", "refuse.date-ahead"},
	{"11.12.26", "refuse.date-ahead"},
	// Growers copy dates from the menu's texts, which write them like the next ones; some are here with longer words.
	{"Thu 5 Nov", "2026-11-05"}, {"Thu, 5 Nov 2026", "2026-11-05"}, {"jeu 5 nov", "2026-11-05"},
	{"jeudi 5 novembre", "2026-11-05"}, {"Jumatano 25 Nov", "2026-11-25"}, {"बुध 25 नवंबर", "2026-11-25"},
	{"बुधवार २५ नवंबर", "2026-11-25"}, {"qui 5 nov", "2026-11-05"}, {"quinta-feira, 5 de novembro", "2026-11-05"},
	{"Kamis 5 Nov", "2026-11-05"}, {"Thu 5/11", "2026-11-05"}, {"nov 5 thu", "2026-11-05"},
	{"Fri 5 Nov", "2026-11-05"}, {"mar 24 nov", "2026-11-24"}, {"mardi 24 nov", "2026-11-24"},
	{"mar 10 mars", "refuse.date-ahead"}, {"mar 10 mar", "refuse.date-ahead"}, {"2 minggu", "2026-11-11 or 2026-12-09"},
	{"Thu 5", "refuse.date"}, {"Thu", "refuse.date"}, {"Thu Fri 5 Nov", "refuse.date"}, {"Thu Nov", "refuse.date"},
	// These dates are digits without separators, or in two groups, and must be divided into day, month and year.
	{"20261105", "2026-11-05"}, {"２０２６１１０５", "2026-11-05"}, {"20251105", "2026-11-05 year"},
	{"20112026", "2026-11-20"}, {"20261305", "refuse.date-none"}, {"0511 2026", "2026-11-05"},
	{"0511/26", "2026-11-05"}, {"2026 1105", "2026-11-05"}, {"0511 nov", "refuse.date"}, {"0511 5", "refuse.date"},
	{"20 1126", "refuse.date"},
	// Incomplete dates are refused. An invisible character, or points at the end, do not matter.
	{"5/", "refuse.date"}, {"/11", "refuse.date"}, {"-1", "refuse.date"}, {"11/", "refuse.date"},
	{"5-", "refuse.date"}, {"*5", "refuse.date"}, {"5/11/", "refuse.date"}, {", 5", "refuse.date"},
	{"-5 nov", "refuse.date"}, {"\u200d5", "2026-11-05"}, {"5/11..", "2026-11-05"},

	{"", "refuse.empty"}, {"...", "refuse.empty"}, {"hari", "refuse.date"}, {"hari 5", "2026-11-05 or 2026-11-20"},
	{"yes", "refuse.date"}, {"nov", "refuse.date"}, {"5 xyz", "refuse.date"}, {"5 no", "refuse.date"},
	{"5 jui", "refuse.date"}, {"511", "2026-11-05"}, {"05112", "refuse.date"}, {"5/11/026", "refuse.date"},
	{"5/11/0000", "refuse.date"}, {"5/11/26/1", "refuse.date"}, {"nov nov 5", "refuse.date"},
	{"5 5 nov", "refuse.date"}, {"nov 2026", "refuse.date"}, {"5:11", "refuse.date"}, {"5+11", "refuse.date"},
	{"5/nov/dec", "refuse.date"}, {strings.Repeat("5 ", 40), "refuse.date"}, {"5\xff", "refuse.date"},
	{"0", "refuse.date-none"}, {"32", "refuse.date-none"}, {"31/2", "refuse.date-none"},
	{"31/9/26", "refuse.date-none"}, {"29/2", "refuse.date-none"}, {"5/0", "refuse.date-none"},
	{"13/13", "refuse.date-none"}, {"0/11", "refuse.date-none"}, {"0011", "refuse.date-none"},
	{"2026-13-05", "refuse.date-none"}, {"30 feb", "refuse.date-none"}, {"15/12", "refuse.date-ahead"},
	{"5/11/28", "refuse.date-ahead"}, {"5/11/9999", "refuse.date-ahead"}, {"1/1", "refuse.date-ahead"},
	{"12/12", "refuse.date-ahead"}, {"11 dec", "refuse.date-ahead"}, {"1/13", "refuse.date-ahead"},
	{"1/25", "refuse.date-ahead"}, {"27/6", "refuse.date-old"}, {"5/11/24", "refuse.date-old"},
	{"5 may", "refuse.date-old"}, {"5 mai", "refuse.date-old"}, {"6/5", "refuse.date-old"},
	{"5/11/1926", "refuse.date-old"},
}

func TestParseDate(t *testing.T) {
	for _, c := range dates {
		day, d, r := Date(c.in, wednesday, PlantedReach, sixLanguages)
		got := day.String()
		switch {
		case r != nil:
			wantRefusal(t, c.in, r)
			got = string(r.Key)
		case d.Why == CorrectedYear:
			got += " year"
		case d.Why == Corrected:
			got += " corrected"
		case d.Meant != nil:
			got += " or " + d.Meant.String()
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
		within Reach
		want   string
	}{
		{"31", engine.Date(2026, time.March, 1), PlantedReach, "2026-01-31"}, // February has no day 31
		{"30", engine.Date(2026, time.March, 15), PlantedReach, "2026-01-30"},
		{"29", engine.Date(2028, time.March, 1), PlantedReach, "2028-02-29"},
		{"29/2", engine.Date(2028, time.March, 1), PlantedReach, "2028-02-29"},
		{"28/12", engine.Date(2027, time.January, 5), PlantedReach, "2026-12-28"},
		{"5/1", engine.Date(2026, time.December, 28), PlantedReach, "2027-01-05"},
		{"0501", engine.Date(2026, time.December, 28), PlantedReach, "2027-01-05"},
		{"0501", engine.Date(2026, time.December, 1), PlantedReach, "refuse.date-ahead"},
		{"25 12", engine.Date(2027, time.January, 10), PlantedReach, "2026-12-25"},
		{"2512", engine.Date(2027, time.January, 10), WeededReach, "2026-12-25"},
		// On 28 December 2026, January 2026 is further back than PlantedReach allows, so the year is corrected to 2027.
		{"5/1/26", engine.Date(2026, time.December, 28), PlantedReach, "2027-01-05"},
		{"5/1/25", engine.Date(2026, time.December, 28), PlantedReach, "refuse.date-old"},
		{"12/11", engine.Date(2026, time.December, 12), WeededReach, "2026-11-12"},
		{"26/11", wednesday, WeededReach, "refuse.date-future"},
		{"11/12", wednesday, WeededReach, "2026-11-12"}, // 11 December is after today, so day and month are swapped
		{"11/12", engine.Date(2026, time.November, 28), PlantedReach, "2026-12-11"},
		{"25/11", wednesday, WeededReach, "2026-11-25"},
		{"1", wednesday, Reach{Back: 10}, "refuse.date-old"},
	} {
		day, _, r := Date(c.in, c.today, c.within, sixLanguages)
		got := day.String()
		if r != nil {
			got = string(r.Key)
		}
		if got != c.want {
			t.Errorf("%q on %s: %s, want %s", c.in, c.today, got, c.want)
		}
	}
}

// TestDateRefusalSays checks that a refusal names the day that was read and the largest allowed distance from today in
// days.
func TestDateRefusalSays(t *testing.T) {
	_, _, r := Date("15/12", wednesday, PlantedReach, sixLanguages)
	if want := (text.Date{Weekday: time.Tuesday, Day: 15, Month: time.December}); r.Args["date"] != want ||
		r.Args["days"] != 14 || r.Args["year"] != 2026 || r.Args["read"] != "15/12" {
		t.Errorf("args %v", r.Args)
	}
}

func TestMonthWords(t *testing.T) {
	months := map[string]time.Month{"mei": 5, "juni": 6, "juli": 7, "januari": 1, "ডিসেম্বর": 12, "de": 11}
	for in, want := range map[string]time.Month{"mei": 5, "juni": 6, "junis": 6, "jan": 1, "janua": 1, "ডিসে": 12,
		"ডিসেম্বর": 12, "de": 11, "ju": 0, "jun": 6, "jul": 7, "ja": 0, "": 0, "des": 0} {
		if got, ok := monthOf(in, months); got != want || ok != (want != 0) {
			t.Errorf("%q is month %d, %v; want %d", in, got, ok, want)
		}
	}
	if m, ok := monthOf("jun", map[string]time.Month{"juna": 1, "juno": 2}); ok {
		t.Errorf("jun is month %d, though two begin so", m)
	}
}

// TestEveryMannerOfDate checks that every day within reach can be typed in every form of date.
func TestEveryMannerOfDate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := engine.Day(rapid.IntRange(18000, 40000).Draw(t, "today"))
		day := now + engine.Day(rapid.IntRange(-PlantedReach.Back, PlantedReach.Ahead).Draw(t, "days"))
		y, m, d := day.Date()
		mon := m.String()[:3]
		for _, entry := range []string{
			fmt.Sprintf("%d/%d", d, m), fmt.Sprintf("%d-%d-%d", d, m, y), fmt.Sprintf("%d.%d.%02d", d, m, y%100),
			fmt.Sprintf("%02d%02d", d, m),
			fmt.Sprintf("%02d%02d%02d", d, m, y%100), fmt.Sprintf("%02d%02d%d", d, m, y),
			fmt.Sprintf("%d %s", d, mon), fmt.Sprintf("%s %d", mon, d),
			fmt.Sprintf("%d%s%02d", d, mon, y%100), fmt.Sprintf("%s %d, %d", m, d, y), day.String(),
		} {
			got, d, r := Date(entry, now, PlantedReach, sixLanguages)
			if r != nil || got != day || changed(d) {
				t.Fatalf("on %s %q is %s (%+v), %v; want %s", now, entry, got, d, r, day)
			}
		}
		if d > 12 {
			got, doubt, r := Date(fmt.Sprintf("%d/%d", m, d), now, PlantedReach, sixLanguages)
			if r != nil || got != day || !changed(doubt) {
				t.Fatalf("on %s %d/%d is %s (%+v), %v; want %s, corrected", now, m, d, got, doubt, r, day)
			}
		}
		// A day without a month must be read as the latest day with this number.
		want := now
		for {
			if _, _, dd := want.Date(); dd == d {
				break
			}
			want--
		}
		if got, _, r := Date(fmt.Sprint(d), now, PlantedReach, sixLanguages); r != nil || got != want {
			t.Fatalf("on %s day %d is %s, %v; want %s", now, d, got, r, want)
		}
	})
}

// TestYearIsNeverInDoubt checks that for a day and month without a year only one year gives a day within reach, and
// that Date returns this day.
func TestYearIsNeverInDoubt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := engine.Day(rapid.IntRange(18000, 40000).Draw(t, "today"))
		within := rapid.SampledFrom([]Reach{PlantedReach, WeededReach, NurseryReach, PlanReach,
			AskedReach}).Draw(t, "reach")
		day := now + engine.Day(rapid.IntRange(-within.Back, within.Ahead).Draw(t, "days"))
		_, m, d := day.Date()
		got, doubt, r := Date(fmt.Sprintf("%d %s", d, m), now, within, sixLanguages)
		if r != nil || got != day || doubt.Why != NoDoubt {
			t.Fatalf("on %s %d %s is %s (%+v), %v; want %s", now, d, m, got, doubt, r, day)
		}
		if far := max(now-day, day-now); far > 183 {
			t.Fatalf("%d days away, but nearer in another year", far)
		}
	})
}

// TestEveryLanguagesMonths checks that the months of all six languages are read in every form of date.
func TestEveryLanguagesMonths(t *testing.T) {
	for _, lang := range catalogue.Languages() {
		for word, want := range catalogue.MonthWords(lang) {
			for _, entry := range []string{"14 " + word, "14" + word, word + " 14", "14-" + strings.ToUpper(word),
				"14 " + word + ".", "१४ " + word} {
				d, ok := parseDate(dateKey(Clean(entry)), sixLanguages)
				if !ok || d.month != int(want) || d.day != 14 {
					t.Errorf("%s: %q is %+v, %v; want month %d", lang, entry, d, ok, want)
				}
			}
		}
	}
}

func FuzzParseDate(f *testing.F) {
	seed(f, "date", 0)
	f.Fuzz(func(t *testing.T, s string, shift int) {
		now := wednesday + engine.Day(shift%20000)
		got, d, r := Date(s, now, PlantedReach, sixLanguages)
		if r != nil {
			wantRefusal(t, s, r)
			return
		}
		entry := dateKey(Clean(s))
		_, word := sixLanguages.day(entry)
		twoWays := word || threeDigits.MatchString(entry) || bareAgo.MatchString(entry) // any day within reach is meant
		if PlantedReach.outside(got, now) != 0 || d.Meant != nil && !PlantedReach.isUsual(*d.Meant, now) &&
			(!twoWays || PlantedReach.outside(*d.Meant, now) != 0) {
			t.Fatalf("%q on %s is %s or %s, out of reach", s, now, got, d.Meant)
		}
		y, _, day := got.Date()
		if _, isSpan := readSpan(dateKey(Clean(s))); !word && !isSpan && !strings.Contains(Clean(s), fmt.Sprint(day)) {
			t.Fatalf("%q is %s: the day was never typed", s, got)
		}
		if y >= 1000 {
			again, doubt, r := Date(slashed(got), now, PlantedReach, sixLanguages)
			if r != nil || again != got || changed(doubt) {
				t.Fatalf("%q is %s, but that reads as %s, %v", s, got, again, r)
			}
		}
	})
}
