package circle

import (
	"errors"
	"fmt"

	"rowbell/engine"
)

// The bounds of a problem. They are wide for growers and narrow enough that no sum of costs overflows: see weights.
const (
	MaxPlots      = 500
	MaxTools      = 50
	MaxDays       = 120
	MaxHouseholds = 500
	MaxNeed       = 60  // tool-days of one pass
	MaxLate       = 120 // days from Closes to Until
	MaxMissed     = 99
	MaxHands      = 50
	MaxOut        = 120 // spans of days on which a tool is out
	maxFar        = 366 // days from the planned days to the ends of a window
)

// Validate returns what is wrong with the problem, or nil. Solve expects a problem without errors.
func (p Problem) Validate() error {
	days := int64(p.To) - int64(p.From) + 1
	if days < 1 || days > MaxDays {
		return fmt.Errorf("planned days: %d, want 1 to %d", days, MaxDays)
	}
	if len(p.Plots) > MaxPlots || len(p.Tools) > MaxTools || len(p.Households) > MaxHouseholds {
		return fmt.Errorf("%d plots, %d tools, %d households: want at most %d, %d and %d",
			len(p.Plots), len(p.Tools), len(p.Households), MaxPlots, MaxTools, MaxHouseholds)
	}
	var errs []error
	for i, plot := range p.Plots {
		if err := p.validatePlot(plot); err != nil {
			errs = append(errs, fmt.Errorf("plot %d: %w", i, err))
		}
	}
	for k, tool := range p.Tools {
		if len(tool.Out) > MaxOut {
			errs = append(errs, fmt.Errorf("tool %d: %d spans of days out, want at most %d", k, len(tool.Out), MaxOut))
		}
		for _, span := range tool.Out {
			if span.From > span.To {
				errs = append(errs, fmt.Errorf("tool %d: out from %v to %v, which is before", k, span.From, span.To))
			}
		}
	}
	for h, household := range p.Households {
		if len(household.Hands) > MaxDays {
			errs = append(errs, fmt.Errorf("household %d: hands of %d days, want at most %d",
				h, len(household.Hands), MaxDays))
		}
		for j, hands := range household.Hands {
			if hands < 0 || hands > MaxHands {
				errs = append(errs, fmt.Errorf("household %d: %d hands on day %d, want 0 to %d", h, hands, j, MaxHands))
			}
		}
	}
	return errors.Join(errs...)
}

func (p Problem) validatePlot(plot Plot) error {
	far := func(d engine.Day) bool {
		return int64(d) < int64(p.From)-maxFar || int64(d) > int64(p.To)+maxFar
	}
	switch {
	case plot.Household < 0 || plot.Household >= len(p.Households):
		return fmt.Errorf("household %d, want 0 to %d", plot.Household, len(p.Households)-1)
	case far(plot.Opens) || far(plot.Until):
		return fmt.Errorf("window from %v, worth a pass until %v: want days within %d of the planned days",
			plot.Opens, plot.Until, maxFar)
	case plot.Opens > plot.Closes || plot.Closes > plot.Until:
		return fmt.Errorf("opens %v, closes %v, worth a pass until %v: want them in this order",
			plot.Opens, plot.Closes, plot.Until)
	case plot.Until-plot.Closes > MaxLate:
		return fmt.Errorf("worth a pass for %d days after it closes, want at most %d", plot.Until-plot.Closes, MaxLate)
	case len(plot.Need) != len(p.Tools):
		return fmt.Errorf("needs with %d tools, want %d", len(plot.Need), len(p.Tools))
	case plot.Chance != nil && len(plot.Chance) != int(plot.Closes-plot.Opens)+1:
		return fmt.Errorf("chances of %d days, want %d", len(plot.Chance), plot.Closes-plot.Opens+1)
	case plot.Missed < 0 || plot.Missed > MaxMissed:
		return fmt.Errorf("%d windows missed, want 0 to %d", plot.Missed, MaxMissed)
	}
	for k, need := range plot.Need {
		if need < 0 || need > MaxNeed {
			return fmt.Errorf("needs %d tool-days with tool %d, want 0 to %d", need, k, MaxNeed)
		}
	}
	for j, chance := range plot.Chance {
		if !(chance >= 0 && chance <= 1) { // also refuses NaN
			return fmt.Errorf("chance %v of day %d of the window, want 0 to 1", chance, j)
		}
	}
	return p.validateTold(plot.Told)
}

func (p Problem) validateTold(told []Turn) error {
	type toolDay struct {
		tool int
		day  engine.Day
	}
	seen := map[toolDay]bool{}
	for j, turn := range told {
		if turn.Tool < 0 || turn.Tool >= len(p.Tools) {
			return fmt.Errorf("told turn %d: tool %d, want 0 to %d", j, turn.Tool, len(p.Tools)-1)
		}
		key := toolDay{turn.Tool, turn.Day}
		if seen[key] {
			return fmt.Errorf("told turn %d: tool %d on %v was already told", j, turn.Tool, turn.Day)
		}
		seen[key] = true
	}
	return nil
}
