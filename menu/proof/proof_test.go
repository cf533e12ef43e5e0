package proof_test

import (
	"testing"

	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/menu/text"
)

// units are local units of area, so that the screens that ask for them are proved too.
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

// TestProof walks every screen in every language on both channels. Each fits 160 octets (TS 29.002, clause 17.7.4:
// maxUSSD-StringLength 160), can be reached and left, and is offered again after a drop.
func TestProof(t *testing.T) {
	m := menuIn(t)
	langs := m.Languages()
	if raced { // the race detector is slow, and two languages run the same code as all
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
		t.Logf("%s by %s: %d ways, %d pages shown, at most %d of a screen; dial to saved %d, at first contact %d; "+
			"longest page %d octets (%s)", w.Lang, w.Channel, w.Ways, w.Pages, w.MostPages,
			w.KnownExchanges, w.NewExchanges, w.Longest.Octets, w.Longest.Screen)
		if w.Ways < 1000 {
			t.Errorf("%s by %s: only %d ways were walked", w.Lang, w.Channel, w.Ways)
		}
	}
	t.Logf("%d screens, %d texts", p.Screens, len(p.Texts))
}

// TestProgress is reported after each part of the work, up to the whole of it.
func TestProgress(t *testing.T) {
	var last, all int
	note := func(done, total int) {
		if done != last+1 || all != 0 && total != all {
			t.Errorf("%d of %d after %d of %d", done, total, last, all)
		}
		last, all = done, total
	}
	p, err := proof.Prove(menuIn(t), proof.Options{Languages: []string{"en"}, Growers: 1, Progress: note})
	if err != nil || len(p.Walks) != 2 || last != all || all != 4 { // one grower and the shortest ways, on two channels
		t.Errorf("%d of %d parts, %d walks, %v", last, all, len(p.Walks), err)
	}
}
