package store

import (
	"errors"
	"fmt"

	"rowbell/engine"
)

// MaxBags is the largest harvest, in bags, that a grower may give.
const MaxBags = 10_000

const sqlStartTrial = `INSERT INTO trial (grower_id, plot_a, plot_b, way_a, way_b, begun_day)
	VALUES ($1, $2, $3, $4, $5, $6)`

// StartTrial starts a trial (a comparison of two ways of weeding) on two open plots. If one is running, it returns
// ErrTrial.
func (l *Ledger) StartTrial(noA, noB int, wayA, wayB engine.TrialWay) error {
	a, err := l.find(noA)
	if err != nil {
		return err
	}
	b, err := l.find(noB)
	switch {
	case err != nil:
		return err
	case noA == noB:
		return errors.New("store: a trial needs two plots")
	}
	switch _, running, err := l.trial(); {
	case err != nil:
		return err
	case running:
		return ErrTrial
	}
	return fail("start trial", l.do(sqlStartTrial, l.id, a.id, b.id, wayA, wayB, l.Today()))
}

// trialRow is a running trial in the table trial.
type trialRow struct {
	a, b int64 // ids of the two plots
	engine.Trial
}

const sqlTrial = `SELECT t.plot_a, t.plot_b, t.way_a, t.way_b, t.begun_day, t.bags_a, t.bags_b FROM trial t
	WHERE t.grower_id = ` + asID + ` AND t.ended_day IS NULL`

func (l *Ledger) trial() (t trialRow, ok bool, err error) {
	if !l.Known() {
		return t, false, nil
	}
	ok, err = l.tx.one(sqlTrial, args(l.id), &t.a, &t.b, &t.A.Way, &t.B.Way, &t.Begun, &t.A.Bags, &t.B.Bags)
	return t, ok, fail("trial", err)
}

// Trial returns the running trial with the seasons of both plots, even if a plot was closed during the trial. The
// result ok is false if no trial is running.
func (l *Ledger) Trial() (t engine.TrialRecord, ok bool, err error) {
	row, ok, err := l.trial()
	if err != nil || !ok {
		return engine.TrialRecord{}, false, err
	}
	t.Trial = row.Trial
	if t.NoA, t.WasA, t.A.Season, err = l.seasonOf(row.a); err == nil {
		t.NoB, t.WasB, t.B.Season, err = l.seasonOf(row.b)
	}
	return t, err == nil, err
}

const sqlPlotsByID = `SELECT ` + plotColumns + ` FROM plot p WHERE p.id IN ` + idList + ` ORDER BY p.id`

// seasonOf returns the season of an open or closed plot of this grower. The result no is the number of the plot, or 0
// if the plot is closed. The result was is the number that the plot has, or had before it was closed.
func (l *Ledger) seasonOf(plot int64) (no, was int, s engine.Season, err error) {
	plots, err := l.open()
	if err != nil {
		return 0, 0, s, err
	}
	for i := range plots {
		if no := plots[i].no; plots[i].id == plot {
			s, err = l.Season(no)
			return no, no, s, err
		}
	}
	if plots, err = l.tx.plotRows(sqlPlotsByID, ids([]int64{plot})); err != nil || len(plots) == 0 {
		return 0, 0, s, err
	}
	if err := l.tx.seasons(plots, func(int) (*engine.Season, *readyPlace) { return &s, l.place }); err != nil {
		return 0, 0, s, err
	}
	s.Home, err = l.householdWithout(plot)
	return 0, plots[0].no, s, err
}

const (
	sqlSetBags  = `UPDATE trial SET bags_a = $1, bags_b = $2 WHERE grower_id = $3 AND ended_day IS NULL`
	sqlEndTrial = `UPDATE trial SET ended_day = $1 WHERE grower_id = $2 AND ended_day IS NULL`
)

// SetBags stores the harvest of the two plots in bags; 0 means that the grower gave none. If no trial is running, it
// returns ErrNoTrial.
func (l *Ledger) SetBags(a, b float64) error {
	for _, bags := range []float64{a, b} {
		if !(bags >= 0 && bags <= MaxBags) {
			return fmt.Errorf("store: a harvest of %g bags is not between 0 and %d", bags, MaxBags)
		}
	}
	return l.ofTrial("set bags", sqlSetBags, a, b, l.id)
}

// EndTrial ends the running trial. It returns ErrNoTrial if no trial is running.
func (l *Ledger) EndTrial() error {
	return l.ofTrial("end trial", sqlEndTrial, l.Today(), l.id)
}

func (l *Ledger) ofTrial(op, query string, a ...any) error {
	n, err := l.tx.exec(query, a...)
	if err == nil && n == 0 {
		return ErrNoTrial
	}
	return fail(op, err)
}
