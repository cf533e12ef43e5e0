package engine

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func hectareOf(row, hill float64, seedlings int) Planting {
	return Planting{LengthM: 100, WidthM: 100, RowCM: row, HillCM: hill, SeedlingsPerHill: seedlings}
}

func TestHillsPerM2(t *testing.T) {
	for _, p := range []Plot{{RowSpacingCM: 20}, {HillSpacingCM: 20}} {
		wantEqual(t, "hills per m2 without a spacing", p.HillsPerM2(), 0)
	}
	for _, c := range []struct {
		row, hill, perM2 float64
		source           string
	}{
		{20, 10, 50, "TNRRI, transplanted hybrid rice (read)"},
		{25, 10, 40, "TNRRI, transplanted hybrid rice (read)"},
		{20, 20, 25, "computed: 10^4/(a b)"},
		{25, 25, 16, "computed"},
		{20, 15, 33.3, "computed"},
		{15, 15, 44.4, "computed; 15x15 and 20x10 are read as 40-50, rkmp"},
		{30, 20, 16.7, "computed"},
		{30, 30, 11.1, "computed"},
		{22.5, 22.5, 19.75, "computed"},
	} {
		plot := Plot{RowSpacingCM: c.row, HillSpacingCM: c.hill}
		wantNear(t, "hills per m2 of a plot, "+c.source, plot.HillsPerM2(), c.perM2, 0.05)
		l := must(hectareOf(c.row, c.hill, 1).Layout())
		if !near(l.HillsPerM2, c.perM2, 0.05) {
			t.Errorf("%gx%g: %g hills a square metre, want %g (%s)", c.row, c.hill, l.HillsPerM2, c.perM2, c.source)
		}
		// The edges of this field change the hills per m2 by at most 1 %.
		wantNear(t, "%gx%g: hills counted per m2", float64(l.Hills)/l.AreaM2, c.perM2, 0.01*c.perM2, c.row, c.hill)
	}
	if l := must(hectareOf(20, 20, 0).Layout()); l.Hills != 250_000 || l.Seedlings != 500_000 {
		t.Errorf("20x20: %d hills and %d seedlings a hectare, want 250000 and 500000 (computed)", l.Hills, l.Seedlings)
	}
}

// FAO-INADES, Better farming series 21 (source read), §43, for one hectare: a nursery of 400 m2, 12 kg of seed per 100
// m2 of nursery, 4 to 5 seedlings per hill at 25x25 cm. This gives 48 kg of seed, 160,000 hills and 720,000 seedlings
// (computed). Its §14 has a larger nursery, 600 m2 for a field of 6000 m2.
func TestFAOBooklet(t *testing.T) {
	four, five := must(hectareOf(25, 25, 4).Layout()), must(hectareOf(25, 25, 5).Layout())
	if four.Hills != 160_000 || five.Hills != 160_000 {
		t.Errorf("%d and %d hills, want 160000", four.Hills, five.Hills)
	}
	wantEqual(t, "seedlings of the mean", (four.Seedlings+five.Seedlings)/2, 720_000)
	if !near(four.NurseryM2Low, 400, 1e-9) || !near(four.NurseryM2High, 1000, 1e-9) {
		t.Errorf("nursery of %g to %g m2, want 400 to 1000", four.NurseryM2Low, four.NurseryM2High)
	}
	wantNear(t, "kg sown in that nursery", four.NurseryM2Low*12/100, 48, 1e-9)
	field := must(Planting{LengthM: 100, WidthM: 60, RowCM: 25, HillCM: 25}.Layout())
	if !near(field.NurseryM2High, 600, 1e-9) {
		t.Errorf("6000 m2: nursery up to %g, want 600", field.NurseryM2High)
	}
	// The 48 kg/ha of the booklet are between the lowest and the highest seed rate of other publications.
	if four.PublishedLowKG > 48 || four.PublishedHighKG < 48 {
		t.Errorf("48 kg/ha is not within %g to %g", four.PublishedLowKG, four.PublishedHighKG)
	}
}

