package engine

import (
	"testing"

	"pgregory.net/rapid"
)

func square(cm float64) Plot {
	return Plot{Method: Transplanted, Planted: Date(2026, 7, 1), RowSpacingCM: cm, HillSpacingCM: cm}
}

func TestToolAgainstRows(t *testing.T) {
	// Common practice, no source: the tool needs 2.5 cm free on each side, so a tool of 15 cm needs rows of 20 cm.
	// Usual rows are 20 to 25 cm wide.
	for _, c := range []struct {
		name    string
		plot    Plot
		tool    Tool
		verdict Verdict
		width   float64
		free    float64 // each side
	}{
		{"a 15 cm tool in rows of 20", square(20), Tool{WidthCM: 15}, FitGood, 15, 2.5},
		{"a 15 cm tool in rows of 19.9", square(19.9), Tool{WidthCM: 15}, FitTooWide, 15, 2.45},
		{"a 20 cm tool in rows of 20", square(20), Tool{WidthCM: 20}, FitTooWide, 20, 0},
		{"a 20 cm tool in rows of 25", square(25), Tool{WidthCM: 20}, FitGood, 20, 2.5},
		{"a 15 cm tool in rows of 25 leaves 5 cm", square(25), Tool{WidthCM: 15}, FitGood, 15, 5},
		{"a 15 cm tool in rows of 30 leaves too much", square(30), Tool{WidthCM: 15}, FitLoose, 15, 7.5},
		{"adjustable, set to the rows", square(25), Tool{WidthCM: 14, MaxWidthCM: 22}, FitGood, 20, 2.5},
		{"adjustable, narrowest setting just clears", square(19), Tool{WidthCM: 14, MaxWidthCM: 22}, FitGood, 14, 2.5},
		{"adjustable, narrowest setting too wide", square(18), Tool{WidthCM: 14, MaxWidthCM: 22}, FitTooWide, 14, 2},
		{"adjustable, widest setting", square(30), Tool{WidthCM: 14, MaxWidthCM: 22}, FitGood, 22, 4},
		{"adjustable, rows wider than it weeds", square(40), Tool{WidthCM: 14, MaxWidthCM: 22}, FitLoose, 22, 9},
		{"no tool yet", square(20), Tool{}, FitUnknown, 0, 0},
		{"scattered rice", Plot{Method: Broadcast, RowSpacingCM: 25}, Tool{WidthCM: 15}, FitNoRows, 0, 0},
		{"rows not told", Plot{Method: RowSown}, Tool{WidthCM: 15}, FitUnknown, 0, 0},
	} {
		got := FitOf(c.plot, c.tool)
		if got.Verdict != c.verdict || !near(got.WidthCM, c.width, 1e-9) || !near(got.ClearanceCM, c.free, 1e-9) {
			t.Errorf("%s: %s, width %g, free %g; want %s, %g, %g", c.name, got.Verdict, got.WidthCM, got.ClearanceCM,
				c.verdict, c.width, c.free)
		}
		if hand := got.Hand(); hand != (c.verdict == FitTooWide || c.verdict == FitNoRows) {
			t.Errorf("%s: by hand %t", c.name, hand)
		}
	}
}

func TestToolAcross(t *testing.T) {
	// Common practice, no source: in square planting the tool can pass both along and across the rows.
	for _, c := range []struct {
		name          string
		row, hill     float64
		square, cross bool
		once, crossed float64 // share of the ground that the tool weeds, computed by hand
	}{
		{"20 by 20", 20, 20, true, true, 0.75, 1 - 0.25*0.25},
		{"25 by 25", 25, 25, true, true, 0.6, 1 - 0.4*0.4},
		{"25 by 23 is square enough", 25, 23, true, true, 0.6, 1 - 0.4*(1-15.0/23)},
		{"25 by 22 is not", 25, 22, false, false, 0.6, 0},
		{"20 by 18 is square, too narrow across", 20, 18, true, false, 0.75, 0},
		{"20 by 10", 20, 10, false, false, 0.75, 0},
		{"hills not told", 20, 0, false, false, 0.75, 0},
	} {
		p := Plot{Method: Transplanted, RowSpacingCM: c.row, HillSpacingCM: c.hill}
		got := FitOf(p, Tool{WidthCM: 15})
		if got.Square != c.square || got.CrossFits != c.cross {
			t.Errorf("%s: square %t, across %t", c.name, got.Square, got.CrossFits)
		}
		if !near(got.SweptOnce, c.once, 1e-9) || !near(got.SweptCrossed, c.crossed, 1e-9) {
			t.Errorf("%s: swept %g once, %g crossed; want %g, %g", c.name, got.SweptOnce, got.SweptCrossed, c.once,
				c.crossed)
		}
	}
	// Along rows of 25 cm the tool is set to 20 cm; across, between hills of 23 cm, to 18 cm.
	wide := Plot{Method: Transplanted, RowSpacingCM: 25, HillSpacingCM: 23}
	crossed := FitOf(wide, Tool{WidthCM: 10, MaxWidthCM: 20}).SweptCrossed
	wantNear(t, "swept crossed by an adjustable tool", crossed, 1-0.2*(1-18.0/23), 1e-9)
	sown := FitOf(Plot{Method: RowSown, RowSpacingCM: 20, HillSpacingCM: 20}, Tool{WidthCM: 15})
	if sown.Square || sown.CrossFits {
		t.Error("sown rice stands in rows one way only")
	}
}

