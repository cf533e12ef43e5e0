package menu

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

// refusals lists every text that a parser may ask for, with its values.
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
}

// tester is what tests, fuzz targets and properties share.
type tester interface {
	Helper()
	Errorf(string, ...any)
	Fatalf(string, ...any)
}

// wantRefusal checks that a refusal is a known one, gives the values it
// promises, and reads back what is short and printable.
func wantRefusal(t tester, entry string, r *Refusal) {
	t.Helper()
	if r == nil {
		t.Fatalf("%q is not refused", entry)
	}
	want, known := refusals[r.Key]
	if got := slices.Sorted(maps.Keys(r.Args)); !known || !slices.Equal(got, want) {
		t.Fatalf("%q: refusal %s gives %v, want %v (known: %v)", entry, r.Key, got, want, known)
	}
	if (r.Key == "refuse.empty") != (clean(entry) == "") {
		t.Fatalf("%q: refusal %s", entry, r.Key)
	}
	if read, ok := r.Args["read"].(string); ok {
		if utf8.RuneCountInString(read) > maxShown || strings.ContainsFunc(read, func(r rune) bool { return !unicode.IsPrint(r) }) {
			t.Fatalf("%q is read back as %q", entry, read)
		}
	}
}

// Every language has every refusal and can write it with the values given.
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
	_, r := parseChoice("7", []byte("12"))
	var err error = r
	if got := err.Error(); got != "menu: answer refused: refuse.choice" {
		t.Errorf("got %q", got)
	}
	if r.Args["allowed"] != "1, 2" || r.Args["read"] != "7" {
		t.Errorf("args %v", r.Args)
	}
}

func TestDigits(t *testing.T) {
	for in, want := range map[string]string{
		"1": "1", "1.": "1", "(1)": "1", " 1 ": "1", "1)": "1", "[12]": "12", "\t1\r\n": "1", ".1": "1", "1,": "1", `"1"`: "1",
		"１": "1", "（２）": "2", "১": "1", "१.": "1", "۱۲": "12", "٣": "3", "၅": "5", "៩": "9", "๑๐": "10", "𝟗": "9",
		"\u200f1\u200e": "1", "\ufeff1": "1", "\u00a01": "1", "1\u20602": "12", "१।": "1", "२॰": "2", "1،": "1",
		"": "", ".": "", "( )": "", "1 2": "1 2", "yes": "yes", "²": "²", "#": "#",
	} {
		if got := digits(in); got != want {
			t.Errorf("digits(%q) = %q, want %q", in, got, want)
		}
	}
}

// Every decimal digit that Unicode has is read as its value: each script's ten
// stand in order.
func TestEveryScriptsDigits(t *testing.T) {
	n := 0
	for r := rune(0); r <= unicode.MaxRune; r++ {
		if !unicode.Is(unicode.Nd, r) {
			continue
		}
		if got, want := digits(string(r)), string(rune('0'+n%10)); got != want {
			t.Fatalf("%U is read as %q, want %q", r, got, want)
		}
		n++
	}
	if n < 600 || n%10 != 0 {
		t.Errorf("%d digits", n)
	}
	// First and last digits from the Unicode code charts.
	for r, want := range map[rune]string{'०': "0", '९': "9", '০': "0", '৯': "9", '૦': "0", '૯': "9", '௦': "0", '௯': "9", '۰': "0", '۹': "9",
		'០': "0", '៩': "9", '０': "0", '９': "9"} {
		if got := digits(string(r)); got != want {
			t.Errorf("%c is read as %q", r, got)
		}
	}
}

func TestParseChoice(t *testing.T) {
	for in, want := range map[string]byte{"1": '1', " (2)": '2', "३.": '3', "0": '0'} {
		if got, r := parseChoice(in, []byte("1230")); r != nil || got != want {
			t.Errorf("%q: %c, %v; want %c", in, got, r, want)
		}
	}
	for _, in := range []string{"", "4", "11", "01", "one", "1 2", "-1", "1#", "\x00", "\xff"} {
		got, r := parseChoice(in, []byte("1230"))
		if wantRefusal(t, in, r); got != 0 {
			t.Errorf("%q: refused and %c", in, got)
		}
	}
}

