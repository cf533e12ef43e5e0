package engine

import (
	"testing"

	"pgregory.net/rapid"
)

// In hectare the first window is day 12 to 15; after a pass that left few weeds, the next is 12 to 15 days later.
func TestWeedings(t *testing.T) {
	tool := func(on Day, hours float64, people int) Pass {
		return Pass{On: on, With: ByTool, Hours: hours, People: people, Left: Few}
	}
	hand := func(on Day) Pass { return Pass{On: on, With: ByHand, Hours: 50, People: 4, Left: Few} }
	half := func(p Pass) Pass { p.Share = 0.5; return p }
	both := tool(13, 60, 2)
	both.Way = Both
	planted := square(20).Planted
	weeding := func(on Day, with Means, fell Fell, perHa float64) Weeding {
		return Weeding{planted + on, with, fell, perHa}
	}
	for _, c := range []struct {
		name   string
		passes []Pass
		want   []Weeding
	}{
		{"none", nil, nil},
		{"the first and the last day", []Pass{tool(12, 30, 2), tool(27, 0, 0)},
			[]Weeding{weeding(12, ByTool, FellInside, 60), weeding(27, ByTool, FellInside, 0)}},
		{"a day early and a day late", []Pass{tool(11, 0, 0), tool(27, 0, 0)},
			[]Weeding{weeding(11, ByTool, FellEarly, 0), weeding(27, ByTool, FellLate, 0)}},
		{"the tool before the plants have rooted", []Pass{tool(9, 0, 0)}, []Weeding{weeding(9, ByTool, FellEarly, 0)}},
		{"after the season of the tool", []Pass{tool(75, 0, 0)}, []Weeding{weeding(75, ByTool, FellNoWindow, 0)}},
		{"pulled behind the tool", []Pass{tool(13, 0, 0), hand(16)},
			[]Weeding{weeding(13, ByTool, FellInside, 0), weeding(16, ByHand, FellBehind, 200)}},
		{"by hand alone", []Pass{hand(13)}, []Weeding{weeding(13, ByHand, FellInside, 200)}},
		{"along and across are two runs", []Pass{both}, []Weeding{weeding(13, ByTool, FellInside, 60)}},
		// 20 h of two people on one half and 10 h of two on the other are 60 h on the hectare.
		{"two halves are one weeding", []Pass{half(tool(12, 20, 2)), half(tool(14, 10, 2))},
			[]Weeding{weeding(14, ByTool, FellInside, 60)}},
		{"half of it alone: hours for half a hectare", []Pass{half(tool(12, 20, 2))},
			[]Weeding{weeding(12, ByTool, FellInside, 80)}},
		{"the other half late", []Pass{half(tool(14, 20, 2)), half(tool(17, 0, 0))},
			[]Weeding{weeding(14, ByTool, FellInside, 0)}},
	} {
		got := must(hectare(c.passes...).Weedings(planted + 80))
		if len(got) != len(c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
			continue
		}
		for i, w := range c.want {
			wantNear(t, "%s: hours per hectare", got[i].HoursPerHa, w.HoursPerHa, 1e-9, c.name)
			got[i].HoursPerHa = w.HoursPerHa
			wantEqual(t, "%s: weeding %d", got[i], w, c.name, i+1)
		}
	}
	later := hectare(tool(13, 0, 0))
	wantEqual(t, "weedings before the pass", len(must(later.Weedings(planted+12))), 0)
	later.Plot.AreaM2 = 0
	later.Plot.RowSpacingCM = 0
	if _, err := later.Weedings(planted); err == nil {
		t.Error("a plot that cannot be has weedings")
	}
}

// The weedings are the passes of Summary, and those inside are its passes in the window.
func TestWeedingsAgreeWithSummary(t *testing.T) {
	inside, behind := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		for i := range s.Passes {
			s.Passes[i].Share = rapid.SampledFrom([]float64{0, 0, 0.5, 1.0 / 3}).Draw(t, "share")
		}
		today := drawDay(t, s)
		sum, list := s.Summary(today), must(s.Weedings(today))
		wantEqual(t, "weedings", len(list), sum.Passes)
		n, pulled := 0, 0
		for i, w := range list {
			if w.On > today || w.On < s.Plot.Planted || i > 0 && w.On < list[i-1].On {
				t.Fatalf("on %s: %+v", today, list)
			}
			switch w.Fell {
			case FellInside:
				n++
			case FellBehind:
				pulled++
			}
		}
		if n > sum.InWindow || n+pulled < sum.InWindow {
			t.Fatalf("%d inside and %d pulled behind, and the summary has %d", n, pulled, sum.InWindow)
		}
		inside, behind = inside+n, behind+pulled
	})
	if inside == 0 || behind == 0 {
		t.Errorf("%d inside, %d behind: the seasons drawn are too much alike", inside, behind)
	}
}

// The published hours agree with the arithmetic of the same sources: 106 and 75.2 h/ha (0.0094 and 0.0133 ha/h, Shirsat
// et al. 2016), 71.4 and 41.7 (0.014 and 0.024 ha/h, Zongo et al.), 48 to 64 (6 to 8 days of 8 h, IRRI), 200 by hand
// (0.005 ha/h).
func TestPublishedHours(t *testing.T) {
	want := [][2]float64{{75.2, 106.4}, {41.7, 71.4}, {48, 64}, {200, 200}}
	list := AllPublishedHours()
	wantEqual(t, "publications", len(list), len(want))
	for i, p := range list {
		wantNear(t, "%s: low", p.Low, want[i][0], 0.05, p.Name)
		wantNear(t, "%s: high", p.High, want[i][1], 0.05, p.Name)
		if p.Source == "" || p.With == 0 {
			t.Errorf("%+v", p)
		}
	}
}
