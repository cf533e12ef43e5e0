package store

import "errors"

const (
	sqlCircleGrowers = `SELECT g.id, g.circle_id FROM grower g WHERE g.id > $1 AND g.circle_id IS NOT NULL
	ORDER BY g.id LIMIT CAST($2 AS BIGINT)`
	sqlFormerCircles = `SELECT id, coalesce(circle_id, 0) FROM grower WHERE id > $1 AND id <= $2 ORDER BY id`
	sqlEndAllAsks    = `UPDATE circle_ask SET state = ` + askObsolete + ` WHERE state = 0`
	sqlForgetTurns   = `DELETE FROM circle_told`
	sqlPlanAll       = `UPDATE circle SET plan_at = $1 WHERE ended_at IS NULL`
)

// circleSchema is the first schema with circles.
const circleSchema = 18

// takeCircles makes growers leave the circles that they left after the backup. Open questions are over, because they
// may have been answered since. What growers were told of their turns may be something else now, so all circles are
// planned and told anew.
func (tx *Tx) takeCircles(t *Reconciled, old replaced, now int64) error {
	err := tx.takeLeavings(t, old, now)
	if err != nil {
		return err
	}
	return errors.Join(tx.do(sqlEndAllAsks), tx.do(sqlForgetTurns), tx.do(sqlPlanAll, now))
}

func (tx *Tx) takeLeavings(t *Reconciled, old replaced, now int64) error {
	if !tx.lineage(old) || old.damaged != nil || old.Schema < circleSchema {
		return nil
	}
	type pair struct{ grower, circle int64 }
	into := func(p *pair) []any { return args(&p.grower, &p.circle) }
	for after := int64(0); ; {
		page, err := rows(tx, sqlCircleGrowers, args(after, formerPage), into)
		if err != nil || len(page) == 0 {
			return err
		}
		last := page[len(page)-1].grower
		was := map[int64]int64{}
		err = old.view(tx.ctx, func(tx *Tx) error {
			list, err := rows(tx, sqlFormerCircles, args(after, last), into)
			for _, p := range list {
				was[p.grower] = p.circle
			}
			return err
		})
		for _, p := range page {
			if circle, there := was[p.grower]; err == nil && there && circle != p.circle {
				t.Left++
				err = tx.leaveAgain(p.grower, p.circle, now)
			}
		}
		if err != nil {
			return err
		}
		after = last
	}
}

func (tx *Tx) leaveAgain(grower, circleID, now int64) error {
	c, err := tx.openCircle(circleID)
	if err != nil || c == nil {
		return err
	}
	p := c.ofGrower(grower)
	if p == nil || p.left != 0 {
		return nil
	}
	if err := tx.handOver(c, p); err != nil {
		return err
	}
	return tx.leave(c, p, dayAt(now), now)
}
