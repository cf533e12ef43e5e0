package roster

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// words is a report with three plots, two tools and two households, for the words of what is computed elsewhere.
func words() *Report {
	plots := []Plot{{Name: "Amina"}, {Name: "Juma", Household: 1}, {Name: "Neema", Household: 1}}
	r := &Report{On: today, Sheet: Sheet{Tools: []Tool{{Name: "Blue"}, {Name: "Red"}},
		Households: []Household{{Name: "Amina"}, {Name: "the twins"}}}}
	for i := range plots {
		p := circle.PlotWork{}
		p.Opens, p.Closes, p.Until, p.Household = today, today+3, today+9, plots[i].Household
		p.Chance = []float64{0.1, 0.2, 0.3, 0.2}
		r.Plots = append(r.Plots, PlanPlot{&plots[i], p})
		r.Problem.Plots = append(r.Problem.Plots, p.Plot)
	}
	r.Roster.Plots = []circle.PlotResult{{Served: true, Need: 1}, {Served: true, Need: 1}, {Need: 2, Missing: 2}}
	r.Roster.Turns = []circle.RosterTurn{{Turn: circle.Turn{Plot: 0, Tool: 0, Day: today + 1}},
		{Turn: circle.Turn{Plot: 1, Tool: 0, Day: today + 2}}}
	return r
}

func TestHelpWords(t *testing.T) {
	r := words()
	for _, c := range []struct {
		help circle.Help
		want string
	}{
		{circle.Help{Kind: circle.HelpTool, Tool: 1, From: today, To: today + 2, Served: []int{2}, All: true},
			"one more tool like Red, Thu 26 Nov to Sat 28 Nov\tthen in time: Neema (then all are)"},
		{circle.Help{Kind: circle.HelpMended, Tool: 0, From: today + 1, To: today + 4, Served: []int{1, 2},
			Instead: []int{0}},
			"Blue in use again from Fri 27 Nov\tthen in time: Juma, Neema; but not Amina"},
		{circle.Help{Kind: circle.HelpHands, Household: 1, From: today, To: today, Hands: 2, Served: []int{2}},
			"2 more hands of the twins, Thu 26 Nov\tthen in time: Neema"},
		{circle.Help{Kind: circle.HelpRestDay, Household: 0, From: today + 3, To: today + 3, Served: []int{2}},
			"Amina works on the day of rest, Sun 29 Nov\tthen in time: Neema"},
		{circle.Help{Kind: circle.HelpOneWay, Plot: 1, Served: []int{2}},
			"Juma is weeded in one direction only\tthen in time: Neema"},
		{circle.Help{Kind: circle.HelpByHand, Plot: 2, ToolDays: 1, Need: 2, Hours: 7, Served: []int{2}},
			"Neema weeds 1 of 2 days' work by hand, 7 hours\tthen in time: Neema"},
		{circle.Help{Kind: circle.HelpByHand, Plot: 2, ToolDays: 2, Need: 2, Served: []int{2}},
			"Neema weeds all of it by hand\tthen in time: Neema"},
		{circle.Help{Kind: circle.HelpGiveUp, Plot: 0, ToolDays: 1, Need: 1, Hours: 1, Served: []int{2},
			GivenUp: []circle.Turn{{Tool: 0, Day: today + 1}}},
			"Amina gives up Blue Fri 27 Nov, and weeds all of it by hand, 1 hour\tthen in time: Neema"},
	} {
		r.Helps, r.HelpWhole = []circle.Help{c.help}, true
		if got := r.helps().Lines(); len(got) != 1 || got[0] != c.want {
			t.Errorf("%+v:\n %q, want\n %q", c.help, got, c.want)
		}
		if b, err := json.Marshal(r.helps().Object); err != nil || !strings.Contains(string(b),
			`{"kind":"`+helpKinds[c.help.Kind]+`"`) {
			t.Errorf("%s, %v", b, err)
		}
	}
	r.Helps, r.HelpWhole = nil, false
	if got := r.helps().Lines(); len(got) != 1 || !strings.Contains(got[0], "--seconds") {
		t.Errorf("not whole: %q", got)
	}
}

