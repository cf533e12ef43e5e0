package season

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
)

// asks is what a text asks.
type asks uint8

const (
	asksNothing asks = iota
	asksLook         // how many leaves
	asksPass         // one plot: done, not yet, too big
	asksBoth         // two plots: both, only the first, only the second, not yet
	asksDone         // 1 when it is done
	asksLeft         // how many weeds are left
	asksHours
	asksSure // are these hours right?
)

// question is what the last text with a question asked.
type question struct {
	what       asks
	plots      []int
	big, small bool       // "too big" and "too small" are choices
	from       engine.Day // may be answered from this day on
	follows    bool       // it is part of an answer: whoever holds the phone goes on at once
}

var plotsNamed = regexp.MustCompile(`Plot (\d)`)

// plotsIn returns the numbers of the plots that a text names, in its order.
func plotsIn(text string) (nos []int) {
	for _, m := range plotsNamed.FindAllStringSubmatch(text, -1) {
		if no, err := strconv.Atoi(m[1]); err == nil && !slices.Contains(nos, no) {
			nos = append(nos, no)
		}
	}
	return nos
}

// read returns what a text asks, as a grower reads it. It knows no catalogue, only the words on the phone.
func read(text string, d engine.Day) question {
	has := func(s string) bool { return strings.Contains(text, s) }
	q := question{plots: plotsIn(text), from: d}
	switch {
	case has("1 none yet"):
		q.what = asksLook
		if _, next, two := strings.Cut(text, " Now "); two {
			q.plots, q.follows = plotsIn(next), true
		}
	case has("1 both done, 2 only "):
		// The text may be about one of them, and name it first.
		_, choices, _ := strings.Cut(text, "1 both done")
		q.what, q.plots = asksBoth, plotsIn(choices)
	case has("1 done, 2 not yet"):
		q.what, q.big, q.small = asksPass, has("3 too big"), has("4 too small")
	case has("Weeds left: 1 few"):
		q.what, q.follows = asksLeft, true
	case has("Text 3h") || has("text 3h"):
		q.what, q.follows = asksHours, true
	case has("is that right? Answer 1 for yes"):
		q.what, q.follows = asksSure, true
	case has("answer 1 when done"):
		q.what, q.from = asksDone, d+1 // on the day of the look a digit would correct the look
	case has("nswer 1 when it is done"), has("Then answer 1:"), has("Answer 1 when both are done"):
		q.what = asksDone
	}
	return q
}

// leafDigit is what to write for a leaf count.
var leafDigit = map[engine.Leaves]string{engine.NoneUp: "1", engine.OneLeaf: "2", engine.TwoThree: "3",
	engine.FourPlus: "4"}
