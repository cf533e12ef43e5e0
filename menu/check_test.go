package menu

import (
	"sync"
	"testing"

	"rowbell/menu/text"
)

// theMenu is shared: a menu is immutable.
var theMenu = sync.OnceValues(func() (*Menu, error) {
	cat, err := text.Default()
	if err != nil {
		return nil, err
	}
	return New(cat, Options{Units: []AreaUnit{{"bigha", 1337.8}, {"katha", 66.9}}})
})

func newMenu(t testing.TB) *Menu {
	t.Helper()
	m, err := theMenu()
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestProof walks every screen with the longest values: each fits 160 octets,
// can be reached, is gone on with after a drop (TS 29.002 clause 17.7.4:
// maxUSSD-StringLength 160).
func TestProof(t *testing.T) {
	p, err := newMenu(t).Prove()
	if err != nil {
		t.Fatal(err)
	}
	for _, problem := range p.Problems {
		t.Error(problem)
	}
	if p.Screens < 50 || p.Edges < 400 {
		t.Errorf("only %d screens and %d edges were walked", p.Screens, p.Edges)
	}
	t.Logf("%d screens, %d edges, %d texts", p.Screens, p.Edges, len(p.Texts))
}
