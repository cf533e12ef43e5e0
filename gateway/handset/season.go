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
const letterKey = "planted P  pass +  window =  best day *  missed x  closed .  today in [ ]"

// maxLetters is the most days of a season that are shown as letters.
const maxLetters = 100

// summarize plans the season of a plot as it is on the day today, and describes the plan.
func summarize(p Plot, today engine.Day) (seasonSummary, error) {
	plan, err := p.Season.Plan(today)
	if err != nil {
		return seasonSummary{}, err
	}
	past, err := p.Season.Past(today)
	return seasonSummary{p.title(), adviceOf(plan), letters(p.Season, plan, past)}, err
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
	return "No further window: pull by hand the weeds between the plants."
}

// noPlots stands on the card of a phone whose owner has no plot.
const noPlots = "No plot yet."

// aboutToday says in a sentence for each plot what there is to do on the day today.
func aboutToday(plots []Plot, today engine.Day) (string, error) {
	if len(plots) == 0 {
		return noPlots, nil
	}
	var sentences []string
	for _, plot := range plots {
		p, err := plot.Season.Windows(today)
		if err != nil {
			return "", err
		}
		title := plot.title()
		switch p.Passes {
		case 0:
		case 1:
			title += ", weeded once"
		case 2:
			title += ", weeded twice"
		default:
			title += fmt.Sprintf(", weeded %d times", p.Passes)
		}
		sentences = append(sentences, title+": "+dutyOf(p)+".")
	}
	return strings.Join(sentences, " "), nil
}

// dutyOf says in a few words what there is to do on the day of the plan.
func dutyOf(p engine.Plan) string {
	byHand := ""
	if p.Next.With == engine.ByHand {
		byHand = " by hand"
	}
	switch p.State {
	case engine.TooEarly:
		return "nothing to do yet"
	case engine.Prepare:
		if p.Next.AsksLook() {
			return "look at the weeds"
		}
		return "get ready to weed" + byHand
	case engine.Open:
		return "weed" + byHand + " now"
	case engine.LastDays:
		return "the last days to weed" + byHand
	case engine.Missed:
		return "the window is missed, pull big weeds by hand"
	case engine.Closed:
		return "the season is over"
	}
	return "pull by hand the weeds between the plants"
}

// title returns the name of the plot, such as "Plot 1, near the well".
func (p Plot) title() string {
	title := fmt.Sprintf("Plot %d", p.No)
	if label := p.Season.Plot.Label; label != "" {
		title += ", " + label
	}
	return title
}

func shortDate(d engine.Day) string {
	_, m, day := d.Date()
	return fmt.Sprintf("%d %s", day, m.String()[:3])
}

// letters writes one letter for each day of a season, from planting until three days after today or after the last day
// for the tool, whichever is later, but at most maxLetters days after planting.
func letters(s engine.Season, p engine.Plan, past []engine.PastWindow) string {
	from := s.Plot.Planted
	to := min(max(p.Closure.LastToolDay+3, p.On+3), from+maxLetters)
	var b strings.Builder
	for d := from; d <= to; d++ {
		format := "%c"
		if d == p.On {
			format = "[%c]"
		}
		fmt.Fprintf(&b, format, letter(s, p, past, d))
	}
	return b.String()
}

// inLines breaks the letters of a season into lines of ten weeks. The brackets around today are not counted.
func inLines(letters string) []string {
	const days = 70
	lines, n := []string{""}, 0
	for _, r := range letters {
		if n == days && r != ']' {
			lines, n = append(lines, ""), 0
		}
		lines[len(lines)-1] += string(r)
		if r != '[' && r != ']' {
			n++
		}
	}
	return lines
}

func letter(s engine.Season, p engine.Plan, past []engine.PastWindow, d engine.Day) rune {
	for _, pass := range s.Passes {
		if pass.On == d {
			return '+'
		}
	}
	if p.State == engine.Missed {
		past = append(past, engine.PastWindow{Window: p.Next, End: engine.WindowMissed})
		p.Next = engine.Window{}
	}
	for _, w := range past {
		switch {
		case !w.Contains(d):
		case w.End == engine.WindowMissed:
			return 'x'
		default:
			return '='
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
