package handset

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"rowbell/engine/simulate"
)

func TestWorth(t *testing.T) {
	room, _, _ := newTestRoom(t)
	h := Page(room, Desk{})
	const honest = "?growers=honest&seed=3&water=moist&habit=21"
	once := ""
	for _, c := range []struct {
		name, query string
		want        string // texts that the page must contain, separated by "|"
	}{
		{"the way in", "", `What the bell is worth|400 plots, usual growers, a normal year|` +
			`Where the bell does not help|promises a yield|% by habit|% with the bell|Texts a plot|` +
			`A place that learns|chance that a text that asks is answered with a lie|bell, nobody looks|` +
			`Where nobody looks, it is worse than habit on`},
		{"honest growers", honest, `400 plots, honest growers|` +
			`Here the bell helps.|value="3"|<option selected>moist|value="21"|habit 21`},
		{"weeds that are late", "?growers=lying&year=dry&rate=0.8", `lying growers, a dry year|value="0.8"`},
		{"no such water", "?water=salt", `There is no water called`},
		{"no such habit", "?habit=99", `Habit &#34;99&#34; is not a day`},
		{"no such growers", "?growers=<b>", `There are no growers called &#34;&lt;b&gt;&#34;.`},
		{"no such year", "?year=snow", `There is no year called`},
		{"no such pace", "?rate=9", `Weeds grow 0.7 to 1.4 times as fast`},
		{"not a number", "?rate=NaN", `Weeds grow 0.7 to 1.4 times as fast`},
		{"no such chance", "?seed=-1", `The seed is a whole number`},
	} {
		code, body := visit(t, h, "GET", "/practice/worth"+c.query, nil)
		if code != 200 {
			t.Errorf("%s: %d", c.name, code)
		}
		if c.query == honest {
			once = body
		}
		for _, want := range strings.Split(c.want, "|") {
			if !strings.Contains(body, want) {
				t.Errorf("%s: no %q in\n%s", c.name, want, body)
			}
		}
		if strings.Contains(body, "style=") || strings.Contains(body, "<b>\"") {
			t.Errorf("%s: a style attribute, or what was typed as it was", c.name)
		}
	}
	if _, again := visit(t, h, "GET", "/practice/worth"+honest, nil); again != once {
		t.Error("the same seed played another season")
	}
}

func TestShare(t *testing.T) {
	for _, c := range []struct {
		n, of, percent int
		words          string
	}{{0, 0, 0, "none"}, {1, 2, 50, "1 of 2"}, {2, 3, 67, "2 of 3"}, {600, 600, 100, "600 of 600"}} {
		if got := share(c.n, c.of); got.Percent != c.percent || got.Words != c.words {
			t.Errorf("%d of %d: %+v", c.n, c.of, got)
		}
	}
	if worthWidth(100) != worthFull || fmt.Sprint(worthRow(0), worthWidth(0)) != "0 0" {
		t.Error("bars do not begin and end where they should")
	}
}

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		name                    string
		firstWithout, firstWith int
		allWithout, allWith     int
		want                    string
	}{
		{"helps", 400, 600, 100, 200, "Here the bell helps. First pass in time on 40% of plots by habit " +
			"and 60% with the bell; every pass on 10% and 20%."},
		{"chance", 500, 510, 200, 195, "may be chance"},
		{"harms", 600, 400, 200, 100, "fewer are in time"},
		{"harms the first", 600, 400, 200, 201, "fewer are in time"},
		{"harms the later", 600, 601, 200, 100, "fewer are in time"},
		{"one against the other", 600, 400, 100, 200, "helps in one thing and harms in the other"},
		{"the other against the one", 400, 600, 200, 100, "helps in one thing and harms in the other"},
		{"later ones", 776, 771, 343, 471, "helps with the later passes, not with the first"},
		{"first only", 400, 600, 100, 101, "helps with the first pass"},
	} {
		outcome := func(first, all int) simulate.Outcome {
			return simulate.Outcome{Plots: 1000, PlotsFirstInTime: first, PlotsAllInTime: all}
		}
		r := simulate.Result{Without: outcome(c.firstWithout, c.allWithout), With: outcome(c.firstWith, c.allWith)}
		if got := Verdict(r); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", c.name, got)
		}
	}
	if got := Verdict(simulate.Result{}); !strings.Contains(got, "cannot be told") {
		t.Errorf("of no plot: %q", got)
	}
}

// WhereNoHelp names cases in which the bell (the reminder loop) helps little. The simulation shows each of them.
func TestWhereNoHelpIsSo(t *testing.T) {
	idle := simulate.Honest()
	idle.Acts, idle.DelayDays = 0.2, 4
	r := must(simulate.Run(simulate.Options{Plots: 200, Seed: 1, Growers: idle, Measured: true}))
	if b := r.With; 2*b.Followed > b.AdvisedInTime {
		t.Errorf("growers who seldom act: of %d named days %d were in time, %d were followed", b.Advised,
			b.AdvisedInTime, b.Followed)
	}
	g := must(simulate.Compare(simulate.GridOptions{Seed: 2, Fields: 60, MeansC: []float64{19, 28},
		Waters: []simulate.Water{simulate.WaterKept}}))
	for _, c := range g.Cells {
		if c.MeanC == 28 && c.Clock == "held back" && c.Never >= c.Habit {
			t.Errorf("nobody looks, a slow clock: %.2f, by habit %.2f", c.Never, c.Habit)
		}
		if c.MeanC == 19 && c.Unknown && c.Look >= c.Own {
			t.Errorf("an unknown clock: %.2f, the best day %.2f", c.Look, c.Own)
		}
	}
	o := simulate.Options{Plots: 100, Seed: 3, Growers: simulate.Honest(), Measured: true}
	seasons := must(simulate.Learn(o, 3))
	first, last := seasons[0].With, seasons[2].With
	if last.AdvisedInTime*first.Advised >= first.AdvisedInTime*last.Advised {
		t.Errorf("plots of different clocks: good days %d of %d, after learning %d of %d", first.AdvisedInTime,
			first.Advised, last.AdvisedInTime, last.Advised)
	}
	if len(WhereNoHelp()) != 4 {
		t.Error("each sentence needs a check above")
	}
}

func TestComparison(t *testing.T) {
	g := simulate.Grid{Fields: 100, BestDay: 16, Cells: []simulate.Cell{
		{MeanC: 28, Clock: "fast", Own: 0.95, One: 0.5, Habit: 0.4, Look: 0.8, Never: 0.2},
		{MeanC: 19, Clock: "base 0", Own: 0.85, One: 0.1, Habit: 0.6, Look: 0.88, Never: 0.58},
	}}
	want := []string{
		"The day that the bell names is in time on 84% of the plots where growers look, and on 39% where nobody " +
			"looks. Habit is in time on 50%, the same day everywhere (day 16) on 30%, and the best day of each kind, " +
			"which nobody can know, on 90%.",
		"Where growers look, the bell is worse than habit on none of 2 kinds of plots.",
		"Where growers look, it is more than 6 points behind the best day of the kind on 1 of 2 kinds of plots: 28 " +
			"°C, kept, fast (80 and 95%).",
		"Where nobody looks, it is worse than habit on 1 of 2 kinds of plots: 28 °C, kept, fast (20 and 40%).",
	}
	if got := Comparison(g); !slices.Equal(got, want) {
		t.Errorf("%q\nwant %q", got, want)
	}
}
