package store

import (
	"cmp"
	"slices"
	"strings"
	"time"
	"unicode"

	"rowbell/engine"
)

// GrowerState is a state of a grower, or of a plot of the grower, by which staff choose whom they see.
type GrowerState int

const (
	AnyState         GrowerState = iota
	StateWindow                  // an announced window of an open plot is open
	StateMissed                  // a window was missed, and no weeding was logged since
	StateNoPlot                  // no plot is open
	StateStopped                 // wants no texts
	StateUnreachable             // a network reported that the number does not exist
	StateNoNumber                // the number turned out to belong to somebody else
	StateSilent                  // was not heard of for SilentAfter: the number may have a new owner

	endOfStates
)

var stateNames = [endOfStates]string{"", "window", "missed", "no-plot", "stopped", "unreachable", "no-number", "silent"}

func (s GrowerState) String() string {
	if s < 0 || s >= endOfStates {
		return "unknown"
	}
	return stateNames[s]
}

// ParseGrowerState returns the state with this name; false if there is none. "" is AnyState.
func ParseGrowerState(name string) (GrowerState, bool) {
	i := slices.Index(stateNames[:], name)
	return GrowerState(max(i, 0)), i >= 0
}

// GrowerStates lists the states, without AnyState.
func GrowerStates() []GrowerState {
	var list []GrowerState
	for s := AnyState + 1; s < endOfStates; s++ {
		list = append(list, s)
	}
	return list
}

// GrowerFilter says which growers staff see. The zero value selects all growers of the scope.
type GrowerFilter struct {
	Text       string // any part of the name or of the number, as people type it
	State      GrowerState
	Circle     int   // number of a circle, whose persons are selected; 0: not by circle
	InCircle   bool  // only members of a circle, and who asked to be one
	NotHeardOf int   // at least for so many days; 0: not by that
	After      int64 // id of the last grower of the page before; 0: the first page
	Limit      int   // at most so many growers
}

// GrowerLine is a grower in a list for staff.
type GrowerLine struct {
	DueGrower      // with all open plots, their seasons and what was told about them
	Name, Note     string
	PlaceID        int64
	PlaceName      string
	Today          engine.Day // at the place
	SeenAt         int64
	StoppedAt      int64 // 0: wants texts
	UnreachableAt  int64 // 0: no network reported that the number does not exist
	UnlinkedAt     int64 // 0: has a number
	CircleNumber   int   // of which the grower is a member or asked to be one; 0: none
	ConsentAt      int64
	ConsentChannel string
	CreatedAt      int64
}

// GrowerPage is a page of growers, ordered by name, and growers of the same name by number.
type GrowerPage struct {
	Growers []GrowerLine
	// After is the filter's After of the next page; 0: there is none.
	After int64
	// Part is set if the page ends before its limit, because so many growers were looked at without a match. The next
	// page goes on there.
	Part bool
}

// A page looks at most at walkText growers for a part of the name or number, which an index alone answers, and at most
// at walkRows growers for what their rows and plots say. So no filter makes a page slow that few growers match. On the
// first slice the walk looks at walkFirst growers, and on each further one at four times as many.
const (
	walkFirst = 500
	walkText  = 200_000
	walkRows  = 12_000
)

