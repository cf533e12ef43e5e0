package text

import (
	"errors"
	"math"
	"strconv"
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
	xlang "golang.org/x/text/language"
	"pgregory.net/rapid"
)

// The expected decimal separators are from the Unicode CLDR, numbers/symbols/decimal, for the digits 0 to 9 (latn).
func TestDecimalPoint(t *testing.T) {
	for tag, want := range map[string]string{"en": ".", "sw": ".", "hi": ".", "fr": ",", "pt": ",", "id": ",",
		"vi": ",", "bn": ".", "pt-BR": ",", "de-CH": "."} {
		if got := decimalPoint(xlang.MustParse(tag)); got != want {
			t.Errorf("%s: %q, want %q", tag, got, want)
		}
	}
}

func TestNumbers(t *testing.T) {
	c := catalogue(map[string]string{"en.toml": sound + "[a]\nb = \"{x} m\"", "fr.toml": sound + "[a]\nb = \"{x} m\""})
	for _, x := range []struct {
		v      any
		en, fr string
	}{
		{Decimal{2.5, 1}, "2.5", "2,5"}, {Decimal{2, 1}, "2", "2"}, {Decimal{2.04, 1}, "2", "2"},
		{Decimal{2.25, 1}, "2.3", "2,3"}, // a half is rounded up, away from zero
		{Decimal{-0.01, 1}, "0", "0"},
		{Decimal{1234567.8, 1}, "1234567.8", "1234567,8"}, // thousands are not separated
		{Decimal{2.345, 2}, "2.35", "2,35"}, {Decimal{2.5, 2}, "2.5", "2,5"}, {Decimal{2.5, 0}, "3", "3"},
		{Decimal{math.MaxFloat64, 9}, strconv.FormatFloat(math.MaxFloat64, 'f', -1, 64),
			strconv.FormatFloat(math.MaxFloat64, 'f', -1, 64)},
		{3, "3", "3"},
	} {
		for lang, want := range map[string]string{"en": x.en, "fr": x.fr} {
			if got, err := c.Text(lang, "a.b", Args{"x": x.v}); err != nil || got != want+" m" {
				t.Errorf("%v in %s: %q, %v; want %q", x.v, lang, got, err, want)
			}
		}
	}
	for _, v := range []any{Decimal{math.NaN(), 1}, Decimal{math.Inf(1), 1}, Decimal{1, -1}, Decimal{1, 10}} {
		if got, err := c.Text("en", "a.b", Args{"x": v}); !errors.Is(err, ErrArg) {
			t.Errorf("%v is written %q, %v", v, got, err)
		}
	}
}

// If a written number is read back, it differs from the number by at most half of its last decimal place.
func TestNumbersRoundTrip(t *testing.T) {
	l := &language{point: ","}
	rapid.Check(t, func(t *rapid.T) {
		x, places := rapid.Float64Range(-1e9, 1e9).Draw(t, "x"), rapid.IntRange(0, 4).Draw(t, "places")
		s := must(l.number(Decimal{x, places}))
		// Rounding and writing each add an error of at most half the distance to the next float64.
		step := math.Nextafter(math.Abs(x), math.Inf(1)) - math.Abs(x)
		got, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
		if err != nil || math.Abs(got-x) > 0.5*math.Pow10(-places)+2*step {
			t.Fatalf("%g is written %q", x, s)
		}
		if _, decimals, _ := strings.Cut(s, ","); len(decimals) > places {
			t.Fatalf("%q has more than %d decimals", s, places)
		}
	})
}

// cldr has the calendars of the Unicode CLDR; the key is the language tag.
var cldr = map[string]locales.Translator{"en": en.New(), "fr": fr.New(), "hi": hi.New(), "id": id.New(), "pt": pt.New(),
	"sw": sw.New()}

// deviations lists the words of the built-in calendars that differ from the CLDR, and the reasons.
var deviations = map[string]string{
	"en order": "CLDR's en is that of the United States, month first; growers elsewhere read and type the day " +
		"first, as CLDR's en-GB has it",
}

// Names of months and weekdays and the order of day and month must be those of the Unicode CLDR, abbreviated or wide.
// Dots, capital letters and letters that the language's rules replace may differ.
func TestCalendarIsCLDR(t *testing.T) {
	c := must(Default())
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
		fold := func(s string) string { return l.inAlphabet(strings.ToLower(strings.ReplaceAll(s, ".", ""))) }
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
		if want := dayFirst(from.FmtDateShort(day), "11"); want != dayFirst(c.Date(lang, time.Wednesday, 25,
			time.November), l.calendar.months[10].words) {
			differs("order", "day and month are not in the order of %s", from.FmtDateShort(day))
		}
	}
	for d := range deviations {
		if lang, _, _ := strings.Cut(d, " "); c.languages[lang] != nil && !used[d] {
			t.Errorf("%s does not deviate", d)
		}
	}
}

// readAs reports whether the typed word w is read as the month m: w is in the list of words for m, or begins with a
// word for m and with no word for another month.
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
