package answer

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
	"rowbell/engine"
	"rowbell/menu/text"
)

// catalogue is the built-in catalogue. The tests take from it the texts of refusals and the date words of all
// languages.
var catalogue = func() *text.Catalogue {
	c, err := text.Default()
	if err != nil {
		panic(err)
	}
	return c
}()

// sixLanguages holds the date words of all six languages together, for a grower who may use any of these languages.
var sixLanguages = NewDateWords(nil, catalogue.AllMonthWords(""), catalogue.AllDayWords(""),
	catalogue.AllWeekdayWords())

// tester has the methods that *testing.T, *testing.F and *rapid.T share, so that unit, fuzz and property tests can use
// the same check.
type tester interface {
	Helper()
	Errorf(string, ...any)
	Fatalf(string, ...any)
}

// wantRefusal checks that the refusal has every value that its English text names, and that the value {read} is short
// and printable. Translated texts name no other values, so the English text is enough.
func wantRefusal(t tester, entry string, r *Refusal) {
	t.Helper()
	if r == nil {
		t.Fatalf("%q is not refused", entry)
	}
	if _, err := catalogue.Text("en", r.Key, r.Args); err != nil {
		t.Fatalf("%q: %v", entry, err)
	}
	if (r.Key == "refuse.empty") != (Clean(entry) == "") {
		t.Fatalf("%q: refusal %s", entry, r.Key)
	}
	if read, ok := r.Args["read"].(string); ok {
		if utf8.RuneCountInString(read) > maxShown ||
			strings.ContainsFunc(read, func(r rune) bool { return !unicode.IsPrint(r) }) {
			t.Fatalf("%q is read back as %q", entry, read)
		}
	}
}

var wednesday = engine.Date(2026, time.November, 25)

// parsers holds every parser of this package. The key is the name of the parser's file in answersFolder. Each function
// reads an entry and writes the value that it read as a new entry, which the same parser must read as the same value.
var parsers = map[string]func(string) (string, *Refusal){
	"choice": func(s string) (string, *Refusal) {
		d, r := Choice(s, []byte("123"))
		return string(d), r
	},
	"days": func(s string) (string, *Refusal) { n, r := DaysAgo(s, 150); return tenths(float64(n)), r },
	"people": func(s string) (string, *Refusal) {
		n, r := People(s)
		return tenths(float64(n)), r
	},
	"circle": func(s string) (string, *Refusal) {
		n, r := Circle(s)
		return strconv.Itoa(n), r
	},
	"date": func(s string) (string, *Refusal) {
		d, _, r := Date(s, wednesday, PlantedReach, sixLanguages)
		return slashed(d), r
	},
	"length": func(s string) (string, *Refusal) { x, r := parseCM(s, Range{5, 100}); return tenths(x), r },
	"widths": func(s string) (string, *Refusal) {
		w, r := parseWidths(s, Range{5, 60})
		return tenths(w.From) + "-" + tenths(w.To), r
	},
	"area": func(s string) (string, *Refusal) {
		all, r := metric.read(s, areaLimits)
		if r != nil {
			return "", r
		}
		return tenths(all[0].M2) + " m2", nil
	},
	"hours": func(s string) (string, *Refusal) { x, _, r := readHours(s, Range{0.1, 200}); return tenths(x), r },
	"name":  Name,
	"whole": func(s string) (string, *Refusal) { n, r := Whole(s, 3, 60); return tenths(float64(n)), r },
	"gaps": func(s string) (string, *Refusal) {
		x, r := parseGaps(s, 10, Range{5, 100})
		return tenths(10*x) + " cm", r
	},
	"sides": func(s string) (string, *Refusal) {
		sides, _, r := ReadSides(s, metric)
		return exact(sides.Length) + "x" + exact(sides.Width), r
	},
	"spacing": func(s string) (string, *Refusal) {
		x, _, r := ReadSpacing(s)
		if r != nil || x.Hill == 0 {
			return tenths(x.Row), r
		}
		return tenths(x.Row) + "*" + tenths(x.Hill), r
	},
	"heights": func(s string) (string, *Refusal) { all, r := Heights(s); return joined(all), r },
	"bags":    func(s string) (string, *Refusal) { x, r := Bags(s); return exact(x), r },
	"inlet": func(s string) (string, *Refusal) {
		ls, r := Inlet(s)
		return exact(math.Round(ls*1000)/1000) + "*1", r
	},
	"price": func(s string) (string, *Refusal) { x, r := Price(s, "Tk"); return hundredths(x), r },
	"took": func(s string) (string, *Refusal) {
		h, n, _, ok := Took(s)
		if !ok {
			return "", &Refusal{Key: "refuse.empty"}
		}
		return fmt.Sprintf("%sh x %d", tenths(h), n), nil
	},
}

// tenths writes a number with at most one decimal, as an entry that a parser can read.
func tenths(x float64) string { return exact(tenth(x)) }

// hundredths writes a number with at most two decimals, as an entry that a parser can read.
func hundredths(x float64) string { return exact(cents(x)) }

// exact writes a number with all its decimals.
func exact(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// readBack parses an entry. If the entry is read, readBack writes the value as an entry and checks that this entry
// gives the same value. If the entry is refused, readBack checks the refusal.
func readBack(t tester, name, entry string) {
	t.Helper()
	got, r := parsers[name](entry)
	if r != nil {
		if name != "took" { // Took reports ok = false, and has no Refusal to check
			wantRefusal(t, entry, r)
		}
		return
	}
	if again, r := parsers[name](got); r != nil || again != got {
		t.Fatalf("%s %q was understood as %q, and that as %q, %v", name, entry, got, again, r)
	}
}

// someEntry draws a random entry: pieces of good entries in any order, or any string.
func someEntry() *rapid.Generator[string] {
	piece := rapid.SampledFrom([]string{"0", "1", "2", "5", "11", "25", "31", "600", "2026", " ", ".", ",", "/", "-",
		"x", "by", "to", "h", "min", "heures", "saa", "watu", "दिन", "se", "से", "na",
		"cm", "m", "m2", "ha", "nov", "feb", "(", ")", "৫", "１", "×", "\u200f", "\n"})
	return rapid.OneOf(rapid.Map(rapid.SliceOfN(piece, 0, 7), func(p []string) string { return strings.Join(p, "") }),
		rapid.String())
}

func TestReadBack(t *testing.T) {
	for name := range parsers {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { readBack(t, name, someEntry().Draw(t, "entry")) })
		})
	}
}

// TestScriptDoesNotMatter checks that an entry gives the same value in the digits of any script and with spaces around
// it.
func TestScriptDoesNotMatter(t *testing.T) {
	zeros := []rune{'০', '०', '٠', '۰', '０', '๐', '០', '၀'}
	rapid.Check(t, func(t *rapid.T) {
		// The parser "name" is not in this list, because a name is stored exactly as typed.
		name := rapid.SampledFrom([]string{"choice", "days", "people", "date", "length", "widths", "area", "hours",
			"whole", "gaps", "sides", "spacing", "heights", "bags", "inlet", "took"}).Draw(t, "parser")
		entry := someEntry().Draw(t, "entry")
		zero := rapid.SampledFrom(zeros).Draw(t, "zero")
		other := strings.Map(func(r rune) rune {
			if r >= '0' && r <= '9' {
				return zero + r - '0'
			}
			return r
		}, entry)
		a, ra := parsers[name](entry)
		b, rb := parsers[name](" " + other + "\n")
		if a != b || (ra == nil) != (rb == nil) {
			t.Fatalf("%s %q is %q (%v), but %q is %q (%v)", name, entry, a, ra, other, b, rb)
		}
	})
}
