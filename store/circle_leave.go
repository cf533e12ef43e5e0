package store

import (
	"errors"
	"slices"

	"rowbell/engine"
)

const (
	sqlLeave       = `UPDATE circle_member SET guest = $1, left_day = $2, joined = 0, keeper = 0 WHERE id = $3`
	sqlOutOfCircle = `UPDATE grower SET circle_id = NULL WHERE id = $1 AND circle_id = $2`
	// The questions about money and about done weedings stay, because they are about what was.
	sqlEndAsksOf = `UPDATE circle_ask SET state = ` + askObsolete + ` WHERE state = 0
		AND kind < ` + askWeeded + ` AND (from_id = $1 OR to_id = $1)`
	sqlEndJoinOf = `UPDATE circle_ask SET state = ` + askObsolete + `
	WHERE from_id = $1 AND kind = 1 AND state = 0`
	sqlEndAsksOfCircle = `UPDATE circle_ask SET state = ` + askObsolete + ` WHERE circle_id = $1 AND state = 0
		AND kind < ` + askWeeded
	sqlDropTurnsOf  = `DELETE FROM circle_turn WHERE member_id = $1 AND day > $2`
	sqlDropWishesOf = `DELETE FROM circle_wish WHERE plot_id IN
	(SELECT p.id FROM plot p WHERE p.grower_id = ` + asID + `)`
	sqlDropToldOf = `DELETE FROM circle_told WHERE plot_id IN
	(SELECT p.id FROM plot p WHERE p.grower_id = ` + asID + `)`
	sqlEndCircle     = `UPDATE circle SET ended_at = $1, plan_at = NULL WHERE id = $2`
	sqlMakeKeeper    = `UPDATE circle_member SET keeper = $1 WHERE id = $2`
	sqlDropCircle    = `DELETE FROM circle WHERE id = $1`
	sqlRemoveTool    = `UPDATE circle_tool SET removed_day = $1 WHERE id = $2`
	sqlDropTurnsFrom = `DELETE FROM circle_turn WHERE tool_id = $1 AND day > $2`
	sqlEndHires      = `UPDATE circle_ask SET state = ` + askObsolete + ` WHERE tool_id = $1 AND state = 0`
)

// leave makes a person leave a circle on a day. Turns of later days, wishes and the person's tools leave too.
func (tx *Tx) leave(c *openCircle, p *memberRow, today engine.Day, now int64) error {
	stays, ends := p.Guest && !p.Joined, sqlEndAsksOf
	if stays { // a guest who had asked to join
		ends = sqlEndJoinOf
	}
	err := tx.do(ends, p.ID)
	if p.Joined {
		_, charged := tx.ChargeDays(c.id, today)
		tools, read := tx.sharedTools(c.id)
		err = errors.Join(err, charged, read, tx.do(sqlDropWishesOf, p.growerID), tx.do(sqlDropToldOf, p.growerID))
		for _, t := range tools[c.id] {
			if err == nil && t.Owner == p.ID {
				err = tx.removeTool(t.ID, today)
			}
		}
	}
	left := any(today)
	if stays {
		left = nil
	} else {
		err = errors.Join(err, tx.do(sqlDropTurnsOf, p.ID, today))
	}
	err = errors.Join(err, tx.do(sqlLeave, stays, left, p.ID), tx.do(sqlOutOfCircle, p.growerID, c.id))
	last := p.Joined && c.joined() == 1
	p.Joined, p.Keeper, p.left = false, false, today
	if err != nil || stays {
		return err
	}
	if last {
		return tx.endCircle(c, today, now)
	}
	return tx.planSoon(c.id, now)
}

// endCircle ends a circle that has no members any more. Who has asked to join is then in no circle.
func (tx *Tx) endCircle(c *openCircle, today engine.Day, now int64) error {
	err := errors.Join(tx.do(sqlEndAsksOfCircle, c.id), tx.do(sqlEndCircle, now, c.id))
	for i := range c.people {
		p := &c.people[i]
		if p.left != 0 {
			continue
		}
		err = errors.Join(err, tx.do(sqlLeave, false, today, p.ID), tx.do(sqlOutOfCircle, p.growerID, c.id),
			tx.do(sqlDropTurnsOf, p.ID, today))
	}
	return err
}

// removeTool takes a tool out of its circle. Its turns of later days go, and so do the questions about it.
func (tx *Tx) removeTool(id int64, today engine.Day) error {
	return errors.Join(tx.do(sqlRemoveTool, today, id), tx.do(sqlDropTurnsFrom, id, today), tx.do(sqlEndHires, id))
}

const (
	sqlForgetPerson = `UPDATE circle_member SET name = '', grower_id = NULL, joined = 0, keeper = 0, left_day =
		coalesce(left_day, $1) WHERE id = $2`
	sqlPersonsOf = `SELECT m.circle_id, m.id FROM circle_member m WHERE m.grower_id = ` + asID + ` ORDER BY m.circle_id`
	// A circle in which nobody is left whom it concerns.
	sqlOfNobody = `SELECT 1 FROM circle c WHERE c.id = ` + asID + ` AND NOT EXISTS
		(SELECT 1 FROM circle_member m WHERE m.circle_id = c.id AND m.grower_id IS NOT NULL)`
)

// forgetPerson takes a grower who is erased out of all circles. The rows stay, without grower and name, because entries
// name them. If the grower was the keeper, the member who asked first to join is it then.
func (tx *Tx) forgetPerson(growerID, now int64) error {
	type pair struct{ circle, person int64 }
	list, err := rows(tx, sqlPersonsOf, args(growerID), func(p *pair) []any { return args(&p.circle, &p.person) })
	for _, p := range list {
		if err == nil {
			err = tx.forgetIn(p.circle, p.person, now)
		}
	}
	return fail("forget in circles", err)
}

// handOver makes the member who asked first to join the keeper, if p is the keeper and there are other members.
func (tx *Tx) handOver(c *openCircle, p *memberRow) error {
	next := slices.IndexFunc(c.people, func(x memberRow) bool { return x.Joined && !x.Keeper })
	if !p.Keeper || next < 0 {
		return nil
	}
	return errors.Join(tx.do(sqlMakeKeeper, true, c.people[next].ID), tx.do(sqlReaddress, c.people[next].ID, p.ID))
}

// dayAt returns the day of an instant in UTC, for changes that no grower makes.
func dayAt(now int64) engine.Day { return engine.Day(dayOf(now)) }

func (tx *Tx) forgetIn(id, person, now int64) error {
	today := dayAt(now)
	c, err := tx.openCircle(id)
	if err != nil || c == nil {
		return err
	}
	p := c.person(person)
	err = errors.Join(tx.forgetInTexts(c, p, now), tx.handOver(c, p))
	if err == nil && p.left == 0 {
		p.Guest = false // a guest leaves too
		err = tx.leave(c, p, today, now)
	}
	err = errors.Join(err, tx.do(sqlEndAllAsksOf, p.ID), tx.do(sqlForgetPerson, today, p.ID))
	if err != nil {
		return err
	}
	nobody, err := tx.one(sqlOfNobody, args(id), new(int64))
	if err == nil && nobody {
		err = tx.do(sqlDropCircle, id)
	}
	return err
}
