package menu

import (
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
)

// shares returns the shares of the passes that are logged on a plot.
func (x *texter) shares(no int) (list []float64) {
	for _, p := range x.b.Seasons[no].Passes {
		list = append(list, p.Share)
	}
	return list
}

// TestPartsByText plays answers about parts of a plot, and which shares are logged.
func TestPartsByText(t *testing.T) {
	const how = "how much is weeded in all? 1 a quarter, 2 half, 3 three quarters, 4 all, 5 nothing."
	for name, c := range map[string]struct {
		said  string
		lines []string
		want  []float64
	}{
		"half, as it was said": {"half", nil, []float64{half}},
		"asked how much": {"only a part", []string{"3 => Weeded: three quarters."},
			[]float64{threeQuarters}},
		"nothing after all": {"only a part", []string{"5 => Answer 1 when it is done.", "1 => is logged"},
			[]float64{0}},
		"all after all": {"only a part", []string{"4 => is logged | Weeds left"}, []float64{0}},
		"no such share": {"only a part", []string{"6 => ", "2 => Weeded: half"}, []float64{half}},
		"the rest on the same day": {"half done", []string{"1 => is logged | Weeds left", "1 => "},
			[]float64{half, half}},
		"the hours, then the rest": {"half done", []string{"3h => noted", "1 => is logged"}, []float64{half, half}},
		"a share in words": {"only a part", []string{"many => how much", "half => Weeded: half"},
			[]float64{half}},
		"the rest in words": {"half", []string{"done => is logged | Weeds left"}, []float64{half, half}},
		"undone":            {"half done", []string{"0 => not logged any more | 1 done"}, nil},
		"the rest undone": {"half done", []string{"1 => is logged", "0 => Weeded: half", "1 => is logged"},
			[]float64{half, half}},
	} {
		x := withPlots(t, 1)
		x.ring(1)
		x.text(c.said)
		if c.said == "only a part" {
			x.wants("Plot 1: " + how)
		}
		x.plays(c.lines...)
		if got := x.shares(1); !slices.Equal(got, c.want) {
			t.Errorf("%s: shares %v, want %v; %q", name, got, c.want, x.reply)
		}
	}
}

// TestAFurtherPartIsAskedInAll checks that a second part is asked as the share of the whole plot, because "half" may
// mean the other half.
func TestAFurtherPartIsAskedInAll(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.text("I weeded a quarter")
	x.b.Day++
	x.text("half of it")
	x.plays("1 => Weed by", "1 => is logged") // a quarter, as before: nothing new
	x = withPlots(t, 1)
	x.ring(1)
	x.text("I weeded a quarter")
	x.b.Day++
	x.text("half of it")
	x.plays("3 => Weeded: three quarters", "1 => is logged")
	if got := x.shares(1); !slices.Equal(got, []float64{quarter, half, quarter}) {
		t.Errorf("shares %v", got)
	}
	for _, all := range []string{"all", "tout", "yote", "sab", "tudo", "semua"} { // the words of the question
		x = withPlots(t, 1)
		x.ring(1)
		x.text("I weeded a quarter")
		x.b.Day++
		x.text("half of it")
		x.plays(all + " => is logged")
	}
}

// TestAPartOfAPlotThatIsLogged checks that an answer about a part logs nothing if a call has logged all of the plot
// since the question.
func TestAPartOfAPlotThatIsLogged(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.text("only a part")
	must(0, x.b.LogPass(1, engine.Pass{On: x.b.Day, With: engine.ByTool}))
	x.plays("2 => is logged already")
	if got := x.shares(1); !slices.Equal(got, []float64{0}) {
		t.Errorf("shares %v", got)
	}
}

// TestPartsOfTwoPlots checks that a part of two plots is asked plot by plot.
func TestPartsOfTwoPlots(t *testing.T) {
	x := withPlots(t, 2)
	x.ring(1, 2)
	x.text("half of it")
	x.wants("Plot 1: how much")
	x.plays("4 => Plot 1: | Plot 2: how much", "2 => Plot 2: noted. Weeded: half.")
	if a, b := x.shares(1), x.shares(2); !slices.Equal(a, []float64{0}) || !slices.Equal(b, []float64{half}) {
		t.Errorf("shares %v and %v", a, b)
	}
}

// TestTheRestIsRung checks that the texts after a part are about the rest, and that two plots do not share such a text.
func TestTheRestIsRung(t *testing.T) {
	x := withPlots(t, 2)
	must(0, x.b.LogPass(1, engine.Pass{On: x.b.Day, With: engine.ByTool, Share: half}))
	x.ring(1)
	x.wants("Plot 1: the rest is still to be weeded, by")
	x.plays("1 => is logged")
	if got := x.shares(1); !slices.Equal(got, []float64{half, half}) {
		t.Errorf("shares %v", got)
	}
	x = withPlots(t, 2)
	must(0, x.b.LogPass(2, engine.Pass{On: x.b.Day, With: engine.ByTool, Share: half}))
	var bells []Bell
	for no := 1; no <= 2; no++ {
		s := x.b.Seasons[no]
		p := must(s.Plan(x.b.Day))
		r, _ := p.Reminder(nil)
		bells = append(bells, Bell{No: no, Season: s, Plan: p, Reminder: r})
	}
	if _, err := x.m.Ring("en", bells...); err != ErrApart {
		t.Errorf("one text for a plot and the rest of another: %v", err)
	}
}

// TestPartsByMenu logs parts on the screens: a share that is weeded already is not offered, and the rest may be logged
// on the day of the part.
func TestPartsByMenu(t *testing.T) {
	x := withPlots(t, 1)
	p := caller(t, x.b).enter("3")
	p.plays("1 => 4 only a part", "4 => 1 a quarter | 2 half | 3 three quarters", "2 => half | How?",
		"1 => Weeded: half. Weed the rest by", "00 => Weeded: half", "3 => today", "1 => only a part",
		"4 => 1 three quarters", "0 => How?", "1 => How many weeds are left", "1 => Logged")
	if got := x.shares(1); !slices.Equal(got, []float64{half, half}) {
		t.Errorf("shares %v", got)
	}
	p.plays("00 => ", "3 => ", "1 => is logged already")
}

// TestWorkOfTheRest checks that the hours are told of the whole plot, and the days of what is left.
func TestWorkOfTheRest(t *testing.T) {
	hours := func(x *texter) string { return dials(t, x.m, x.b, "*123*2*5*1#").last.Text }
	x := withPlots(t, 1)
	edit(x.b, 1, func(s *engine.Season) { s.Plot.AreaM2 = 6000 })
	before := hours(x)
	must(0, x.b.LogPass(1, engine.Pass{On: x.b.Day, With: engine.ByTool, Share: half}))
	if after := hours(x); after != before || !strings.Contains(after, "8 of 10 times") {
		t.Errorf("%s\nnot as before the half:\n%s", after, before)
	}
	dials(t, x.m, x.b, "*123*2*5*2#").wants("For the rest: Plot 1:")
}
