package store

import (
	"slices"

	"rowbell/engine"
)

// CircleLine is a circle in a list for staff.
type CircleLine struct {
	ID      int64
	Number  int
	PlaceID int64 // of the keeper
	Ended   bool
	PlanAt  int64 // when its turns are planned next, in Unix seconds; 0: when something is changed

	Keeper, Members, Guests, Asking int64 // Keeper is the id of a circle.Member, 0: none; Asking asked to join
	KeeperName                      string
	Tools, Broken                   int64
	Questions                       int64 // questions between its persons that are open
	Disputes                        int64 // payments and weedings that one side denied
}

const (
	// The lines of one place are in the order of circle_place, so a page reads no more rows than it has, and those of
	// circles that have ended.
	sqlCirclesOfPlace = `SELECT c.id FROM circle c WHERE c.place_id = ` + asID + ` AND c.id > CAST($2 AS BIGINT)
		AND c.ended_at IS NULL ORDER BY c.id LIMIT CAST($3 AS BIGINT)`
	sqlCircleLines = `WITH c AS (SELECT c.* FROM circle c WHERE c.id IN ` + idList + `)
	SELECT ` + circleColumns + `,
		coalesce((SELECT m.id FROM circle_member m WHERE m.circle_id = c.id AND m.keeper = 1), 0),
		(SELECT count(*) FROM circle_member m WHERE m.circle_id = c.id AND m.joined = 1),
		(SELECT count(*) FROM circle_member m WHERE m.circle_id = c.id AND m.guest = 1 AND m.left_day IS NULL),
		(SELECT count(*) FROM circle_ask a WHERE a.circle_id = c.id AND a.state = 0 AND a.kind = 1
			AND a.until_day >= $2),
		coalesce((SELECT m.name FROM circle_member m WHERE m.circle_id = c.id AND m.keeper = 1), ''),
		(SELECT count(*) FROM circle_tool k WHERE k.circle_id = c.id AND k.removed_day IS NULL),
		(SELECT count(*) FROM circle_tool k WHERE k.circle_id = c.id AND k.removed_day IS NULL AND k.broken = 1),
		(SELECT count(*) FROM circle_ask a WHERE a.circle_id = c.id AND a.state = 0 AND a.until_day >= $2),
		(SELECT count(*) FROM circle_ask a WHERE a.circle_id = c.id AND a.state = 2 AND a.kind >= ` + askWeeded + `)
	FROM c ORDER BY c.id`
	sqlFindCircle = `SELECT c.id, c.place_id FROM circle c WHERE c.number = ` + asID
)

func (c *CircleLine) into() []any {
	return args(&c.ID, &c.Number, &c.PlaceID, &c.PlanAt, &c.Ended, &c.Keeper, &c.Members, &c.Guests, &c.Asking,
		&c.KeeperName, &c.Tools, &c.Broken, &c.Questions, &c.Disputes)
}

// CirclePage says where a list of circles goes on: after a circle of a place. The zero value is its beginning.
type CirclePage struct{ Place, Circle int64 }

// Circles returns at most limit circles in scope that have not ended, by the order of the places in the scope, then by
// id, beginning after a page. Its queries are one for each place that it reads, and one for the page.
func (tx *Tx) Circles(scope Scope, after CirclePage, limit int, now int64) ([]CircleLine, error) {
	var found []int64
	if i := slices.Index(scope, after.Place); i >= 0 {
		scope = scope[i:]
	} else {
		after.Circle = 0
	}
	for i, place := range scope {
		if i > 0 {
			after.Circle = 0
		}
		list, err := column[int64](tx, sqlCirclesOfPlace, args(place, after.Circle, limit-len(found)))
		if err != nil {
			return nil, fail("circles", err)
		}
		if found = append(found, list...); len(found) >= limit {
			break
		}
	}
	if len(found) == 0 {
		return nil, nil
	}
	lines, err := tx.circleLines(found, now)
	slices.SortFunc(lines, func(a, b CircleLine) int {
		return slices.Index(found, a.ID) - slices.Index(found, b.ID)
	})
	return lines, fail("circles", err)
}

// circleLines returns the lines of circles. Questions are counted as open until their last day has ended everywhere.
func (tx *Tx) circleLines(circles []int64, now int64) ([]CircleLine, error) {
	return rows(tx, sqlCircleLines, args(ids(circles), dayAt(now)-1), (*CircleLine).into)
}

// CircleLine returns a circle in scope, which may have ended; false if there is none.
func (tx *Tx) CircleLine(scope Scope, id, now int64) (CircleLine, bool, error) {
	list, err := tx.circleLines([]int64{id}, now)
	if err != nil || len(list) == 0 || !scope.Has(list[0].PlaceID) {
		return CircleLine{}, false, fail("circle", err)
	}
	return list[0], true, nil
}

// FindCircle returns the id of a circle in scope by its number; 0 if there is none.
func (tx *Tx) FindCircle(scope Scope, number int) (id int64, err error) {
	var place int64
	known, err := tx.one(sqlFindCircle, args(number), &id, &place)
	if err != nil || !known || !scope.Has(place) {
		return 0, fail("find circle", err)
	}
	return id, nil
}

// dayIn returns the calendar day of an instant at a place, by its id.
func (tx *Tx) dayIn(placeID, now int64) (engine.Day, error) {
	p, err := tx.placeByID(placeID)
	if err != nil {
		return 0, err
	}
	return p.today(now), nil
}
