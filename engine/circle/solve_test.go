package circle

import (
	"errors"
	"reflect"
	"slices"
	"testing"

	"rowbell/engine"
)

// turns lists the turns as day from the first planned day, tool and plot.
func turns(r Roster) (list [][3]int) {
	for _, t := range r.Turns {
		list = append(list, [3]int{int(t.Day - dayOne), t.Tool, t.Plot})
	}
	return list
}

// The rosters of these problems were found by hand.
//
//revive:disable-next-line:function-length the problems stand in one table
func TestSolveByHand(t *testing.T) {
	plot := func(household, opens, closes, until int, need ...int) Plot {
		return Plot{Household: household, Opens: dayOne + engine.Day(opens), Closes: dayOne + engine.Day(closes),
			Until: dayOne + engine.Day(until), Need: need}
	}
	missed := plot(1, 0, 0, 0, 1)
	missed.Missed = 1
	likely := plot(0, 0, 2, 2, 1)
	likely.Chance = []float64{0.2, 0.5, 0.3}
	kept := plot(1, 0, 1, 1, 1)
	kept.Told = []Turn{{Tool: 0, Day: dayOne}}
	unkept := plot(0, 0, 0, 0, 1)
	for _, c := range []struct {
		name  string
		days  int
		tools []Tool
		hands []Household
		plots []Plot
		want  [][3]int
		check func(Roster) bool
	}{
		{"who went without comes first", 1, make([]Tool, 1), make([]Household, 2),
			[]Plot{plot(0, 0, 0, 0, 1), missed}, [][3]int{{0, 0, 1}},
			func(r Roster) bool { return r.Missed == 1 && r.Lateness == 1 && r.Plots[0].Missing == 1 }},
		{"two small plots before a large one", 2, make([]Tool, 1), make([]Household, 3),
			[]Plot{plot(0, 0, 1, 1, 2), plot(1, 0, 0, 0, 1), plot(2, 1, 1, 1, 1)}, [][3]int{{0, 0, 1}, {1, 0, 2}},
			func(r Roster) bool { return r.Served == 2 && r.Lateness == 2 }},
		{"the plot that can wait waits", 3, make([]Tool, 1), make([]Household, 2),
			[]Plot{plot(0, 0, 2, 2, 1), plot(1, 0, 1, 1, 2)}, [][3]int{{0, 0, 1}, {1, 0, 1}, {2, 0, 0}},
			func(r Roster) bool { return r.Served == 2 && r.Handovers == 1 }},
		{"a late pass is better than none", 3, []Tool{{Out: []Span{{dayOne, dayOne + 1}}}}, make([]Household, 1),
			[]Plot{plot(0, 0, 1, 3, 1)}, [][3]int{{2, 0, 0}},
			func(r Roster) bool { return r.Served == 0 && r.Lateness == 1 && r.Turns[0].Late == 1 }},
		{"one pair of hands", 2, make([]Tool, 2), []Household{{Hands: []int{1}}},
			[]Plot{plot(0, 0, 0, 0, 2, 2)}, nil,
			func(r Roster) bool { return r.Served == 0 && r.Plots[0].Missing == 1 }},
		{"two pairs of hands", 1, make([]Tool, 2), []Household{{Hands: []int{2}}},
			[]Plot{plot(0, 0, 0, 0, 2, 2)}, [][3]int{{0, 0, 0}, {0, 1, 0}}, nil},
		{"a rest day", 2, make([]Tool, 1), []Household{{Hands: []int{0, 1}}},
			[]Plot{plot(0, 0, 1, 1, 1)}, [][3]int{{1, 0, 0}}, nil},
		{"a pass is made with tools of one need", 1, make([]Tool, 2), []Household{{Hands: []int{2}}},
			[]Plot{plot(0, 0, 0, 0, 2, 3)}, [][3]int{{0, 0, 0}},
			func(r Roster) bool { return r.Plots[0].Need == 2 && r.Plots[0].Missing == 1 }},
		{"the likeliest day", 3, make([]Tool, 1), make([]Household, 1), []Plot{likely}, [][3]int{{1, 0, 0}},
			func(r Roster) bool { return r.Chance == 500 }},
		{"a told turn moves if that serves one plot more", 2, make([]Tool, 1), make([]Household, 2),
			[]Plot{unkept, kept}, [][3]int{{0, 0, 0}, {1, 0, 1}},
			func(r Roster) bool { return r.Moved == 1 && slices.Equal(r.Plots[1].Moved, []int{0}) }},
		{"no tool suits", 1, make([]Tool, 1), make([]Household, 1), []Plot{plot(0, 0, 0, 0, 0)}, nil,
			func(r Roster) bool { return r.Plots[0].Unsuited && r.Lateness == 0 && r.Bound == 0 }},
		{"no plots", 1, make([]Tool, 1), nil, nil, nil, nil},
		{"each household keeps its tool", 4, make([]Tool, 2), make([]Household, 2),
			[]Plot{plot(0, 0, 3, 3, 4, 4), plot(1, 0, 3, 3, 4, 4)}, nil,
			func(r Roster) bool { return r.Served == 2 && r.Handovers == 0 }},
	} {
		p := Problem{From: dayOne, To: dayOne + engine.Day(c.days-1), Plots: c.plots, Tools: c.tools,
			Households: c.hands}
		if err := p.Validate(); err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		r := p.Solve(Limit{})
		if err := Verify(p, r); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if !r.Proven || !r.HandoversProven || c.want != nil && !reflect.DeepEqual(turns(r), c.want) ||
			c.check != nil && !c.check(r) {
			t.Errorf("%s: %+v", c.name, r)
		}
	}
}

