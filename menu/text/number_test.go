package text

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	xlang "golang.org/x/text/language"
	"pgregory.net/rapid"
)

// Unicode CLDR, numbers/symbols/decimal for the digits 0-9 (latn), of each
// language.
func TestDecimalPoint(t *testing.T) {
	for tag, want := range map[string]string{"en": ".", "sw": ".", "hi": ".", "fr": ",", "pt": ",", "id": ",", "vi": ",", "bn": ".", "pt-BR": ",", "de-CH": "."} {
		if got := decimalPoint(xlang.MustParse(tag)); got != want {
			t.Errorf("%s: %q, want %q", tag, got, want)
		}
	}
}

func TestNumbers(t *testing.T) {
	c := catalogue(t, map[string]string{"en.toml": sound + "[a]\nb = \"{x} m\"", "fr.toml": sound + "[a]\nb = \"{x} m\""})
	for _, x := range []struct {
		v      any
		en, fr string
	}{
		{Decimal{2.5, 1}, "2.5", "2,5"},
		{Decimal{2, 1}, "2", "2"},
		{Decimal{2.04, 1}, "2", "2"},
		{Decimal{2.25, 1}, "2.3", "2,3"}, // a half away from zero
		{Decimal{-0.01, 1}, "0", "0"},
		{Decimal{1234567.8, 1}, "1234567.8", "1234567,8"}, // no grouping
		{Decimal{2.345, 2}, "2.35", "2,35"},
		{Decimal{2.5, 2}, "2.5", "2,5"},
		{Decimal{2.5, 0}, "3", "3"},
		{Decimal{math.MaxFloat64, 9}, strconv.FormatFloat(math.MaxFloat64, 'f', -1, 64), strconv.FormatFloat(math.MaxFloat64, 'f', -1, 64)},
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

// A number that was written is read back as it was, to its last decimal.
func TestNumbersRoundTrip(t *testing.T) {
	l := &language{point: ","}
	rapid.Check(t, func(t *rapid.T) {
		x, places := rapid.Float64Range(-1e9, 1e9).Draw(t, "x"), rapid.IntRange(0, 4).Draw(t, "places")
		s, err := l.number(Decimal{x, places})
		if err != nil {
			t.Fatal(err)
		}
		// To round and to write each cost half a step between the numbers at x.
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
