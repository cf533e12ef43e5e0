package menu

import (
	"testing"

	"rowbell/engine"
)

func TestTrialOfTwoHalves(t *testing.T) {
	p := wet(t, 5).enter("2", "6", "4")
	p.wants("Weed in two ways", "1 two halves of it")
	if p.has("2 it and another plot") {
		t.Error("there is no other plot")
	}
	p.plays("1 => How will you weed Plot 1 A?", "1 => How will you weed Plot 1 B?")
	p.plays("1 => Both the same? Choose another way.")
	p.plays("4 => Plot 1 A: tool one way. Plot 1 B: by hand. | log the hours")
	if len(p.b.Seasons) != 2 || p.b.Seasons[1].Plot.AreaM2 != 300 || p.b.Seasons[2].Plot.AreaM2 != 300 {
		t.Fatalf("%+v", p.b.Seasons)
	}

	// 90 days later, A took fewer hours than B, B has fewer weeds left than A, and the harvests are too close to judge.
	p.b.Day = wednesday + 90
	for no, hours := range map[int]float64{1: 2, 2: 6} {
		s := p.b.Seasons[no]
		for d := range engine.Day(2) {
			s.Passes = append(s.Passes,
				engine.Pass{On: wednesday + 12 + 14*d, With: engine.Means(no), Hours: hours, People: 1,
					Left: engine.Amount(4 - 2*no + 1)})
		}
		p.b.Seasons[no] = s
	}
	p.dial("*123#").enter("2", "1", "6", "4")
	p.wants("Plot 1 A: tool one way, weeded 2 x, 133 h/ha.", "Plot 1 B: by hand, 2 x, 400 h/ha.")
	p.enter("2", "10", "10.5")
	p.wants("Fewer hours: Plot 1 A.", "Fewer weeds: Plot 1 B.", "Harvest: too close to tell.", "no proof")
	p.enter("0", "00", "2", "1", "6", "4", "3", "1").wants("The comparison is ended.")
	if p.b.OpenTrial != nil {
		t.Error("it still runs")
	}
}

func TestTrialOfTwoPlots(t *testing.T) {
	p := wet(t, 5)
	other := p.b.Seasons[1]
	other.Plot.Label = "River"
	other.Plot.HillSpacingCM = 0 // the hill spacing is unknown, so the plot cannot be weeded across
	p.b.Seasons[2] = other
	late := other // this plot was planted much later, so the menu must not offer it for comparison
	late.Plot.Label, late.Plot.Planted = "Late", late.Plot.Planted+30
	p.b.Seasons[3] = late
	p.enter("2", "1", "6", "4", "2").wants("Which other plot?", "1 River")
	if p.has("Late") {
		t.Error("a plot that cannot be compared is offered")
	}
	p.enter("1", "2").wants("How will you weed River?")
	if p.has("both ways") {
		t.Error("River cannot be weeded across")
	}
	p.plays("2 => Plot 1: tool both ways. River: tool, then hand.")
	if x := p.b.OpenTrial; x == nil || x.A != 1 || x.B != 2 || x.WayA != engine.ToolBoth ||
		x.WayB != engine.ToolThenHand {
		t.Fatalf("%+v", x)
	}
	// After the plots are closed, the comparison of them must still be shown.
	delete(p.b.Seasons, 3)
	p.enter("00", "2", "1", "6", "5", "1", "00", "2", "6", "5", "1").wants("River is closed.", "1 compare two ways")
	p.enter("00", "2").wants("There is no plot yet.", "2 compare two ways")
}

func TestNamesOfHalves(t *testing.T) {
	for _, c := range []struct{ lang, label, a, b string }{
		{"en", "", "Plot 2 A", "Plot 2 B"},
		{"en", "WWWWWWWWWW", "WWWWWWWW A", "WWWWWWWW B"},
		{"fr", "", "2 A", "2 B"}, // not "Parcelle A", which would leave out the plot's number
	} {
		scene := everyMenu().scene(knownBook(), USSD, &session{Screen: ScreenHome})
		scene.lang = c.lang
		if a, b := scene.halves(2, engine.Plot{Label: c.label}); a != c.a || b != c.b {
			t.Errorf("%s %q: %q and %q", c.lang, c.label, a, b)
		}
	}
}

func TestNoTrialOfAScatteredPlot(t *testing.T) {
	p := wet(t, 5)
	edit(p.b, 1, func(s *engine.Season) {
		s.Plot.Method, s.Plot.RowSpacingCM, s.Plot.HillSpacingCM = engine.Broadcast, 0, 0
	})
	p.dial("*123*2*6*4#").wants("There is nothing to compare")
}