func TestParseWhole(t *testing.T) {
	for _, c := range []struct {
		in   string
		want int // -1: refused
	}{
		{"3", 3}, {"03", 3}, {" 30. ", 30}, {"৩০", 30}, {"31", -1}, {"2", -1}, {"-5", -1}, {"5.5", -1}, {"5,5", -1}, {"1e1", -1},
		{"five", -1}, {"", -1}, {"5 6", -1}, {"99999999999999999999", -1}, {"0x5", -1}, {"+5", -1},
	} {
		got, r := parseWhole(c.in, 3, 30)
		if c.want < 0 {
			wantRefusal(t, c.in, r)
		} else if r != nil || got != c.want {
			t.Errorf("%q: %d, %v; want %d", c.in, got, r, c.want)
		}
	}
	if n, r := parseDaysAgo("0", 150); n != 0 || r != nil {
		t.Errorf("0 days: %d, %v", n, r)
	}
	if n, r := parseDaysAgo("150", 150); n != 150 || r != nil {
		t.Errorf("150 days: %d, %v", n, r)
	}
	if _, r := parseDaysAgo("151", 150); r == nil || r.Key != "refuse.days" || r.Args["to"] != 150 {
		t.Errorf("151 days: %+v", r)
	}
	if n, r := parsePeople("50"); n != 50 || r != nil {
		t.Errorf("50 people: %d, %v", n, r)
	}
	for _, in := range []string{"0", "51"} {
		if _, r := parsePeople(in); r == nil || r.Key != "refuse.people" {
			t.Errorf("%s people: %+v", in, r)
		}
	}
}

func TestShown(t *testing.T) {
	for in, want := range map[string]string{
		"🌾": "?", "\u200e🌾 🌾": "?",
		"  abc ": "abc", "a\tb\nc": "a b c", "abcdefghijklmnop": "abcdefghijkl", "a\x00b\u200e": "ab", "\xff1": "?1",
		"ধানধানধানধানধান": "ধানধানধানধান",
	} {
		if got := shown(in); got != want {
			t.Errorf("shown(%q) = %q, want %q", in, got, want)
		}
	}
}

var wednesday = engine.Date(2026, time.November, 25)

// parsers are all parsers as one kind, each giving what it understood written
// so that it can be read again.
var parsers = map[string]func(string) (string, *Refusal){
	"choice": func(s string) (string, *Refusal) {
		d, r := parseChoice(s, []byte("123"))
		return string(d), r
	},
	"days": func(s string) (string, *Refusal) { n, r := parseDaysAgo(s, 150); return numberEN(float64(n)), r },
	"people": func(s string) (string, *Refusal) {
		n, r := parsePeople(s)
		return numberEN(float64(n)), r
	},
	"date": func(s string) (string, *Refusal) {
		d, r := parseDate(s, wednesday, plantingReach, sixLanguages)
		return slashed(d.Day), r
	},
	"length": func(s string) (string, *Refusal) { x, r := parseCM(s, limits{5, 100}); return numberEN(x), r },
	"widths": func(s string) (string, *Refusal) {
		a, b, r := parseWidths(s, limits{5, 60})
		return numberEN(a) + "-" + numberEN(b), r
	},
	"area": func(s string) (string, *Refusal) {
		a, r := parseArea(s, metric, limits{1, 1_000_000})
		return numberEN(a.M2), r
	},
	"hours": func(s string) (string, *Refusal) { x, r := parseHours(s, limits{0.1, 200}); return numberEN(x), r },
	"name":  parseName,
	"whole": func(s string) (string, *Refusal) { n, r := parseWhole(s, 3, 60); return numberEN(float64(n)), r },
	"gaps": func(s string) (string, *Refusal) {
		x, r := parseGaps(s, 10, limits{5, 100})
		return numberEN(10*x) + " cm", r
	},
	"sides": func(s string) (string, *Refusal) {
		a, b, r := parseSides(s, metric)
		return exact(a) + "x" + exact(b), r
	},
	"heights": func(s string) (string, *Refusal) { all, r := parseHeights(s); return joined(all), r },
	"bags":    func(s string) (string, *Refusal) { x, r := parseBags(s); return exact(x), r },
	"inlet": func(s string) (string, *Refusal) {
		ls, r := parseInlet(s)
		return exact(math.Round(ls*1000)/1000) + "*1", r
	},
	"took": func(s string) (string, *Refusal) {
		h, n, ok := parseTook(s)
		if !ok {
			return "", &Refusal{Key: "refuse.empty"}
		}
		return fmt.Sprintf("%sh x %d", numberEN(h), n), nil
	},
}

