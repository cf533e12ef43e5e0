package circle_test

import (
	"reflect"
	"testing"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// plotOf returns a plot with a window that is counted from day0, after which no pass is worth its work.
func plotOf(household, opens, closes int, need ...int) circle.Plot {
	from, to := day0+engine.Day(opens), day0+engine.Day(closes)
	return circle.Plot{Household: household, Opens: from, Closes: to, Until: to, Need: need}
}

// turn returns a turn on a day that is counted from day0.
func turn(plot, tool, day int) circle.Turn {
	return circle.Turn{Plot: plot, Tool: tool, Day: day0 + engine.Day(day)}
}

func span(from, to int) circle.Span {
	return circle.Span{From: day0 + engine.Day(from), To: day0 + engine.Day(to)}
}

// Each case is small enough to be worked out by hand. It has ten days, and plot 1 is not served.
func TestHelp(t *testing.T) {
	two := []circle.Household{{}, {}}
	oneTool := make([]circle.Tool, 1)
	told := plotOf(0, 3, 4, 2)
	told.Told = []circle.Turn{turn(0, 0, 3), turn(0, 0, 4)}
	for name, test := range map[string]struct {
		tools      []circle.Tool
		households []circle.Household
		plots      []circle.Plot
		ways       circle.Ways
		want       []circle.Help
	}{
		"two plots that need both days of their window": {
			oneTool, two, []circle.Plot{plotOf(0, 3, 4, 2), plotOf(1, 3, 4, 2)},
			circle.Ways{HandHours: []float64{10, 30.5}},
			[]circle.Help{tool(3, 4), byHand(2, 2, 31)},
		},
		"with a third day, one tool-day more or half of a plot in another way is enough": {
			oneTool, two, []circle.Plot{plotOf(0, 3, 5, 2), plotOf(1, 3, 5, 2)},
			circle.Ways{OneWay: [][]int{{1}, {1}}, HandHours: []float64{10, 30.5}},
			[]circle.Help{tool(3, 3), plotHelp(circle.HelpOneWay, 0), plotHelp(circle.HelpOneWay, 1), byHand(1, 2, 16)},
		},
		"two tools, but hands for one, and a rest day": {
			make([]circle.Tool, 2), []circle.Household{{}, {Hands: []int{1, 1, 1, 1, 0, 1}}},
			[]circle.Plot{plotOf(0, 8, 9, 2, 2), plotOf(1, 3, 4, 2, 2)}, circle.Ways{},
			[]circle.Help{hands(circle.HelpHands, 3), hands(circle.HelpRestDay, 4), byHand(1, 2, 0)},
		},
		"a tool that is out for three of the five days": {
			[]circle.Tool{{Out: []circle.Span{span(2, 3), span(3, 4)}}}, []circle.Household{{}, {Hands: []int{2}}},
			[]circle.Plot{plotOf(0, 8, 9, 2), plotOf(1, 1, 5, 3)}, circle.Ways{},
			[]circle.Help{tool(1, 1), mended(4, 4), byHand(1, 3, 0)},
		},
		"plot 0 was told both days": {
			oneTool, two, []circle.Plot{told, plotOf(1, 3, 4, 1)}, circle.Ways{HandHours: []float64{7, 0}},
			[]circle.Help{tool(3, 3), byHand(1, 1, 0), giveUp(1, 2, 4)},
		},
		"no tool suits": {
			oneTool, two, []circle.Plot{plotOf(0, 3, 4, 2), plotOf(1, 3, 4, 0)},
			circle.Ways{HandHours: []float64{0, 9}}, []circle.Help{byHand(1, 1, 9)},
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := circle.Problem{From: day0, To: day0 + 9, Tools: test.tools, Households: test.households}
			p.Plots = test.plots
			r, _ := plannedRoster(t, p)
			got, whole := p.Help(r, test.ways, circle.Limit{})
			for i := range got {
				if got[i].Kind == circle.HelpGiveUp { // which of both days it is is not determined
					if len(got[i].GivenUp) != 1 {
						t.Errorf("gives up %v", got[i].GivenUp)
					}
					got[i].GivenUp = nil
				}
			}
			if !reflect.DeepEqual(got, test.want) || !whole {
				t.Errorf("whole %t\n got %+v\nwant %+v", whole, got, test.want)
			}
		})
	}
}

