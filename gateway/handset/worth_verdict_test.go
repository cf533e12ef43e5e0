package handset

import (
	"strings"
	"testing"

	"rowbell/engine/simulate"
)

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		name                           string
		firstWithout, first, all0, all int
		want                           string
	}{
		{"helps", 400, 600, 100, 200, "Here the bell helps. First pass in time on 40% of plots by habit and 60% with the bell; every pass on 10% and 20%."},
		{"chance", 500, 510, 200, 195, "may be chance"},
		{"harms", 600, 400, 200, 100, "fewer are in time"},
		{"harms the first", 600, 400, 200, 201, "fewer are in time"},
		{"harms the later", 600, 601, 200, 100, "fewer are in time"},
		{"one against the other", 600, 400, 100, 200, "helps in one thing and harms in the other"},
		{"the other against the one", 400, 600, 200, 100, "helps in one thing and harms in the other"},
		{"later ones", 776, 771, 343, 471, "helps with the later passes, not with the first"},
		{"first only", 400, 600, 100, 101, "helps with the first pass"},
	} {
		r := simulate.Result{Without: simulate.Outcome{Plots: 1000, PlotsFirstInTime: c.firstWithout, PlotsAllInTime: c.all0},
			With: simulate.Outcome{Plots: 1000, PlotsFirstInTime: c.first, PlotsAllInTime: c.all}}
		if got := Verdict(r); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", c.name, got)
		}
	}
	if got := Verdict(simulate.Result{}); !strings.Contains(got, "does not help") {
		t.Errorf("of no plot: %q", got)
	}
}

// What is said of where the bell does not help is so.
func TestWhereNoHelpIsSo(t *testing.T) {
	play := func(growers, year string, rate float64) (without, with simulate.Outcome) {
		t.Helper()
		nature, ok := simulate.NatureNamed(growers)
		weather, known := simulate.WeatherOf(year)
		if !ok || !known {
			t.Fatalf("no %s growers or no %s year", growers, year)
		}
		r, err := simulate.Run(simulate.Options{Plots: 1000, Seed: 1, Nature: nature, Weather: weather, Measured: true, TrueRate: rate})
		if err != nil {
			t.Fatal(err)
		}
		return r.Without, r.With
	}
	for _, c := range []struct {
		growers, year string
		rate          float64
	}{{"sloppy", "normal", 1}, {"lying", "dry", 1}, {"usual", "dry", 1}, {"honest", "dry", 1}, {"usual", "normal", 1.3}, {"usual", "wet", 1.3}} {
		if a, b := play(c.growers, c.year, c.rate); beyondChance(a.PlotsFirstInTime, b.PlotsFirstInTime, a.Plots) > 0 {
			t.Errorf("%v: first pass in time %d by habit, %d with the bell", c, a.PlotsFirstInTime, b.PlotsFirstInTime)
		}
	}
	if a, b := play("honest", "normal", 1); beyondChance(a.PlotsFirstInTime, b.PlotsFirstInTime, a.Plots) <= 0 {
		t.Errorf("honest growers are not helped: %d by habit, %d with the bell", a.PlotsFirstInTime, b.PlotsFirstInTime)
	}
	if len(WhereNoHelp()) != 3 {
		t.Error("a sentence more needs a line above")
	}
}
