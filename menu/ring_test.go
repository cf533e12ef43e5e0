package menu

import (
	"testing"

	"rowbell/engine"
)

// TestMovedTexts checks that a text about changed dates asks a question only if the window is already open.
func TestMovedTexts(t *testing.T) {
	m := newMenu()
	planted := wednesday - 12
	s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: planted, RowSpacingCM: 20,
		HillSpacingCM: 20}, Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(24, 32)}
	ring := func(s engine.Season) Ringing {
		t.Helper()
		p := must(s.Plan(wednesday))
		r, why := p.Reminder([]engine.Told{{Kind: engine.KindPrepare, Window: 1, On: wednesday - 1}})
		if why != engine.NotSilent || r.Kind != engine.KindMoved {
			t.Fatalf("%s, %s", r.Kind, why)
		}
		out := must(m.Ring("en", Bell{No: 1, Season: s, Plan: p, Reminder: r}))
		return out
	}
	p := must(s.Plan(wednesday))
	s.Announced = p.Next
	with := func(minC, maxC float64) engine.Season {
		s := s
		s.Weather.Daily = engine.Daily{From: planted}
		for range 12 {
			s.Weather.Daily.Days = append(s.Weather.Daily.Days, engine.Measured{MinC: minC, MaxC: maxC})
		}
		return s
	}
	if cool := ring(with(16, 26)); cool.Prompt != nil || cool.Text != "Plot 1: our dates have changed: "+
		"weed Sun 29 Nov to Wed 2 Dec, not Wed 25 Nov to Sat 28 Nov. Water 3-5 cm by then. We text you." {
		t.Errorf("%q, prompt %s", cool.Text, cool.Prompt)
	}
	if hot := ring(with(30, 38)); hot.Prompt == nil || hot.Text != "Plot 1: our dates have changed: "+
		"weed now, by Thu 26 Nov, in 3-5 cm water. Look at the leaves. The teeth cut. "+
		"1 done, 2 not yet, 3 too big." {
		t.Errorf("%q, prompt %s", hot.Text, hot.Prompt)
	}
}

func TestEstimated(t *testing.T) {
	for x, want := range map[float64]string{
		0: "0", 0.354: "0.35", 2.44: "2.4", 9.96: "10", 12.4: "12", 999.4: "999", 999.7: "1000", 1230: "1230",
		1234: "1230", 12345: "12300", 123456: "123000", 9.995e9: "10000000000",
	} {
		if got := estimatedEN(x); got != want {
			t.Errorf("%g: %s, want %s", x, got, want)
		}
	}
}

// TestOneDayWindow checks that a window of one day is not written as "Monday to Monday".
func TestOneDayWindow(t *testing.T) {
	c := newMenu().scene(knownBook(), USSD, &session{})
	w := engine.Window{Number: 1, Opens: wednesday + 3, Best: wednesday + 3, Closes: wednesday + 3, With: engine.ByTool,
		SeenOn: wednesday, Chance: 0.9}
	got := c.next(engine.Plan{On: wednesday, State: engine.TooEarly, Next: w})
	if got != "Weed on Sat 28 Nov. We text you." || c.err != nil {
		t.Errorf("%q, %v", got, c.err)
	}
}

// TestEveryEndHasItsReason checks that a text can name each reason for which a model or a grower's report ends the
// season of the tool, and that it tells the grower to pull weeds as long as that pays.
func TestEveryEndHasItsReason(t *testing.T) {
	m := newMenu()
	s := due()
	for why, want := range map[engine.EndWhy]string{
		engine.EndRowsClose: "the rows close", engine.EndPlantsBig: "the plants get too big",
		engine.EndSeen: "you saw the rows closed", engine.EndPanicle: "panicles form",
	} {
		p := engine.Plan{On: wednesday, State: engine.Closed, Passes: 2,
			Closure: engine.Closure{LastToolDay: wednesday - 1, Why: why}}
		bell := Bell{No: 1, Season: s, Plan: p, Reminder: engine.Reminder{Kind: engine.KindClosed}}
		wants(t, must(m.Ring("en", bell)).Text, "Plot 1: "+want+", so the weeder's work is done. 2 weedings")
		bell.Plan.Closure.PullUntil = wednesday + 10
		wants(t, must(m.Ring("en", bell)).Text, want, "Pull weeds by hand until Sat 5 Dec")
		c := m.scene(knownBook(), USSD, &session{})
		wants(t, c.next(bell.Plan), want, "until Sat 5 Dec")
		wants(t, c.next(p), want)
	}
}
