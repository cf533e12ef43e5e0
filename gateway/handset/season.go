package handset

import (
	"fmt"
	"strings"

	"rowbell/engine"
)

// seasonSummary describes the season of a plot in words and as a row of letters.
type seasonSummary struct {
	Title   string // "Plot 1, near the well"
	Line    string // what to do today, and what comes next
	Letters string // one letter for each day from planting on; letterKey explains the letters
}

// letterKey is shown below the letters of a season and explains them.
const letterKey = "planted P  pass +  window =  best day *  closed .  today in [ ]"

// maxLetters is the most days of a season that are shown as letters.
const maxLetters = 100

// summarize plans the season of a plot as it is on the day today, and describes the plan.
func summarize(p Plot, today engine.Day) (seasonSummary, error) {
	plan, err := p.Season.Plan(today)
	if err != nil {
		return seasonSummary{}, err
	}
	title := fmt.Sprintf("Plot %d", p.No)
	if label := p.Season.Plot.Label; label != "" {
		title += ", " + label
	}
	return seasonSummary{title, adviceOf(plan), letters(p.Season, plan)}, nil
}

func adviceOf(p engine.Plan) string {
	w := p.Next
	with := "With the tool"
	if w.With == engine.ByHand {
		with = "By hand"
	}
	days := fmt.Sprintf("from %s to %s, best %s", shortDate(w.Opens), shortDate(w.Closes), shortDate(w.Best))
	if w.Chance > 0 {
		days += fmt.Sprintf(", chance %.0f%%", 100*w.Chance)
	}
	days += "."
	switch p.State {
	case engine.TooEarly:
		if w.AsksLook() {
			with = "Look at the weeds on " + shortDate(w.AskOn) + ". " + with
		}
		return "Too early. " + with + " " + days
	case engine.Prepare:
		if w.AsksLook() {
			return "Look at the weeds. " + with + " " + days
		}
		return "Get ready. " + with + " " + days
	case engine.Open:
		return "Weed now. " + with + " " + days
	case engine.LastDays:
		return "Last days. " + with + " " + days
	case engine.Missed:
		return fmt.Sprintf("Missed: the window closed on %s. Pull big weeds by hand.", shortDate(w.Closes))
	case engine.Closed:
		return fmt.Sprintf("Closed: %s.", p.Closure.Why)
	}
	if w.Exists() {
		return "Just weeded. " + with + " again " + days
	}
	return "No further window: pull what stands in the rows."
}

func shortDate(d engine.Day) string {
	_, m, day := d.Date()
	return fmt.Sprintf("%d %s", day, m.String()[:3])
}

// letters writes one letter for each day of a season, from planting until three days after today or after the last day
// for the tool, whichever is later, but at most maxLetters days after planting.
func letters(s engine.Season, p engine.Plan) string {
	from := s.Plot.Planted
	to := min(max(p.Closure.LastToolDay+3, p.On+3), from+maxLetters)
	var b strings.Builder
	for d := from; d <= to; d++ {
		format := "%c"
		if d == p.On {
			format = "[%c]"
		}
		fmt.Fprintf(&b, format, letter(s, p, d))
	}
	return b.String()
}

func letter(s engine.Season, p engine.Plan, d engine.Day) rune {
	for _, pass := range s.Passes {
		if pass.On == d {
			return '+'
		}
	}
	for _, w := range append([]engine.Window{p.Next}, p.Later...) {
		switch {
		case !w.Contains(d):
		case d == w.Best:
			return '*'
		default:
			return '='
		}
	}
	switch {
	case d == s.Plot.Planted:
		return 'P'
	case d > p.Closure.LastToolDay:
		return '.'
	}
	return '-'
}
