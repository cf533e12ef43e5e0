package menu

import (
	"testing"

	"rowbell/engine"
)

// TestHoursByTextInWords of any language, the unit first or last.
func TestHoursByTextInWords(t *testing.T) {
	for _, body := range []string{"3 hours 2 people", "3 heures, 2 personnes", "masaa 3 watu 2", "Saa 3 na watu 2",
		"३ घंटे २ लोग", "3 horas e 2 pessoas", "3 jam 2 orang"} {
		x := withPlots(t, 1)
		x.ring(1)
		x.text("1")
		x.text("1")
		x.text(body)
		x.wants("3 h, 2 people, noted.")
		if p := x.b.Seasons[1].Passes[0]; p.Hours != 3 || p.People != 2 {
			t.Errorf("%q: %+v", body, p)
		}
	}
}

func TestHoursByText(t *testing.T) {
	x := withPlots(t, 2)
	for no, area := range map[int]float64{1: 300, 2: 600} {
		s := x.b.Seasons[no]
		s.Plot.AreaM2 = area
		x.b.Seasons[no] = s
	}
	x.ring(1, 2)
	x.text("1")
	x.text("1")
	x.wants("How long did it take? Text 3h, or 3h2 for 2 people.")
	x.text("9h 2")
	x.wants("Plot 1 and Plot 2: 9 h, 2 people, noted.")
	for no, hours := range map[int]float64{1: 3, 2: 6} { // by the ground of each
		if p := x.b.Seasons[no].Passes[0]; p.Hours != hours || p.People != 2 || p.Left != engine.Few {
			t.Errorf("plot %d: %+v", no, p)
		}
	}
	x.text("8h 2") // a slip is mended
	if p := x.b.Seasons[2].Passes[0]; p.Hours < 5.3 || p.Hours > 5.4 {
		t.Errorf("%+v", p)
	}
	x.text("3") // a bare digit is nobody's answer here
	x.wants("Text the hours like 3h, or 3h2 for 2 people.")
	x.text("12 33")
	x.wants("Text the hours like 3h")
	x.text("2h30")
	x.wants("2.5 h, 1 person, noted.")
	x.text("0")
	x.wants("not logged any more")
	x.text("3h")
	if n := len(x.b.Seasons[1].Passes); n != 0 {
		t.Errorf("%d passes", n)
	}
}

func TestHoursAreOfTheWeedingInQuestion(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.text("1")
	x.text("2")
	x.b.Day++
	if err := x.b.LogPass(1, engine.Pass{On: x.b.Day, With: engine.ByHand}); err != nil { // by the menu, meanwhile
		t.Fatal(err)
	}
	x.text("3h")
	x.wants("nothing is done")
	for _, p := range x.b.Seasons[1].Passes {
		if p.Hours != 0 {
			t.Errorf("%+v", p)
		}
	}
}

// A digit logs each half of a trial the way it is weeded.
func TestADigitLogsATrialsWays(t *testing.T) {
	x := withPlots(t, 2)
	if err := x.b.StartTrial(1, 2, engine.ToolBoth, engine.HandOnly); err != nil {
		t.Fatal(err)
	}
	x.ring(1, 2)
	x.text("1")
	a, b := x.b.Seasons[1].Passes[0], x.b.Seasons[2].Passes[0]
	if a.With != engine.ByTool || a.Way != engine.Both || b.With != engine.ByHand {
		t.Errorf("A %+v, B %+v", a, b)
	}
	// Hours of both together would make them look alike.
	x.text("1")
	x.wants("tell the hours of each")
	x.text("9h")
	x.wants("not one of the answers")
	if h := x.b.Seasons[1].Passes[0].Hours; h != 0 {
		t.Errorf("%g hours", h)
	}
}

func TestMovedTexts(t *testing.T) {
	m := newMenu(t)
	planted := wednesday - 14
	s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: planted, RowSpacingCM: 20,
		HillSpacingCM: 20},
		Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(24, 32)}
	ring := func(s engine.Season) Ringing {
		t.Helper()
		p, err := s.Plan(wednesday)
		if err != nil {
			t.Fatal(err)
		}
		r, why := p.Reminder([]engine.Told{{Kind: engine.KindPrepare, Window: 1, On: wednesday - 1}})
		if why != engine.NotSilent || r.Kind != engine.KindMoved {
			t.Fatalf("%s, %s", r.Kind, why)
		}
		out, err := m.Ring("en", Bell{No: 1, Season: s, Plan: p, Reminder: r})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	p, err := s.Plan(wednesday)
	if err != nil {
		t.Fatal(err)
	}
	s.Announced = p.Next
	with := func(minC, maxC float64) engine.Season {
		s := s
		s.Weather.Daily = engine.Daily{From: planted}
		for range 14 {
			s.Weather.Daily.Days = append(s.Weather.Daily.Days, engine.Measured{MinC: minC, MaxC: maxC})
		}
		return s
	}
	if cool := ring(with(16, 26)); cool.Prompt != nil ||
		cool.Text != "Plot 1: our dates have changed: weed Tue 1 Dec to Sun 6 Dec, not Thu 26 Nov to Tue 1 Dec. Water 5 cm by then. We text you." {
		t.Errorf("%q, prompt %s", cool.Text, cool.Prompt)
	}
	if hot := ring(with(28, 36)); hot.Prompt == nil ||
		hot.Text != "Plot 1: our dates have changed: weed now, by Sun 29 Nov, in 5 cm water. Look at the leaves. Mind the teeth. 1 done, 2 not yet, 3 too big." {
		t.Errorf("%q, prompt %s", hot.Text, hot.Prompt)
	}
}
