package proof_test

import (
	"testing"

	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/menu/text"
)

// raced is true in a build with the race detector, which is slow: the pages of the other languages are left out.
var raced bool

// units are local units of area. With them, the menu has screens that ask for a unit, and the proof reaches them.
var units = []menu.AreaUnit{{Name: "bigha", M2: 1337.8}, {Name: "katha", M2: 66.9}}

// wholeMenu is the menu in all languages that are built into the program.
var wholeMenu = must(menu.New(must(text.Default()), menu.Options{Units: units}))

// must returns the value v, or panics if there is an error, so that a test needs no line for the error.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// TestProof walks every screen on both channels in Hindi, whose 16-bit letters make the most pages; .ci/run proves all
// languages, which takes half a minute. Each USSD page must fit into 160 octets (TS 29.002, clause 17.7.4:
// maxUSSD-StringLength 160). Each screen must be reachable and leavable, and must be shown again after a dropped
// connection.
func TestProof(t *testing.T) {
	p := must(proof.Prove(wholeMenu, proof.Options{Languages: []string{"hi"}}))
	for _, problem := range p.Problems {
		t.Error(problem)
	}
	for _, w := range p.Walks {
		t.Logf("%s by %s: %d ways, %d pages shown, at most %d of a screen; dial to saved %d, late %d, "+
			"at first contact %d; longest page %d octets (%s)", w.Lang, w.Channel, w.Ways, w.Pages, w.MostPages,
			w.KnownExchanges, w.LateExchanges, w.NewExchanges, w.Longest.Octets, w.Longest.Screen)
		if w.Ways < 1000 {
			t.Errorf("%s by %s: only %d ways were walked", w.Lang, w.Channel, w.Ways)
		}
	}
	t.Logf("%d screens, %d texts", p.Screens, len(p.Texts))
}

// TestPagesOfEveryLanguage checks the pages and texts of all built-in languages with Check, which looks only at the
// files of an operator. So the built-in files are also the operator's.
func TestPagesOfEveryLanguage(t *testing.T) {
	if raced {
		t.Skip("TestProof runs the same code with the race detector")
	}
	own, wrong, err := text.Inspect(text.Carried(), text.Carried(), "texts")
	if err != nil || len(wrong) > 0 {
		t.Fatal(wrong, err)
	}
	for _, lang := range own.Languages() {
		if !own.Own(lang) {
			t.Errorf("%s is not checked", lang)
		}
	}
	for _, problem := range must(proof.Check(must(menu.New(own, menu.Options{Units: units})))) {
		t.Error(problem)
	}
}

// TestProgress checks that Prove reports its progress after each part of the work, until all parts are finished.
func TestProgress(t *testing.T) {
	var last, all int
	note := func(done, total int) {
		if done != last+1 || all != 0 && total != all {
			t.Errorf("%d of %d after %d of %d", done, total, last, all)
		}
		last, all = done, total
	}
	p, err := proof.Prove(wholeMenu, proof.Options{Languages: []string{"en"}, Growers: 1, Progress: note})
	if err != nil || len(p.Walks) != 2 || last != all || all != 4 { // each of the two channels has two parts
		t.Errorf("%d of %d parts, %d walks, %v", last, all, len(p.Walks), err)
	}
}
