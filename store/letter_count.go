package store

import (
	"maps"
	"slices"

	"rowbell/engine"
)

// The conditions of the queries of letters. The numbers of the parameters from $8 to $11 are those of inState.
const (
	// letterFate is the reason by which a grower is left out, by the number of a LeftOut. A text of a letter counts for
	// the week as a reminder does; a text that was not sent does not count.
	letterFate = `CASE WHEN g.unlinked_at IS NOT NULL THEN 1 WHEN g.stopped_at IS NOT NULL THEN 2
		WHEN g.unreachable_at IS NOT NULL THEN 3 WHEN g.seen_at <= $1 THEN 4
		WHEN EXISTS (` + letterOf + ` AND m.created_at >= $2) THEN 5
		WHEN (SELECT count(*) FROM (` + letterOf + ` AND m.created_at >= $3) y)
			+ coalesce((SELECT max(x.n) FROM (SELECT count(*) AS n FROM plot p JOIN told t ON t.plot_id = p.id
				WHERE p.grower_id = g.id AND p.closed_day IS NULL AND t.day > $4 GROUP BY p.id) x), 0)
			>= ` + textsAWeek + ` THEN 6 ELSE 0 END`
	letterOf = `SELECT 1 FROM message m WHERE m.grower_id = g.id AND m.letter_id IS NOT NULL
		AND m.state NOT IN ('withdrawn', 'expired', 'refused')`
	letterGrowers = ` FROM grower g WHERE g.place_id = CAST($5 AS BIGINT) AND g.id > $6 AND g.id <= $7` + inState + `
		AND (CAST($12 AS BIGINT) = 0 OR EXISTS (SELECT 1 FROM circle_member c JOIN circle r ON r.id = c.circle_id
			WHERE c.grower_id = g.id AND c.left_day IS NULL AND r.number = $12))
		AND (CAST($13 AS TEXT) = '' OR g.language = $13)`

	sqlLetterCount = `SELECT x.language, x.fate, count(*) FROM (SELECT g.language, ` + letterFate + ` AS fate` +
		letterGrowers + `) x GROUP BY x.language, x.fate ORDER BY x.language, x.fate`
	sqlLetterGrowers = `SELECT g.id, g.phone, g.language, ` + letterFate + letterGrowers + ` ORDER BY g.id`
	// The ids of a slice of the growers of a place, and the last one of such a slice.
	growersAfter = `SELECT g.id FROM grower g WHERE g.place_id = CAST($1 AS BIGINT) AND g.id > $2 AND g.id <= $3
		ORDER BY g.id LIMIT CAST($4 AS BIGINT)`
	sqlLetterIDs  = growersAfter
	sqlLetterTill = `SELECT coalesce(max(x.id), 0) FROM (` + growersAfter + `) x`
)

// textsAWeek is engine.TextsAWeek, for the queries.
const textsAWeek = `3`

var _ = [1]struct{}{}[engine.TextsAWeek-3] // compiles only if textsAWeek is right

// values returns the values of the queries for a place from the id after to the id till.
func (f LetterFilter) values(p *readyPlace, after, till, now int64) []any {
	today := p.today(now)
	state, days := f.State, f.NotHeardOf
	if state == StateSilent {
		state, days = AnyState, max(days, SilentAfter/secondsADay)
	}
	weekAgo := today - engine.TextsWeekDays
	return args(now-SilentAfter, today.At(0, p.loc).Unix(), (weekAgo+1).At(0, p.loc).Unix(), weekAgo, p.ID, after,
		till, int64(state), today, now-int64(days)*secondsADay, f.InCircle, f.Circle, f.Language)
}

// LetterCount is how many growers a filter selects. Its zero value is a count that has not begun.
type LetterCount struct {
	ByLanguage map[string]int64  // who get a text
	LeftOut    map[LeftOut]int64 // who get none
	At         int64             // when it began, in Unix seconds: for this instant it counts
	Done       bool              // all growers were looked at

	Place, After int64 // the place where it goes on, and the last grower there who was looked at
}

// All returns how many growers get a text.
func (c LetterCount) All() (n int64) {
	for _, some := range c.ByLanguage {
		n += some
	}
	return n
}

// Looked returns how many growers that the filter selects were looked at.
func (c LetterCount) Looked() int64 {
	n := c.All()
	for _, some := range c.LeftOut {
		n += some
	}
	return n
}

// countSlice is among how many growers CountLetter looks at once, so that no transaction and no page waits for all.
const countSlice = 2_000

// CountLetter goes on with the count of those for whom a letter would be if it were written at the instant now. It
// looks at the next few growers of one place, and is called again until Done is set.
func (tx *Tx) CountLetter(c LetterCount, f LetterFilter, now int64) (LetterCount, error) {
	c, err := tx.countLetter(c, f, now)
	return c, fail("count letter", err)
}

func (tx *Tx) countLetter(c LetterCount, f LetterFilter, now int64) (LetterCount, error) {
	if c.At == 0 {
		c.At = now
	}
	places := slices.DeleteFunc(slices.Sorted(slices.Values(f.Places)), func(id int64) bool { return id < c.Place })
	if len(places) == 0 {
		c.Done = true
		return c, nil
	}
	if places[0] != c.Place {
		c.Place, c.After = places[0], 0
	}
	var till int64
	if _, err := tx.one(sqlLetterTill, args(c.Place, c.After, int64(1<<62), countSlice), &till); err != nil {
		return c, err
	}
	list, err := tx.readyPlaces(sqlPlacesByID, ids([]int64{c.Place}))
	if err != nil {
		return c, err
	}
	if till == 0 || len(list) == 0 {
		c.Place, c.After = c.Place+1, 0
		c.Done = len(places) == 1
		return c, nil
	}
	byLanguage, leftOut := map[string]int64{}, map[LeftOut]int64{} // not those of c, which the caller keeps
	maps.Copy(byLanguage, c.ByLanguage)
	maps.Copy(leftOut, c.LeftOut)
	err = tx.each(sqlLetterCount, f.values(list[0], c.After, till, c.At), func(scan func(...any) error) error {
		var language string
		var fate LeftOut
		var n int64
		err := scan(&language, &fate, &n)
		if fate == LeftNone {
			byLanguage[language] += n
		} else {
			leftOut[fate] += n
		}
		return err
	})
	c.ByLanguage, c.LeftOut, c.After = byLanguage, leftOut, till
	return c, err
}
