package engine

import (
	"testing"

	"pgregory.net/rapid"
)

// half returns a half of a trial: one hectare, weeded in this way, with a pass for each of the hours, in person-hours.
func half(way TrialWay, bags float64, hours ...float64) Half {
	s := hectare()
	for i, h := range hours {
		s.Passes = append(s.Passes, Pass{On: s.Plot.Planted + Day(15+15*i), With: ByTool, Hours: h, People: 1,
			Left: Few})
	}
	return Half{Way: way, Season: s, Bags: bags}
}

func left(h Half, amounts ...Amount) Half {
	for i := range h.Season.Passes {
		h.Season.Passes[i].Left = amounts[i]
	}
	return h
}

func TestCompare(t *testing.T) {
	over := square(20).Planted + 90
	for _, c := range []struct {
		name                 string
		a, b                 Half
		hours, left, harvest Which
	}{
		{"nothing logged", half(ToolAlong, 0), half(HandOnly, 0), NotTold, NotTold, NotTold},
		{"the tool took less", half(ToolAlong, 0, 60, 60), half(HandOnly, 0, 150, 150), AIsLess, CloseToTell, NotTold},
		{"the tool took more", half(ToolBoth, 0, 150, 150), half(HandOnly, 0, 60, 60), BIsLess, CloseToTell, NotTold},
		{"110 and 90 differ by a fifth of their mean", half(ToolAlong, 0, 55, 55), half(ToolBoth, 0, 45, 45),
			CloseToTell, CloseToTell, NotTold},
		{"111 and 90 by more", half(ToolAlong, 0, 55, 56), half(ToolBoth, 0, 45, 45), BIsLess, CloseToTell, NotTold},
		{"one pass more is work too", half(ToolAlong, 0, 50, 50), half(HandOnly, 0, 50), BIsLess, NotTold, NotTold},
		{"one pass did not tell its hours", half(ToolAlong, 0, 60, 0), half(HandOnly, 0, 150, 150), NotTold,
			CloseToTell, NotTold},
		{"harvest close", half(ToolAlong, 100, 60, 60), half(HandOnly, 90, 60, 60), CloseToTell, CloseToTell,
			CloseToTell},
		{"harvest apart", half(ToolAlong, 100, 60, 60), half(HandOnly, 80, 60, 60), CloseToTell, CloseToTell, BIsLess},
		{"harvest of one half only", half(ToolAlong, 100, 60, 60), half(HandOnly, 0, 60, 60), CloseToTell, CloseToTell,
			NotTold},
		{"left cleaner", left(half(ToolBoth, 0, 60, 60), Few, Few), left(half(ToolAlong, 0, 60, 60), Some, Some),
			CloseToTell, AIsLess, NotTold},
		{"half a step is too close", left(half(ToolBoth, 0, 60, 60), Few, Some),
			left(half(ToolAlong, 0, 60, 60), Some, Some), CloseToTell, CloseToTell, NotTold},
		{"one report is too few", left(half(ToolBoth, 0, 60, 60), Few, AmountUnknown),
			left(half(ToolAlong, 0, 60, 60), Many, Many), CloseToTell, NotTold, NotTold},
	} {
		got := Trial{A: c.a, B: c.b}.Compare(over)
		if got.Unlike != Alike || got.SoFar || got.Hours != c.hours || got.Left != c.left || got.Harvest != c.harvest {
			t.Errorf("%s: hours %s, left %s, harvest %s: %+v", c.name, got.Hours, got.Left, got.Harvest, got)
		}
	}
}

func TestHoursAreComparedAtTheEnd(t *testing.T) {
	trial := Trial{A: half(ToolAlong, 0, 60, 60), B: half(HandOnly, 0, 150, 150)}
	if c := trial.Compare(square(20).Planted + 31); !c.SoFar || c.Hours != NotTold || c.A.HoursPerHa != 120 ||
		c.B.HoursPerHa != 300 {
		t.Errorf("%+v", c)
	}
	if c := trial.Compare(square(20).Planted + 16); c.A.Passes != 1 || c.A.HoursPerHa != 60 {
		t.Errorf("on day 16 %+v", c)
	}
}

func TestHalvesThatCannotBeCompared(t *testing.T) {
	over := square(20).Planted + 110
	a := half(ToolAlong, 100, 60, 60)
	for _, c := range []struct {
		name   string
		change func(*Half)
		want   Unlike
	}{
		{"the same way", func(h *Half) { h.Way = ToolAlong }, SameWay},
		{"way not told", func(h *Half) { h.Way = 0 }, SameWay},
		{"sown", func(h *Half) { h.Season.Plot.Method = RowSown }, OtherMethod},
		{"wider rows", func(h *Half) { h.Season.Plot.RowSpacingCM = 25 }, OtherRows},
		{"wider hills", func(h *Half) { h.Season.Plot.HillSpacingCM = 25 }, OtherRows},
		{"hills not told", func(h *Half) { h.Season.Plot.HillSpacingCM = 0 }, Alike},
		{"a week later", func(h *Half) { h.Season.Plot.Planted += 7 }, Alike},
		{"eight days later", func(h *Half) { h.Season.Plot.Planted += 8 }, OtherDays},
	} {
		b := half(HandOnly, 50, 150, 150)
		c.change(&b)
		for _, got := range []Comparison{Trial{A: a, B: b}.Compare(over), Trial{A: b, B: a}.Compare(over)} {
			if got.Unlike != c.want || (got.Harvest == NotTold) != (c.want != Alike) ||
				(got.Hours == NotTold) != (c.want != Alike) {
				t.Errorf("%s: %s, %+v", c.name, got.Unlike, got)
			}
		}
	}
}