func TestWalk(t *testing.T) {
	// Computed by hand: the walk over one hectare is 10,000 m2 / row spacing. A plot of 40 x 25 m with rows of 20 cm
	// has 125 rows of 40 m, so the walk is 5 km.
	for _, c := range []struct{ row, area, perHa, km float64 }{
		{20, 1000, 50, 5.0}, {25, 10_000, 40, 40}, {30, 600, 33.33, 2}, {25, 0, 40, 0},
	} {
		got := FitOf(Plot{Method: Transplanted, RowSpacingCM: c.row, AreaM2: c.area}, Tool{})
		if !near(got.WalkKMPerHa, c.perHa, 0.005) || !near(got.WalkKM, c.km, 1e-9) {
			t.Errorf("rows of %g cm, %g m2: %g km/ha, %g km; want %g, %g", c.row, c.area, got.WalkKMPerHa, got.WalkKM,
				c.perHa, c.km)
		}
	}
}

func TestFieldCapacity(t *testing.T) {
	for _, c := range []struct {
		name                   string
		speed, width, eff, haH float64
	}{
		// Published in the IASRI farm machinery course, lesson on field capacity.
		{"harrow, 5 x 20 cm", 5, 1, 0.80, 0.4},
		{"plough", 4, 0.9, 0.70, 0.252},
		// Computed by hand.
		{"push weeder, 15 cm", 2, 0.15, 0.6, 0.018},
		{"push weeder, 20 cm", 1.5, 0.20, 0.7, 0.021},
		// A paper on a motor weeder (https://www.scribd.com/document/450430066/4-10-48-792) gives 0.065 ha/h for two
		// rows, which is 0.0325 ha/h for one row.
		{"powered weeder, one row of two", 1.65, 0.25, 0.789, 0.0325},
	} {
		wantNear(t, "%s: ha/h", FieldCapacity(c.speed, c.width, c.eff), c.haH, 5e-5, c.name)
	}
}

func TestHoursAreInThePublishedRange(t *testing.T) {
	// Published capacities are 42 to 106 hours a hectare: Shirsat et al. 2016 (Agriculture Update 11(2):154-157) have
	// 0.0094-0.0133 ha/h, Zongo et al. (Burkina Faso) 0.014-0.024 ha/h.
	for _, row := range []float64{20, 22.5, 25, 30} {
		got := FitOf(Plot{Method: Transplanted, RowSpacingCM: row, HillSpacingCM: row, AreaM2: 1e4}, Tool{WidthCM: 15})
		if got.HoursPerHa < 1/0.024 || got.HoursPerHa > 1/0.0094 {
			t.Errorf("rows of %g cm: %.0f h/ha", row, got.HoursPerHa)
		}
		if !near(got.Hours, got.HoursPerHa, 1e-9) || !near(got.HoursCrossed, 2*got.Hours, 1e-9) {
			t.Errorf("rows of %g cm: %g h once, %g crossed over a hectare of %g h/ha", row, got.Hours,
				got.HoursCrossed, got.HoursPerHa)
		}
	}
}

func TestFitProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPlot(t)
		tool := drawTool(t)
		f := FitOf(p, tool)
		for _, share := range []float64{f.SweptOnce, f.SweptCrossed} {
			if share < 0 || share > 1 {
				t.Errorf("sweeps %g of the ground", share)
			}
		}
		if f.CrossFits && (!f.Square || f.SweptCrossed < f.SweptOnce) {
			t.Errorf("crossing sweeps less: %+v", f)
		}
		if (f.Verdict == FitGood || f.Verdict == FitLoose) && f.ClearanceCM < SideClearanceCM-1e-9 {
			t.Errorf("only %g cm free on each side: %+v", f.ClearanceCM, f)
		}
		if tool.None() {
			return
		}
		// A tool that is not too wide for some rows is not too wide for wider rows.
		wider := p
		wider.RowSpacingCM++
		if !f.Hand() && FitOf(wider, tool).Hand() {
			t.Errorf("fits rows of %g cm and not wider ones", p.RowSpacingCM)
		}
	})
}
