package say

import (
	"fmt"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// Roster has the words for a roster: who is not served, what would help, and why each plot has its days. The functions
// return names by the index of a plot, tool or household in the problem. The page of a circle and rowbell roster share
// the words.
type Roster struct {
	Problem               circle.Problem
	Made                  circle.Roster
	Plot, Tool, Household func(i int) string
	Day                   func(engine.Day) string
	NoTurn                string // stands for the turns of a plot that has none
}

// Days returns one day or a range of days.
func (r Roster) Days(from, to engine.Day) string {
	if from >= to {
		return r.Day(from)
	}
	return r.Day(from) + " to " + r.Day(to)
}

// Run is consecutive days of a tool on one plot.
type Run struct {
	Tool     int
	From, To engine.Day
}

// Runs joins the turns of a plot, which are in order of day, with one tool on consecutive days.
func Runs(turns []circle.Turn) (runs []Run) {
	for _, t := range turns {
		i := slices.IndexFunc(runs, func(x Run) bool { return x.Tool == t.Tool && x.To == t.Day-1 })
		if i < 0 {
			runs = append(runs, Run{t.Tool, t.Day, t.Day})
		} else {
			runs[i].To = t.Day
		}
	}
	return runs
}

// Turns returns the turns of a plot by their tools and days, or NoTurn.
func (r Roster) Turns(turns []circle.Turn) string {
	var words []string
	for _, x := range Runs(turns) {
		words = append(words, r.Tool(x.Tool)+" "+r.Days(x.From, x.To))
	}
	if len(words) == 0 {
		return r.NoTurn
	}
	return strings.Join(words, ", ")
}

func (r Roster) plots(list []int) string {
	var names []string
	for _, i := range list {
		names = append(names, r.Plot(i))
	}
	return strings.Join(names, ", ")
}

// WhyNot says what a plot gets that cannot be weeded inside its window. byHand is the person-hours of weeding it by
// hand; 0 = not known.
func (r Roster) WhyNot(plot int, byHand float64) string {
	p, x, hand := r.Problem.Plots[plot], r.Made.Plots[plot], ""
	if byHand > 0 {
		hand = "; by hand " + count(int(byHand+0.5), "hour", "hours")
	}
	window, until := r.Days(p.Opens, p.Closes), r.Day(p.Until)
	switch got := x.Need - x.Missing; {
	case x.Unsuited:
		return "no tool suits its rows" + hand
	case got == 0:
		return fmt.Sprintf("no turn until %s, window %s%s", until, window, hand)
	case x.Missing > 0:
		return fmt.Sprintf("%d of %d tool-days until %s, window %s%s", got, x.Need, until, window, hand)
	}
	return "weeded late, window " + window
}

// Change says what to change so that more plots can be weeded in time.
func (r Roster) Change(h circle.Help) string {
	days := ""
	if h.From != 0 {
		days = r.Days(h.From, h.To)
	}
	switch h.Kind {
	case circle.HelpTool:
		return fmt.Sprintf("one more tool like %s, %s", r.Tool(h.Tool), days)
	case circle.HelpMended:
		return fmt.Sprintf("%s in use again from %s", r.Tool(h.Tool), r.Day(h.From))
	case circle.HelpHands:
		return fmt.Sprintf("%s of %s, %s", count(h.Hands, "more hand", "more hands"), r.Household(h.Household), days)
	case circle.HelpRestDay:
		return fmt.Sprintf("%s works on the day of rest, %s", r.Household(h.Household), days)
	case circle.HelpOneWay:
		return r.Plot(h.Plot) + " is weeded in one direction only"
	case circle.HelpGiveUp:
		return fmt.Sprintf("%s gives up %s, and weeds %s by hand%s", r.Plot(h.Plot), r.Turns(h.GivenUp), part(h),
			handHours(h))
	}
	return fmt.Sprintf("%s weeds %s by hand%s", r.Plot(h.Plot), part(h), handHours(h))
}

// part says how much of a plot is weeded by hand.
func part(h circle.Help) string {
	if h.ToolDays == h.Need {
		return "all of it"
	}
	return fmt.Sprintf("%d of %s", h.ToolDays, count(h.Need, "day's work", "days' work"))
}

// handHours says how long a part takes by hand, if that is known.
func handHours(h circle.Help) string {
	if h.Hours == 0 {
		return ""
	}
	return ", " + count(h.Hours, "hour", "hours")
}

// Effect says which plots are then weeded inside their windows.
func (r Roster) Effect(h circle.Help) string {
	words := "then in time: " + r.plots(h.Served)
	if len(h.Instead) > 0 {
		words += "; but not " + r.plots(h.Instead)
	}
	if h.All {
		words += " (then all are)"
	}
	return words
}

// Reason explains the days of a plot in a few lines.
func (r Roster) Reason(plot int, x circle.Reason) []string {
	p, made := r.Problem.Plots[plot], r.Made.Plots[plot]
	lines := []string{r.Turns(x.Turns) + "; window " + r.Days(p.Opens, p.Closes)}
	sameDay := func(a, b circle.Turn) bool { return a.Day == b.Day }
	switch {
	case made.Unsuited:
		return append(lines, "no tool suits its rows")
	case len(x.Alone) == 0:
		lines = append(lines, "even alone its pass does not fit into the window: too few days, hands or tools")
	case made.Served && slices.EqualFunc(x.Alone, x.Turns, sameDay):
		lines = append(lines, "alone it would have the same days")
	default:
		lines = append(lines, "alone it would have "+r.Turns(x.Alone))
	}
	for _, h := range x.Holders {
		lines = append(lines, r.holder(h))
	}
	switch {
	case !x.HasBest || p.Chance == nil:
	case x.OnBest:
		lines = append(lines, r.Day(x.Best)+" is the best day of its window")
	default:
		lines = append(lines, fmt.Sprintf("its best day would be %s: %s", r.Day(x.Best), r.loss(x.Loss)))
	}
	return lines
}

// holder says who has the days that a plot could use, and why that plot comes first.
func (r Roster) holder(h circle.Holder) string {
	var why []string
	for _, w := range []struct {
		is    bool
		words string
	}{{h.Told, "was told so"}, {h.Sooner, "its window closes sooner"}, {h.Missed, "went without more often"},
		{h.SameHousehold, "the same hands push there"}, {h.Frees, "without it this plot would be weeded in time"}} {
		if w.is {
			why = append(why, w.words)
		}
	}
	words := r.Plot(h.Plot) + " has " + r.Turns(h.Turns)
	if len(why) > 0 {
		words += " (" + strings.Join(why, "; ") + ")"
	}
	return words
}

// loss says what a turn on another day would cost.
func (r Roster) loss(l circle.Loss) string {
	switch l.Objective {
	case circle.MostServed:
		return fmt.Sprintf("then %s would not be weeded in time", r.plots(l.NotServed))
	case circle.FewestMoved:
		return fmt.Sprintf("then %s would move", count(l.By, "told turn", "told turns"))
	case circle.LeastLateness:
		return fmt.Sprintf("then turns would be later by %s in all", count(l.By, "day", "days"))
	case circle.MostMissed:
		return "then a plot that went without more often would not be weeded in time"
	case circle.BestChance:
		return "then other plots would have worse days"
	case circle.FewestHandovers:
		if l.By == 0 { // it was not proven how many
			return "then there may be more handovers"
		}
		return "then there would be " + count(l.By, "more handover", "more handovers")
	}
	return "it would do as well"
}

// count returns a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprint(n, " ", many)
}
