package store

import (
	"context"
	"errors"
	"math"

	"rowbell/engine"
)

const (
	// A place that is asked for again begins anew, because growers who are done already have other windows now.
	sqlAskLook = `INSERT INTO place_look (place_id, asked_at, planted_until, after_grower) VALUES ($1, $2, $3, 0)
	ON CONFLICT (place_id) DO UPDATE SET asked_at = excluded.asked_at, after_grower = 0,
		planted_until = CASE WHEN place_look.planted_until > excluded.planted_until
			THEN place_look.planted_until ELSE excluded.planted_until END`
	sqlAskedLook = `SELECT place_id, asked_at, planted_until, after_grower FROM place_look ORDER BY place_id LIMIT 1`
	// The row is not changed if another process has asked for the place again meanwhile.
	sqlPlaceLooked = `DELETE FROM place_look WHERE place_id = $1 AND asked_at = $2 AND planted_until = $3
		AND after_grower = $4`
	sqlLookedSoFar = `UPDATE place_look SET after_grower = $1 WHERE place_id = $2 AND asked_at = $3
		AND planted_until = $4 AND after_grower = $5`
	sqlNextGrowers = `SELECT coalesce(max(x.id), 0) FROM (SELECT g.id FROM grower g
		WHERE g.place_id = ` + asID + ` AND g.id > CAST($2 AS BIGINT) ORDER BY g.id LIMIT CAST($3 AS BIGINT)) x`
	// The statement changes only plots that the bell (the reminder job) watches and that are not due yet.
	sqlLookAtGrowers = `UPDATE plot SET look_at = $1 WHERE look_at > $2 AND planted <= $3 AND grower_id IN
	(SELECT g.id FROM grower g WHERE g.place_id = $4 AND g.id > $5 AND g.id <= $6)`
)

// lookStep is for how many growers one step of background work sets the next look. Their plots take less than a
// millisecond.
const lookStep = 50

// LookAtPlace makes the bell (the reminder job) look at the plots that it watches at a place, because their windows may
// have moved, and plan the turns of its circles anew. It only notes that; Store.LookAtPlaces does it for the plots.
func (tx *Tx) LookAtPlace(placeID, now int64) error {
	return tx.lookAtPlace(placeID, now, math.MaxInt32)
}

// lookAtPlace is like LookAtPlace, but leaves out plots that were planted after a day.
func (tx *Tx) lookAtPlace(placeID, now int64, plantedUntil engine.Day) error {
	return fail("look at place", errors.Join(tx.do(sqlAskLook, placeID, now, plantedUntil),
		tx.do(sqlPlanPlace, now, placeID)))
}

// placeLook is a row of the table place_look.
type placeLook struct {
	place, askedAt, afterGrower int64
	plantedUntil                engine.Day
}

func (tx *Tx) askedLook() (p placeLook, asked bool, err error) {
	asked, err = tx.one(sqlAskedLook, nil, &p.place, &p.askedAt, &p.plantedUntil, &p.afterGrower)
	return p, asked, err
}

// LookAtPlaces makes the plots due for which LookAtPlace or PutWeather asked, as background work. Call it before
// DueGrowers. If it is broken off, the next call goes on at the same grower.
func (s *Store) LookAtPlaces(ctx context.Context, now int64) error {
	var asked bool
	err := s.View(ctx, func(tx *Tx) (err error) {
		_, asked, err = tx.askedLook()
		return err
	})
	if err == nil && asked {
		err = s.Background(ctx, func(tx *Tx) (bool, error) { return tx.lookAtSome(now) })
	}
	return fail("look at places", err)
}

// lookAtSome makes the plots of the next growers due.
func (tx *Tx) lookAtSome(now int64) (done bool, err error) {
	p, asked, err := tx.askedLook()
	if err != nil || !asked {
		return true, err
	}
	var last int64
	if _, err := tx.one(sqlNextGrowers, args(p.place, p.afterGrower, lookStep), &last); err != nil {
		return false, err
	}
	if last == 0 {
		return false, tx.do(sqlPlaceLooked, p.place, p.askedAt, p.plantedUntil, p.afterGrower)
	}
	err = tx.do(sqlLookAtGrowers, min(p.askedAt, now), now, p.plantedUntil, p.place, p.afterGrower, last)
	if err != nil {
		return false, err
	}
	return false, tx.do(sqlLookedSoFar, last, p.place, p.askedAt, p.plantedUntil, p.afterGrower)
}