// plotHelp is a help by a plot that is weeded in another way, after which plot 1 is served too.
func plotHelp(kind circle.HelpKind, plot int) circle.Help {
	return circle.Help{Kind: kind, Tool: -1, Household: -1, Plot: plot, Served: []int{1}, All: true}
}

func byHand(days, need, hours int) circle.Help {
	h := plotHelp(circle.HelpByHand, 1)
	h.ToolDays, h.Need, h.Hours = days, need, hours
	return h
}

func giveUp(days, need, hours int) circle.Help {
	h := plotHelp(circle.HelpGiveUp, 0)
	h.ToolDays, h.Need, h.Hours = days, need, hours
	return h
}

func tool(from, to int) circle.Help {
	h := plotHelp(circle.HelpTool, -1)
	h.Tool, h.From, h.To = 0, span(from, to).From, span(from, to).To
	return h
}

func mended(from, to int) circle.Help {
	h := tool(from, to)
	h.Kind = circle.HelpMended
	return h
}

// hands is a help by one more pair of hands of household 1 on a day.
func hands(kind circle.HelpKind, day int) circle.Help {
	h := tool(day, day)
	h.Kind, h.Tool, h.Household, h.Hands = kind, -1, 1, 1
	return h
}

func TestExplain(t *testing.T) {
	// Plot 1 could begin on day 3 if plot 0, whose window closes sooner, did not have the tool. Its best day is day 4,
	// which it can have only if plot 0 is not served.
	p := circle.Problem{From: day0, To: day0 + 9, Tools: make([]circle.Tool, 1), Households: []circle.Household{{}, {}},
		Plots: []circle.Plot{plotOf(0, 3, 4, 2), plotOf(1, 3, 6, 1)}}
	p.Plots[0].Told = []circle.Turn{turn(0, 0, 4)}
	p.Plots[1].Chance = []float64{0.5, 0.9, 0.6, 0.6}
	r, _ := plannedRoster(t, p)
	reasons, whole := p.Explain(r, circle.Limit{})
	p0 := []circle.Turn{turn(0, 0, 3), turn(0, 0, 4)}
	want := []circle.Reason{{
		Turns: p0, Alone: p0, Best: day0 + 3, HasBest: true, OnBest: true,
	}, {
		Turns:   []circle.Turn{turn(1, 0, 5)},
		Alone:   []circle.Turn{turn(1, 0, 3)},
		Holders: []circle.Holder{{Plot: 0, Turns: p0, Told: true, Sooner: true}},
		Best:    day0 + 4, HasBest: true,
		Loss: circle.Loss{Objective: circle.MostServed, By: 1, NotServed: []int{0}},
	}}
	if !reflect.DeepEqual(reasons, want) || !whole {
		t.Errorf("whole %t\n got %+v\nwant %+v", whole, reasons, want)
	}
}

// A plot that is not served learns who has the tool in its window, and without whom it would be served.
func TestExplainNotServed(t *testing.T) {
	p := circle.Problem{From: day0, To: day0 + 9, Tools: make([]circle.Tool, 1),
		Households: []circle.Household{{}, {}, {}},
		Plots:      []circle.Plot{plotOf(0, 2, 3, 2), plotOf(1, 2, 4, 2), plotOf(2, 4, 6, 3)}}
	p.Plots[0].Missed = 1
	r, _ := plannedRoster(t, p)
	reasons, whole := p.Explain(r, circle.Limit{})
	want := circle.Reason{Alone: []circle.Turn{turn(1, 0, 2), turn(1, 0, 3)}, Holders: []circle.Holder{
		{Plot: 0, Turns: []circle.Turn{turn(0, 0, 2), turn(0, 0, 3)}, Sooner: true, Missed: true, Frees: true},
		{Plot: 2, Turns: []circle.Turn{turn(2, 0, 4)}},
	}}
	if got := reasons[1]; !reflect.DeepEqual(got, want) || !whole {
		t.Errorf("whole %t\n got %+v\nwant %+v", whole, got, want)
	}
}
