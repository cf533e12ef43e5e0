package menu_test

import (
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/menu/text"
)

// mistake is a mistake in the menu that the proof must report.
type mistake struct {
	was, is string // in en.toml, is replaces was; if both are empty, the mistake is menu.Breaks[name]
	name    string
	found   string // part of the problem that the proof must report
}

// TestProofFindsWhatIsBroken runs the proof on menus with mistakes in the texts or the screens. The proof must report
// each mistake, and must report nothing if there is none. Mistakes that do not hide each other share a menu, because
// a walk takes long. The test is in this directory and not in menu/proof, because menu.Breaks can change screens only
// in the tests of this package.
func TestProofFindsWhatIsBroken(t *testing.T) {
	long := strings.Repeat("many words ", 17)
	for name, c := range map[string]struct {
		mistakes []mistake
		growers  int // how many growers find them; 0: the first does
	}{
		"texts": {mistakes: []mistake{
			{was: `name-ask = "`, is: `name-ask = "` + long, found: "screen change.name after"},
			{was: `open = "{plot}: weed now`, is: `open = "{plot}: ` + long + `weed now`,
				found: "text ring.open takes 3 segments, at most 1"},
			{was: `undone = "{plot}: that`, is: `undone = "{plot}: ` + long + long + `that`,
				found: "text sms.undone takes 4 segments, at most 2"},
			{was: `planted = "Planted {when}."`, is: `planted = "Planted {{when}}."`,
				found: "shows a value that was not filled in"},
			{was: `ask = "What now?"`, is: `ask = "What  now?"`, found: ": home.ask: by ussd, screen home after"},
			{was: `help = "HELP INFO"`, is: `help = "HELP RIVER"`,
				found: `the answer "River" is a word that works at any moment`},
		}},
		"a way too long to a saved plot": {mistakes: []mistake{
			{was: `ask = "How far apart are rows and`, is: `ask = "` + long + `How far apart are rows and`,
				found: "from dialling to a saved plot it takes 9 exchanges, at most 8"},
		}},
		"a way too long to a plot that may be weeded": {mistakes: []mistake{
			{was: `ask = "Weeded since then?`, is: `ask = "` + long + `Weeded since then?`,
				found: "that may be weeded already it takes 10 exchanges, at most 9"},
		}},
		"screens that two growers see": {growers: 2, mistakes: []mistake{
			{name: "a screen that leads nowhere", found: "screen other.weeds is a dead end"},
			{name: "a screen that ends a dialogue unannounced", found: `screen home, entry "2" ends the dialogue`},
		}},
		"screens": {mistakes: []mistake{
			{name: "a choice without a text", found: "choice 4 has no text"},
			{name: "a value that is empty", found: "new.planted: by ussd, screen new.method after"},
			{name: "a screen that shows nothing", found: "screen declined is empty"},
			{name: "too many choices", found: "screen home has 7 choices, 6 are allowed"},
		}},
		"the way back": {mistakes: []mistake{
			{name: "a language that does not lead back",
				found: "choosing the language on screen new.when does not lead"},
			{name: "an answer that back forgets", found: "forgets the answer method=1"},
		}},
		"a drop, and an island": {mistakes: []mistake{
			{name: "a screen that nothing leads to", found: "screen island cannot be reached"},
			{name: "a screen that a drop loses", found: "screen new.rows is not gone on with"},
		}},
		"nothing": {growers: 4},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			problems := problemsOf(t, c.mistakes, max(1, c.growers))
			for _, mistake := range c.mistakes {
				found := func(p string) bool { return strings.Contains(p, mistake.found) }
				if !slices.ContainsFunc(problems, found) {
					t.Errorf("the proof does not say %q but\n%s", mistake.found, strings.Join(problems, "\n"))
				}
			}
			if len(c.mistakes) == 0 && len(problems) > 0 {
				t.Errorf("nothing is broken, but\n%s", strings.Join(problems, "\n"))
			}
		})
	}
}

// problemsOf runs the proof on a menu with mistakes. To save time the proof uses only a few growers, so screens that
// these growers do not reach are not checked.
func problemsOf(t *testing.T, mistakes []mistake, growers int) []string {
	t.Helper()
	m := menuOf(t, mistakes...)
	for _, mistake := range mistakes {
		if mistake.name != "" {
			menu.Breaks[mistake.name](m)
		}
	}
	p := must(proof.Prove(m, proof.Options{Growers: growers}))
	return slices.DeleteFunc(p.Problems, func(p string) bool {
		return strings.Contains(p, "cannot be reached") && !strings.Contains(p, "island")
	})
}

// menuOf returns the menu in English with the mistakes in en.toml.
func menuOf(t *testing.T, mistakes ...mistake) *menu.Menu {
	t.Helper()
	cat := must(text.Load(fstest.MapFS{"en.toml": {Data: english(t, mistakes...)}}))
	return must(menu.New(cat, menu.Options{Units: []menu.AreaUnit{{Name: "bigha", M2: 1337.8}}}))
}

// must returns the value v, or panics if there is an error, so that a test needs no line for the error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// english returns en.toml with the mistakes. The string was of a mistake must occur there exactly once.
func english(t *testing.T, mistakes ...mistake) []byte {
	t.Helper()
	source := string(must(os.ReadFile("text/en.toml")))
	for _, mistake := range mistakes {
		if n := strings.Count(source, mistake.was); mistake.was != "" && n != 1 {
			t.Fatalf("%q stands %d times in en.toml", mistake.was, n)
		}
		source = strings.Replace(source, mistake.was, mistake.is, 1)
	}
	return []byte(source)
}

// TestProofNeedsEveryText checks that the proof fails if a text is missing, and that a translation with a missing text
// cannot be loaded.
func TestProofNeedsEveryText(t *testing.T) {
	const none = "none = \"There is no plot yet.\"\n"
	if _, err := proof.Prove(menuOf(t, mistake{was: none}), proof.Options{}); err == nil ||
		!strings.Contains(err.Error(), "plots.none") {
		t.Errorf("plots.none is missing, and the proof says %v", err)
	}
	_, err := text.Load(fstest.MapFS{"en.toml": {Data: english(t)}, "fr.toml": {Data: english(t, mistake{was: none})}})
	if err == nil || !strings.Contains(err.Error(), "plots.none") {
		t.Errorf("plots.none is missing in fr.toml, and the catalogue says %v", err)
	}
}
