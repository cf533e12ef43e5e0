package store

import "encoding/json"

// Totals are the numbers of growers, plots, circles and texts. Growers without a phone number and their plots are not
// counted.
type Totals struct {
	At               int64           // when they were counted
	Rows             int64           // how many rows were looked at
	Growers, Stopped int64           // growers, and those who want no texts
	OpenPlots        int64           // plots whose season is not closed
	Texts            map[State]int64 // texts that wait no more
	Circles, Members int64           // circles of growers that have not ended, and their members
	Questions        int64           // questions in circles that are open
	OldestAccepted   int64           // due time of the oldest text that was accepted and has not ended; 0 = none

	Places map[int64]PlaceTotals // by the id of the place; nil: not counted
}

// PlaceTotals are the numbers of growers and open plots of a place, without growers who have no phone number.
type PlaceTotals struct{ Growers, OpenPlots int64 }

// TotalsCount counts growers, plots, circles and texts. It looks at every row of these tables.
type TotalsCount struct {
	Count
	Totals
}

const (
	sqlCountGrowers = `SELECT count(*), coalesce(max(x.id), 0), coalesce(sum(x.linked), 0), coalesce(sum(x.stopped), 0)
	FROM (SELECT g.id, CASE WHEN g.unlinked_at IS NULL THEN 1 ELSE 0 END AS linked,
			CASE WHEN g.unlinked_at IS NULL AND g.stopped_at IS NOT NULL THEN 1 ELSE 0 END AS stopped
		FROM grower g WHERE g.id > $1 ORDER BY g.id LIMIT CAST($2 AS BIGINT)) x`
	sqlCountPlots = `SELECT count(*), coalesce(max(x.id), 0), coalesce(sum(x.still), 0)
	FROM (SELECT p.id, CASE WHEN p.closed_day IS NULL THEN 1 ELSE 0 END AS still
		FROM plot p WHERE p.id > $1 ORDER BY p.id LIMIT CAST($2 AS BIGINT)) x`
	sqlCountUnlinked = `SELECT count(*) FROM plot p WHERE p.closed_day IS NULL AND p.grower_id IN
	(SELECT g.id FROM grower g WHERE g.unlinked_at IS NOT NULL)`
	sqlCountTexts = `SELECT x.state, count(*), max(x.id), min(x.due_at)
	FROM (SELECT m.id, m.state, m.due_at FROM message m WHERE m.id > $1 ORDER BY m.id LIMIT CAST($2 AS BIGINT)) x
	GROUP BY x.state`
)

const (
	// growersWithPlots are the columns of a grower for sqlCountPlaces and sqlPlaceTotals.
	growersWithPlots = `g.id, g.place_id, CASE WHEN g.unlinked_at IS NULL THEN 1 ELSE 0 END AS linked,
		CASE WHEN g.unlinked_at IS NULL THEN (SELECT count(*) FROM plot p
			WHERE p.grower_id = g.id AND p.closed_day IS NULL) ELSE 0 END AS still`
	sqlCountPlaces = `SELECT x.place_id, count(*), max(x.id), CAST(sum(x.linked) AS BIGINT),
		CAST(sum(x.still) AS BIGINT)
	FROM (SELECT ` + growersWithPlots + ` FROM grower g WHERE g.id > ` + asID + ` ORDER BY g.id
		LIMIT CAST($2 AS BIGINT)) x GROUP BY x.place_id`
	sqlPlaceTotals = `SELECT coalesce(CAST(sum(x.linked) AS BIGINT), 0), coalesce(CAST(sum(x.still) AS BIGINT), 0),
		count(*)
	FROM (SELECT ` + growersWithPlots + ` FROM grower g WHERE g.place_id = ` + asID + ` ORDER BY g.id
		LIMIT CAST($2 AS BIGINT)) x`
)

const (
	sqlCountCircles = `SELECT count(*), coalesce(max(x.id), 0), coalesce(sum(x.still), 0)
	FROM (SELECT c.id, CASE WHEN c.ended_at IS NULL THEN 1 ELSE 0 END AS still
		FROM circle c WHERE c.id > ` + asID + ` ORDER BY c.id LIMIT CAST($2 AS BIGINT)) x`
	sqlCountMembers = `SELECT count(*), coalesce(max(x.id), 0), coalesce(sum(x.joined), 0)
	FROM (SELECT m.id, m.joined FROM circle_member m WHERE m.id > ` + asID + `
		ORDER BY m.id LIMIT CAST($2 AS BIGINT)) x`
	sqlCountQuestions = `SELECT count(*), coalesce(max(x.id), 0), coalesce(sum(x.open), 0)
	FROM (SELECT a.id, CASE WHEN a.state = 0 THEN 1 ELSE 0 END AS open
		FROM circle_ask a WHERE a.id > ` + asID + ` ORDER BY a.id LIMIT CAST($2 AS BIGINT)) x`
)

// NewTotalsCount begins a count of growers, plots, circles and texts.
func NewTotalsCount(now int64) *TotalsCount {
	c := &TotalsCount{Totals: Totals{At: now, Texts: map[State]int64{}}}
	c.Count = Count{size: countPage, parts: []countPart{c.growers, c.plots, c.unlinked, c.texts, c.circles, c.members,
		c.questions, c.places}}
	return c
}

