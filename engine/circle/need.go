package circle

import (
	"math"
	"slices"

	"rowbell/engine"
)

// PlotWork is a plot of a roster as its season states it, with what is of use beside the roster.
type PlotWork struct {
	// Plot has the days, needs and chances of the season. The caller sets Household, Missed and Told.
	Plot
	Days engine.PassDays  // the window of the pass; if it does not exist, the plot needs no pass now
	Fits []engine.Verdict // how each tool suits the rows of the plot
	// OneWay is Plot.Need if the tools go in one direction only. It differs from Plot.Need on plots weeded crossed.
	OneWay    []int
	HandHours float64 // person-hours of weeding the plot by hand, without a tool; 0 = area not given
	// PartOn is the day on which a part of the plot was weeded last in this window; 0 = none. The need is that of the
	// rest, so tool-days up to PartOn do not count for it.
	PartOn engine.Day
}

// PlotOf returns what the season of a plot asks of a roster, as known on day today, with the tools of the circle in
// place of Season.Tool. crossed asks for a pass along and a pass across where rows, hills and tool allow both.
//
// Opens, Closes, Until and Chance are those of engine.PassDays: the announced days of an announced window. The need of
// a tool is the hours of pushing it, at the household's pace, by ToolDayHours, rounded up to whole days; half of the
// passes take longer than these hours. Pulling weeds in the rows does not count, because it needs no tool. A plot
// without an area is taken as one tool-day (judgement: most plots of growers who share tools are small). Needs and days
// after the window end at MaxNeed and MaxLate. The error is that of Validate of the season and of each tool.
func PlotOf(s engine.Season, today engine.Day, tools []engine.Tool, crossed bool) (PlotWork, error) {
	w := PlotWork{Fits: make([]engine.Verdict, len(tools)), OneWay: make([]int, len(tools))}
	w.Need = make([]int, len(tools))
	suits := engine.Tool{} // a tool that suits the plot, if there is one: then the plot has windows of the tool
	for i, t := range tools {
		if err := t.Validate(); err != nil {
			return PlotWork{}, err
		}
		fit := engine.FitOf(s.Plot, t)
		w.Fits[i] = fit.Verdict
		if suits.None() || !fit.Hand() {
			suits = t
		}
	}
	s.Tool = suits
	var err error
	if w.Days, err = s.PassDays(today); err != nil {
		return PlotWork{}, err
	}
	w.Opens, w.Closes, w.Chance = w.Days.Opens, w.Days.Closes, w.Days.Chances
	w.Until = min(w.Days.Until, w.Closes+MaxLate)
	day := ToolDayHours(s.Home)
	for i, t := range tools {
		if same := slices.Index(tools[:i], t); same >= 0 {
			w.Need[i], w.OneWay[i] = w.Need[same], w.OneWay[same]
			continue
		}
		s.Tool = t
		work := s.Work(today, engine.Window{})
		w.HandHours, w.PartOn = work.HandHours, work.PartOn
		if w.Fits[i] == engine.FitTooWide || w.Fits[i] == engine.FitNoRows {
			continue
		}
		hours := work.AlongHours
		if work.OneWay == engine.Across {
			hours = work.AcrossHours
		}
		w.OneWay[i] = toolDays(hours, day)
		if w.Need[i] = w.OneWay[i]; crossed && work.BothHours > 0 {
			w.Need[i] = toolDays(work.BothHours, day)
		}
	}
	return w, nil
}

// toolDays returns so many hours as whole tool-days, at least one. The conversion to float32 takes away the last
// digits, which may be rounding errors.
func toolDays(hours, day float64) int {
	return int(min(max(1, math.Ceil(float64(float32(hours/day)))), MaxNeed))
}

// ToolDayHours returns for how many hours a day each tool is pushed on the plots of a household that uses Hands tools
// at the same time. People who take turns keep a tool going for longer than one of them works, up to
// engine.ToolDayHours.
func ToolDayHours(h engine.Household) float64 {
	hours := h.HoursADay
	if hours == 0 {
		hours = engine.DefaultHoursADay
	}
	hands := Hands(h)
	people := max(h.People, engine.DefaultPeople, hands)
	return min(float64(people)*hours/float64(hands), max(hours, engine.ToolDayHours))
}

// Hands returns how many tools a household can use on a day: as many as it said, or one.
func Hands(h engine.Household) int { return max(1, h.Tools) }
