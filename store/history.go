package store

import "rowbell/engine"

// history is the passes (weedings) and sightings of plots, in the order of their days, and of one day in the order in
// which they were logged. The keys of the maps are plot ids.
type history struct {
	passes    map[int64][]engine.Pass
	sightings map[int64][]engine.Sighting

	// The seq of each pass and sighting: with the plot and the day, the key of its row.
	passSeqs, sightingSeqs map[int64][]int64
}

// The columns of both tables as one list. The column after plot_id is 1 for a pass and 2 for a sighting; the four after
// seq are means, way, people and weeds_left, or leaves, amount, rows_seen and water.
const (
	passColumns = `x.plot_id, 1 AS kind, x.day, x.seq, x.means, x.way, x.people, x.weeds_left,
		x.hours, x.share`
	sightingColumns = `x.plot_id, 2, x.day, x.seq, x.leaves, x.amount, x.rows_seen, x.water, 0.0, 0.0`
	historyOrder    = ` ORDER BY plot_id, kind, day, seq`
)

const (
	sqlHistoryOfGrower = `SELECT ` + passColumns + ` FROM plot p JOIN pass x ON x.plot_id = p.id
	WHERE p.grower_id = ` + asID + ` AND p.closed_day IS NULL
	UNION ALL SELECT ` + sightingColumns + ` FROM plot p JOIN sighting x ON x.plot_id = p.id
	WHERE p.grower_id = ` + asID + ` AND p.closed_day IS NULL` + historyOrder
	sqlHistoryOf = `SELECT ` + passColumns + ` FROM pass x WHERE x.plot_id IN ` + idList + `
	UNION ALL SELECT ` + sightingColumns + ` FROM sighting x WHERE x.plot_id IN ` + idList + historyOrder
)

// history reads the passes and sightings that a query selects.
func (tx *Tx) history(query string, of any) (*history, error) {
	h := &history{map[int64][]engine.Pass{}, map[int64][]engine.Sighting{}, map[int64][]int64{}, map[int64][]int64{}}
	err := tx.each(query, args(of), func(scan func(...any) error) error {
		var plot, kind, day, seq int64
		var v [4]uint32
		var hours, share float64
		if err := scan(&plot, &kind, &day, &seq, &v[0], &v[1], &v[2], &v[3], &hours, &share); err != nil {
			return err
		}
		if kind == 1 {
			h.passes[plot] = append(h.passes[plot], engine.Pass{On: engine.Day(day), With: engine.Means(v[0]),
				Way: engine.Way(v[1]), People: int(v[2]), Left: engine.Amount(v[3]), Hours: hours, Share: share})
			h.passSeqs[plot] = append(h.passSeqs[plot], seq)
			return nil
		}
		h.sightings[plot] = append(h.sightings[plot], engine.Sighting{On: engine.Day(day), Leaves: engine.Leaves(v[0]),
			Amount: engine.Amount(v[1]), Rows: engine.Rows(v[2]), Water: engine.Stands(v[3])})
		h.sightingSeqs[plot] = append(h.sightingSeqs[plot], seq)
		return nil
	})
	return h, fail("history", err)
}

// readHistory reads the passes and sightings of all open plots, but only once.
func (l *Ledger) readHistory() (err error) {
	if l.history == nil {
		l.history, err = l.tx.history(sqlHistoryOfGrower, l.id)
	}
	return err
}

// forgetHistory makes the passes and sightings be read again when they are next needed.
func (l *Ledger) forgetHistory() { l.history, l.worked = nil, nil }
