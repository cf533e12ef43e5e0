package handset

import (
	"fmt"
	"strings"
	"testing"

	"rowbell/engine/simulate"
)

func TestWorth(t *testing.T) {
	room, _, _ := newTestRoom(t)
	h := Page(room)
	for _, c := range []struct {
		name, query string
		want        string // texts that the page must contain, separated by "|"
	}{
		{"the way in", "", `What the bell is worth|800 plots, usual growers, a normal year|` +
			`Where the bell does not help|promises a yield|% by habit|% with the bell|Texts a plot|` +
			`A place that learns|chance that a text that asks is answered with a lie`},
		{"honest growers", "?growers=honest&seed=3", `800 plots, honest growers|Here the bell helps.|value="3"`},
		{"sloppy growers are not helped", "?growers=sloppy", `Here the bell does not help`},
		{"weeds that are early", "?growers=usual&year=dry&rate=1.2", `a dry year|1.18`},
		{"no such growers", "?growers=<b>", `There are no growers called &#34;&lt;b&gt;&#34;.`},
		{"no such year", "?year=snow", `There is no year called`},
		{"no such pace", "?rate=9", `Weeds go 0.7 to 1.4 times as fast`},
		{"not a number", "?rate=NaN", `Weeds go 0.7 to 1.4 times as fast`},
		{"no such chance", "?seed=-1", `Chance begins at a whole number`},
	} {
		code, body := visit(t, h, "GET", "/practice/worth"+c.query, nil)
		if code != 200 {
			t.Errorf("%s: %d", c.name, code)
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
	_, once := visit(t, h, "GET", "/practice/worth?growers=lying&year=wet&seed=5", nil)
	_, again := visit(t, h, "GET", "/practice/worth?growers=lying&year=wet&seed=5", nil)
	if once != again {
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
	if got := Verdict(simulate.Result{}); !strings.Contains(got, "does not help") {
		t.Errorf("of no plot: %q", got)
	}
}

// WhereNoHelp names cases in which the bell (the reminder loop) does not help. In a simulation of each case, the bell
// must not bring more first passes in time than chance explains. For honest growers in a normal year, it must bring
// more.
func TestWhereNoHelpIsSo(t *testing.T) {
	play := func(growers, year string, rate float64) (without, with simulate.Outcome) {
		t.Helper()
		nature, ok := simulate.NatureNamed(growers)
		weather, known := simulate.WeatherOf(year)
		if !ok || !known {
			t.Fatalf("no %s growers or no %s year", growers, year)
		}
		o := simulate.Options{Plots: 1000, Seed: 1, Nature: nature, Weather: weather, Measured: true, TrueRate: rate}
		r := must(simulate.Run(o))
		return r.Without, r.With
	}
	for _, c := range []struct {
		growers, year string
		rate          float64
	}{
		{"sloppy", "normal", 1}, {"lying", "dry", 1}, {"usual", "dry", 1}, {"honest", "dry", 1},
		{"usual", "normal", 1.3}, {"usual", "wet", 1.3},
	} {
		if a, b := play(c.growers, c.year, c.rate); beyondChance(a.PlotsFirstInTime, b.PlotsFirstInTime, a.Plots) > 0 {
			t.Errorf("%v: first pass in time %d by habit, %d with the bell", c, a.PlotsFirstInTime, b.PlotsFirstInTime)
		}
	}
	if a, b := play("honest", "normal", 1); beyondChance(a.PlotsFirstInTime, b.PlotsFirstInTime, a.Plots) <= 0 {
		t.Errorf("honest growers are not helped: %d by habit, %d with the bell", a.PlotsFirstInTime, b.PlotsFirstInTime)
	}
	if len(WhereNoHelp()) != 3 {
		t.Error("each sentence needs a row of the table above")
	}
}
