package text

import (
	"errors"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// sound is an English language file without mistakes and without texts. Tests add texts or mistakes to it.
const sound = `
[meta]
name = "English"
alphabet = "gsm7"
reviewed = true

[calendar]
weekdays = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"]
months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
date = "{weekday} {day} {month}"
month_words = ["january", "february", "march", "april", "may", "june", ` +
	`"july", "august", "september sept.", "october", "november", "december"]
`

const englishTexts = `
[home]
ask = "What now?"
two-lines = """
One {{brace}}
two"""
next = "{plot}: {what}"
on = "On {date}."
name = "{name}"
braces = "}}{{}} {n}{{"

[day]
ago = { one = "{n} day ago", other = "{n} days ago" }

[rows]
other = "other"
measure = "measure"
`

// must returns the value v, or panics if there is an error, so that a test needs no line for the error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func catalogue(files map[string]string) *Catalogue { return must(load(files)) }

func load(files map[string]string) (*Catalogue, error) { return Load(folder(files)) }

// inScript returns a language file that has the settings of the English file, another alphabet, and the given texts.
func inScript(alphabet, texts string) string {
	return strings.Replace(sound, `"gsm7"`, `"`+alphabet+`"`, 1) + texts
}

// englishAndArabic returns a catalogue with texts of every kind. English and Arabic have very different plural forms.
func englishAndArabic() *Catalogue {
	return catalogue(map[string]string{"en.toml": sound + englishTexts, "ar.toml": inScript("ucs2", `
[home]
ask = "?"
two-lines = "?"
next = "{what}: {plot}"
on = "{date}"
name = "{name}"
braces = "{n}"
[day.ago]
zero = "0:{n}"
one = "1"
two = "2"
few = "few {n}"
many = "many {n}"
other = "other {n}"
[rows]
other = "o"
measure = "m"
`)})
}

func TestText(t *testing.T) {
	c := englishAndArabic()
	for _, x := range []struct {
		lang string
		key  Key
		args Args
		want string
	}{
		{"en", "home.ask", nil, "What now?"},
		{"en", "home.two-lines", nil, "One {brace}\ntwo"},
		{"en", "home.braces", Args{"n": 2}, "}{} 2{"},
		{"en", "home.next", Args{"plot": "Upper", "what": "weed"}, "Upper: weed"},
		{"en", "home.next", Args{"plot": "Rió ধ", "what": 3}, "Rio ?: 3"}, // ó loses its accent, ধ becomes "?"
		{"ar", "home.next", Args{"plot": "Rió ধ", "what": "{x}"}, "{x}: Rió ধ"},
		{"en", "home.name", Args{"name": Verbatim("العربية")}, "العربية"},
		{"en", "home.on", Args{"date": Date{time.Thursday, 5, time.November}}, "On Thu 5 Nov."},
		{"en", "day.ago", Args{"n": 0}, "0 days ago"}, {"en", "day.ago", Args{"n": 1}, "1 day ago"},
		{"en", "day.ago", Args{"n": -1}, "-1 day ago"}, {"en", "day.ago", Args{"n": 2}, "2 days ago"},
		{"en", "rows.other", nil, "other"}, // [rows] also has "measure", so it is a table of texts
		// By the plural rules of the Unicode CLDR, Arabic uses zero for 0, one for 1, two for 2, few for 3-10, many for
		// 11-99, and other for 100-102.
		{"ar", "day.ago", Args{"n": 0}, "0:0"}, {"ar", "day.ago", Args{"n": 1}, "1"},
		{"ar", "day.ago", Args{"n": 2}, "2"}, {"ar", "day.ago", Args{"n": 3}, "few 3"},
		{"ar", "day.ago", Args{"n": 11}, "many 11"}, {"ar", "day.ago", Args{"n": 100}, "other 100"},
		{"ar", "day.ago", Args{"n": 103}, "few 103"},
	} {
		if got, err := c.Text(x.lang, x.key, x.args); err != nil || got != x.want {
			t.Errorf("%s %s %v: %q, %v; want %q", x.lang, x.key, x.args, got, err, x.want)
		}
	}
}

func TestTextFails(t *testing.T) {
	c := englishAndArabic()
	for _, x := range []struct {
		lang string
		key  Key
		args Args
		want error
	}{
		{"xx", "home.ask", nil, ErrLanguage}, {"", "home.ask", nil, ErrLanguage}, {"en", "home.nothing", nil, ErrKey},
		{"en", "home", nil, ErrKey}, {"en", "home.next", Args{"plot": "A"}, ErrArg},
		{"en", "home.next", Args{"plot": "A", "what": 1.5}, ErrArg},
		{"en", "home.next", Args{"plot": "A", "what": nil}, ErrArg},
		{"en", "day.ago", nil, ErrArg},
		{"en", "day.ago", Args{"n": "1"}, ErrArg},
		{"en", "home.on", Args{"date": Date{time.Thursday, 5, 13}}, ErrArg},
		{"en", "home.on", Args{"date": Date{-1, 5, 1}}, ErrArg},
	} {
		if got, err := c.Text(x.lang, x.key, x.args); !errors.Is(err, x.want) || got != "" {
			t.Errorf("%s %s: %q, %v; want %v", x.lang, x.key, got, err, x.want)
		}
	}
}

func TestCatalogueTells(t *testing.T) {
	c := catalogue(map[string]string{"en.toml": sound + englishTexts})
	if got := c.Languages(); !slices.Equal(got, []string{"en"}) {
		t.Errorf("languages %v", got)
	}
	want := []Key{"day.ago", "home.ask", "home.braces", "home.name", "home.next", "home.on", "home.two-lines",
		"rows.measure", "rows.other"}
	if got := c.Keys("en"); !slices.Equal(got, want) {
		t.Errorf("keys %v, want %v", got, want)
	}
	if got := c.Args("en", "home.next"); !slices.Equal(got, []string{"plot", "what"}) {
		t.Errorf("home.next needs %v", got)
	}
	if got := c.Args("en", "day.ago"); !slices.Equal(got, []string{"n"}) {
		t.Errorf("day.ago needs %v", got)
	}
	if c.Name("en") != "English" || c.Alphabet("en") != GSM7 || !c.Reviewed("en") {
		t.Errorf("%q, %v, %v", c.Name("en"), c.Alphabet("en"), c.Reviewed("en"))
	}
	if got := c.Date("en", time.Wednesday, 25, time.November); got != "Wed 25 Nov" {
		t.Errorf("date %q", got)
	}
	if got := c.Date("en", time.Wednesday, 25, 0); got != "" {
		t.Errorf("month 0 is written %q", got)
	}
	words := c.MonthWords("en")
	for word, want := range map[string]time.Month{"sep": 9, "sept": 9, "september": 9, "may": 5, "june": 6} {
		if words[word] != want {
			t.Errorf("%s is month %d, want %d", word, words[word], want)
		}
	}
	if c.Keys("xx") != nil || c.Args("xx", "home.ask") != nil || c.Name("xx") != "" || c.Alphabet("xx") != 0 ||
		c.Reviewed("xx") || c.MonthWords("xx") != nil || c.Date("xx", 1, 1, 1) != "" {
		t.Error("an unknown language tells something")
	}
}

// A caller who changes a returned map or slice must not change the catalogue.
func TestCatalogueIsImmutable(t *testing.T) {
	c := catalogue(map[string]string{"en.toml": sound + englishTexts})
	c.Languages()[0] = "x"
	c.Keys("en")[0] = "x"
	c.Args("en", "home.next")[0] = "x"
	c.MonthWords("en")["jan"] = 7
	if c.Languages()[0] != "en" || c.Keys("en")[0] != "day.ago" || c.Args("en", "home.next")[0] != "plot" ||
		c.MonthWords("en")["jan"] != 1 {
		t.Error("the catalogue was changed through what it returned")
	}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for n := range 100 {
				if _, err := c.Text("en", "day.ago", Args{"n": n}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
}

// fileSet is a set of language files; the key is the file's name.
type fileSet map[string]string

func english(body string) fileSet { return fileSet{"en.toml": body} }

// refusal is a set of language files that must be refused. The error must contain each part of the expected text, whose
// parts are separated by "|".
type refusal struct {
	name  string
	files fileSet
	want  string
}

func wantRefused(t *testing.T, load func(map[string]string) (*Catalogue, error), cases []refusal) {
	t.Helper()
	for _, c := range cases {
		got, err := load(c.files)
		if err == nil || got != nil {
			t.Errorf("%s: loaded", c.name)
			continue
		}
		for want := range strings.SplitSeq(c.want, "|") {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %v\nlacks %q", c.name, err, want)
			}
		}
	}
}

// changing returns a function that returns the constant sound as the English file, with the string old replaced by new.
// The constant must contain old.
func changing(t *testing.T) func(old, new string) fileSet {
	return func(old, new string) fileSet {
		if !strings.Contains(sound, old) {
			t.Fatalf("%q is not in the sound file", old)
		}
		return english(strings.Replace(sound, old, new, 1))
	}
}

func TestLoadRefusesTexts(t *testing.T) {
	texts := func(lines string) fileSet { return english(sound + "[a]\n" + lines) }
	const first = "en.toml:13: " // an error in the first line that texts adds begins so
	whole := changing(t)
	wantRefused(t, load, []refusal{
		{"no file", nil, "there is no .toml file"},
		{"name", fileSet{"englisch2026.toml": sound}, "englisch2026.toml|not a language tag"},
		{"name not in form", fileSet{"EN.toml": sound}, "EN.toml|not a language tag"},
		{"syntax", texts("b = "), "en.toml:13:"},
		{"duplicate key", texts("b = \"x\"\nb = \"y\""), "en.toml:14:|b"},
		{"duplicate table", texts("b = \"x\"\n[a]\nc = \"x\""), "en.toml:14:|a"},
		{"dotted name", texts(`"b.c" = "x"`), "a name is of small letters"},
		{"capital name", texts(`B = "x"`), first + "a.B|a name is of small letters"},
		{"number", texts("b = 5"), first + "a.b: is a number, not a text"},
		{"true", texts("b = true"), first + "a.b: is true or false, not a text"},
		{"list", texts(`b = ["x"]`), first + "a.b: is a list, not a text"},
		{"date", texts("b = 2026-11-25"), first + "a.b: is a date or time, not a text"},
		{"empty text", texts(`b = " "`), first + "a.b: is empty"},
		{"empty table", texts("[b]"), "en.toml:13: b: is empty"},
		{"no table", english("b = \"x\"\n" + sound), "en.toml:1: b: stands in no table"},
		{"open brace", texts(`b = "x {n"`), first + "a.b|a brace without its fellow"},
		{"closing brace", texts(`b = "x} y"`), first + "a.b|a brace without its fellow"},
		{"placeholder empty", texts(`b = "{}"`), first + "a.b|{} is not a placeholder"},
		{"placeholder spaces", texts(`b = "{ n }"`), first + "a.b|{ n } is not a placeholder"},
		{"placeholder format", texts(`b = "{n:02d}"`), first + "a.b|{n:02d} is not a placeholder"},
		{"line of a table", texts("[a.b.c]\n\nd = 5"), "en.toml:15: a.b.c.d"},
		{"line of inline", texts("x = \"x\"\nb = { c = \"x\", d = 5 }"), "en.toml:14: a.b.d"},
		{"all at once", texts("b = 5\nc = \"{\""), first + "a.b|en.toml:14: a.c"},
		{"smart quote", texts(`b = "it’s"`), first + "a.b|'’'|outside the language's alphabet"},
		{"tab", texts(`b = "x\ty"`), first + "a.b|U+0009"},
		{"from right to left", texts("b = \"x\u202ey\""), first + "a.b|U+202E"},
		{"no width", texts("b = \"x\u200by\""), first + "a.b|U+200B, a space without width"},
		{"byte order mark", texts("b = \"x\ufeffy\""), first + "a.b|U+FEFF"},
		{"mark in the name", whole(`"English"`, "\"Eng\u200elish\""), "en.toml:3: meta.name|U+200E"},
		{"mark in a month", whole(`"Jan"`, "\"J\u2066an\""), "en.toml:9: calendar.months|U+2066"},
		{"one name twice", fileSet{"en.toml": sound, "fr.toml": whole(`"English"`, `" english"`)["en.toml"]},
			`fr.toml:3: meta.name: " english" is the name of en too, at en.toml:3`},
		{"no other", texts(`b = { one = "x" }`), first + `a.b|"other" is missing`},
		{"no one", texts(`b = { other = "x" }`), first + `a.b|"one" is missing`},
		{"wrong category", texts(`b = { one = "x", few = "x", other = "x" }`), first + "a.b.few|it has one, other"},
	})
}

func TestLoadRefusesMetaAndCalendar(t *testing.T) {
	whole := changing(t)
	wantRefused(t, load, []refusal{
		{"no meta", english(englishTexts), "[meta] is missing|[calendar] is missing"},
		{"meta unknown", whole("[meta]", "[meta]\nauthor = \"x\""), "en.toml:3: meta.author|not known"},
		{"meta name", whole(`"English"`, `""`), "en.toml:3: meta.name"},
		{"meta alphabet", whole(`"gsm7"`, `"latin1"`), "en.toml:4: meta.alphabet"},
		{"meta reviewed", whole(`reviewed = true`, `reviewed = "yes"`), "en.toml:5: meta.reviewed"},
		{"calendar unknown", whole("[calendar]", "[calendar]\nyear = \"x\""), "calendar.year"},
		{"six weekdays", whole(`"Sun", `, ``), "en.toml:8: calendar.weekdays: must be a list of 7 words"},
		{"empty month", whole(`"Jan", `, `"", `), "en.toml:9: calendar.months: must be a list of 12 words"},
		{"one word two months", whole(`"february"`, `"jan"`), `"jan" stands for month 1 and month 2`},
		{"date without day", whole(`date = "{weekday} {day} {month}"`, `date = "{weekday} {month}"`),
			"en.toml:10: calendar.date: {day} is missing"},
		{"date with year", whole(`{day} {month}"`, `{day} {month} {year}"`),
			"en.toml:10: calendar.date: {year} is not known"},
		{"no date", whole(`date = "{weekday} {day} {month}"`, ``), "calendar.date: must be a pattern"},
	})
}

func TestLoadRefusesLanguagesThatDiffer(t *testing.T) {
	both := func(en, sw string) fileSet {
		return fileSet{"en.toml": sound + "[a]\n" + en, "sw.toml": sound + "[a]\n" + sw}
	}
	wantRefused(t, load, []refusal{
		{"missing", both("b = \"x\"\nc = \"x\"", `b = "x"`), "sw.toml: a.c: is missing; en.toml:14 has it"},
		{"extra", both(`b = "x"`, "b = \"x\"\nc = \"x\""), "sw.toml:14: a.c: is not in en.toml"},
		{"unknown value", both(`b = "{plot}"`, `b = "{polt}"`), "sw.toml:13: a.b: {polt} is not given"},
		{"plural forms of another language", fileSet{"pl.toml": sound + "[a]\nb = { one = \"x\", other = \"x\" }"},
			`pl.toml:13: a.b|"few" is missing|"many" is missing`},
	})
}

func TestCRLF(t *testing.T) {
	c := catalogue(map[string]string{"en.toml": strings.ReplaceAll(sound+englishTexts, "\n", "\r\n")})
	if got, err := c.Text("en", "home.two-lines", nil); err != nil || got != "One {brace}\ntwo" {
		t.Errorf("%q, %v", got, err)
	}
}

// FuzzLoad checks that, for any file, either the error names the file, or all texts of the file can be written.
func FuzzLoad(f *testing.F) {
	f.Add(sound + englishTexts)
	f.Add("[meta]\n[calendar]\n[a]\nb = {one=\"{\"}")
	f.Add("[[a]]\nb = 1")
	f.Fuzz(func(t *testing.T, body string) {
		c, err := load(map[string]string{"en.toml": body})
		if err != nil {
			if !strings.Contains(err.Error(), "en.toml") {
				t.Fatalf("the error does not name the file: %v", err)
			}
			return
		}
		for _, k := range c.Keys("en") {
			args := Args{}
			for _, name := range c.Args("en", k) {
				args[name] = 1
			}
			if _, err := c.Text("en", k, args); err != nil {
				t.Fatalf("%s: %v", k, err)
			}
		}
	})
}
