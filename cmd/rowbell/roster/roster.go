// Package roster reads a file of plots and shared tools, has a roster made for it, and reports who has which tool on
// which day: as a table for people, as JSON and as a picture.
//
// The package decides nothing: the windows are those of package engine, the roster is that of engine/circle. It does
// not use the records, and reads only the files that its flags name.
package roster

import (
	"fmt"
	"strings"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/engine/circle"
)

// Input has the flags of a roster.
type Input struct {
	Files   []string `arg:"" name:"file" help:"CSV files with rows of plots and tools; - reads standard input."`
	Today   string   `help:"First day of the roster, YYYY-MM-DD (default: the system's day)." placeholder:"DATE"`
	Explain bool     `help:"Say for each plot why it has these days."`
	Crossed bool     `help:"Weed along and across wherever rows, hills and tool allow it."`

	plan.Climate
	Figure []string `sep:"none" help:"${plan_figure}" placeholder:"NAME=VALUE"`
}

// Report is a roster with what it was made from.
type Report struct {
	On      engine.Day
	Weather string // a phrase that says where the weather data come from
	Sheet
	Problem circle.Problem // its tools and households are those of the sheet, in the same order
	Roster  circle.Roster
	Plots   []PlanPlot // of each plot of the problem
	Left    []LeftPlot // plots of the sheet that the problem leaves out

	Helps        []circle.Help   // what would serve more plots
	HelpWhole    bool            // nothing was left untried for Helps
	Reasons      []circle.Reason // of each plot of the problem; nil without --explain
	ReasonsWhole bool            // nothing was left untried for Reasons
}

// PlanPlot is a plot of the problem.
type PlanPlot struct {
	*Plot
	Work circle.PlotWork
}

// LeftPlot is a plot that needs no turn in the planned days.
type LeftPlot struct {
	*Plot
	Why  LeftWhy
	Days engine.PassDays
}

// LeftWhy says why a plot is left out of the roster.
type LeftWhy uint8

const (
	NoPass    LeftWhy = iota + 1 // the season has no next window
	TooLate                      // a pass is not worth its work any more
	TooFarOff                    // the window opens after the days that one roster can plan
)

func (w LeftWhy) String() string {
	return [...]string{"", "no pass is due", "too late for a tool", "too far off"}[w]
}

// Limits bound the work for the roster, for what would help, and for the reasons.
type Limits struct{ Solve, Help, Explain circle.Limit }

// New reads the files and makes the roster from the day of --today or, without that flag, today. The
// roster is the best that the limits allow. A mistake in a flag is an InputError.
func New(in *Input, files []File, today engine.Day, limits Limits) (r Report, err error) {
	r.On = today
	if in.Today != "" {
		if r.On, err = plan.ParseDay("--today", in.Today); err != nil {
			return r, &InputError{err}
		}
	}
	season := engine.Season{}
	if season.Weather, r.Weather, err = in.Weather(r.On); err != nil {
		return r, &InputError{err}
	}
	if season.Local, err = plan.LocalFigures(in.Figure); err != nil {
		return r, &InputError{err}
	}
	if r.Sheet, err = ReadSheet(files, r.On); err != nil {
		return r, err
	}
	if err = r.problem(season, in.Crossed); err != nil {
		return r, err
	}
	r.Roster = r.Problem.Solve(limits.Solve)
	r.help(limits.Help)
	if in.Explain {
		r.Reasons, r.ReasonsWhole = r.Problem.Explain(r.Roster, limits.Explain)
	}
	return r, nil
}

// InputError is a mistake in the flags.
type InputError struct{ error }

// problem sets the problem and the plots that it has or leaves out. like has what the seasons of all plots share.
func (r *Report) problem(like engine.Season, crossed bool) error {
	p := &r.Problem
	p.From, p.To = r.On, r.On
	tools := make([]engine.Tool, len(r.Tools))
	for i, t := range r.Tools {
		tools[i] = t.Width
		tool := circle.Tool{}
		for _, out := range t.Out {
			tool.Out = append(tool.Out, circle.Span(out))
		}
		p.Tools = append(p.Tools, tool)
	}
	for i := range r.Sheet.Plots {
		plot := &r.Sheet.Plots[i]
		work, err := r.work(plot, like, tools, crossed)
		if err != nil {
			return fmt.Errorf("plot %s: %s", plot.Name, strings.TrimPrefix(err.Error(), "engine: "))
		}
		switch days := work.Days; {
		case !days.Exists():
			r.Left = append(r.Left, LeftPlot{plot, NoPass, days})
		case work.Until < p.From:
			r.Left = append(r.Left, LeftPlot{plot, TooLate, days})
		case work.Opens >= p.From+circle.MaxDays:
			r.Left = append(r.Left, LeftPlot{plot, TooFarOff, days})
		default:
			p.To = max(p.To, min(work.Until, p.From+circle.MaxDays-1))
			p.Plots = append(p.Plots, work.Plot)
			r.Plots = append(r.Plots, PlanPlot{plot, work})
		}
	}
	for _, h := range r.Households {
		p.Households = append(p.Households, circle.Household{Hands: h.hands(p.From, p.To)})
	}
	return p.Validate()
}

// work returns what a plot asks of the roster.
func (r *Report) work(p *Plot, like engine.Season, tools []engine.Tool, crossed bool) (circle.PlotWork, error) {
	s, home := like, r.Households[p.Household]
	s.Plot, s.Passes, s.Sightings = p.Ground, p.Passes, p.Sightings
	hands := max(1, home.Hands)
	s.Home = engine.Household{People: hands, Tools: hands, HoursADay: home.Hours}
	if s.Plot.Planted == 0 { // only the hours and the fit are used then, which do not depend on the day
		s.Plot.Planted = p.Window.From - engine.FirstPassDays
	}
	w, err := circle.PlotOf(s, r.On, tools, crossed)
	if err != nil {
		return w, err
	}
	if p.Window.From != 0 {
		until := p.Window.To
		if p.Ground.Planted != 0 {
			until = min(max(until, w.Until), until+circle.MaxLate)
		}
		if p.Until != 0 {
			until = p.Until
		}
		w.Days = engine.PassDays{Window: engine.Window{Number: 1, Opens: p.Window.From, Best: p.Window.From,
			Closes: p.Window.To, With: engine.ByTool}, Until: until}
		w.Opens, w.Closes, w.Until, w.Chance = p.Window.From, p.Window.To, until, nil
	}
	for i, need := range w.Need {
		if need > 0 && p.Need > 0 {
			w.Need[i], w.OneWay[i] = p.Need, p.Need
		}
	}
	for _, told := range p.Told {
		w.Told = append(w.Told, circle.Turn{Tool: told.Tool, Day: told.Day})
	}
	w.Household, w.Missed = p.Household, p.Missed
	return w, nil
}

// hands returns the hands of a household on each of the planned days.
func (h Household) hands(from, to engine.Day) []int {
	hands := make([]int, to-from+1)
	for i := range hands {
		hands[i] = max(1, h.Hands)
		for _, other := range h.Other {
			if d := from + engine.Day(i); other.From <= d && d <= other.To {
				hands[i] = other.Hands
			}
		}
	}
	return hands
}
