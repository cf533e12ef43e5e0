package store

import "encoding/json"

// Totals are the numbers of growers, plots and texts. Growers without a phone number and their plots are not counted.
type Totals struct {
	At               int64           // when they were counted
	Rows             int64           // how many rows were looked at
	Growers, Stopped int64           // growers, and those who want no texts
	OpenPlots        int64           // plots whose season is not closed
	Texts            map[State]int64 // texts that wait no more
	OldestAccepted   int64           // due time of the oldest text that was accepted and has not ended; 0 = none
}

// TotalsCount counts growers, plots and texts. It looks at every row of these tables.
type TotalsCount struct {
	Count
	Totals
}

const (
	sqlCountGrowers = `SELECT count(*), coalesce(max(x.id), 0), coalesce(sum(x.linked), 0), coalesce(sum(x.stopped), 0)
	FROM (SELECT g.id, CASE WHEN g.unlinked_at IS NULL THEN 1 ELSE 0 END AS linked,
			CASE WHEN g.unlinked_at IS NULL AND g.stopped_at IS NOT NULL THEN 1 ELSE 0 END AS stopped
		FROM grower g WHERE g.id > $1 ORDER BY g.id LIMIT $2) x`
	sqlCountPlots = `SELECT count(*), coalesce(max(x.id), 0), coalesce(sum(x.still), 0)
	FROM (SELECT p.id, CASE WHEN p.closed_day IS NULL THEN 1 ELSE 0 END AS still
		FROM plot p WHERE p.id > $1 ORDER BY p.id LIMIT $2) x`
	sqlCountUnlinked = `SELECT count(*) FROM plot p WHERE p.closed_day IS NULL AND p.grower_id IN
	(SELECT g.id FROM grower g WHERE g.unlinked_at IS NOT NULL)`
	sqlCountTexts = `SELECT x.state, count(*), max(x.id), min(x.due_at)
	FROM (SELECT m.id, m.state, m.due_at FROM message m WHERE m.id > $1 ORDER BY m.id LIMIT $2) x GROUP BY x.state`
)

// NewTotalsCount begins a count of growers, plots and texts.
func NewTotalsCount(now int64) *TotalsCount {
	c := &TotalsCount{Totals: Totals{At: now, Texts: map[State]int64{}}}
	c.Count = Count{size: countPage, parts: []countPart{c.growers, c.plots, c.unlinked, c.texts}}
	return c
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
