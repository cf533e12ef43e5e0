package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"slices"

	"rowbell/engine"
)

// A correction changes or takes out something that was stored earlier. What stood before stays in the table correction,
// for the staff.

// correctedKind says what a correction changed. The table correction stores it.
type correctedKind string

const (
	correctedPass     correctedKind = "pass"
	correctedSighting correctedKind = "sighting"
	correctedPlot     correctedKind = "plot"
	replanted         correctedKind = "replanted" // the plot was planted again
)

const (
	sqlCorrected  = `INSERT INTO correction (plot_id, at, what, was, now, channel) VALUES ($1, $2, $3, $4, $5, $6)`
	sqlRemovePass = `DELETE FROM pass WHERE plot_id = $1 AND day = $2 AND seq = $3`
	// A pass or sighting that moves to another day keeps its seq, and with it its place among those of a day.
	sqlReplacePass = `UPDATE pass SET day = $1, means = $2, way = $3, hours = $4, people = $5, weeds_left = $6,
		share = $7
	WHERE plot_id = $8 AND day = $9 AND seq = $10`
	sqlRemoveSighting  = `DELETE FROM sighting WHERE plot_id = $1 AND day = $2 AND seq = $3`
	sqlReplaceSighting = `UPDATE sighting SET day = $1, leaves = $2, amount = $3, rows_seen = $4, water = $5
	WHERE plot_id = $6 AND day = $7 AND seq = $8`
)

// corrected stores what a correction changed. A nil was or now stands for no record.
func (l *Ledger) corrected(r *plotRow, what correctedKind, was, now any) error {
	before, err := json.Marshal(was)
	if err != nil {
		return err
	}
	after, err := json.Marshal(now)
	if err != nil {
		return err
	}
	return l.do(sqlCorrected, r.id, l.now, what, string(before), string(after), l.channel)
}

// CorrectPass replaces a pass (a weeding) of the season by another one. It returns ErrNoPass if the season has no pass
// that equals was.
func (l *Ledger) CorrectPass(no int, was, now engine.Pass) error {
	moves, err := l.movesAnnounced(no, was)
	if err != nil {
		return err
	}
	return l.replacePass(no, was, now, moves && !sameWeeding(was, now))
}

// replacePass replaces a pass. If moves is true, the announced window is cleared.
func (l *Ledger) replacePass(no int, was, now engine.Pass, moves bool) error {
	return l.record(no, "correct pass", moves, func(r *plotRow) error {
		seq, err := l.passSeq(r, was)
		if err != nil {
			return err
		}
		err = errors.Join(l.do(sqlReplacePass, now.On, now.With, now.Way, now.Hours, now.People, now.Left,
			storedShare(now), r.id, was.On, seq), l.noteHours(now))
		if err != nil || addsOnly(was, now) {
			return err
		}
		return l.corrected(r, correctedPass, personPass(was), personPass(now))
	})
}

// movesAnnounced reports whether the announced window of a plot depends on a pass. It does not if the pass was made in
// that window: if such a pass is corrected or taken out, the days that the grower was told stay.
func (l *Ledger) movesAnnounced(no int, p engine.Pass) (bool, error) {
	r, err := l.find(no)
	if err != nil {
		return false, err
	}
	return !r.announced.EndedBy(p), nil
}

// sameWeeding reports whether two passes differ only in hours and people, which move no weeding window.
func sameWeeding(a, b engine.Pass) bool {
	a.Hours, a.People = b.Hours, b.People
	return a == b
}

// addsOnly reports whether now says of a pass only what was not told before, as an answer right after the pass does.
// Then nothing is lost that the trail must keep.
func addsOnly(was, now engine.Pass) bool {
	if was.Way == engine.WayUnknown {
		was.Way = now.Way
	}
	if was.Hours == 0 {
		was.Hours, was.People = now.Hours, now.People
	}
	if was.Left == engine.AmountUnknown {
		was.Left = now.Left
	}
	return was == now
}

// RemovePass takes a pass (a weeding) out of the season. It returns ErrNoPass if the season has no pass that equals
// was.
func (l *Ledger) RemovePass(no int, was engine.Pass) error {
	moves, err := l.movesAnnounced(no, was)
	if err != nil {
		return err
	}
	return l.takePass(no, was, moves)
}

// takePass takes a pass out of the season. If moves is true, the announced window is cleared.
func (l *Ledger) takePass(no int, was engine.Pass, moves bool) error {
	return l.record(no, "remove pass", moves, func(r *plotRow) error {
		seq, err := l.passSeq(r, was)
		if err != nil {
			return err
		}
		if err := l.do(sqlRemovePass, r.id, was.On, seq); err != nil {
			return err
		}
		return l.corrected(r, correctedPass, personPass(was), nil)
	})
}

// passSeq returns the seq of a pass: with its plot and its day, the key of its row.
func (l *Ledger) passSeq(r *plotRow, x engine.Pass) (int64, error) {
	if err := l.readHistory(); err != nil {
		return 0, err
	}
	i := slices.Index(l.history.passes[r.id], x)
	if i < 0 {
		return 0, ErrNoPass
	}
	return l.history.passSeqs[r.id][i], nil
}

