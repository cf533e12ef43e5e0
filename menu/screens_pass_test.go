package menu

import (
	"testing"

	"rowbell/engine"
)

// TestLeavingAtTheLastQuestionKeepsThePass checks that a weeding is logged before the question about what is left in
// the rows is answered.
func TestLeavingAtTheLastQuestionKeepsThePass(t *testing.T) {
	p := caller(t, knownBook()).enter("1", "1", "5/11", "1", "1", "1", "1", "600", "00", "3", "1", "1")
	p.wants("How many weeds are left")
	if s := p.b.Seasons[1]; len(s.Passes) != 1 || s.Passes[0].Left != engine.AmountUnknown {
		t.Fatalf("%+v", s.Passes)
	}
	p.dial("*123#") // the call dropped
	p.wants("You were logging a weeding of Plot 1.", "1 go on: How many weeds are left in them?")
	p.enter("1", "3").wants("Logged: Plot 1")
	if s := p.b.Seasons[1]; len(s.Passes) != 1 || s.Passes[0].Left != engine.Many {
		t.Fatalf("%+v", s.Passes)
	}
	p.enter("00")
	if p.wants("Plot 1"); len(p.b.Seasons[1].Passes) != 1 {
		t.Error("logged twice")
	}
}

// TestADialledPathGoesThroughAList checks a dialled path through a list of plots. The list is not shown, so a digit
// means the plot that the list would have at that digit.
func TestADialledPathGoesThroughAList(t *testing.T) {
	p := &phone{t: t, m: newMenu(), b: knownBook()}
	for range 2 {
		must(p.b.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: p.b.Day - 20, RowSpacingCM: 20,
			HillSpacingCM: 20}, engine.Tool{WidthCM: 15}))
	}
	p.dial("*123*3*2*1*1*1#").wants("Logged: Plot 2")
	if len(p.b.Seasons[1].Passes) != 0 || len(p.b.Seasons[2].Passes) != 1 {
		t.Fatalf("%+v", p.b.Seasons)
	}
}

// TestHoursOfALoggedPass checks that hours can be added later to a weeding that was logged by text.
func TestHoursOfALoggedPass(t *testing.T) {
	p := wet(t, 20)
	must(0, p.b.LogPass(1, engine.Pass{On: wednesday - 2, With: engine.ByTool}))
	p.dial("*123*2*6*3*1*4*2#").wants("Noted: 4 h, 2 people.")
	if pass := p.b.Seasons[1].Passes[0]; pass.Hours != 4 || pass.People != 2 {
		t.Errorf("%+v", pass)
	}
}

// TestManyWeedsAfterTheRowsClosed checks that after the rows have closed the menu tells the grower to pull weeds by
// hand.
func TestManyWeedsAfterTheRowsClosed(t *testing.T) {
	p := wet(t, 70).dial("*123*4*3*3*2#")
	p.wants("The weeder's work is done", "Pull the big weeds by hand before they make seed.")
}
