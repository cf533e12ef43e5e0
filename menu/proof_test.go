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

// TestProofFindsWhatIsBroken runs the proof once for each mistake in the texts or the screens. The proof must report
// the mistake, and must report nothing if there is none. The test is in this directory and not in menu/proof, because
// menu.Breaks can change screens only in the tests of this package.
func TestProofFindsWhatIsBroken(t *testing.T) {
	long := strings.Repeat("many words ", 17)
	for name, c := range map[string]struct {
		was, is string // in en.toml, is replaces was; if both are empty, the mistake is in menu.Breaks
		found   string // part of the problem that the proof must report; "" if it must report none
		growers int    // how many growers find it; 0: the first does
	}{
		"a typed question too long for a page": {
			was: `name-ask = "`, is: `name-ask = "` + long,
			found: "screen change.name after",
		},
		"a reminder of two segments": {
			was: `open = "{plot}: weed now`, is: `open = "{plot}: ` + long + `weed now`,
			found: "text ring.open takes 3 segments, at most 1",
		},
		"an answer of three segments": {
			was: `undone = "{plot}: that`, is: `undone = "{plot}: ` + long + long + `that`,
			found: "text sms.undone takes 4 segments, at most 2",
		},
		"a text whose value nothing fills in": {
			was: `planted = "Planted {when}."`, is: `planted = "Planted {{when}}."`,
			found: "shows a value that was not filled in",
		},
		"a way too long to a saved plot": {
			was: `ask = "How far apart are rows and`, is: `ask = "` + long + `How far apart are rows and`,
			found: "from dialling to a saved plot it takes 9 exchanges, at most 8",
		},
		"a way too long to a plot that may be weeded": {
			was: `ask = "Weeded since then?`, is: `ask = "` + long + `Weeded since then?`,
			found: "that may be weeded already it takes 10 exchanges, at most 9",
		},
		"two spaces in a row": {
			was: `ask = "What now?"`, is: `ask = "What  now?"`,
			found: ": home.ask: by ussd, screen home after",
		},
		"a word that is an answer too": {
			was: `help = "HELP INFO"`, is: `help = "HELP RIVER"`,
			found: `the answer "River" is a word that works at any moment`,
		},
		"a screen that leads nowhere":               {found: "screen other.weeds is a dead end", growers: 2},
		"a screen that nothing leads to":            {found: "screen island cannot be reached"},
		"a choice without a text":                   {found: "choice 4 has no text"},
		"a value that is empty":                     {found: "new.planted: by ussd, screen new.method after"},
		"a screen that shows nothing":               {found: "screen declined is empty"},
		"a screen that ends a dialogue unannounced": {found: `screen home, entry "2" ends the dialogue`, growers: 2},
		"a language that does not lead back":        {found: "choosing the language on screen new.when does not lead"},
		"too many choices":                          {found: "screen home has 7 choices, 6 are allowed"},
		"an answer that back forgets":               {found: "forgets the answer method=1"},
		"a screen that a drop loses":                {found: "screen new.rows is not gone on with"},
		"nothing":                                   {growers: 4},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			problems := problemsOf(t, name, c.was, c.is, max(1, c.growers))
			found := func(p string) bool { return strings.Contains(p, c.found) }
			if c.found == "" && len(problems) > 0 || c.found != "" && !slices.ContainsFunc(problems, found) {
				t.Errorf("the proof does not say %q but\n%s", c.found, strings.Join(problems, "\n"))
			}
		})
	}
}

// problemsOf runs the proof on a menu with one mistake, either in a text or in the screens. To save time the proof uses
// only a few growers, so screens that these growers do not reach are not checked.
func problemsOf(t *testing.T, mistake, was, is string, growers int) []string {
	t.Helper()
	m := menuOf(t, was, is)
	if was == "" && mistake != "nothing" {
		menu.Breaks[mistake](m)
	}
	p := must(proof.Prove(m, proof.Options{Growers: growers}))
	return slices.DeleteFunc(p.Problems, func(p string) bool {
		return strings.Contains(p, "cannot be reached") && !strings.Contains(p, "island")
	})
}

// menuOf returns the menu in English after replacing was by is in en.toml. The string was must occur there exactly
// once.
func menuOf(t *testing.T, was, is string) *menu.Menu {
	t.Helper()
	cat := must(text.Load(fstest.MapFS{"en.toml": {Data: english(t, was, is)}}))
	return must(menu.New(cat, menu.Options{Units: []menu.AreaUnit{{Name: "bigha", M2: 1337.8}}}))
}

// must returns the value v, or panics if there is an error, so that a test needs no line for the error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func english(t *testing.T, was, is string) []byte {
	t.Helper()
	source := must(os.ReadFile("text/en.toml"))
	if n := strings.Count(string(source), was); was != "" && n != 1 {
		t.Fatalf("%q stands %d times in en.toml", was, n)
	}
	return []byte(strings.Replace(string(source), was, is, 1))
}

// TestProofNeedsEveryText checks that the proof fails if a text is missing, and that a translation with a missing text
// cannot be loaded.
func TestProofNeedsEveryText(t *testing.T) {
	const none = "none = \"There is no plot yet.\"\n"
	if _, err := proof.Prove(menuOf(t, none, ""), proof.Options{}); err == nil ||
		!strings.Contains(err.Error(), "plots.none") {
		t.Errorf("plots.none is missing, and the proof says %v", err)
	}
	_, err := text.Load(fstest.MapFS{"en.toml": {Data: english(t, "", "")}, "fr.toml": {Data: english(t, none, "")}})
	if err == nil || !strings.Contains(err.Error(), "plots.none") {
		t.Errorf("plots.none is missing in fr.toml, and the catalogue says %v", err)
	}
}