// lastPass returns the pass with the latest day; of several on that day, the one that was logged last. It returns
// ErrNoPass if the plot has no pass.
func (l *Ledger) lastPass(no int) (engine.Pass, error) {
	r, err := l.find(no)
	if err != nil {
		return engine.Pass{}, err
	}
	if err := l.readHistory(); err != nil {
		return engine.Pass{}, err
	}
	all := l.history.passes[r.id]
	if len(all) == 0 {
		return engine.Pass{}, ErrNoPass
	}
	return all[len(all)-1], nil
}

// CorrectSighting replaces a sighting of the season by another one. It returns ErrNoSighting if the season has no
// sighting that equals was.
func (l *Ledger) CorrectSighting(no int, was, now engine.Sighting) error {
	return l.record(no, "correct sighting", was.MovesWindows() || now.MovesWindows(), func(r *plotRow) error {
		seq, err := l.sightingSeq(r, was)
		if err != nil {
			return err
		}
		return errors.Join(
			l.do(sqlReplaceSighting, now.On, now.Leaves, now.Amount, now.Rows, now.Water, r.id, was.On, seq),
			l.corrected(r, correctedSighting, personSighting(was), personSighting(now)))
	})
}

// RemoveSighting takes a sighting out of the season. It returns ErrNoSighting if the season has no sighting that equals
// was.
func (l *Ledger) RemoveSighting(no int, was engine.Sighting) error {
	return l.record(no, "remove sighting", was.MovesWindows(), func(r *plotRow) error {
		seq, err := l.sightingSeq(r, was)
		if err != nil {
			return err
		}
		if err := l.do(sqlRemoveSighting, r.id, was.On, seq); err != nil {
			return err
		}
		return l.corrected(r, correctedSighting, personSighting(was), nil)
	})
}

// sightingSeq returns the seq of a sighting: with its plot and its day, the key of its row.
func (l *Ledger) sightingSeq(r *plotRow, x engine.Sighting) (int64, error) {
	if err := l.readHistory(); err != nil {
		return 0, err
	}
	i := slices.Index(l.history.sightings[r.id], x)
	if i < 0 {
		return 0, ErrNoSighting
	}
	return l.history.sightingSeqs[r.id][i], nil
}

const sqlReplanted = `UPDATE plot SET since_day = $1 WHERE id = $2`

// Replant stores that an open plot was planted again as p describes it. Passes and sightings of the former planting
// (see engine.Pass.BeforePlanting) leave the season and stay in the table correction.
func (l *Ledger) Replant(no int, p engine.Plot) error {
	r, err := l.find(no)
	if err != nil {
		return err
	}
	if err := p.Validate(); err != nil {
		return err
	}
	if err := l.readHistory(); err != nil {
		return err
	}
	passes, sightings := slices.Clone(l.history.passes[r.id]), slices.Clone(l.history.sightings[r.id])
	for _, x := range passes {
		if x.BeforePlanting(p.Planted) && err == nil {
			err = l.RemovePass(no, x)
		}
	}
	for _, x := range sightings {
		if x.BeforePlanting(p.Planted) && err == nil {
			err = l.RemoveSighting(no, x)
		}
	}
	if err != nil {
		return fail("replant", err)
	}
	p = l.withoutPlaceSoil(r, p)
	r.since = l.Today() // what was over before this day causes no text
	return fail("replant", errors.Join(l.do(sqlReplanted, r.since, r.id), l.correctedPlot(r, replanted, p, r.tool),
		l.changePlot(no, p, r.tool)))
}

// correctedPlot stores which of the answers about a plot change, if any does. Answers to what was not told before are
// no correction.
func (l *Ledger) correctedPlot(r *plotRow, what correctedKind, p engine.Plot, t engine.Tool) error {
	changed := *r
	changed.plot, changed.tool = p, t
	was, err := answersOf(r)
	if err != nil {
		return err
	}
	now, err := answersOf(&changed)
	if err != nil {
		return err
	}
	for name := range was {
		if bytes.Equal(was[name], now[name]) {
			delete(was, name)
			delete(now, name)
		}
	}
	if len(was) == 0 { // nothing changed, or what was not told before is told now
		return nil
	}
	return l.corrected(r, what, was, now)
}

// answersOf returns the values of a plot by their names in the export.
func answersOf(r *plotRow) (map[string]json.RawMessage, error) {
	b, err := json.Marshal(personPlot(r))
	if err != nil {
		return nil, err
	}
	var values map[string]json.RawMessage
	return values, json.Unmarshal(b, &values)
}

const sqlCorrections = `SELECT x.plot_id, x.at, x.what, x.was, x.now, x.channel FROM correction x
	WHERE x.plot_id IN ` + idList + ` ORDER BY x.plot_id, x.id`

// readCorrections reads the corrections of plots, oldest first. The keys of the map are plot ids.
func (tx *Tx) readCorrections(plots string) (map[int64][]PersonCorrection, error) {
	return grouped(tx, sqlCorrections, args(plots), func(c *PersonCorrection) []any {
		return args(&c.At, &c.What, (*[]byte)(&c.Was), (*[]byte)(&c.Now), &c.Channel)
	})
}
