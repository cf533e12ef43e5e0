package store

import (
	"cmp"
	"slices"
)

// TrailEntry is one change that staff made. Was and Now are in words; of a new thing Was is "".
type TrailEntry struct {
	ID       int64
	At       int64
	StaffID  int64  // 0 for a command on the server
	Who      string // name of the account at that time
	What     string // such as "moved to a new number"
	Object   string // what it was done to, in words, without a phone number
	PlaceID  int64  // 0: of no one place
	GrowerID int64  // 0: about no grower. The entry is deleted with the grower.
	PlotID   int64
	Was, Now string
}

// TrailFilter selects entries of the trail. Zero fields select all.
type TrailFilter struct {
	GrowerID int64
	PlotID   int64 // of the grower
	Before   int64 // only entries with lower ids: the next page
	NoPlace  bool  // also entries that belong to no place, such as those about accounts
}

const trailRetention = 730 * secondsADay // as long as growers are stored by default

const (
	sqlAddTrail = `INSERT INTO trail (at, staff_id, who, what, object, place_id, grower_id, plot_id, was, now)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
	trailColumns = `t.id, t.at, coalesce(t.staff_id, 0), t.who, t.what, t.object, coalesce(t.place_id, 0),
		coalesce(t.grower_id, 0), coalesce(t.plot_id, 0), t.was, t.now`
	sqlTrailOfPlace = `SELECT ` + trailColumns + ` FROM trail t
	WHERE t.place_id = ` + asID + ` AND t.id < $2 ORDER BY t.id DESC LIMIT CAST($3 AS BIGINT)`
	sqlTrailOfNoPlace = `SELECT ` + trailColumns + ` FROM trail t
	WHERE t.place_id IS NULL AND t.id < $1 ORDER BY t.id DESC LIMIT CAST($2 AS BIGINT)`
	sqlTrailOfGrower = `SELECT ` + trailColumns + ` FROM trail t
	WHERE (t.place_id IS NULL OR t.place_id IN ` + idList + `)
		AND t.grower_id = CAST($2 AS BIGINT) AND ($3 = 0 OR t.plot_id = $3) AND t.id < $4
	ORDER BY t.id DESC LIMIT CAST($5 AS BIGINT)`
	sqlPruneTrail = `DELETE FROM trail WHERE id IN
	(SELECT c.id FROM trail c WHERE c.at < $1 ORDER BY c.at LIMIT CAST($2 AS BIGINT))`
)

// Trail stores a change that staff made.
func (tx *Tx) Trail(e TrailEntry) error {
	return fail("trail", tx.do(sqlAddTrail, e.At, orNull(e.StaffID), e.Who, e.What, e.Object, orNull(e.PlaceID),
		orNull(e.GrowerID), orNull(e.PlotID), e.Was, e.Now))
}

// TrailEntries returns at most limit entries of the places in scope, the newest first.
func (tx *Tx) TrailEntries(scope Scope, f TrailFilter, limit int) ([]TrailEntry, error) {
	before := f.Before
	if before == 0 {
		before = 1<<63 - 1
	}
	if f.GrowerID != 0 {
		list, err := rows(tx, sqlTrailOfGrower, args(ids(scope), f.GrowerID, f.PlotID, before, limit),
			(*TrailEntry).into)
		return list, fail("trail", err)
	}
	var list []TrailEntry
	// Each place is read through its index, so that no page reads more rows than it may have of each place.
	for _, place := range scope {
		page, err := rows(tx, sqlTrailOfPlace, args(place, before, limit), (*TrailEntry).into)
		if err != nil {
			return nil, fail("trail", err)
		}
		list = append(list, page...)
	}
	if f.NoPlace {
		page, err := rows(tx, sqlTrailOfNoPlace, args(before, limit), (*TrailEntry).into)
		if err != nil {
			return nil, fail("trail", err)
		}
		list = append(list, page...)
	}
	slices.SortFunc(list, func(a, b TrailEntry) int { return cmp.Compare(b.ID, a.ID) })
	return list[:min(limit, len(list))], nil
}

func (e *TrailEntry) into() []any {
	return args(&e.ID, &e.At, &e.StaffID, &e.Who, &e.What, &e.Object, &e.PlaceID, &e.GrowerID, &e.PlotID, &e.Was,
		&e.Now)
}
