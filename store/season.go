package store

import (
	"errors"
	"slices"

	"rowbell/engine"
)

// Season returns an open plot with all data from which the engine plans. The field Home contains the hours of weeding
// on other plots and in other seasons. The caller must not change Local and the days of Weather, because all seasons
// of a place share them.
func (l *Ledger) Season(no int) (engine.Season, error) {
	r, err := l.find(no)
	if err != nil {
		return engine.Season{}, err
	}
	if err := l.readHistory(); err != nil {
		return engine.Season{}, err
	}
	var s engine.Season
	if err := l.tx.season(&s, r, l.place); err != nil {
		return engine.Season{}, err
	}
	s.Passes = slices.Clone(l.history.passes[r.id])
	s.Sightings = slices.Clone(l.history.sightings[r.id])
	s.Home, err = l.householdWithout(r.id)
	s.Home.Herbicide = r.herbicide
	return s, err
}

// season fills in the data of a plot and its place. It does not fill in passes, sightings and household. A season is
// large, so it is not returned by value.
func (tx *Tx) season(s *engine.Season, r *plotRow, place *readyPlace) error {
	daily, err := place.measured(tx)
	if err != nil {
		return err
	}
	s.Plot, s.Tool, s.Since, s.ClosedOn = r.plot, r.tool, r.since, r.closed
	s.Local, s.Announced, s.AskedOn = place.local, r.announced, r.asked
	s.Weather.Normals, s.Weather.LatitudeDeg, s.Weather.Daily = place.Normals, place.Latitude, daily
	if s.Plot.Soil == engine.SoilUnknown {
		s.Plot.Soil = place.Soil
	}
	return nil
}

// plotRows returns the plots that a query selects.
func (tx *Tx) plotRows(query string, a ...any) ([]plotRow, error) {
	plots, err := rows(tx, query, a, (*plotRow).into)
	return plots, fail("plots", err)
}

// idsOf packs the ids of the plots into one query parameter.
func idsOf(plots []plotRow) string { return ids(idsIn(plots)) }

func idsIn(plots []plotRow) []int64 {
	list := make([]int64, len(plots))
	for i := range plots {
		list[i] = plots[i].id
	}
	return list
}

// seasons fills in the season of each plot, without the household. The function at returns the season to fill in for
// the plot with index i, and the place of this plot.
func (tx *Tx) seasons(plots []plotRow, at func(i int) (*engine.Season, *readyPlace)) error {
	h, err := tx.history(sqlHistoryOf, idsOf(plots))
	if err != nil {
		return err
	}
	for i := range plots {
		r := &plots[i]
		s, place := at(i)
		if err := tx.season(s, r, place); err != nil {
			return err
		}
		s.Passes, s.Sightings = h.passes[r.id], h.sightings[r.id]
	}
	return nil
}

const (
	sqlLogPass = `INSERT INTO pass (plot_id, day, means, way, hours, people, weeds_left, share, seq)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8,
		(SELECT coalesce(max(x.seq), 0) + 1 FROM pass x WHERE x.plot_id = ` + asID + `))`
	sqlSee = `INSERT INTO sighting (plot_id, day, leaves, amount, rows_seen, water, seq)
	VALUES ($1, $2, $3, $4, $5, $6,
		(SELECT coalesce(max(x.seq), 0) + 1 FROM sighting x WHERE x.plot_id = ` + asID + `))`
)

// LogPass adds a pass (a weeding). Passes are ordered by their day, not by the time of the report.
func (l *Ledger) LogPass(no int, p engine.Pass) error {
	last, err := l.lastPass(no)
	if err != nil && !errors.Is(err, ErrNoPass) {
		return err
	}
	moves, err := l.movesAnnounced(no, p)
	if err != nil {
		return err
	}
	older := p.On < last.On // then the later passes count from other weeds than before
	return l.record(no, "log pass", older && moves, func(r *plotRow) error { return l.insertPass(r, p) })
}

// AmendPass and UndoPass keep the announced window: they continue or take back a report that was just made.

// AmendPass replaces the pass (weeding) with the latest day; of several on that day, the one that was logged last. It
// returns ErrNoPass if the plot has no pass.
func (l *Ledger) AmendPass(no int, p engine.Pass) error {
	last, err := l.lastPass(no)
	if err != nil {
		return fail("amend pass", err)
	}
	return l.replacePass(no, last, p, false)
}

// UndoPass deletes the pass (weeding) with the latest day; of several on that day, the one that was logged last. It
// returns ErrNoPass if the plot has no pass.
func (l *Ledger) UndoPass(no int) error {
	last, err := l.lastPass(no)
	if err != nil {
		return fail("undo pass", err)
	}
	return l.takePass(no, last, false)
}

// See adds a sighting: what the grower saw on the plot on a day.
func (l *Ledger) See(no int, s engine.Sighting) error {
	return l.record(no, "see", s.MovesWindows(), func(r *plotRow) error {
		return l.do(sqlSee, r.id, s.On, s.Leaves, s.Amount, s.Rows, s.Water)
	})
}

func (l *Ledger) insertPass(r *plotRow, p engine.Pass) error {
	if err := l.do(sqlLogPass, r.id, p.On, p.With, p.Way, p.Hours, p.People, p.Left, storedShare(p)); err != nil {
		return err
	}
	return l.noteHours(p)
}

// storedShare returns the share of a pass as it is stored: a whole plot is stored in one way.
func storedShare(p engine.Pass) float64 {
	if p.Share == 1 {
		return 0
	}
	return p.Share
}

// record changes the passes or sightings of one plot. If moves is true, the change may move a weeding window.
func (l *Ledger) record(no int, op string, moves bool, change func(*plotRow) error) error {
	r, err := l.find(no)
	if err != nil {
		return err
	}
	if err := change(r); err != nil {
		return fail(op, err)
	}
	l.forgetHistory()
	return l.changed(r, moves)
}
