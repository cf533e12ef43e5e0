package desk

import (
	"time"

	"rowbell/engine"
)

// planWords is the plan of a plot in a few words.
type planWords struct {
	State engine.State // 0: no plan can be made
	Words string
}

// Class returns the class of the words in the style sheet: how much they press.
func (p planWords) Class() string {
	switch p.State {
	case engine.Open:
		return "press-open"
	case engine.LastDays:
		return "press-last"
	case engine.Missed:
		return "press-missed"
	}
	return "press-none"
}

// wordsOf returns the plan of a season on a day in words.
func wordsOf(s engine.Season, today engine.Day) planWords {
	plan, err := s.Windows(today)
	if err != nil {
		return planWords{Words: "cannot be planned: " + err.Error()}
	}
	return planWords{plan.State, stateWords(plan)}
}

func stateWords(p engine.Plan) string {
	w := p.Next
	days := shortDay(w.Opens) + " to " + shortDay(w.Closes)
	with := "weed"
	if w.With == engine.ByHand {
		with = "pull the weeds"
	}
	switch p.State {
	case engine.Open:
		words := with + " now, until " + shortDay(w.Closes)
		if w.Best >= p.On {
			words += ", best on " + shortDay(w.Best)
		}
		return words
	case engine.LastDays:
		return with + " now: last days, until " + shortDay(w.Closes)
	case engine.Missed:
		return "missed " + days + ": pull by hand"
	case engine.Closed:
		if p.Pulls() {
			return "too late for the tool: pull by hand until " + shortDay(p.Closure.PullUntil)
		}
		return "over"
	case engine.FollowUp:
		if !w.Exists() {
			return "weeded; no further window"
		}
	}
	if !w.Exists() {
		return p.State.String()
	}
	return with + " from " + days
}

// timeAt returns an instant.
func (r *request) timeAt(at int64) time.Time { return time.Unix(at, 0) }
