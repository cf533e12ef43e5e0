package engine

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestOrder(t *testing.T) {
	for _, c := range []struct {
		name           string
		rows           []float64
		soil           Soil
		from, to       float64
		adjustable     bool
		rowFrom, rowTo float64
	}{
		// Common practice, no source: a tool for rows of 20 cm is 15 cm wide; in heavy clay its teeth are far apart.
		{"rows of 20", []float64{20}, SoilMedium, 15, 15, false, 20, 25},
		{"rows of 25 in clay", []float64{25}, SoilHeavy, 20, 20, false, 25, 30},
		{"rows of 20 to 25: one width does", []float64{25, 20, 22}, SoilUnknown, 15, 15, false, 20, 25},
		{"rows of 20 and 30", []float64{30, 20}, SoilLight, 15, 25, true, 20, 35},
		{"the narrowest", []float64{15}, SoilMedium, 10, 10, false, 15, 20},
		{"wider than a tool is pushed", []float64{50}, SoilMedium, 30, 30, false, 35, 40},
		{"narrow and very wide", []float64{20, 50}, SoilMedium, 15, 30, true, 20, 40},
	} {
		got, err := OrderOf(c.rows, c.soil, []float64{160})
		if err != nil || !near(got.WidthFromCM, c.from, 1e-9) || !near(got.WidthToCM, c.to, 1e-9) ||
			got.Adjustable != c.adjustable ||
			!near(got.SmallestRowCM, c.rowFrom, 1e-9) || !near(got.LargestRowCM, c.rowTo, 1e-9) {
			t.Errorf("%s: %+v, %v", c.name, got, err)
		}
		if got.WideTeeth != (c.soil == SoilHeavy) {
			t.Errorf("%s: wide teeth %t in %s soil", c.name, got.WideTeeth, c.soil)
		}
		if h := HandleFor([]float64{160}); got.HandleFromCM != h.FromCM || got.HandleToCM != h.ToCM ||
			got.HandleAdjustable != h.Adjustable {
			t.Errorf("%s: handle %+v, want %+v", c.name, got, h)
		}
	}
}

func TestOrderRefused(t *testing.T) {
	for _, c := range []struct {
		name           string
		rows, statures []float64
		want           string
	}{
		{"no rows", nil, nil, "no row spacing"},
		{"too narrow for any tool", []float64{25, 12}, nil,
			"rows of 12 cm leave 7 cm for a tool, and none under 10 cm is of use"},
		{"the narrowest rows", []float64{5}, nil, "rows of 5 cm leave 0 cm"},
		{"metres", []float64{0.25}, nil, "row spacing 0.25 cm is not between"},
		{"not a number", []float64{math.NaN()}, nil, "row spacing NaN cm"},
		{"a child", []float64{25}, []float64{160, 90}, "a height of 90 cm is not between 120 and 220"},
	} {
		got, err := OrderOf(c.rows, SoilMedium, c.statures)
		if err == nil || !strings.Contains(err.Error(), c.want) || got != (Order{}) {
			t.Errorf("%s: %v with %+v, want %q", c.name, err, got, c.want)
		}
	}
	if _, err := OrderOf(nil, SoilMedium, nil); !errors.Is(err, ErrNoRows) {
		t.Errorf("%v is not ErrNoRows", err)
	}
}

func TestTheToolOrderedFitsTheRows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.Float64Range(NarrowestMadeCM+2*SideClearanceCM, 60), 1, 4).Draw(t, "rows")
		o := must(OrderOf(rows, SoilMedium, nil))
		tool := o.Tool()
		if err := tool.Validate(); err != nil || tool.Adjustable() != o.Adjustable {
			t.Fatalf("%+v: %v", o, err)
		}
		for _, row := range rows {
			f := FitOf(Plot{Method: Transplanted, RowSpacingCM: row}, tool)
			want := FitGood
			if row > o.LargestRowCM {
				want = FitLoose
			}
			// For rows exactly at a limit, the verdict depends on rounding errors and is not checked.
			edge := near(row, o.SmallestRowCM, 1e-9) || near(row, o.LargestRowCM, 1e-9)
			if f.Verdict != want && !edge {
				t.Errorf("rows of %g cm with %+v: %s", row, tool, f.Verdict)
			}
		}
		if widest := slices.Max(rows); widest <= WidestPushedCM+2*LooseClearanceCM && widest > o.LargestRowCM+1e-9 {
			t.Errorf("rows of %g cm are too wide for %+v", widest, o)
		}
	})
}

func TestEveryTroubleHasCures(t *testing.T) {
	used := map[Cure]bool{}
	for i, trouble := range Troubles() {
		if int(trouble) != i+1 || strings.HasSuffix(trouble.String(), "?") {
			t.Errorf("trouble %d is %s", i+1, trouble)
		}
		cures := Cures(trouble)
		if len(cures) < 2 || len(cures) > 5 {
			t.Errorf("%s has %d cures, which is not a screen's worth", trouble, len(cures))
		}
		for j, c := range cures {
			if slices.Contains(cures[:j], c) {
				t.Errorf("%s twice for %s", c, trouble)
			}
			used[c] = true
		}
		if slices.Contains(cures, LowerFloat) && slices.Contains(cures, RaiseFloat) ||
			slices.Contains(cures, LowerHandle) && slices.Contains(cures, RaiseHandle) {
			t.Errorf("%s: up and down at once: %v", trouble, cures)
		}
	}
	for c := LowerFloat; c <= StopWithPlant; c++ {
		if !used[c] || strings.HasSuffix(c.String(), "?") {
			t.Errorf("%s cures nothing", c)
		}
	}
	if Cures(0) != nil || Cures(DamagesPlants+1) != nil {
		t.Error("no trouble has cures")
	}
}
