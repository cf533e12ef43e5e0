package store

import (
	"fmt"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/store/growercsv"
)

// decidePlot decides what happens to the plot of a row. It returns why the row is refused, or "".
func (p *importPlan) decidePlot(r *rowPlan, row *growercsv.Row, taken []bool) (reason string) {
	if reason := p.findPlot(r, row); reason != "" {
		return reason
	}
	r.now = row.Over(p.state.values(p.file.Phone, r.was))
	if p.over(r, row) {
		r.fate.Note = "this season is over"
		return ""
	}
	again := r.was != nil && r.now.Plot.Planted >= r.was.plot.Planted+engine.MinDurationDays
	switch {
	case r.was == nil:
		r.fate.NewPlot = true
		if r.fate.Plot == 0 {
			if r.fate.Plot = slices.Index(taken, false); r.fate.Plot < 0 {
				r.fate.Plot = 0
				return "nine plots are open already"
			}
			taken[r.fate.Plot] = true
		}
		if missing := growercsv.Missing(r.now, true); len(missing) > 0 {
			return "a new plot needs: " + strings.Join(missing, ", ")
		}
	case again: // what a season leaves behind is the ground and the tool
		last := *r.was
		last.plot.Puddled, last.plot.Deep = 0, false
		r.now = row.Over(p.state.values(p.file.Phone, &last))
		r.fate.NewPlot, r.fate.Again = true, true
	}
	if r.was != nil {
		changes := growercsv.Changes(p.state.values(p.file.Phone, r.was), r.now)
		if len(changes) == 0 {
			return ""
		}
		r.fate.Changes = append(r.fate.Changes, changes...)
	}
	r.fate.Kind = FateChanged
	if r.fate.NewPlot {
		r.fate.Kind = FateNew
	}
	return p.refusePlot(r)
}

// findPlot finds the open plot that a row is about.
func (p *importPlan) findPlot(r *rowPlan, row *growercsv.Row) (reason string) {
	for i := range p.state.plots {
		open := &p.state.plots[i]
		if row.No == open.no || row.No == 0 && strings.EqualFold(row.Label, open.plot.Label) {
			r.was = open
			break
		}
	}
	if r.was == nil || row.No != 0 {
		return ""
	}
	r.fate.Plot = r.was.no
	if slices.ContainsFunc(p.file.Rows, func(other growercsv.Row) bool { return other.No == r.was.no }) {
		return fmt.Sprintf("plot %d is called so, and another row is about plot %d", r.was.no, r.was.no)
	}
	return ""
}

// over reports whether a row is about a season that is over. So a file of the last season, taken again, opens no plots.
func (p *importPlan) over(r *rowPlan, row *growercsv.Row) bool {
	if r.was != nil && r.now.Plot.Planted == r.was.plot.Planted {
		return false
	}
	return slices.ContainsFunc(p.state.closed, func(c closedPlot) bool {
		same := c.no == row.No || row.No == 0 && strings.EqualFold(c.label, row.Label)
		return same && c.planted == r.now.Plot.Planted && c.method == r.now.Plot.Method
	})
}

// refusePlot returns why the values of a plot cannot be stored.
func (p *importPlan) refusePlot(r *rowPlan) string {
	v, planted := &r.now, r.now.Plot.Planted
	moved := r.was == nil || planted != r.was.plot.Planted
	switch {
	case moved && planted > p.today+plantedAhead:
		return fmt.Sprintf("planted %s is more than %d days ahead: today is %s", planted, plantedAhead, p.today)
	case moved && planted < p.today-plantedBack:
		return fmt.Sprintf("planted %s is more than %d days ago: today is %s", planted, plantedBack, p.today)
	case v.Tool.WidthCM == 0 && v.Tool.MaxWidthCM != 0:
		return "tool_max_width_cm needs tool_width_cm"
	}
	if r.was != nil && moved && !r.fate.Again {
		if first, there := p.state.worked[r.was.id]; there && first <= planted {
			return fmt.Sprintf("planted %s is after what was logged on %s: if the rice was planted again, "+
				"log that on the plot instead", planted, first)
		}
	}
	for _, err := range []error{v.Plot.Validate(), v.Tool.Validate()} {
		if err != nil {
			return strings.TrimPrefix(err.Error(), "engine: ")
		}
	}
	return ""
}
