package bell

import (
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine/circle"
	"rowbell/gateway/clock"
	"rowbell/store"
)

// Outlook is the roster that a plan of a circle would make now. Nothing is written.
type Outlook struct {
	Problem circle.Problem // without the turns that stay: their tools and hands are taken
	Roster  circle.Roster
	Plots   []OutlookPlot // of each plot of the problem
	Members []int64       // circle.Member of each household of the problem
	Tools   []int64       // circle.SharedTool of each tool of the problem
}

// OutlookPlot is a plot of the problem.
type OutlookPlot struct {
	Member, Plot int64
	No           int // among the plots of the member
	Work         circle.PlotWork
}

// NewOutlook returns the roster of a circle. The search ends as that of a plan does.
func NewOutlook(c store.DueCircle, now time.Time, clk clock.Clock, log zerolog.Logger) (o Outlook, err error) {
	b := &Bell{Options{Clock: clk, Log: log}}
	p := b.newCirclePlan(c, now)
	if err := recovered(func() error { _, err := p.makeRoster(); return err }); err != nil {
		return o, err
	}
	o = Outlook{Problem: p.problem, Roster: p.roster, Plots: make([]OutlookPlot, len(p.problem.Plots)),
		Members: make([]int64, len(p.problem.Households))}
	for _, t := range c.Tools {
		o.Tools = append(o.Tools, t.ID)
	}
	for i := range p.plots {
		if plot := &p.plots[i]; plot.index >= 0 {
			o.Plots[plot.index] = OutlookPlot{plot.member.ID, plot.due.ID, plot.due.No, plot.work}
			o.Members[p.problem.Plots[plot.index].Household] = plot.member.ID
		}
	}
	return o, nil
}
