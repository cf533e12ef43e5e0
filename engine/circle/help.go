package circle

import (
	"cmp"
	"slices"

	"rowbell/engine"
)

// HelpKind is what is changed so that more plots are served.
type HelpKind uint8

// The kinds of help, in the order in which Problem.Help lists them.
const (
	HelpTool    HelpKind = iota // one more tool on some days
	HelpMended                  // a tool that is out works again sooner
	HelpHands                   // more hands of a household on a day
	HelpRestDay                 // a household works on a rest day
	HelpOneWay                  // a plot is weeded in one direction only
	HelpByHand                  // a plot that is not served is weeded by hand, or a part of it
	HelpGiveUp                  // a plot gives up told turns, and that part of it is weeded by hand
)

// Help is a change that serves more plots. Plot, Household and Tool are indexes in the problem, -1 where the kind does
// not have them.
type Help struct {
	Kind HelpKind
	// Tool is the tool that works again; for HelpTool, the new tool has the needs of this one.
	Tool int
	// Household is whose hands they are, or whose rest day.
	Household int
	// Plot is what is weeded in another way.
	Plot int
	// From and To are the days on which there is one more tool, the days for which a tool is mended sooner, or the one
	// day of more hands or of work on a rest day.
	From, To engine.Day
	// Hands is how many hands more are needed on the day.
	Hands int
	// ToolDays is how many days of tools the plot goes without, of the Need tool-days of its pass; Hours is what this
	// part takes by hand, rounded up; 0 if the caller did not say.
	ToolDays, Need, Hours int
	// GivenUp are the told turns that the plot no longer has.
	GivenUp []Turn
	// Served are the plots that are served only with the change. Instead are plots that are served without it only;
	// they are fewer.
	Served, Instead []int
	// All says that every plot is served whose window has a planned day.
	All bool
}

// Ways is in which other ways plots can be weeded. Both slices have a value for each plot, or are nil.
type Ways struct {
	OneWay    [][]int   // Plot.Need if the tools go in one direction only; nil or equal to Need: no other way
	HandHours []float64 // hours of weeding the whole plot by hand; 0: not known
}

// Help returns what would serve more plots than roster r of the problem does. Each help was found by solving the
// changed problem; it is the smallest change of its kind that serves one more plot:
//
//   - for each kind of tool, the shortest time with one more, and of these the first; the same for serving all plots;
//   - for each time that a tool is out, the last day from which it must work again; the same for serving all plots;
//   - for each household, the fewest hands more on one day, and of the days with so few the first; for each, the
//     first of its rest days that helps; the hands of that day are then those of the working day before it, or else
//     after it;
//   - each plot that helps by being weeded in one direction only;
//   - for each plot that is not served, the smallest part that must be weeded by hand, and the smallest part of each
//     served plot that must give up told turns.
//
// In a problem with more than 20 plots, at most the 20 around each plot that is not served get other turns, and no
// change is looked for that serves all, so that smaller changes may help too. In all others, smallest is proven if
// the problem and the changed ones are solved exactly (Roster.Proven). The order is that of the kinds and indexes.
// Each of at most maxTries solutions is bounded by the limit, and none begins after Stop returned true. If that was
// not enough, whole is false, and what was not tried is missing.
func (p Problem) Help(r Roster, w Ways, l Limit) (helps []Help, whole bool) {
	h := newHelper(p, near{Problem: p, roster: r}, l, maxTries)
	h.ways = w
	if h.served == h.all {
		return nil, true
	}
	if len(p.Plots) > maxNear {
		h.helpNear()
	} else {
		h.look()
	}
	slices.SortStableFunc(h.found, func(a, b Help) int {
		return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Tool, b.Tool), cmp.Compare(a.Household, b.Household),
			cmp.Compare(a.Plot, b.Plot))
	})
	return h.found, !h.spent
}

// look looks for help of all kinds.
func (h *helper) look() {
	// What helps a plot by itself comes before what its neighbours can do: large circles have many neighbours, and
	// the work is bounded.
	h.tools()
	h.mended()
	for _, served := range []bool{false, true} {
		for i := range h.p.Plots {
			if h.r.Plots[i].Served == served {
				h.byHand(i)
				h.oneWay(i)
			}
		}
		for i := range h.p.Households {
			if h.hasAll(i) == served {
				h.hands(i)
			}
		}
	}
}

// maxTries is how many changed problems Help or Explain solves at most. 20 plots of 20 households with 3 tools on 30
// days need about 100.
const maxTries = 4000
