package menu

import (
	"testing"

	"rowbell/engine"
)

// Checks two sides of a field in a dialled path. The path cannot hold the star between the sides, so two numbers are
// joined to one entry if the screen asks for sides.
func TestSidesInADialledPath(t *testing.T) {
	const toArea = "*123*1*1*5/11*1*1*1"
	for _, c := range []struct {
		dialled string
		m2      float64 // the saved area in m2; 0 if no area must be saved
		shows   string
	}{
		{toArea + "*20*30#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20*30", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20.5*30#", 615, "Saved: Plot 1, 615 m2."},
		{toArea + "*२०*३०#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20x30#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*8*30#", 240, "Saved: Plot 1, 240 m2."},
		{toArea + "*600#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20*30*1#", 600, "What shall we change?"},
		{toArea + "*600*1#", 600, "What shall we change?"}, // 600 is an area, 1 is a choice on the next screen
		{toArea + "*600*00#", 600, "What now?"},
		{toArea + "*1*20*40#", 450, "Saved: Plot 1, 450 m2."}, // the sides are in steps of 0.75 m
		{toArea + "*1*8*40#", 180, "Saved: Plot 1, 180 m2."},
		{toArea + "*2#", 0, "Saved: Plot 1"},
		{toArea + "*2*1#", 0, "What shall we change?"},    // 2 and 1 are choices, not sides
		{toArea + "*0*20*30#", 0, "tool 20, rows 20 cm?"}, // 0 leads back to the question "tool", 20 is its width
		{toArea + "*200*300#", 0, "60000 m2. Is that right?"},
	} {
		p := dials(t, newMenu(), knownBook(), c.dialled)
		if !p.has(c.shows) {
			t.Errorf("%s shows\n%s\nand not %q", c.dialled, p.last.Text, c.shows)
		}
		if got := p.b.Seasons[1].Plot.AreaM2; got != c.m2 {
			t.Errorf("%s saves %g m2, want %g", c.dialled, got, c.m2)
		}
	}
	p := caller(t, bookOf(engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: wednesday - 20,
		RowSpacingCM: 20, HillSpacingCM: 20}, Weather: engine.Steady(22, 32)}))
	p.dial("*123*2*6*1*5*20*30#")
	if got := p.b.Seasons[1].Plot.AreaM2; got != 600 {
		t.Errorf("changed to %g m2:\n%s", got, p.last.Text)
	}
	for dialled, shows := range map[string]string{"*123*5*2*1*20*30#": "20 m long, 30 m wide.",
		"*123*5*2*1*1*20*40#": "15 m long, 30 m wide.", "*123*5*2*1*20*30*1#": "Rows 20 cm."} {
		p := dials(t, newMenu(), knownBook(), dialled)
		if !p.has(shows) {
			t.Errorf("%s shows\n%s\nand not %q", dialled, p.last.Text, shows)
		}
	}
}

// Checks a path with one entry too many: the screen must still say what was saved.
func TestSavedIsTold(t *testing.T) {
	p := dials(t, newMenu(), knownBook(), "*123*1*1*5/11*1*1*1*20*30*77*1#")
	p.wants("Saved: Plot 1, 600 m2.")
	p.lacks("Not 77")
	p.enter("77") // the same entry, typed and not dialled, is refused with the reason
	p.wants("Not 77")
}

// A doubt stops a dialled path: the entries after it do not answer the doubt.
func TestDoubtStopsADialledPath(t *testing.T) {
	p := dials(t, newMenu(), knownBook(), "*123*1*1*5/11*52*1*1*600#")
	p.wants("1 yes, 52 cm", "2 no: 25 cm")
	if len(p.b.Seasons) != 0 {
		t.Error("a plot was saved")
	}
	p.enter("2", "1", "1", "600")
	if got := p.b.Seasons[1].Plot.RowSpacingCM; got != 25 {
		t.Errorf("rows of %g cm", got)
	}
}
