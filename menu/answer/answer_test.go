package answer

import (
	"fmt"
	"maps"
	"math"
	"slices"
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

// refusals maps the text of each refusal to the names of the values that the refusal must give.
var refusals = map[text.Key][]string{
	"refuse.empty":        {},
	"refuse.choice":       {"allowed", "read"},
	"refuse.whole":        {"from", "read", "to"},
	"refuse.days":         {"from", "read", "to"},
	"refuse.people":       {"from", "read", "to"},
	"refuse.date":         {"read"},
	"refuse.date-none":    {"read"},
	"refuse.date-ahead":   {"date", "days", "read", "year"},
	"refuse.date-future":  {"date", "read", "year"},
	"refuse.date-old":     {"date", "days", "read", "year"},
	"refuse.length":       {"read"},
	"refuse.length-range": {"cm", "from", "read", "to"},
	"refuse.gaps-range":   {"cm", "each", "from", "gaps", "read", "to"},
	"refuse.widths":       {"read"},
	"refuse.area":         {"read"},
	"refuse.area-range":   {"area", "from", "read", "to"},
	"refuse.heights":      {"read"},
	"refuse.sides":        {"from", "read", "to"},
	"refuse.hours":        {"read"},
	"refuse.hours-range":  {"from", "hours", "read", "to"},
	"refuse.name":         {"read"},
	"refuse.name-long":    {"max", "read"},
	"refuse.bags":         {"read"},
	"refuse.inlet":        {"read"},
	"refuse.inlet-range":  {"flow", "read"},
	"refuse.price":        {"read"},
	"refuse.price-range":  {"price", "to"},
	"refuse.code":         {"read"},
	"refuse.keys":         {"read"},
}

// tester is the part that *testing.T, *testing.F and *rapid.T have in common.
type tester interface {
	Helper()
	Errorf(string, ...any)
	Fatalf(string, ...any)
}

// wantRefusal checks that refusals lists the refusal, that the refusal has all its values, and that the value {read} is
// short and printable.
func wantRefusal(t tester, entry string, r *Refusal) {
	t.Helper()
	if r == nil {
		t.Fatalf("%q is not refused", entry)
	}
	want, known := refusals[r.Key]
	if got := slices.Sorted(maps.Keys(r.Args)); !known || !slices.Equal(got, want) {
		t.Fatalf("%q: refusal %s gives %v, want %v (known: %v)", entry, r.Key, got, want, known)
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

// Checks that every language has a text for every refusal, and that the text can be written with the refusal's values.
func TestRefusalsHaveTexts(t *testing.T) {
	c, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	for _, lang := range c.Languages() {
		for key, names := range refusals {
			args := text.Args{}
			for _, name := range names {
				args[name] = 2
			}
			if _, err := c.Text(lang, key, args); err != nil {
				t.Error(err)
			}
		}
	}
}

func TestRefusalIsAnError(t *testing.T) {
	_, r := Choice("7", []byte("12"))
	var err error = r
	if got := err.Error(); got != "answer refused: refuse.choice" {
		t.Errorf("got %q", got)
	}
	if r.Args["allowed"] != "1, 2" || r.Args["read"] != "7" {
		t.Errorf("args %v", r.Args)
	}
}

var wednesday = engine.Date(2026, time.November, 25)

// parsers holds every parser, all with the same signature. The key is the name of the parser's file in answersFolder
// (for the parser name: the file names). Each function reads an entry, and writes the value as a new entry that the
// same parser can read.
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
		a, r := parseArea(s, metric, Range{1, 1_000_000})
		return tenths(a.m2), r
	},
	"hours": func(s string) (string, *Refusal) { x, r := parseHours(s, Range{0.1, 200}); return tenths(x), r },
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
	"heights": func(s string) (string, *Refusal) { all, r := Heights(s); return joined(all), r },
	"bags":    func(s string) (string, *Refusal) { x, r := Bags(s); return exact(x), r },
	"inlet": func(s string) (string, *Refusal) {
		ls, r := Inlet(s)
		return exact(math.Round(ls*1000)/1000) + "*1", r
	},
	"price": func(s string) (string, *Refusal) { x, r := Price(s, "Tk"); return hundredths(x), r },
	"took": func(s string) (string, *Refusal) {
		h, n, ok := Took(s)
		if !ok {
			return "", &Refusal{Key: "refuse.empty"}
		}
		return fmt.Sprintf("%sh x %d", tenths(h), n), nil
	},
}

// tenths rounds a number to at most one decimal and writes it, hundredths to at most two decimals. exact writes all
// decimals of a number.
func tenths(x float64) string     { return exact(tenth(x)) }
func hundredths(x float64) string { return exact(cents(x)) }
func exact(x float64) string      { return strconv.FormatFloat(x, 'f', -1, 64) }

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

// Checks that an entry gives the same value in the digits of any script and with spaces around it.
func TestScriptDoesNotMatter(t *testing.T) {
	zeros := []rune{'০', '०', '٠', '۰', '０', '๐', '០', '၀'}
	rapid.Check(t, func(t *rapid.T) {
		// "name" is not in this list, because a name is stored exactly as typed.
		name := rapid.SampledFrom([]string{"choice", "days", "people", "date", "length", "widths", "area", "hours",
			"whole", "gaps", "sides", "heights", "bags", "inlet", "took"}).Draw(t, "parser")
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