// exact writes all the decimals of a number.
func exact(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// What is read back parses to itself; what is refused is refused in words.
func readBack(t tester, name, entry string) {
	t.Helper()
	got, r := parsers[name](entry)
	if r != nil {
		if name != "took" { // what is not hours there is another answer, not a mistake
			wantRefusal(t, entry, r)
		}
		return
	}
	if again, r := parsers[name](got); r != nil || again != got {
		t.Fatalf("%s %q was understood as %q, and that as %q, %v", name, entry, got, again, r)
	}
}

// someEntry draws entries such as thumbs make: pieces of good answers in any order,
// or anything at all.
func someEntry() *rapid.Generator[string] {
	piece := rapid.SampledFrom([]string{"0", "1", "2", "5", "11", "25", "31", "600", "2026", " ", ".", ",", "/", "-", "x", "by", "to", "h", "min", "heures", "saa", "watu", "दिन", "se", "से", "na",
		"cm", "m", "m2", "ha", "nov", "feb", "(", ")", "৫", "１", "×", "\u200f", "\n"})
	return rapid.OneOf(rapid.Map(rapid.SliceOfN(piece, 0, 7), func(p []string) string { return strings.Join(p, "") }), rapid.String())
}

func TestReadBack(t *testing.T) {
	for name := range parsers {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { readBack(t, name, someEntry().Draw(t, "entry")) })
		})
	}
}

// An answer means the same in the digits of any script, in capitals and with
// spaces around it.
func TestScriptDoesNotMatter(t *testing.T) {
	zeros := []rune{'০', '०', '٠', '۰', '０', '๐', '០', '၀'}
	rapid.Check(t, func(t *rapid.T) {
		// A name is not among them: it is kept as it was typed.
		name := rapid.SampledFrom([]string{"choice", "days", "people", "date", "length", "widths", "area", "hours", "whole", "gaps", "sides", "heights", "bags", "inlet", "took"}).Draw(t, "parser")
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

func FuzzParseWhole(f *testing.F) {
	for _, name := range []string{"whole", "days", "people"} {
		for _, s := range corpus(f, name) {
			f.Add(s)
		}
	}
	f.Fuzz(func(t *testing.T, s string) {
		if n, r := parseWhole(s, 3, 60); r == nil && (n < 3 || n > 60) {
			t.Fatalf("%q is %d", s, n)
		}
		if n, r := parseDays(s, 3, 60); r == nil && (n < 3 || n > 60) {
			t.Fatalf("%q is %d days", s, n)
		}
		readBack(t, "whole", s)
		readBack(t, "days", s)
		readBack(t, "people", s)
	})
}

func FuzzKeyword(f *testing.F) {
	for _, s := range corpus(f, "keywords") {
		f.Add(s)
	}
	m := newMenu(f)
	f.Fuzz(func(t *testing.T, s string) {
		e := digits(s)
		kind := m.word(e)
		if kind == wordNone {
			return
		}
		if !strings.ContainsFunc(e, unicode.IsLetter) {
			t.Fatalf("%q is a keyword without a letter", s)
		}
		for _, same := range []string{e + ".", " " + e + " ", e + " and more", strings.ToUpper(e)} {
			if got := m.word(digits(same)); got != kind {
				t.Fatalf("%q is keyword %d, %q is %d", s, kind, same, got)
			}
		}
	})
}
