// Package say has the sentences that the desk and the commands share: why a plot needs somebody, what a field worker
// says to its grower, and why a roster gives a plot its days. They are English, because staff read them and say them in
// the language of the grower.
//
//	why := say.Why(a)   // "last days, until 12 Jun"
//	what := say.What(a) // "Ask whether the plot is weeded. …"
//	say.Roster{…}.Reason(plot, reason)
//
// The package decides nothing: reasons, days and depths come from the engine.
package say

import (
	"fmt"
	"strings"
	"time"

	"rowbell/engine"
)

// Label returns the name of a reason for a heading or a link.
func Label(r engine.Reason) string {
	switch r {
	case engine.NeedsLastDays:
		return "Last days"
	case engine.NeedsPulling:
		return "Missed"
	case engine.NeedsStart:
		return "Window opens"
	case engine.NeedsTool:
		return "No tool"
	case engine.NeedsWater:
		return "No water"
	case engine.NeedsRepair:
		return "Tool gives trouble"
	case engine.NeedsAnswer:
		return "Did not answer"
	case engine.NeedsLook:
		return "Look disagrees"
	case engine.NeedsSignOfLife:
		return "Silent"
	}
	return r.String()
}

// Why returns the reasons of a plot in a few words each, the most pressing first.
func Why(a engine.Attention) []string {
	var list []string
	for _, r := range a.Reasons.List() {
		list = append(list, why(r, a))
	}
	return list
}

func why(r engine.Reason, a engine.Attention) string {
	switch r {
	case engine.NeedsLastDays:
		return "last days, until " + Day(a.Next.Closes)
	case engine.NeedsPulling:
		return "missed: too big for the tool"
	case engine.NeedsStart:
		return "window opens " + soon(a.Next.Opens-a.On)
	case engine.NeedsTool:
		return "no tool, window from " + Day(a.Next.Opens)
	case engine.NeedsWater:
		return "no water"
	case engine.NeedsRepair:
		return "tool " + a.Trouble.String()
	case engine.NeedsAnswer:
		return "asked on " + Day(a.AskedOn) + ", no answer"
	case engine.NeedsLook:
		return "saw " + leaves(a.Saw) + " on " + Day(a.SawOn) + ", not as expected"
	case engine.NeedsSignOfLife:
		return "silent since " + Day(a.HeardOn)
	}
	return r.String()
}

// Day returns a day such as "2 Jun".
func Day(d engine.Day) string { return d.At(12, time.UTC).Format("2 Jan") }

func soon(days engine.Day) string {
	if days == 0 {
		return "today"
	}
	return "tomorrow"
}

func leaves(l engine.Leaves) string {
	switch l {
	case engine.NoneUp:
		return "no weeds"
	case engine.OneLeaf:
		return "one leaf"
	case engine.TwoThree:
		return "2 or 3 leaves"
	}
	return "4 leaves or more"
}

// The usual cautions. Local rules come first.
const (
	ofTeeth = "Lift the tool by its handle: the teeth cut."
	ofHeat  = "Work early or late, drink, rest at midday."
	ofWater = "Stay out of fast or deep water."
)

// What returns what a field worker says to the grower: about the first two reasons, and the cautions for the work.
func What(a engine.Attention) string {
	reasons := a.Reasons.List()
	var said, cautions []string
	for _, r := range reasons[:min(len(reasons), 2)] {
		sentence, caution := what(r, a)
		said = append(said, sentence)
		if caution != "" && !strings.Contains(strings.Join(cautions, " "), caution) {
			cautions = append(cautions, caution)
		}
	}
	return strings.Join(append(said, cautions...), " ")
}

// what returns what to say about a reason, and the caution for the work; "" if there is none.
func what(r engine.Reason, a engine.Attention) (sentence, caution string) {
	switch r {
	case engine.NeedsLastDays:
		if a.Next.With == engine.ByHand {
			return "Ask whether the plot is weeded. If not: pull the weeds by " + Day(a.Next.Closes) + ".", ofHeat
		}
		return fmt.Sprintf("Ask whether the plot is weeded. If not: push the tool by %s; later the weeds are too big.",
			Day(a.Next.Closes)), ofTeeth + " " + ofHeat
	case engine.NeedsPulling:
		return "The weeds are too big for the tool: pull them by hand" + hours(a) + ", and tell us the day.", ofHeat
	case engine.NeedsStart:
		return start(a)
	case engine.NeedsTool:
		return fmt.Sprintf("A tool is needed from %s: ask neighbours, a circle, or who hires one out.",
			Day(a.Next.Opens)), ofTeeth
	case engine.NeedsWater:
		return fmt.Sprintf("Let in about %s of water before the pass, at most to %s.", depth(a.WithoutMM),
			depth(a.Water.MostMM)), ofWater
	case engine.NeedsRepair:
		return "Try one by one: " + cures(a.Trouble) + ".", ofTeeth
	case engine.NeedsAnswer:
		return "Ask whether the plot is weeded, and if not how many leaves most weeds have.", ""
	case engine.NeedsLook:
		return "Look at the weeds together, and ask for the planting day: what you see in the field counts.", ""
	case engine.NeedsSignOfLife:
		return "Ask whether the number is right, and whether our texts come and can be read.", ""
	}
	return r.String(), ""
}

// start says what to do when a window opens.
func start(a engine.Attention) (sentence, caution string) {
	if a.Next.With == engine.ByHand {
		return fmt.Sprintf("Weeding by hand is due, until %s%s.", Day(a.Next.Closes), hours(a)), ofHeat
	}
	return fmt.Sprintf("Look at the weeds: with 2 or 3 leaves push the tool, by %s. Water for it: about %s.",
		Day(a.Next.Closes), depth(a.Water.NeedMM)), ofTeeth
}

// hours says how long the next weeding takes one person, if the area is known.
func hours(a engine.Attention) string {
	if h := a.Work.Total(); h >= 1 {
		return fmt.Sprintf(", about %.0f hours of one person", h)
	}
	return ""
}

func depth(mm float64) string { return fmt.Sprintf("%.0f cm", mm/10) }

func cures(t engine.Trouble) string {
	var list []string
	for _, c := range engine.Cures(t) {
		list = append(list, c.String())
	}
	return strings.Join(list, ", ")
}
