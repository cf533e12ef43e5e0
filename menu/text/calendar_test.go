package text

import (
	"strings"
	"testing"
	"time"

	"github.com/go-playground/locales"
	"github.com/go-playground/locales/en"
	"github.com/go-playground/locales/fr"
	"github.com/go-playground/locales/hi"
	"github.com/go-playground/locales/id"
	"github.com/go-playground/locales/pt"
	"github.com/go-playground/locales/sw"
)

// cldr has the calendars of the Unicode CLDR, by the tags of our files.
var cldr = map[string]locales.Translator{"en": en.New(), "fr": fr.New(), "hi": hi.New(), "id": id.New(), "pt": pt.New(), "sw": sw.New()}

// deviations are where a carried calendar is not the CLDR's, and why.
var deviations = map[string]string{
	"en order": "CLDR's en is that of the United States, month first; growers elsewhere read and type the day first, as CLDR's en-GB has it",
}

// The names of months and weekdays and the order of day and month are those of
// the Unicode CLDR (abbreviated or wide), but for dots, letter case and what a
// language's rules rewrite.
func TestCalendarIsCLDR(t *testing.T) {
	c, err := Default()
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for _, lang := range c.Languages() {
		l, from := c.languages[lang], cldr[lang]
		if from == nil {
			t.Errorf("%s is carried and has no line in cldr", lang)
			continue
		}
		differs := func(what, format string, a ...any) {
			if used[lang+" "+what] = true; deviations[lang+" "+what] == "" {
				t.Errorf("%s: "+format, append([]any{lang}, a...)...)
			}
		}
		fold := func(s string) string {
			return l.plain(strings.ToLower(strings.ReplaceAll(s, ".", "")))
		}
		for m := time.January; m <= time.December; m++ {
			got := l.calendar.months[m-1].proper
			short, wide := from.MonthAbbreviated(m), from.MonthWide(m)
			if fold(got) != fold(short) && fold(got) != fold(wide) {
				differs(m.String(), "month %d is %q, not %q or %q", m, got, short, wide)
			}
			for _, w := range []string{short, wide} {
				if !readAs(c.MonthWords(lang), Fold(strings.Trim(w, ".")), m) {
					differs(m.String()+" typed", "%q, typed, is not month %d", w, m)
				}
			}
		}
		for d := time.Sunday; d <= time.Saturday; d++ {
			got := l.calendar.weekdays[d].proper
			short, wide := from.WeekdayAbbreviated(d), from.WeekdayWide(d)
			if fold(got) != fold(short) && fold(got) != fold(wide) {
				differs(d.String(), "weekday %d is %q, not %q or %q", d, got, short, wide)
			}
		}
		day := time.Date(2026, time.November, 25, 0, 0, 0, 0, time.UTC)
		dayFirst := func(s, month string) bool { return strings.Index(s, "25") < strings.Index(s, month) }
		if want := dayFirst(from.FmtDateShort(day), "11"); want != dayFirst(c.Date(lang, time.Wednesday, 25, time.November), l.calendar.months[10].words) {
			differs("order", "day and month are not in the order of %s", from.FmtDateShort(day))
		}
	}
	for d := range deviations {
		if lang, _, _ := strings.Cut(d, " "); c.languages[lang] != nil && !used[d] {
			t.Errorf("%s does not deviate", d)
		}
	}
}

// readAs reports whether w is a word for m, or a longer form of one and of no
// other month's.
func readAs(words map[string]time.Month, w string, m time.Month) bool {
	if got, ok := words[w]; ok {
		return got == m
	}
	found := false
	for known, month := range words {
		if strings.HasPrefix(w, known) {
			if month != m {
				return false
			}
			found = true
		}
	}
	return found
}