func TestReasonWords(t *testing.T) {
	r := words()
	turn := func(plot, tool int, d engine.Day) circle.Turn {
		return circle.Turn{Plot: plot, Tool: tool, Day: today + d}
	}
	for _, c := range []struct {
		plot   int
		reason circle.Reason
		want   []string
	}{
		{0, circle.Reason{Turns: []circle.Turn{turn(0, 0, 1)}, Alone: []circle.Turn{turn(0, 1, 1)}, HasBest: true,
			Best: today + 1, OnBest: true},
			[]string{"Blue Fri 27 Nov; window Thu 26 Nov to Sun 29 Nov", "alone it would have the same days",
				"Fri 27 Nov is the best day of its window"}},
		{1, circle.Reason{Turns: []circle.Turn{turn(1, 0, 2)}, Alone: []circle.Turn{turn(1, 0, 0)}, HasBest: true,
			Best: today + 1, Loss: circle.Loss{Objective: circle.MostServed, By: 1, NotServed: []int{0}},
			Holders: []circle.Holder{{Plot: 0, Turns: []circle.Turn{turn(0, 0, 1)}, Told: true, Sooner: true}}},
			[]string{"Blue Sat 28 Nov; window Thu 26 Nov to Sun 29 Nov", "alone it would have Blue Thu 26 Nov",
				"Amina has Blue Fri 27 Nov (was told so; its window closes sooner)",
				"its best day would be Fri 27 Nov: then Amina would not be weeded in time"}},
		{2, circle.Reason{Alone: []circle.Turn{turn(2, 0, 0), turn(2, 0, 1)},
			Holders: []circle.Holder{{Plot: 1, Turns: []circle.Turn{turn(1, 0, 2)}, SameHousehold: true, Missed: true,
				Frees: true}}},
			[]string{"-; window Thu 26 Nov to Sun 29 Nov", "alone it would have Blue Thu 26 Nov to Fri 27 Nov",
				"Juma has Blue Sat 28 Nov (went without more often; the same hands push there; without it this plot " +
					"would be weeded in time)"}},
		{2, circle.Reason{}, []string{"-; window Thu 26 Nov to Sun 29 Nov",
			"even alone its pass does not fit into the window: too few days, hands or tools"}},
	} {
		if got := r.words().Reason(c.plot, c.reason); !slices.Equal(got, c.want) {
			t.Errorf("%+v:\n %q, want\n %q", c.reason, got, c.want)
		}
	}
}

func TestServedWords(t *testing.T) {
	r := words()
	for bound, want := range map[int]string{
		2: "2 of 3 plots inside their windows; with these tools no roster does better",
		3: "2 of 3 plots inside their windows; at most 3 may be possible",
	} {
		r.Roster.Served, r.Roster.Bound = 2, bound
		r.Problem.From = today
		if got := r.served(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if lines := strings.Join(r.sums().Lines(), "\n"); !strings.Contains(lines, "Search\tended before") ||
		!strings.Contains(lines, "fewer may be possible") {
		t.Errorf("not proven, and not said: %s", lines)
	}
	r.Roster.Proven, r.Roster.HandoversProven = true, true
	if lines := strings.Join(r.sums().Lines(), "\n"); strings.Contains(lines, "Search") ||
		strings.Contains(lines, "fewer may be possible") {
		t.Errorf("proven, and said not to be: %s", lines)
	}
	r.Roster.Served = 3
	if got := r.served(); got != "3 of 3 plots inside their windows" {
		t.Errorf("all: %q", got)
	}
}

// A long table is cut into weeks, and names are cut to the width of a column.
func TestDaysInBlocks(t *testing.T) {
	r := words()
	r.Plots[0].Name = "Amina at the upper end"
	r.Problem.From, r.Problem.To = today, today+20
	r.Tools[1].Out = []Days{{today + 1, today + 30}}
	r.Roster.Turns = append(r.Roster.Turns, circle.RosterTurn{Turn: circle.Turn{Plot: 2, Tool: 1, Day: today}},
		circle.RosterTurn{Turn: circle.Turn{Plot: 1, Tool: 0, Day: today + 8}, Late: 5})
	got := r.days().Lines()
	want := []string{
		"\tThu 26 Nov\tFri 27 Nov\tSat 28 Nov\tSun 29 Nov\tMon 30 Nov\tTue 1 Dec\tWed 2 Dec",
		"Blue\t-\tAmina at th…\tJuma\t-\t-\t-\t-", "Red\tNeema\tout\tout\tout\tout\tout\tout",
		"\tThu 3 Dec\tFri 4 Dec", "Blue\t-\tJuma late", "Red\tout\tout",
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	r.Plots[1].Name = "Amina at the lower end" // the same letters up to the cut
	if got := r.days().Lines()[1]; got != "Blue\t-\tAmina at the upper end\tAmina at the lower end\t-\t-\t-\t-" {
		t.Errorf("two names that are cut alike: %q", got)
	}
}

func TestTurnsAsRows(t *testing.T) {
	r := words()
	r.Plots[1].Name = `Juma, "the tall"`
	r.Roster.Turns = append(r.Roster.Turns, circle.RosterTurn{Turn: circle.Turn{Plot: 1, Tool: 0, Day: today + 3}},
		circle.RosterTurn{Turn: circle.Turn{Plot: 1, Tool: 1, Day: today + 3}})
	var b strings.Builder
	if err := r.Turns(&b); err != nil {
		t.Fatal(err)
	}
	want := "what,name,tool,from,to\nturn,Amina,Blue,2026-11-27,2026-11-27\n" +
		"turn,\"Juma, \"\"the tall\"\"\",Blue,2026-11-28,2026-11-29\n" +
		"turn,\"Juma, \"\"the tall\"\"\",Red,2026-11-29,2026-11-29\n"
	if b.String() != want {
		t.Errorf("%s, want\n%s", b.String(), want)
	}
}
