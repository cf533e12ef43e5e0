package handset

import (
	"fmt"
	"strings"

	"rowbell/engine"
)

// summary is a plot's season in words and in letters.
type summary struct {
	Title   string // "Plot 1, near the well"
	Line    string // where it stands today
	Letters string // a letter a day from planting on
}

// letterKey explains the letters.
const letterKey = "planted P  pass +  window =  best day *  closed .  today in [ ]"

// seasonDays is how many days of a season the letters show at most.
const seasonDays = 100

func today(r *Room) engine.Day {
	now := r.Now()
	return engine.DayOf(now, now.Location())
}

// summaryOf works the season out for day on.
func summaryOf(p Plot, on engine.Day) (summary, error) {
	plan, err := p.Season.Plan(on)
	if err != nil {
		return summary{}, err
	}
	s := summary{Title: fmt.Sprintf("Plot %d", p.No), Line: standing(plan)}
	if label := p.Season.Plot.Label; label != "" {
		s.Title += ", " + label
	}
	s.Letters = letters(p.Season, plan)
	return s, nil
}

// standing says where the plot is today, and what comes next.
func standing(p engine.Plan) string {
	w := p.Next
	with := "With the tool"
	if w.With == engine.ByHand {
		with = "By hand"
	}
	span := fmt.Sprintf("%s to %s, best %s", short(w.Opens), short(w.Closes), short(w.Best))
	switch p.State {
	case engine.TooEarly:
		return fmt.Sprintf("Too early. %s from %s.", with, span)
	case engine.Prepare:
		return fmt.Sprintf("Get ready. %s from %s.", with, span)
	case engine.Open:
		return fmt.Sprintf("Weed now. %s from %s.", with, span)
	case engine.LastDays:
		return fmt.Sprintf("Last days. %s from %s.", with, span)
	case engine.Missed:
		return fmt.Sprintf("Missed: the window closed on %s. Pull by hand.", short(w.Closes))
	case engine.Closed:
		return "Closed: the work with the tool is over."
	}
	if w.Exists() {
		return fmt.Sprintf("Just weeded. %s again from %s.", with, span)
	}
	return "No further window: pull what stands in the rows."
}

// short is a day as a person writes it in a notebook.
func short(d engine.Day) string {
	_, m, day := d.Date()
	return fmt.Sprintf("%d %s", day, m.String()[:3])
}

// letters draws the season with a letter a day.
func letters(s engine.Season, p engine.Plan) string {
	from := s.Plot.Planted
	to := min(max(p.Closure.LastToolDay+3, p.On+3), from+seasonDays)
	var b strings.Builder
	for d := from; d <= to; d++ {
		c := letter(s, p, d)
		if d == p.On {
			fmt.Fprintf(&b, "[%c]", c)
			continue
		}
		b.WriteRune(c)
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