func TestSeed(t *testing.T) {
	// Computed by hand: 250,000 hills x 2 seedlings x 25 g a thousand / (10^6 x 0.80 germination x 0.85 establishment)
	// = 18.4 kg/ha.
	l := must(hectareOf(20, 20, 2).Layout())
	if !near(l.SeedKG, 18.4, 0.05) || !near(l.SeedKGPerHa, 18.4, 0.05) {
		t.Errorf("%.2f kg, %.2f kg/ha, want 18.4", l.SeedKG, l.SeedKGPerHa)
	}
	told := hectareOf(20, 20, 2)
	told.GrainMG, told.Germination, told.Establishment = 25, 0.80, 0.85
	wantEqual(t, "told what is usual", must(told.Layout()), l)
	// Yoshida 1981, p. 63 (source read): a thousand grains of a fine-grained rice weigh 19.4 g.
	told.GrainMG = 19.4
	wantNear(t, "grains of 19.4 mg: kg", must(told.Layout()).SeedKG, l.SeedKG*19.4/25, 1e-9)
	told.Germination, told.Establishment = 1, 1
	wantNear(t, "every grain stands: kg", must(told.Layout()).SeedKG, 9.7, 1e-9)
}

func TestSeedWarning(t *testing.T) {
	for _, c := range []struct {
		name      string
		row, hill float64
		seedlings int
		grain     float64
		want      SeedWarning
	}{
		{"20x20, two", 20, 20, 2, 0, SeedUsual},
		{"TNAU: 25x25, one, 7-8 kg/ha", 25, 25, 1, 0, SeedUsual},
		{"TNAU: 25x25, two, 12-15 kg/ha", 25, 25, 2, 0, SeedUsual},
		{"TNRRI: hybrid 20x10, one, 20 kg/ha", 20, 10, 1, 0, SeedUsual},
		{"DRD Patna: 20x30, three, 30-50 kg/ha", 20, 30, 3, 0, SeedUsual},
		{"FAO: 25x25, five", 25, 25, 5, 0, SeedUsual},
		{"40x40, one: 3.4 for 7", 40, 40, 1, 0, SeedFarBelow},
		{"40x40, two: 4.6 for 12", 40, 40, 2, 0, SeedFarBelow},
		{"30x30, three: 12.3 for 20", 30, 30, 3, 0, SeedFarBelow},
		{"10x10, one: 36.8 for 15", 10, 10, 1, 0, SeedFarAbove},
		{"10x10, three: 110 for 50", 10, 10, 3, 0, SeedFarAbove},
		{"15x10, three, heavy grain", 15, 10, 3, 30, SeedFarAbove},
	} {
		p := hectareOf(c.row, c.hill, c.seedlings)
		p.GrainMG = c.grain
		if l := must(p.Layout()); l.SeedWarning != c.want {
			t.Errorf("%s: %.1f kg/ha is %s, want %s", c.name, l.SeedKGPerHa, l.SeedWarning, c.want)
		}
	}
}

