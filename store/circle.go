package store

import (
	"slices"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// Circles are growers who share tools: see package circle. The tables circle_entry and circle_turn belong to the tools
// and persons of a circle, not to growers: an erased grower stays in them as a person without name and number.

// circleRow is a row of the table circle.
type circleRow struct {
	id      int64
	number  int
	placeID int64
	planAt  int64 // 0: nothing is ahead
	ended   bool
}

func (c *circleRow) into() []any { return args(&c.id, &c.number, &c.placeID, &c.planAt, &c.ended) }

// memberRow is a row of the table circle_member, with what its grower's row says.
type memberRow struct {
	circle.Member
	growerID int64
	left     engine.Day // 0: has not left
	seenAt   int64
}

func (p *memberRow) into() []any {
	return args(&p.ID, &p.growerID, &p.Name, &p.Joined, &p.Keeper, &p.Guest, &p.left, &p.Phone, &p.Language,
		&p.Stopped, &p.seenAt)
}

const (
	circleColumns = `c.id, c.number, c.place_id, coalesce(c.plan_at, 0), c.ended_at IS NOT NULL`
	// A grower without a number has no phone here. Who cannot get texts counts as one who wants none.
	personColumns = `m.id, coalesce(m.grower_id, 0), m.name, m.joined, m.keeper, m.guest, coalesce(m.left_day, 0),
		CASE WHEN g.id IS NULL OR g.unlinked_at IS NOT NULL THEN '' ELSE g.phone END, coalesce(g.language, ''),
		g.id IS NULL OR g.unlinked_at IS NOT NULL OR g.stopped_at IS NOT NULL, coalesce(g.seen_at, 0)`

	sqlCircle       = `SELECT ` + circleColumns + ` FROM circle c WHERE c.id = ` + asID
	sqlCircleNumber = `SELECT ` + circleColumns + ` FROM circle c WHERE c.number = ` + asID
	sqlLockCircle   = `SELECT 1 FROM circle WHERE id = $1`
	sqlPeople       = `SELECT m.circle_id, ` + personColumns + ` FROM circle_member m
	LEFT JOIN grower g ON g.id = m.grower_id WHERE m.circle_id IN ` + idList + ` ORDER BY m.id`
	sqlSharedTools = `SELECT k.circle_id, k.id, k.name, coalesce(k.owner_id, 0), k.width_cm, k.max_width_cm, k.price,
		k.member_day, k.guest_day, k.broken,
		(SELECT CAST(coalesce(sum(CASE WHEN e.corrects IS NULL THEN e.amount ELSE -e.amount END), 0) AS BIGINT)
			FROM circle_entry e WHERE e.tool_id = k.id)
	FROM circle_tool k WHERE k.circle_id IN ` + idList + ` AND k.removed_day IS NULL ORDER BY k.id`
)

// openCircle is a circle that a transaction reads or changes, with all its persons, also those who left, by id.
type openCircle struct {
	circleRow
	people []memberRow
}

// circle reads a circle, which may have ended; nil if there is none.
func (tx *Tx) circle(query string, of int64) (*openCircle, error) {
	var c openCircle
	known, err := tx.one(query, args(of), c.into()...)
	if err != nil || !known {
		return nil, err
	}
	all, err := tx.peopleOf(c.id)
	c.people = all[c.id]
	return &c, err
}

// lockCircle makes other transactions that change the circle wait until this one has ended.
func (tx *Tx) lockCircle(id int64) error {
	if tx.pg == nil {
		return nil
	}
	return second(tx.one(sqlLockCircle, args(id), new(int64)))
}

func (tx *Tx) peopleOf(circles ...int64) (map[int64][]memberRow, error) {
	all, err := grouped(tx, sqlPeople, args(ids(circles)), (*memberRow).into)
	return all, fail("people of a circle", err)
}

// sharedTools returns the tools of circles.
func (tx *Tx) sharedTools(circles ...int64) (map[int64][]circle.SharedTool, error) {
	all, err := grouped(tx, sqlSharedTools, args(ids(circles)), func(t *circle.SharedTool) []any {
		return args(&t.ID, &t.Name, &t.Owner, &t.Tool.WidthCM, &t.Tool.MaxWidthCM, &t.Price, &t.MemberDay, &t.GuestDay,
			&t.Broken, &t.Earned)
	})
	return all, fail("shared tools", err)
}

// person returns a person of the circle, also one who left; nil if there is none.
func (c *openCircle) person(id int64) *memberRow {
	i := slices.IndexFunc(c.people, func(p memberRow) bool { return p.ID == id })
	if i < 0 {
		return nil
	}
	return &c.people[i]
}

// ofGrower returns the person who is this grower; nil if there is none.
func (c *openCircle) ofGrower(id int64) *memberRow {
	i := slices.IndexFunc(c.people, func(p memberRow) bool { return p.growerID == id && id != 0 })
	if i < 0 {
		return nil
	}
	return &c.people[i]
}

// keeper returns the keeper; nil if there is none.
func (c *openCircle) keeper() *memberRow {
	i := slices.IndexFunc(c.people, func(p memberRow) bool { return p.Keeper })
	if i < 0 {
		return nil
	}
	return &c.people[i]
}

// member returns a person as others see it; the zero value for the id 0.
func (c *openCircle) member(id, now int64) circle.Member {
	p := c.person(id)
	if p == nil {
		return circle.Member{}
	}
	return p.member(now)
}

func (p *memberRow) member(now int64) circle.Member {
	m := p.Member
	m.Silent = silent(p.seenAt, now)
	return m
}
