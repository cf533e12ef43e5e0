package store

import (
	"context"
	"errors"

	"rowbell/engine/circle"
)

const (
	// askRetention is for how many days a question is stored after the last day on which it could be answered. The
	// menu shows agreed weedings for 60 days after their day.
	askRetention = 90
	// turnRetention is for how many days turns are stored after their day: a year and the first weeks of the next
	// season, as texts.
	turnRetention = TextRetention / secondsADay
	// circleRetention is for how many days a circle is stored after its end, if all balances are zero. With open
	// balances it is stored until its last person is erased.
	circleRetention = TextRetention / secondsADay
)

const (
	// Disputed payments and weedings stay with their circle.
	sqlPruneAsks = `DELETE FROM circle_ask WHERE id IN
	(SELECT c.id FROM circle_ask c WHERE c.until_day < ` + asID + `
		AND NOT (c.state = 2 AND c.kind >= ` + askWeeded + `)
		ORDER BY c.until_day LIMIT CAST($2 AS BIGINT))`
	sqlPruneTurns = `DELETE FROM circle_turn WHERE (tool_id, day) IN
	(SELECT c.tool_id, c.day FROM circle_turn c WHERE c.day < ` + asID + `
		ORDER BY c.day LIMIT CAST($2 AS BIGINT))`
	sqlOverAsk = `SELECT a.id, a.kind, a.from_id, a.circle_id FROM circle_ask a
	WHERE a.state = 0 AND a.until_day < ` + asID + ` ORDER BY a.until_day, a.id LIMIT 1`
	sqlOldCircle = `SELECT c.id FROM circle c WHERE c.ended_at < ` + asID + ` AND c.id > CAST($2 AS BIGINT)
	ORDER BY c.id LIMIT 1`
	// Persons whose grower a service of an earlier version has erased: it did not know their names.
	sqlHalfErased = `SELECT m.id, m.circle_id FROM circle_member m WHERE m.grower_id IS NULL
		AND (m.name <> '' OR m.joined = 1) ORDER BY m.id LIMIT 1`
)

// pruneCircles ends questions that nobody answered in time, and deletes old questions, turns and ended circles.
func (s *Store) pruneCircles(ctx context.Context, now int64, count *int64) error {
	// Yesterday in UTC has ended everywhere on the day after.
	today := dayOf(now)
	oldest := int64(0)
	for _, step := range []func(*Tx) (bool, error){
		func(tx *Tx) (bool, error) { return tx.endOverAsk(today-1, now) },
		func(tx *Tx) (bool, error) { return tx.forgetHalfErased(now) },
		func(tx *Tx) (bool, error) { return tx.pruneSome(sqlPruneAsks, today-askRetention, count) },
		func(tx *Tx) (bool, error) { return tx.pruneSome(sqlPruneTurns, today-turnRetention, count) },
		func(tx *Tx) (bool, error) { return tx.pruneCircle(now-days(circleRetention), &oldest, count) },
	} {
		if err := s.Background(ctx, step); err != nil {
			return err
		}
	}
	return nil
}

func (tx *Tx) pruneSome(query string, before int64, count *int64) (done bool, err error) {
	n, err := tx.exec(query, before, pruneStep)
	tx.Kept(func() { *count += n })
	return n < pruneStep, err
}

// endOverAsk ends a question that could be answered until a day before this one. If it was a question to join, who
// asked is in no circle any more.
func (tx *Tx) endOverAsk(before, now int64) (done bool, err error) {
	type overAsk struct {
		id, from, circle int64
		kind             circle.AskKind
	}
	find := func() (a overAsk, found bool, err error) {
		found, err = tx.one(sqlOverAsk, args(before), &a.id, &a.kind, &a.from, &a.circle)
		return a, found, err
	}
	a, found, err := find()
	if err != nil || !found {
		return true, err
	}
	c, err := tx.openCircle(a.circle)
	if err != nil || c == nil {
		return err != nil, err
	}
	// Once more, because it may have been answered before this transaction had the circle.
	if again, found, err := find(); err != nil || !found || again != a {
		return false, err
	}
	if p := c.person(a.from); a.kind == circle.AskJoin && p != nil && !p.Joined && p.left == 0 {
		err = tx.leave(c, p, dayAt(now), now)
	}
	return false, errors.Join(err, tx.do(sqlEndAsk, circle.AskOver, a.id))
}

// openCircle opens a circle for a change by no grower; nil if it was deleted.
func (tx *Tx) openCircle(id int64) (*openCircle, error) {
	if err := tx.lockCircle(id); err != nil {
		return nil, err
	}
	return tx.circle(sqlCircle, id)
}

// forgetHalfErased completes the erasure of a person.
func (tx *Tx) forgetHalfErased(now int64) (done bool, err error) {
	var person, circleID int64
	found, err := tx.one(sqlHalfErased, nil, &person, &circleID)
	if err != nil || !found {
		return true, err
	}
	return false, tx.forgetIn(circleID, person, now)
}

// pruneCircle deletes one circle that ended before an instant and whose balances are zero. Circles up to the id after
// are left out; it is moved on.
func (tx *Tx) pruneCircle(before int64, after, count *int64) (done bool, err error) {
	var id int64
	found, err := tx.one(sqlOldCircle, args(before, *after), &id)
	if err != nil || !found {
		return true, err
	}
	balances, err := tx.balances(id)
	for _, b := range balances {
		if b.Amount != 0 {
			tx.Kept(func() { *after = id })
			return false, err
		}
	}
	tx.Kept(func() { *after = id; *count++ })
	return false, errors.Join(err, tx.do(sqlDropCircle, id))
}