func TestMarkedString(t *testing.T) {
	// A field of 30 m by 8 m, with rows 25 cm apart along the long side and hills 20 cm apart.
	p := Planting{LengthM: 30, WidthM: 8, RowCM: 25, HillCM: 20}
	l := must(p.Layout())
	if !l.StringAcross || l.StringM != 8 || l.MarkEveryCM != 25 || l.Marks != 32 || l.MoveCM != 20 || l.Moves != 150 {
		t.Errorf("across: %+v", l)
	}
	if l.Rows != 32 || l.HillsPerRow != 150 || !near(l.WalkKM, 0.96, 1e-9) {
		t.Errorf("%d rows of %d, %g km", l.Rows, l.HillsPerRow, l.WalkKM)
	}
	// The same field with the rows along its short side.
	l = must(Planting{LengthM: 8, WidthM: 30, RowCM: 25, HillCM: 20}.Layout())
	if l.StringAcross || l.StringM != 8 || l.MarkEveryCM != 20 || l.Marks != 40 || l.MoveCM != 25 || l.Moves != 120 {
		t.Errorf("along: %+v", l)
	}
	l = must(Planting{LengthM: 50, WidthM: 50, RowCM: 25, HillCM: 20}.Layout())
	if l.StringAcross || l.MarkEveryCM != 20 {
		t.Errorf("a square field: %+v", l)
	}
	// In a float64, 0.3/0.1 is a little less than 3; without rounding to millimetres a row would lose its last hill.
	if l := must(Planting{LengthM: 0.3, WidthM: 1.2, RowCM: 20, HillCM: 10}.Layout()); l.Rows != 6 ||
		l.HillsPerRow != 3 {
		t.Errorf("%d rows of %d, want 6 of 3", l.Rows, l.HillsPerRow)
	}
	// If the rows fill the field exactly, Layout and FitOf give the same walking distance.
	fit := FitOf(Plot{Method: Transplanted, RowSpacingCM: 25, HillSpacingCM: 20, AreaM2: 240}, Tool{})
	if l := must(p.Layout()); !near(l.WalkKM, fit.WalkKM, 1e-9) || l.HillsPerM2 != fit.HillsPerM2 {
		t.Errorf("%g km and %g hills, the fit says %g and %g", l.WalkKM, l.HillsPerM2, fit.WalkKM, fit.HillsPerM2)
	}
}

func TestPlantingThatCannotBe(t *testing.T) {
	good := Planting{LengthM: 30, WidthM: 8, RowCM: 25, HillCM: 20, SeedlingsPerHill: 2, GrainMG: 25, Germination: 0.8,
		Establishment: 0.85}
	must(good.Layout())
	for _, c := range []struct {
		says string
		with func(*Planting)
	}{
		{"rows of 0 m", func(p *Planting) { p.LengthM = 0 }},
		{"rows of NaN m", func(p *Planting) { p.LengthM = math.NaN() }},
		{"a field 0 m wide is not between", func(p *Planting) { p.WidthM = 0 }},
		{"-3 m wide", func(p *Planting) { p.WidthM = -3 }},
		{"+Inf m wide", func(p *Planting) { p.WidthM = math.Inf(1) }},
		{"4e+06 m2 is more than 1000000", func(p *Planting) { p.LengthM, p.WidthM = 2000, 2000 }},
		{"row spacing 2 cm", func(p *Planting) { p.RowCM = 2 }},
		{"hill spacing 120 cm", func(p *Planting) { p.HillCM = 120 }},
		{"no room for a row", func(p *Planting) { p.WidthM = 0.2 }},
		{"no room for a hill", func(p *Planting) { p.LengthM = 0.1 }},
		{"13 seedlings", func(p *Planting) { p.SeedlingsPerHill = 13 }},
		{"-1 seedlings", func(p *Planting) { p.SeedlingsPerHill = -1 }},
		{"grain of 2 mg", func(p *Planting) { p.GrainMG = 2 }},
		{"germination 80", func(p *Planting) { p.Germination = 80 }},
		{"establishment 0.01", func(p *Planting) { p.Establishment = 0.01 }},
	} {
		p := good
		c.with(&p)
		l, err := p.Layout()
		if err == nil || !strings.Contains(err.Error(), c.says) || l != (Layout{}) {
			t.Errorf("%q: %v, %+v", c.says, err, l)
		}
	}
}

func TestLayoutsHoldTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Planting{
			LengthM:          float64(rapid.IntRange(10, 3000).Draw(t, "dm long")) / 10,
			WidthM:           float64(rapid.IntRange(10, 3000).Draw(t, "dm wide")) / 10,
			RowCM:            float64(rapid.IntRange(10, 120).Draw(t, "half cm of row")) / 2,
			HillCM:           float64(rapid.IntRange(10, 120).Draw(t, "half cm of hill")) / 2,
			SeedlingsPerHill: rapid.IntRange(0, MaxSeedlingsPerHill).Draw(t, "seedlings"),
		}
		l := must(p.Layout())
		const rounding = 1e-6
		if w := float64(l.Rows) * p.RowCM / 100; w > p.WidthM+rounding || w+p.RowCM/100 < p.WidthM-rounding {
			t.Errorf("%d rows of %g cm on %g m", l.Rows, p.RowCM, p.WidthM)
		}
		if w := float64(l.HillsPerRow) * p.HillCM / 100; w > p.LengthM+rounding || w+p.HillCM/100 < p.LengthM-rounding {
			t.Errorf("%d hills of %g cm in %g m", l.HillsPerRow, p.HillCM, p.LengthM)
		}
		if l.Hills != l.Rows*l.HillsPerRow || l.Marks*l.Moves != l.Hills {
			t.Errorf("%d hills: %d rows of %d, %d marks laid %d times", l.Hills, l.Rows, l.HillsPerRow, l.Marks,
				l.Moves)
		}
		if float64(l.Hills) > l.HillsPerM2*l.AreaM2*(1+rounding) {
			t.Errorf("%d hills, and the spacing has room for %g", l.Hills, l.HillsPerM2*l.AreaM2)
		}
		if l.StringM != min(p.LengthM, p.WidthM) || l.NurseryM2Low > l.NurseryM2High ||
			l.SeedKG > l.SeedKGPerHa*l.AreaM2/1e4*(1+rounding) {
			t.Errorf("%+v", l)
		}
		more := p
		more.SeedlingsPerHill = min(MaxSeedlingsPerHill, l.Seedlings/l.Hills+1)
		if m, err := more.Layout(); err != nil || m.SeedKG < l.SeedKG {
			t.Errorf("%g kg with more seedlings a hill, %g before; %v", m.SeedKG, l.SeedKG, err)
		}
	})
}

func TestSpacingFor(t *testing.T) {
	for _, c := range []struct {
		name                string
		tool                Tool
		smallest, low, high float64
	}{
		{"common practice: a 15 cm tool needs rows of at least 20", Tool{WidthCM: 15}, 20, 20, 25},
		{"from 15 to 20", Tool{WidthCM: 15, MaxWidthCM: 20}, 20, 20, 25},
		{"12 cm leaves too much in rows over 22", Tool{WidthCM: 12}, 17, 20, 22},
		{"from 10 to 20", Tool{WidthCM: 10, MaxWidthCM: 20}, 15, 20, 25},
		{"10 cm", Tool{WidthCM: 10}, 15, 20, 20},
		{"18 cm", Tool{WidthCM: 18}, 23, 23, 25},
		{"20 cm: 25 and no wider", Tool{WidthCM: 20}, 25, 25, 25},
		{"a broad one: as narrow as it can pass", Tool{WidthCM: 25}, 30, 30, 30},
		{"a small one never suits 20", Tool{WidthCM: 8}, 13, 13, 18},
	} {
		smallest, low, high, ok := SpacingFor(c.tool)
		if !ok || smallest != c.smallest || low != c.low || high != c.high {
			t.Errorf("%s: %g, %g to %g, %t; want %g, %g to %g", c.name, smallest, low, high, ok, c.smallest, c.low,
				c.high)
		}
	}
	for _, tool := range []Tool{{}, {WidthCM: 2}, {WidthCM: 15, MaxWidthCM: 12}, {WidthCM: math.NaN()}} {
		if _, _, _, ok := SpacingFor(tool); ok {
			t.Errorf("%+v has rows", tool)
		}
	}
}

func TestSpacingForFits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tool := drawTool(t)
		smallest, low, high, ok := SpacingFor(tool)
		if ok == tool.None() {
			t.Fatalf("%+v: %t", tool, ok)
		}
		if !ok {
			return
		}
		at := func(row float64) Verdict { return FitOf(Plot{Method: Transplanted, RowSpacingCM: row}, tool).Verdict }
		if smallest > low || low > high || at(low) != FitGood || at(high) != FitGood || at(smallest-1) != FitTooWide {
			t.Errorf("%+v: %g, %g to %g: %s, %s, %s", tool, smallest, low, high, at(smallest-1), at(low), at(high))
		}
	})
}