// large is a problem that is too large to search.
var large = crowd{plots: 60, tools: 5, days: 30, needs: 4, windowMin: 5, windowMax: 12}

func TestPlanningAgainKeepsTheRoster(t *testing.T) {
	for seed := range uint64(60) {
		c := crowd{plots: 3 + int(seed%10), tools: 1 + int(seed%3), days: 12, needs: 3, windowMin: 2, windowMax: 9,
			shared: seed%4 == 0, even: seed%3 == 0, classes: seed%5 < 2}
		if seed%10 == 0 {
			c = large
			c.even, c.shared = seed%20 == 0, seed%30 == 0
		}
		p := c.draw(seed)
		r := p.Solve(Limit{})
		again := withTold(p, r)
		r2 := again.Solve(Limit{})
		if err := Verify(again, r2); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if r2.Moved > 0 || !reflect.DeepEqual(r.Turns, r2.Turns) {
			t.Errorf("seed %d: %d turns moved\n%v\n%v", seed, r2.Moved, turns(r), turns(r2))
		}
	}
}

// Of large problems, nearly as many plots are served as can be: Bound proves it.
func TestLargeProblems(t *testing.T) {
	sum, bound := 0, 0
	for seed := range uint64(12) {
		c := large
		c.even, c.classes, c.shared = seed%2 == 0, seed%3 == 0, seed%4 == 0
		p := c.draw(seed)
		r := p.Solve(Limit{})
		if err := Verify(p, r); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		if r.Proven || r.HandoversProven {
			t.Errorf("seed %d: a roster that was not searched for is called proven", seed)
		}
		t.Logf("seed %d: %d of %d, %d handovers", seed, r.Served, r.Bound, r.Handovers)
		sum += r.Served
		bound += r.Bound
	}
	if float64(sum) < 0.97*float64(bound) {
		t.Errorf("%d plots served, at most %d can be", sum, bound)
	}
}

func TestLimit(t *testing.T) {
	searched := crowd{plots: 20, tools: 3, days: 15, needs: 4, windowMin: 5, windowMax: 12, even: true}
	for _, c := range []crowd{large, searched} {
		p := c.draw(1)
		for _, nodes := range []int{1, 3, 40, 300} {
			r := p.Solve(Limit{Nodes: nodes})
			if err := Verify(p, r); err != nil {
				t.Errorf("%d nodes: %v", nodes, err)
			}
			if c.plots == 20 && (r.Nodes > nodes || nodes == 1 && r.Proven) {
				t.Errorf("%d nodes, proven %t, with a limit of %d", r.Nodes, r.Proven, nodes)
			}
		}
		for _, stopAt := range []int{0, 1, 2, 10, 30} {
			calls := 0
			r := p.Solve(Limit{Stop: func() bool { calls++; return calls > stopAt }})
			if err := Verify(p, r); err != nil {
				t.Errorf("stopped at call %d: %v", stopAt, err)
			}
		}
		if !reflect.DeepEqual(p.Solve(Limit{}), p.Solve(Limit{})) {
			t.Error("the same problem has two rosters")
		}
	}
}

// Whatever Validate accepts is solved in bounded time: the largest problem without a search.
func TestLargestProblem(t *testing.T) {
	p := crowd{plots: MaxPlots, tools: MaxTools, days: MaxDays, needs: MaxNeed, windowMin: 50, windowMax: 100,
		classes: true, shared: true}.draw(1)
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	r := p.Solve(Limit{})
	if err := Verify(p, r); err != nil {
		t.Error(err)
	}
	if r.Served < MaxPlots*4/10 {
		t.Errorf("%d plots served", r.Served)
	}
	again := withTold(p, r)
	r2 := again.Solve(Limit{})
	if err := Verify(again, r2); err != nil {
		t.Error(err)
	}
	if r2.Moved > len(r.Turns)/100 { // a roster without a search keeps nearly all, and promises no more
		t.Errorf("planned again, %d of %d turns moved", r2.Moved, len(r.Turns))
	}
}

// With the largest numbers in a problem that is searched, the weights of the objectives do not overflow: the told turns
// stay, and the rest is recounted by Verify.
func TestLargestNumbers(t *testing.T) {
	c := crowd{plots: maxSearchPlots, tools: maxSearchTools, days: maxSearchToolDays / maxSearchTools, needs: MaxNeed,
		windowMin: 20, windowMax: 25}
	for seed := range uint64(3) {
		p := c.draw(seed)
		for i := range p.Plots {
			plot := &p.Plots[i]
			plot.Missed, plot.Until = MaxMissed, plot.Closes+MaxLate
			p.Households[i].Hands = []int{MaxHands}
			for j := range plot.Chance {
				plot.Chance[j] = 1
			}
		}
		if err := p.Validate(); err != nil {
			t.Fatal(err)
		}
		r := p.Solve(Limit{Nodes: 300})
		again := withTold(p, r)
		r2 := again.Solve(Limit{Nodes: 300})
		if err := errors.Join(Verify(p, r), Verify(again, r2)); err != nil {
			t.Error(err)
		}
		if r.Served == 0 || r.Bound < r.Served || r2.Served == r.Served && r2.Moved > 0 {
			t.Errorf("seed %d: %d of %d served; then %d with %d turns moved", seed, r.Served, r.Bound, r2.Served,
				r2.Moved)
		}
	}
}
