// Package circle is about growers who share tools. From the windows of their plots, the hours that each plot needs with
// each tool, and the hands of each household, Problem.Solve makes a Roster: who has which tool on which day.
//
// Package circle also has the values that the records of a circle consist of. It is as pure as package engine: it knows
// no clock, no records and no words for people.
//
// # Why a roster is the best
//
// If each plot's class and whether it is served are decided, a roster is a flow: from a source to the plots, to their
// days, to the tool-days, to a sink. Lateness, chances and told turns are costs of arcs, so the best roster for these
// decisions is a flow of least cost (network). What remains is to find the decisions: a branch and bound (search).
//
//   - Its bound prices each tool-day. With any prices, the sum of what each plot costs at least by itself, less the
//     prices, is no more than the costs of any roster (bound). The potentials of the cheapest flow are good prices. A
//     node whose bound is not below the costs of a known roster has no better one, and a decision whose bound is above
//     them is dropped.
//   - The first run finds the most plots that can be served. The second finds, among the rosters that serve so many,
//     the best by the next four objectives, which are one number: each weight is more than all that the later
//     objectives can change (costs). The number of served plots is kept by a price on serving, which is chosen so that
//     the bound is large (tighten).
//   - Nodes whose bound equals the costs of the best roster have together all rosters that are as good. Handovers
//     depend on the order of turns, so they are no flow. A search through the days follows all rosters of such a node:
//     at its prices, these are the rosters in which no step costs more than it must (handover). It leaves out states
//     from which another state can do the same with no handover more (undominated), and states that cannot be completed
//     by Hall's condition (fits).
//
// Roster.Proven and Roster.HandoversProven say whether the searches came to their ends within the Limit. Problems that
// are too large for them get a good roster (good), and Roster.Bound, from the same prices, shows how good.
package circle

import "rowbell/engine"

// Problem is what a roster is made for. Days are counted from Problem.From, and both Problem.From and Problem.To are
// planned. A day of a tool is the smallest unit: on one day, a tool is at one plot or at none.
type Problem struct {
	From, To   engine.Day
	Plots      []Plot
	Tools      []Tool
	Households []Household
}

// Plot is a plot that needs a pass with a shared tool.
type Plot struct {
	Household int // index in Problem.Households
	// The pass should be made from Opens to Closes, both included. From then until Until, a late pass is still worth
	// its work. Opens <= Closes <= Until.
	Opens, Closes, Until engine.Day
	// Need is how many tool-days the pass takes with each tool of Problem.Tools; 0 if the tool does not suit the plot.
	// One pass is made with tools that have the same need.
	Need []int
	// Chance is the chance, 0 to 1, that each day from Opens to Closes is right for the weeds. nil: all days are equal.
	Chance []float64
	Missed int    // windows in a row in which the plot had no whole turn: it comes before a plot with fewer
	Told   []Turn // turns of this plot that its grower was told; Turn.Plot is ignored
}

// Tool is a shared tool.
type Tool struct {
	Out []Span // days on which the tool cannot be used, e.g. because it is broken or hired out
}

// Span is a range of days, both included.
type Span struct{ From, To engine.Day }

// Household is who pushes the tools on its plots.
type Household struct {
	// Hands is how many tools the household can use on each day from Problem.From; 0 on a rest day. If it is shorter
	// than the planned days, its last value holds for the days after; an empty Hands is 1 on every day.
	Hands []int
}

// Turn is one day of one tool at one plot. Plot and Tool are indexes in the problem.
type Turn struct {
	Plot, Tool int
	Day        engine.Day
}