// places counts growers and open plots of each place.
func (c *TotalsCount) places(tx *Tx, at *position, size int64) (looked int64, err error) {
	if c.Places == nil {
		c.Places = map[int64]PlaceTotals{}
	}
	last := at.id
	err = tx.each(sqlCountPlaces, args(at.id, size), func(scan func(...any) error) error {
		var place, n, highest, growers, plots int64
		if err := scan(&place, &n, &highest, &growers, &plots); err != nil {
			return err
		}
		looked, last = looked+n, max(last, highest)
		t := c.Places[place]
		c.Places[place] = PlaceTotals{t.Growers + growers, t.OpenPlots + plots}
		return nil
	})
	at.id, at.ended = last, looked < size
	return looked, err
}

// PlaceCount is how many growers and open plots a place has, as far as they were counted.
type PlaceCount struct {
	PlaceTotals
	More bool // there are more: counting ended before the last grower
}

// maxPlaceTotals is how many growers of all places PlaceTotals looks at: some milliseconds.
const maxPlaceTotals = 20_000

// PlaceTotals returns the numbers of growers and open plots of each place of the scope. They are those that were kept,
// from the instant at; if none are kept, they are counted now, and at is 0.
func (tx *Tx) PlaceTotals(scope Scope) (counts map[int64]PlaceCount, at int64, err error) {
	kept, known, err := tx.KeptTotals()
	if err != nil {
		return nil, 0, fail("totals of places", err)
	}
	if !known || kept.Places == nil {
		kept = Totals{}
	}
	counts = map[int64]PlaceCount{}
	for _, id := range scope {
		c := PlaceCount{PlaceTotals: kept.Places[id]}
		if kept.Places == nil {
			most := max(1, maxPlaceTotals/len(scope))
			var looked int
			_, err = tx.one(sqlPlaceTotals, args(id, most), &c.Growers, &c.OpenPlots, &looked)
			if err != nil {
				return nil, 0, fail("totals of places", err)
			}
			c.More = looked == most
		}
		counts[id] = c
	}
	return counts, kept.At, nil
}

func (c *TotalsCount) growers(tx *Tx, at *position, size int64) (int64, error) {
	var linked, stopped int64
	looked, err := countIDs(tx, at, size, sqlCountGrowers, &linked, &stopped)
	c.Growers, c.Stopped, c.Rows = c.Growers+linked, c.Stopped+stopped, c.Rows+looked
	return looked, err
}

func (c *TotalsCount) plots(tx *Tx, at *position, size int64) (int64, error) {
	var open int64
	looked, err := countIDs(tx, at, size, sqlCountPlots, &open)
	c.OpenPlots, c.Rows = c.OpenPlots+open, c.Rows+looked
	return looked, err
}

// unlinked takes out the plots of growers without a phone number. There are few: their records wait for staff.
func (c *TotalsCount) unlinked(tx *Tx, at *position, _ int64) (n int64, err error) {
	at.ended = true
	_, err = tx.one(sqlCountUnlinked, nil, &n)
	c.OpenPlots = max(0, c.OpenPlots-n)
	return n, err
}

func (c *TotalsCount) texts(tx *Tx, at *position, size int64) (looked int64, err error) {
	err = tx.each(sqlCountTexts, args(at.id, size), func(scan func(...any) error) error {
		var state State
		var n, last, oldest int64
		if err := scan(&state, &n, &last, &oldest); err != nil {
			return err
		}
		looked, at.id = looked+n, max(at.id, last)
		switch {
		case state == Queued || state == Claimed: // WaitsCount counts these
			return nil
		case state == Accepted && (c.OldestAccepted == 0 || oldest < c.OldestAccepted):
			c.OldestAccepted = oldest
		}
		c.Texts[state] += n
		return nil
	})
	at.ended = looked < size
	c.Rows += looked
	return looked, err
}

func (c *TotalsCount) circles(tx *Tx, at *position, size int64) (int64, error) {
	return c.add(tx, at, size, sqlCountCircles, &c.Circles)
}

func (c *TotalsCount) members(tx *Tx, at *position, size int64) (int64, error) {
	return c.add(tx, at, size, sqlCountMembers, &c.Members)
}

func (c *TotalsCount) questions(tx *Tx, at *position, size int64) (int64, error) {
	return c.add(tx, at, size, sqlCountQuestions, &c.Questions)
}

// add runs a query of one page that counts some of its rows, and adds these to a total.
func (c *TotalsCount) add(tx *Tx, at *position, size int64, query string, total *int64) (looked int64, err error) {
	var n int64
	looked, err = countIDs(tx, at, size, query, &n)
	*total, c.Rows = *total+n, c.Rows+looked
	return looked, err
}

const metaTotals = "totals"

// KeepTotals stores totals, so that they are known when the program starts again.
func (tx *Tx) KeepTotals(t Totals) error {
	b, err := json.Marshal(t)
	if err == nil {
		err = tx.setMeta(metaTotals, b)
	}
	return fail("keep totals", err)
}

// KeptTotals returns the totals that were stored last. The result known is false if there are none.
func (tx *Tx) KeptTotals() (t Totals, known bool, err error) {
	b, ok, err := tx.meta(metaTotals)
	known = err == nil && ok && json.Unmarshal(b, &t) == nil && t.Texts != nil
	return t, known, err
}