func drawHalf(t *rapid.T, s Season) Half {
	s.Passes = nil
	for _, d := range []Day{14, 16, 30, 40} {
		if rapid.IntRange(0, 2).Draw(t, "pass") > 0 {
			s.Passes = append(s.Passes, Pass{On: s.Plot.Planted + d, With: Means(rapid.IntRange(1, 2).Draw(t, "with")),
				Hours: float64(rapid.IntRange(0, 8).Draw(t, "hours")), People: rapid.IntRange(0, 3).Draw(t, "people"),
				Left: Amount(rapid.IntRange(0, int(Many)).Draw(t, "left"))})
		}
	}
	return Half{Way: TrialWay(rapid.IntRange(0, int(HandOnly)).Draw(t, "way")), Season: s,
		Bags: float64(rapid.IntRange(0, 30).Draw(t, "bags"))}
}

func turned(w Which) Which { return [...]Which{NotTold, CloseToTell, BIsLess, AIsLess}[w] }

func TestTrialsAreFairToBothHalves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		trial := Trial{A: drawHalf(t, s), B: drawHalf(t, s)}
		today := s.Plot.Planted + Day(rapid.IntRange(0, 250).Draw(t, "today"))
		c, back := trial.Compare(today), Trial{A: trial.B, B: trial.A}.Compare(today)
		want := Comparison{A: c.B, B: c.A, Unlike: c.Unlike, SoFar: c.SoFar, Hours: turned(c.Hours),
			Left: turned(c.Left), Harvest: turned(c.Harvest)}
		if back != want {
			t.Errorf("turned round\n got %+v\nwant %+v", back, want)
		}
		// If half A has four times the area, work and harvest, the comparison is the same. The factor is a power of
		// two, so there are no rounding errors.
		const k = 4
		big := trial
		big.A.Season.Plot.AreaM2 *= k
		big.A.Bags *= k
		big.A.Season.Passes = append([]Pass(nil), trial.A.Season.Passes...)
		for i := range big.A.Season.Passes {
			big.A.Season.Passes[i].Hours *= k
		}
		wantEqual(t, "on a larger half", big.Compare(today), c)
		// If both halves have the same season and harvest, neither has less in the comparison.
		twin := Trial{A: Half{ToolAlong, trial.A.Season, trial.A.Bags},
			B: Half{HandOnly, trial.A.Season, trial.A.Bags}}.Compare(today)
		for _, w := range []Which{twin.Hours, twin.Left, twin.Harvest} {
			if w == AIsLess || w == BIsLess {
				t.Errorf("the same half twice: %+v", twin)
			}
		}
	})
}

// Passes before the day on which the trial began do not count; if that day is 0, all passes count.
func TestTrialCountsFromItsBeginning(t *testing.T) {
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	s.Plot.AreaM2 = 500
	planted := s.Plot.Planted
	s.Passes = []Pass{{On: planted + 12, With: ByHand, Hours: 20, People: 1, Left: Many},
		{On: planted + 20, With: ByTool, Hours: 3, People: 1, Left: Few}}
	x := Trial{A: Half{Way: ToolAlong, Season: s}, B: Half{Way: HandOnly, Season: s}, Begun: planted + 14}
	if a := x.Compare(planted + 60).A; a.Passes != 1 || a.HoursPerHa != 60 || a.Left != float64(Few) {
		t.Errorf("%+v", a)
	}
	x.Begun = 0
	if a := x.Compare(planted + 60).A; a.Passes != 2 {
		t.Errorf("%+v", a)
	}
}

func TestWhenTwoFiguresDiffer(t *testing.T) {
	for _, c := range []struct {
		a, b float64
		want bool
	}{{19, 21, false}, {20, 22, false}, {20, 22.3, true}, {22.3, 20, true}} {
		wantEqual(t, "%g and %g differ by a tenth", differ(c.a, c.b, 0.1), c.want, c.a, c.b)
	}
	h := Half{Season: Season{Plot: square(25), Passes: []Pass{{On: Date(2026, 7, 20)}}}}
	h.Season.Plot.Planted = Date(2026, 7, 1)
	for from, want := range map[Day]int{Date(2026, 7, 20): 1, Date(2026, 7, 21): 0} {
		wantEqual(t, "from %s: passes", h.side(from, Date(2026, 8, 1)).Passes, want, from)
	}
}
