package engine

import (
	"testing"

	"pgregory.net/rapid"
)

func TestHandleHeight(t *testing.T) {
	// The first two statures are the published means of 604 men and of 316 women of central India
	// (https://core.ac.uk/works/145361188). The heights are computed by hand with the factors of Drillis & Contini 1966
	// (as quoted by Winter) and of Gite & Yadav 1990.
	for _, c := range []struct{ stature, elbow, shoulder, from, to float64 }{
		{164.6, 103.7, 134.6, 94, 108},
		{151.2, 95.3, 123.7, 87, 99},
		{160.0, 100.8, 130.9, 92, 105},
	} {
		from, to := HandleHeightCM(c.stature)
		if !near(from, c.from, 0.5) || !near(to, c.to, 0.5) {
			t.Errorf("%g cm tall: handle %g to %g cm, want %g to %g", c.stature, from, to, c.from, c.to)
		}
		if e, s := ElbowHeightCM(c.stature), ShoulderHeightCM(c.stature); !near(e, c.elbow, 0.05) ||
			!near(s, c.shoulder, 0.06) {
			t.Errorf("%g cm tall: elbow %g, shoulder %g, want %g and %g", c.stature, e, s, c.elbow, c.shoulder)
		}
		// The ratio of the factors of Drillis & Contini 1966 is 0.630/0.818 = 0.77.
		wantNear(t, "elbow to shoulder", ElbowHeightCM(c.stature)/ShoulderHeightCM(c.stature), 0.77, 0.005)
	}
}

func TestHandleForSeveral(t *testing.T) {
	for _, c := range []struct {
		name     string
		statures []float64
		from, to float64
		moves    bool
	}{
		{"one", []float64{160}, 91.6, 104.7, false},
		{"a woman and a man", []float64{164.6, 151.2}, 94.25, 98.95, false},
		{"nobody told", nil, 94.25, 98.95, false},
		// The ranges of 140 cm and 190 cm do not overlap, so the handle is adjustable from the middle of the one range
		// to the middle of the other: 0.75 x 0.818 x stature.
		{"very short and very tall", []float64{190, 140, 165}, 85.89, 116.57, true},
	} {
		got := HandleFor(c.statures)
		if !near(got.FromCM, c.from, 0.05) || !near(got.ToCM, c.to, 0.05) || got.Adjustable != c.moves {
			t.Errorf("%s: %+v, want %g to %g, %t", c.name, got, c.from, c.to, c.moves)
		}
	}
}

func TestHandleSuitsEverybody(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		statures := rapid.SliceOfN(rapid.Float64Range(MinStatureCM, MaxStatureCM), 1, 6).Draw(t, "statures")
		h := HandleFor(statures)
		if h.FromCM > h.ToCM {
			t.Fatalf("%+v", h)
		}
		for _, s := range statures {
			from, to := HandleHeightCM(s)
			switch {
			case !h.Adjustable && (h.FromCM < from-1e-9 || h.ToCM > to+1e-9):
				t.Errorf("fixed between %g and %g suits not all of %v", h.FromCM, h.ToCM, statures)
			case h.Adjustable && (h.ToCM < from || h.FromCM > to):
				t.Errorf("moving from %g to %g suits not all of %v", h.FromCM, h.ToCM, statures)
			}
		}
	})
}

func TestEffort(t *testing.T) {
	// Remesan et al. published the energy of weeding in Kerala in kJ/min; the watts are computed by hand.
	for _, c := range []struct {
		labour     Labour
		name       string
		men, women float64
	}{
		{PushingRotary, "rotary weeder", 441.7, 300},
		{PushingCone, "cone weeder", 400, 250},
		{PullingByHand, "by hand", 267, 158},
		{0, "0?", 0, 0},
	} {
		if m, w := c.labour.MenW(), c.labour.WomenW(); !near(m, c.men, 0.5) || !near(w, c.women, 0.5) {
			t.Errorf("%s: men %g W, women %g W", c.labour, m, w)
		}
		if c.labour.String() != c.name {
			t.Errorf("%q, want %q", c.labour, c.name)
		}
	}
}

func TestHeatLimit(t *testing.T) {
	// NIOSH 2016-106, section 8.1, prints the limits 29.45 °C (234 W) and 27.46 °C (349 W); the other limits are
	// computed by hand with its formulas. Its Table 5-1 is not checked, because it has whole degrees.
	for _, c := range []struct{ watts, rel, ral float64 }{
		{180, 30.76, 28.10}, {234, 29.45, 26.49}, {300, 28.21, 24.97}, {349, 27.46, 24.05}, {415, 26.59, 22.99},
		{520, 25.47, 21.60},
	} {
		if rel, ral := HeatLimitC(c.watts, true), HeatLimitC(c.watts, false); !near(rel, c.rel, 0.0051) ||
			!near(ral, c.ral, 0.0051) {
			t.Errorf("%g W: %.3f and %.3f °C, want %g and %g", c.watts, rel, ral, c.rel, c.ral)
		}
	}
	// Computed by hand: acclimatized men may push a rotary weeder up to 26.3 °C, women up to 28.2 °C.
	if men, women := HeatLimitC(PushingRotary.MenW(), true),
		HeatLimitC(PushingRotary.WomenW(), true); !near(men, 26.3, 0.05) || !near(women, 28.2, 0.05) {
		t.Errorf("men %g °C, women %g °C", men, women)
	}
}

func TestHeatShare(t *testing.T) {
	// The shares are computed by hand with the formula of HeatShare and 115 W at rest.
	men, women := PushingRotary.MenW(), PushingRotary.WomenW()
	for _, c := range []struct{ wbgt, watts, share float64 }{
		{28, men, 0.61}, {28, women, 1}, {30, men, 0.29}, {30, women, 0.51}, {20, men, 1}, {40, women, 0},
	} {
		wantNear(t, "%g °C, %.0f W: share of the hour", HeatShare(c.wbgt, c.watts), c.share, 0.005, c.wbgt, c.watts)
	}
	rapid.Check(t, func(t *rapid.T) {
		wbgt, watts := rapid.Float64Range(10, 45).Draw(t, "wbgt"), rapid.Float64Range(RestW, 600).Draw(t, "watts")
		share, hotter, harder := HeatShare(wbgt, watts), HeatShare(wbgt+0.5, watts), HeatShare(wbgt, watts+20)
		if share < 0 || share > 1 || hotter > share || harder > share {
			t.Errorf("%g °C, %g W: %g; hotter %g, harder %g", wbgt, watts, share, hotter, harder)
		}
		if limit := HeatLimitC(watts, true); wbgt < limit-1e-9 && share != 1 ||
			limit < HeatLimitC(watts, false) && watts > RestW {
			t.Errorf("limit %g °C, and %g of the hour at %g °C", limit, share, wbgt)
		}
	})
}
