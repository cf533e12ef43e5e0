package desk

import (
	"fmt"
	"time"

	"rowbell/engine/circle"
	"rowbell/gateway/bell"
	"rowbell/gateway/desk/say"
	"rowbell/store"
)

// searchTime bounds each search for help and for reasons: a page that takes longer is not waited for.
const searchTime = time.Second

// whyView is the page that says why each plot has its days, who is not served, and what would help.
type whyView struct {
	Circle         int64
	Summary        string
	Unserved, Help []whyLine
	Whole          bool // everything was tried
	Reasons        []reasonView
	NoTool         bool // the circle has no tool
}

type whyLine struct{ Name, Words string }

type reasonView struct {
	Name  string
	Lines []string
}

// circleWhy makes the roster as the next plan would, and explains it. One page at a time does so, because it takes a
// processor for up to some seconds.
func (d *Desk) circleWhy(r *request) error {
	var c store.DueCircle
	var known bool
	if err := r.view(func(tx *store.Tx) (err error) {
		c, known, err = tx.CircleToPlan(r.circle.ID, r.now.Unix())
		return err
	}); err != nil {
		return err
	}
	if !known {
		return errNotFound
	}
	select {
	case d.solving <- struct{}{}:
		defer func() { <-d.solving }()
	case <-r.Context().Done():
		return r.Context().Err()
	}
	o, err := bell.NewOutlook(c, r.now, d.o.Clock, d.o.Log)
	if err != nil {
		return err
	}
	e := explained{request: r, Outlook: o}
	v := whyView{Circle: r.circle.ID, NoTool: len(o.Tools) == 0, Whole: true}
	if len(o.Plots) > 0 && !v.NoTool {
		e.fill(&v)
	}
	return r.page("why", fmt.Sprintf("Circle %d: why these days", r.circle.Number), v)
}

// explained has the words for a roster.
type explained struct {
	*request
	bell.Outlook
}

func (e *explained) limit() circle.Limit {
	until := e.d.o.Clock.Now().Add(searchTime)
	return circle.Limit{Stop: func() bool {
		return e.Context().Err() != nil || e.d.o.Clock.Now().After(until)
	}}
}

func (e *explained) fill(v *whyView) {
	x := e.Roster
	v.Summary = fmt.Sprintf("%d of %s can be weeded inside the window", x.Served,
		plural(len(e.Plots), "plot that needs a tool", "plots that need a tool"))
	switch {
	case x.Served == len(e.Plots):
	case x.Served == x.Bound:
		v.Summary += "; with these tools and hands no roster does better"
	default:
		v.Summary += fmt.Sprintf("; at most %d may be possible", x.Bound)
	}
	ways, words := circle.Ways{}, e.words()
	for i, p := range e.Plots {
		ways.OneWay, ways.HandHours = append(ways.OneWay, p.Work.OneWay), append(ways.HandHours, p.Work.HandHours)
		if !x.Plots[i].Served {
			v.Unserved = append(v.Unserved, whyLine{words.Plot(i), words.WhyNot(i, p.Work.HandHours)})
		}
	}
	helps, whole := e.Problem.Help(x, ways, e.limit())
	v.Whole = whole
	for _, h := range helps {
		v.Help = append(v.Help, whyLine{words.Change(h), words.Effect(h)})
	}
	reasons, whole := e.Problem.Explain(x, e.limit())
	v.Whole = v.Whole && whole
	for i, reason := range reasons {
		v.Reasons = append(v.Reasons, reasonView{words.Plot(i), words.Reason(i, reason)})
	}
}

// words returns the words for the roster. Names are as the reader may see them.
func (e *explained) words() say.Roster {
	return say.Roster{Problem: e.Problem, Made: e.Roster, Day: shortDay, NoTurn: "no turn",
		Plot:      func(i int) string { return e.plotName(e.Plots[i].Member, e.Plots[i].No) },
		Tool:      func(i int) string { return e.toolName(e.Tools[i]) },
		Household: func(i int) string { return e.personName(e.Members[i]) }}
}
