package menu

import (
	"sync"
	"testing"

	"rowbell/menu/text"
)

// Menus are shared: they are immutable.
var (
	everyLanguage = sync.OnceValues(func() (*Menu, error) { return menuIn() })
	inEnglish     = sync.OnceValues(func() (*Menu, error) { return menuIn("en") })
)

// menuIn is the menu in some of the languages that the program carries, in all
// without a name.
func menuIn(langs ...string) (*Menu, error) {
	cat, err := text.Default()
	if err == nil && len(langs) > 0 {
		cat, err = cat.Only(langs...)
	}
	if err != nil {
		return nil, err
	}
	return New(cat, Options{Units: []AreaUnit{{"bigha", 1337.8}, {"katha", 66.9}}})
}

// newMenu is the menu in English.
func newMenu(t testing.TB) *Menu { return menuOf(t, inEnglish) }

// everyMenu is the menu in every language.
func everyMenu(t testing.TB) *Menu { return menuOf(t, everyLanguage) }

func menuOf(t testing.TB, of func() (*Menu, error)) *Menu {
	t.Helper()
	m, err := of()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestProof walks every screen in every language on both channels: each fits
// 160 octets (TS 29.002 clause 17.7.4: maxUSSD-StringLength 160), can be
// reached and left, is gone on with after a drop.
func TestProof(t *testing.T) {
	m := everyMenu(t)
	langs := m.cat.Languages()
	if raced { // many times slower, and the walks of two languages race as those of all
		langs = []string{"en", "hi"}
	}
	p, err := m.ProveIn(langs...)
	if err != nil {
		t.Fatal(err)
	}
	for _, problem := range p.Problems {
		t.Error(problem)
	}
	for _, w := range p.Walks {
		t.Logf("%s by %s: %d ways, %d pages looked at, at most %d for a screen, dial to saved %d, at first contact %d, longest %d octets (%s)",
			w.Lang, w.Channel, w.Edges, w.Pages, w.Most, w.Known, w.New, w.Longest.Octets, w.Longest.Screen)
		if w.Edges < 1000 {
			t.Errorf("%s by %s: only %d ways were walked", w.Lang, w.Channel, w.Edges)
		}
	}
	t.Logf("%d screens, %d texts", p.Screens, len(p.Texts))
}