// The queries select the growers of a place in the order of name and number, after the one of $2 and $3 and until the
// one of $4 and $5, with a part of the name or of the number. The casts hide the values from the planner, see asID.
const (
	ofPlace     = ` WHERE g.place_id = ` + asID + ` AND (g.name_key, g.phone) > (CAST($2 AS TEXT), CAST($3 AS TEXT))`
	ofPlacePart = ofPlace + ` AND (g.name_key, g.phone) <= (CAST($4 AS TEXT), CAST($5 AS TEXT))
		AND (g.name_key LIKE CAST($6 AS TEXT) ESCAPE '!'
			OR g.phone LIKE CAST($7 AS TEXT) AND g.phone NOT LIKE '+0%')`
	byName = ` ORDER BY g.name_key, g.phone LIMIT `

	openPlotOf = `SELECT 1 FROM plot p WHERE p.grower_id = g.id AND p.closed_day IS NULL`
	// By the number of a GrowerState.
	inState = ` AND CASE CAST($8 AS BIGINT)
		WHEN 1 THEN EXISTS (` + openPlotOf + ` AND p.announced_no > 0 AND p.announced_opens <= $9
			AND p.announced_closes >= $9)
		WHEN 2 THEN EXISTS (SELECT 1 FROM plot p JOIN told t ON t.plot_id = p.id
			WHERE p.grower_id = g.id AND p.closed_day IS NULL AND t.kind = ` + kindMissed + `
				AND NOT EXISTS (SELECT 1 FROM pass x WHERE x.plot_id = p.id AND x.day >= t.day))
		WHEN 3 THEN NOT EXISTS (` + openPlotOf + `)
		WHEN 4 THEN g.stopped_at IS NOT NULL
		WHEN 5 THEN g.unreachable_at IS NOT NULL
		WHEN 6 THEN g.unlinked_at IS NOT NULL
		ELSE 1 = 1 END
		AND g.seen_at <= $10 AND (CAST($11 AS BIGINT) = 0 OR g.circle_id IS NOT NULL)`
	growerKey = `SELECT g.id, g.name_key, g.phone FROM grower g`

	sqlWalkTo     = growerKey + ofPlace + byName + `1 OFFSET CAST($4 AS BIGINT)` // skips a bounded part of an index
	sqlFindByText = growerKey + ofPlacePart + byName + `CAST($8 AS BIGINT)`
	sqlFindApart  = growerKey + ofPlacePart + `
		AND (g.stopped_at IS NOT NULL OR g.unreachable_at IS NOT NULL OR g.unlinked_at IS NOT NULL)` +
		inState + byName + `CAST($12 AS BIGINT)`
	sqlFindByState  = growerKey + ofPlacePart + inState + byName + `CAST($12 AS BIGINT)`
	sqlFindInCircle = `SELECT g.id, g.name_key, g.phone FROM circle c CROSS JOIN circle_member m CROSS JOIN grower g` +
		ofPlacePart + inState + ` AND c.number = CAST($12 AS BIGINT) AND m.circle_id = c.id AND m.left_day IS NULL
		AND g.id = m.grower_id` + byName + `CAST($13 AS BIGINT)`

	sqlGrowerKey     = `SELECT g.id, g.name_key, g.phone, g.place_id FROM grower g WHERE g.id = ` + asID
	sqlGrowersInList = `SELECT ` + growerColumns + ` FROM grower g WHERE g.id IN ` + idList
	sqlGrowerLines   = `SELECT g.id, g.name, g.note, g.place_id, pl.name, g.seen_at, coalesce(g.stopped_at, 0),
		coalesce(g.unreachable_at, 0), coalesce(g.unlinked_at, 0), coalesce(c.number, 0), g.consent_at,
		g.consent_channel, g.created_at
	FROM grower g JOIN place pl ON pl.id = g.place_id LEFT JOIN circle c ON c.id = g.circle_id AND c.ended_at IS NULL
	WHERE g.id IN ` + idList
)

// kindMissed is engine.KindMissed, for the queries.
const kindMissed = `5`

var _ = [1]struct{}{}[engine.KindMissed-5] // compiles only if kindMissed is right

// keyOfGrower is the place of a grower in the order of a list.
type keyOfGrower struct {
	id          int64
	name, phone string
}

func (k *keyOfGrower) into() []any { return args(&k.id, &k.name, &k.phone) }

func (k keyOfGrower) compare(o keyOfGrower) int {
	return cmp.Or(strings.Compare(k.name, o.name), strings.Compare(k.phone, o.phone))
}

// lastKey is after all growers: no name has this character.
var lastKey = keyOfGrower{name: "\U0010FFFF"}

// FindGrowers returns the growers of the scope that the filter selects. A grower of the scope who has moved to another
// name or number since the page before may be missed, or be on two pages. If the grower After is erased meanwhile, the
// first page is returned.
func (tx *Tx) FindGrowers(scope Scope, f GrowerFilter, now int64) (p GrowerPage, err error) {
	var after keyOfGrower
	if f.After != 0 {
		var place int64
		if _, err := tx.one(sqlGrowerKey, args(f.After), append(after.into(), &place)...); err != nil {
			return p, fail("find growers", err)
		}
	}
	places, err := tx.placesByID(scope)
	if err != nil {
		return p, fail("find growers", err)
	}
	var found []keyOfGrower
	end := lastKey // until where all places were looked at
	for _, id := range slices.Sorted(slices.Values(scope)) {
		place := places[id]
		if place == nil {
			continue
		}
		list, until, err := tx.findAt(place, f, after, len(places), now)
		if err != nil {
			return p, fail("find growers", err)
		}
		found = append(found, list...)
		if until.compare(end) < 0 {
			end, p.Part = until, true
		}
	}
	slices.SortFunc(found, keyOfGrower.compare)
	found = slices.DeleteFunc(found, func(k keyOfGrower) bool { return k.compare(end) > 0 })
	switch {
	case len(found) > f.Limit:
		found = found[:f.Limit]
		p.After, p.Part = found[f.Limit-1].id, false
	case p.Part:
		p.After = end.id
	}
	list := make([]int64, len(found))
	for i, k := range found {
		list[i] = k.id
	}
	p.Growers, err = tx.GrowerLines(list, now)
	return p, err
}

