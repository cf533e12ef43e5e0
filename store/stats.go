package store

import (
	"cmp"
	"context"
	"math"
	"slices"
)

const (
	sqlNewestCallback = `SELECT coalesce(max(at), 0) FROM callback`
	sqlNewestMessage  = `SELECT created_at FROM message WHERE id = (SELECT max(id) FROM message)`
	sqlOverduePlaces  = `SELECT pl.zone, pl.morning_hour, min(x.look_at)
	FROM (SELECT p.look_at, p.grower_id FROM plot p WHERE p.look_at <= $1 ORDER BY p.look_at LIMIT CAST($2 AS BIGINT)) x
	JOIN grower g ON g.id = x.grower_id JOIN place pl ON pl.id = g.place_id
	WHERE g.stopped_at IS NULL AND g.unlinked_at IS NULL
	GROUP BY pl.id, pl.zone, pl.morning_hour`
)

// Newest returns the newest instant at which a callback came or a text was written, in Unix seconds; 0 if there is
// none.
func (tx *Tx) Newest() (int64, error) {
	var callback, message int64
	_, err := tx.one(sqlNewestCallback, nil, &callback)
	if err == nil {
		_, err = tx.one(sqlNewestMessage, nil, &message)
	}
	return max(callback, message), fail("newest", err)
}

// OverduePlace is a place where plots are due, but the bell (the reminder job) has not looked at them.
type OverduePlace struct {
	Zone        string
	MorningHour int
	Oldest      int64 // when the plot that has waited longest became due
}

// OverduePlaces returns the places with plots that were due at this instant and that the bell (the reminder job) has
// not looked at. It looks only at the plots that have waited longest, because all plots may wait: a place whose plots
// wait less long than some thousand others may be missing.
func (tx *Tx) OverduePlaces(at int64) ([]OverduePlace, error) {
	list, err := rows(tx, sqlOverduePlaces, args(at, countPage), func(p *OverduePlace) []any {
		return args(&p.Zone, &p.MorningHour, &p.Oldest)
	})
	return list, fail("overdue places", err)
}

// Growers returns the number of growers in the records. Growers without a phone number are counted too.
func (tx *Tx) Growers() (n int64, err error) {
	_, err = tx.one(sqlSeen, nil, &n, new(int64))
	return n, fail("growers", err)
}

const sqlAnyRecords = `SELECT EXISTS (SELECT 1 FROM grower) OR EXISTS (SELECT 1 FROM message)`

// AnyRecords reports whether there is a grower or a text.
func (tx *Tx) AnyRecords() (there bool, err error) {
	_, err = tx.one(sqlAnyRecords, nil, &there)
	return there, fail("any records", err)
}

// Ended is how many texts are in one state.
type Ended struct {
	State State
	Texts int64
}

// sqlCountEnded counts the texts of one page, from the newest id down.
const sqlCountEnded = `SELECT x.state, sum(CASE WHEN x.at >= $1 THEN 1 ELSE 0 END), count(*), min(x.id),
		max(x.created_at)
	FROM (SELECT m.id, m.state, m.created_at, CASE WHEN m.claim_at IS NULL
			THEN coalesce(m.ended_at, m.accepted_at) ELSE 0 END AS at
		FROM message m WHERE m.id < $2 ORDER BY m.id DESC LIMIT CAST($3 AS BIGINT)) x
	GROUP BY x.state`

// endedWithin is how long after it was written a text may end, in seconds. No text is useful for longer, and networks
// send a receipt within days.
const endedWithin = 31 * secondsADay

// CountEnded counts the texts that ended or were accepted since an instant. It looks at all texts that were written in
// the month before that instant or later, in pages. step is called before each page with the number of texts looked at.
func (s *Store) CountEnded(ctx context.Context, since int64, step func(looked int)) ([]Ended, error) {
	byState := map[State]int64{}
	c := Count{size: countPage, at: position{id: math.MaxInt64}}
	c.parts = []countPart{func(tx *Tx, at *position, size int64) (looked int64, err error) {
		step(int(c.Looked))
		newest := int64(0)
		err = tx.each(sqlCountEnded, args(since, at.id, size), func(scan func(...any) error) error {
			var state State
			var ended, n, first, written int64
			err := scan(&state, &ended, &n, &first, &written)
			byState[state] += ended
			looked, at.id, newest = looked+n, min(at.id, first), max(newest, written)
			return err
		})
		at.ended = looked < size || newest < since-endedWithin
		return looked, err
	}}
	err := s.countAll(ctx, &c)
	var list []Ended
	for state, n := range byState {
		if n > 0 {
			list = append(list, Ended{state, n})
		}
	}
	slices.SortFunc(list, func(a, b Ended) int {
		return cmp.Or(cmp.Compare(b.Texts, a.Texts), cmp.Compare(a.State, b.State))
	})
	return list, err
}
