package store

const (
	sqlGrowersOfPlace = `SELECT ` + growerColumns + ` FROM grower g
	WHERE g.place_id = ` + asID + ` AND g.id > $2 AND g.unlinked_at IS NULL ORDER BY g.id LIMIT CAST($3 AS BIGINT)`
	sqlGrowersByID = `SELECT ` + growerColumns + ` FROM grower g
	WHERE g.id IN ` + idList + ` AND g.unlinked_at IS NULL ORDER BY g.id`
	sqlOpenPlotsOf = `SELECT ` + plotColumns + ` FROM plot p
	WHERE p.grower_id IN ` + idList + ` AND p.closed_day IS NULL ORDER BY p.grower_id, p.no`
	sqlGrowersAtPlace = `SELECT count(*) FROM grower WHERE place_id = $1`
)

// OpenPlots looks at the growers of a place whose ids follow the id after, at most limit of them, and returns those who
// have open plots, in the order of registration. It includes growers who stopped texts, but no growers without a phone
// number. The field Told is not filled in. The next page follows the id last; 0 means that there is none.
func (tx *Tx) OpenPlots(placeID, after int64, limit int) (growers []DueGrower, last int64, err error) {
	r, err := tx.roll(sqlGrowersOfPlace, placeID, after, limit)
	if n := len(r.ids); n == limit {
		last = r.ids[n-1]
	}
	if err == nil {
		growers, err = tx.withOpenPlots(&r)
	}
	return growers, last, fail("open plots", err)
}

// OpenPlotsOf returns the growers with these ids who still have open plots, as OpenPlots does.
func (tx *Tx) OpenPlotsOf(growerIDs []int64) ([]DueGrower, error) {
	r, err := tx.roll(sqlGrowersByID, ids(growerIDs))
	if err != nil {
		return nil, fail("open plots", err)
	}
	growers, err := tx.withOpenPlots(&r)
	return growers, fail("open plots", err)
}

func (tx *Tx) withOpenPlots(r *roll) (list []DueGrower, err error) {
	if len(r.growers) > 0 {
		err = tx.fill(r, sqlOpenPlotsOf, args(ids(r.ids)))
	}
	for _, g := range r.growers {
		if len(g.Plots) > 0 {
			list = append(list, g)
		}
	}
	return list, err
}

// GrowersAt returns how many growers there are at a place. Growers without a phone number are counted too.
func (tx *Tx) GrowersAt(placeID int64) (n int64, err error) {
	_, err = tx.one(sqlGrowersAtPlace, args(placeID), &n)
	return n, fail("growers at place", err)
}