// findAt returns the first growers of a place after a key that the filter selects, one more than its limit if there are
// so many, and until where it has looked: lastKey if it has looked at all, or has found enough.
func (tx *Tx) findAt(place *readyPlace, f GrowerFilter, after keyOfGrower, places int, now int64) (
	list []keyOfGrower, until keyOfGrower, err error,
) {
	query, values, most := f.query(place.today(now), now)
	if f.Circle != 0 || query == sqlFindApart { // few growers
		list, err = tx.findUntil(query, place.ID, after, lastKey, values, f.Limit+1)
		return list, lastKey, err
	}
	most = max(walkFirst, most/places)
	for walked, slice := 0, walkFirst; walked < most; slice *= 4 {
		slice = min(slice, most-walked)
		to := lastKey // if fewer growers are left
		more, err := tx.one(sqlWalkTo, args(place.ID, after.name, after.phone, slice-1), to.into()...)
		if err != nil {
			return nil, until, err
		}
		part, err := tx.findUntil(query, place.ID, after, to, values, f.Limit+1-len(list))
		if err != nil {
			return nil, until, err
		}
		if list = append(list, part...); len(list) > f.Limit || !more {
			return list, lastKey, nil
		}
		after, walked = to, walked+slice
	}
	return list, after, nil
}

// query returns the query for a filter, its values from $6 on but the limit, and how many growers it may look at.
func (f GrowerFilter) query(today engine.Day, now int64) (query string, values []any, most int) {
	name, number := searchPatterns(f.Text)
	values = args(name, number)
	state, days := f.State, f.NotHeardOf
	if state == StateSilent {
		state, days = AnyState, max(days, SilentAfter/secondsADay)
	}
	if state == AnyState && days == 0 && f.Circle == 0 && !f.InCircle {
		return sqlFindByText, values, walkText
	}
	values = append(values, int64(state), today, now-int64(days)*secondsADay, f.InCircle)
	switch {
	case f.Circle != 0:
		return sqlFindInCircle, append(values, f.Circle), walkRows
	case state == StateStopped, state == StateUnreachable, state == StateNoNumber:
		return sqlFindApart, values, walkRows
	}
	return sqlFindByState, values, walkRows
}

func (tx *Tx) findUntil(query string, place int64, after, until keyOfGrower, values []any, limit int) (
	[]keyOfGrower, error,
) {
	a := append(args(place, after.name, after.phone, until.name, until.phone), values...)
	return rows(tx, query, append(a, limit), (*keyOfGrower).into)
}

var escapeLike = strings.NewReplacer("!", "!!", "%", "!%", "_", "!_")

// minWholeNumber is from how many digits on what is typed is taken for a whole number, whose zeros in front are not
// part of the form E.164. National numbers have seven digits or more (common practice, no source).
const minWholeNumber = 7

// searchPatterns returns the patterns of LIKE for a part of a name or number. A number may be typed with +, 00 or 0 in
// front, and with spaces and signs between the digits. Where there are letters, it is no number.
func searchPatterns(typed string) (name, number string) {
	typed = strings.TrimSpace(typed)
	name = "%" + escapeLike.Replace(nameKey(typed)) + "%"
	digits := strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, typed)
	if digits == "" || strings.ContainsFunc(typed, unicode.IsLetter) {
		return name, ""
	}
	begins := strings.HasPrefix(typed, "+")
	if len(digits) >= minWholeNumber { // zeros in front of a shorter part may be in the middle of the number
		begins = begins || strings.HasPrefix(digits, "00")
		digits = strings.TrimLeft(digits, "0")
	}
	if begins {
		return name, "+" + digits + "%"
	}
	return name, "%" + digits + "%"
}

// GrowerLines returns growers by their ids, in this order. Ids without a grower are left out.
func (tx *Tx) GrowerLines(growers []int64, now int64) ([]GrowerLine, error) {
	if len(growers) == 0 {
		return nil, nil
	}
	list, err := tx.growerLines(growers, now)
	return list, fail("growers", err)
}

func (tx *Tx) growerLines(growers []int64, now int64) ([]GrowerLine, error) {
	all := map[int64]*GrowerLine{}
	err := tx.each(sqlGrowerLines, args(ids(growers)), func(scan func(...any) error) error {
		g := new(GrowerLine)
		err := scan(&g.ID, &g.Name, &g.Note, &g.PlaceID, &g.PlaceName, &g.SeenAt, &g.StoppedAt, &g.UnreachableAt,
			&g.UnlinkedAt, &g.CircleNumber, &g.ConsentAt, &g.ConsentChannel, &g.CreatedAt)
		all[g.ID] = g
		return err
	})
	if err != nil {
		return nil, err
	}
	r, err := tx.roll(sqlGrowersInList, ids(growers))
	if err == nil && len(r.growers) > 0 {
		err = tx.fill(&r, sqlOpenPlotsOf, args(ids(r.ids)))
	}
	if err == nil {
		err = tx.fillTold(&r)
	}
	if err != nil {
		return nil, err
	}
	for _, g := range r.growers {
		line := all[g.ID]
		if line == nil {
			continue
		}
		line.DueGrower, line.Today = g, engine.DayOf(time.Unix(now, 0), g.Zone)
		if line.UnlinkedAt != 0 {
			line.Phone = ""
		}
	}
	var list []GrowerLine
	for _, id := range growers {
		if line := all[id]; line != nil && line.Zone != nil {
			list = append(list, *line)
		}
	}
	return list, nil
}
