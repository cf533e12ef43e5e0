package proof_test

import (
	"testing"

	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/menu/text"
)

// units are local units of area: the screens that ask for them are proved too.
var units = []menu.AreaUnit{{Name: "bigha", M2: 1337.8}, {Name: "katha", M2: 66.9}}

// menuIn is the menu in every language that the program carries.
func menuIn(t *testing.T) *menu.Menu {
	t.Helper()
	cat, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	m, err := menu.New(cat, menu.Options{Units: units})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestProof walks every screen in every language on both channels: each fits
// 160 octets (TS 29.002 clause 17.7.4: maxUSSD-StringLength 160), can be
// reached and left, is gone on with after a drop.
func TestProof(t *testing.T) {
	m := menuIn(t)
	langs := m.Languages()
	if raced { // many times slower, and the walks of two languages race as those of all
		langs = []string{"en", "hi"}
	}
	p, err := proof.Prove(m, proof.Options{Languages: langs})
	if err != nil {
		t.Fatal(err)
	}
	for _, problem := range p.Problems {
		t.Error(problem)
	}
	for _, w := range p.Walks {
		t.Logf("%s by %s: %d ways, %d pages looked at, at most %d for a screen, dial to saved %d, at first contact %d, longest %d octets (%s)",
			w.Lang, w.Channel, w.Ways, w.Pages, w.MostPages, w.KnownExchanges, w.NewExchanges, w.Longest.Octets, w.Longest.Screen)
		if w.Ways < 1000 {
			t.Errorf("%s by %s: only %d ways were walked", w.Lang, w.Channel, w.Ways)
		}
	}
	t.Logf("%d screens, %d texts", p.Screens, len(p.Texts))
}
