package main

import (
	"errors"
	"fmt"
	"slices"

	"rowbell/cmd/rowbell/plan"
	"rowbell/engine"
	"rowbell/store"
)

// weededCmd is rowbell weeded: staff log a weeding on behalf of a grower.
type weededCmd struct {
	Phone string `help:"The grower's number." placeholder:"NUMBER" required:""`
	Plot  int    `help:"The number of the plot (default: 1)." placeholder:"N" default:"1"`
	Pass  string `help:"The weeding, as for rowbell plan." placeholder:"DATE[:hand][:few][:3h:2p][:50%]" required:""`
	recordsFlags
}

// Run logs the weeding and prints what is next on the plot.
func (c *weededCmd) Run(w *world) (err error) {
	pass, err := plan.ParsePass(c.Pass)
	if err != nil {
		return &usageError{err, "rowbell weeded --help"}
	}
	s, phone, err := c.openFor(w.ctx, "weeded", c.Phone)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	var p engine.Plan
	err = s.InTx(w.ctx, func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, w.now().Unix())
		if err != nil {
			return err
		}
		if !l.Known() {
			return fmt.Errorf("%s has no plots here", phone)
		}
		p, err = c.log(l, pass)
		return err
	})
	if err != nil {
		return fmt.Errorf("nothing was logged: %w", err)
	}
	fmt.Fprintf(w.out, "Logged: plot %d of %s, weeded on %s.\n", c.Plot, phone, pass.On)
	_, err = fmt.Fprintln(w.out, nextWeeding(p))
	return err
}

// log logs the weeding and returns the plan after it. The rules are those of the menu: the day is not before the
// planting day and not after today. A day has one weeding, unless that weeding left a part of the plot.
func (c *weededCmd) log(l *store.Ledger, pass engine.Pass) (engine.Plan, error) {
	season, err := l.Season(c.Plot)
	if errors.Is(err, store.ErrNoPlot) {
		return engine.Plan{}, fmt.Errorf("there is no open plot %d", c.Plot)
	}
	if err != nil {
		return engine.Plan{}, err
	}
	before, err := season.Windows(pass.On)
	if err != nil {
		return engine.Plan{}, err
	}
	sameDay := slices.ContainsFunc(season.Passes, func(p engine.Pass) bool { return p.On == pass.On })
	switch {
	case pass.On > l.Today():
		return engine.Plan{}, fmt.Errorf("%s is still to come", pass.On)
	case pass.On < season.Plot.Planted:
		return engine.Plan{}, fmt.Errorf("%s is before the plot was planted, on %s", pass.On, season.Plot.Planted)
	case sameDay && before.Weeded == 0:
		return engine.Plan{}, fmt.Errorf("a weeding of %s is logged already", pass.On)
	case pass.Share > 0 && before.Weeded+pass.Share > 1:
		return engine.Plan{}, fmt.Errorf("%.0f%% of the plot is weeded already", 100*before.Weeded)
	}
	if err := l.LogPass(c.Plot, pass); err != nil {
		return engine.Plan{}, err
	}
	if season, err = l.Season(c.Plot); err != nil {
		return engine.Plan{}, err
	}
	return season.Windows(l.Today())
}

// nextWeeding says in a line what is next on a plot.
func nextWeeding(p engine.Plan) string {
	switch {
	case !p.Next.Exists():
		return "The tool has nothing more to do on this plot."
	case p.Weeded > 0:
		return fmt.Sprintf("The other %.0f%% is to be weeded by %s.", 100*(1-p.Weeded), p.Next.Closes)
	}
	return fmt.Sprintf("Next weeding: %s to %s, best %s.", p.Next.Opens, p.Next.Closes, p.Next.Best)
}
