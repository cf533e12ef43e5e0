package menu

import (
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"rowbell/menu/text"
)

// TestProofFindsWhatIsBroken breaks one rule after the other on purpose: each
// time the proof must say so. A proof that cannot fail proves nothing.
func TestProofFindsWhatIsBroken(t *testing.T) {
	long := strings.Repeat("many words ", 17)
	for _, c := range []struct {
		name   string
		was    string // in en.toml
		is     string
		break_ func(*Menu)
		found  string
	}{
		{name: "a typed question too long for a page", was: `name-ask = "`, is: `name-ask = "` + long, found: "screen change.name after"},
		{name: "a reminder of two segments", was: `open = "{plot}: weed now`, is: `open = "{plot}: ` + long + `weed now`, found: "text ring.open takes 3 segments, at most 1"},
		{name: "an answer of three segments", was: `undone = "{plot}: that`, is: `undone = "{plot}: ` + long + long + `that`, found: "text sms.undone takes 4 segments, at most 2"},
		{name: "a text whose value nothing fills in", was: `planted = "Planted {when}."`, is: `planted = "Planted {{when}}."`, found: "shows a value that was not filled in"},
		{name: "a way too long to a saved plot", was: `ask = "How far apart are the rows?`, is: `ask = "` + long + `How far apart are the rows?`, found: "from dialling to a saved plot it takes 9 exchanges, at most 8"},
		{name: "a word that is an answer too", was: `help = "HELP INFO"`, is: `help = "HELP RIVER"`, found: `the answer "River" is a word that works at any moment`},
		{name: "a screen that leads nowhere", break_: func(m *Menu) { m.screens["plot.dates"].Root = true }, found: "screen plot.dates is a dead end"},
		{name: "a screen that nothing leads to", break_: func(m *Menu) {
			m.screens["island"] = &Screen{ID: "island", Ask: "home.ask"}
			m.order = append(m.order, "island")
		}, found: "screen island cannot be reached"},
		{name: "a choice without a text", break_: func(m *Menu) {
			home := m.screens[sHome]
			home.Choices = slices.Clone(home.Choices)
			home.Choices[3].Label, home.Choices[3].Args = "language.name", text.Args{"name": ""}
		}, found: "choice 4 has no text"},
		{name: "too many choices", break_: func(m *Menu) {
			home := m.screens[sHome]
			home.Choices = append(slices.Clone(home.Choices), Choice{Digit: '7', Label: "home.new", To: "new.method"})
		}, found: "screen home has 7 choices, 6 are allowed"},
		{name: "two choices of one digit", break_: func(m *Menu) {
			more := m.screens["more"]
			more.Choices = append(slices.Clone(more.Choices), Choice{Digit: '1', Label: "home.new", To: "new.method"})
		}, found: "screen more: 1 stands for two choices"},
		{name: "an answer that back forgets", break_: func(m *Menu) {
			m.screens["new.method"].Choices[0].Prep = func(c *scene) *Refusal { c.s.Answers = nil; c.s.put(fMethod, "1"); return nil }
			m.screens["new.when"].Choices[0].Prep = func(c *scene) *Refusal { c.s.Answers = nil; return nil }
		}, found: "forgets the answer method=1"},
		{name: "a screen that a drop loses", break_: func(m *Menu) {
			m.screens["new.rows"].Jump = nil
			m.screens["new.rows"].Head = func(c *scene) string {
				if c.s.Paused {
					c.s.Answers = nil
				}
				return ""
			}
			m.screens["new.rows"].Args = func(c *scene) text.Args {
				if c.s.Paused {
					c.s.Answers = nil
				}
				return nil
			}
		}, found: "screen new.rows is not gone on with"},
		{name: "nothing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			source, err := os.ReadFile("text/en.toml")
			if err != nil {
				t.Fatal(err)
			}
			if n := strings.Count(string(source), c.was); c.was != "" && n != 1 {
				t.Fatalf("%q stands %d times in en.toml", c.was, n)
			}
			source = []byte(strings.Replace(string(source), c.was, c.is, 1))
			cat, err := text.Load(fstest.MapFS{"en.toml": {Data: source}})
			if err != nil {
				t.Fatal(err)
			}
			m, err := New(cat, Options{Units: []AreaUnit{{"bigha", 1337.8}}})
			if err != nil {
				t.Fatal(err)
			}
			if c.break_ != nil {
				c.break_(m)
			}
			problems := someProblems(t, m)
			if c.found == "" && len(problems) > 0 {
				t.Errorf("nothing is broken, and the proof says\n%s", strings.Join(problems, "\n"))
			}
			if c.found != "" && !slices.ContainsFunc(problems, func(p string) bool { return strings.Contains(p, c.found) }) {
				t.Errorf("the proof does not say %q but\n%s", c.found, strings.Join(problems, "\n"))
			}
		})
	}
}

// someProblems proves the menu for a stranger, a grower without a plot and one
// with a plot: enough for these. What they do not meet is not told.
func someProblems(t *testing.T, m *Menu) []string {
	t.Helper()
	w := newWalker(m, "en", USSD)
	for _, b := range notebooks("en")[:4] {
		if err := w.walk(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.measure(); err != nil {
		t.Fatal(err)
	}
	w.whole()
	sms := newWalker(m, "en", SMS)
	if err := sms.walk(notebooks("en")[3]); err != nil {
		t.Fatal(err)
	}
	_, texts := m.proveTexts("en")
	all := append(append(w.problems, sms.problems...), texts...)
	return slices.DeleteFunc(all, func(p string) bool {
		return strings.Contains(p, "cannot be reached") && !strings.Contains(p, "island")
	})
}

// A text that is missing stops the proof, and a language that lacks one is not
// even loaded.
func TestProofNeedsEveryText(t *testing.T) {
	source, err := os.ReadFile("text/en.toml")
	if err != nil {
		t.Fatal(err)
	}
	line := "none = \"There is no plot yet.\"\n"
	less := strings.Replace(string(source), line, "", 1)
	if less == string(source) {
		t.Fatalf("%q is not in en.toml", line)
	}
	cat, err := text.Load(fstest.MapFS{"en.toml": {Data: []byte(less)}})
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(cat, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.Prove(); err == nil || !strings.Contains(err.Error(), "plots.none") {
		t.Errorf("plots.none is missing, and the proof says %v", err)
	}
	_, err = text.Load(fstest.MapFS{"en.toml": {Data: source}, "fr.toml": {Data: []byte(less)}})
	if err == nil || !strings.Contains(err.Error(), "plots.none") {
		t.Errorf("plots.none is missing in fr.toml, and the catalogue says %v", err)
	}
}
