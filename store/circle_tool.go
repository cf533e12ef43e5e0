package store

import (
	"errors"
	"slices"

	"rowbell/engine/circle"
)

const (
	sqlAddTool = `INSERT INTO circle_tool (circle_id, owner_id, name, width_cm, max_width_cm, price, member_day,
		guest_day, broken)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	sqlChangeTool = `UPDATE circle_tool SET owner_id = $1, name = $2, width_cm = $3, max_width_cm = $4, price = $5,
		member_day = $6, guest_day = $7, broken = $8
	WHERE id = $9`
	sqlPutWish = `INSERT INTO circle_wish (plot_id, window_no, extra_days, skip, ready_day) VALUES ($1, $2, $3, $4, $5)
	ON CONFLICT (plot_id, window_no) DO UPDATE SET
		extra_days = CASE WHEN excluded.extra_days = 0 THEN 0
			WHEN circle_wish.extra_days + excluded.extra_days > 14 THEN 14
			ELSE circle_wish.extra_days + excluded.extra_days END, skip = excluded.skip,
		ready_day = CASE WHEN excluded.ready_day IS NULL THEN NULL
			ELSE coalesce(circle_wish.ready_day, excluded.ready_day) END`
	sqlDropWish = `DELETE FROM circle_wish WHERE plot_id = $1 AND window_no = $2`
)

// checkTool returns what is wrong with a tool.
func checkTool(t circle.SharedTool) error {
	if t.Tool.None() {
		return errors.New("a shared tool needs a width")
	}
	for _, amount := range []int64{t.Price, t.MemberDay, t.GuestDay} {
		if amount < 0 || amount > maxAmount {
			return errors.New("a price must be from 0 to a million millions")
		}
	}
	return t.Tool.Validate()
}

// mayOwn reports whether a member may say what this tool is: its owner, or the keeper for a tool of the circle.
func (p *memberRow) mayOwn(owner int64) bool { return owner == p.ID || owner == 0 && p.Keeper }

// AddSharedTool adds a tool of this member, or for the keeper one of the circle.
func (l *Ledger) AddSharedTool(t circle.SharedTool) (id int64, err error) {
	c, self, err := l.own()
	if err == nil {
		err = checkTool(t)
	}
	if err != nil {
		return 0, fail("add tool", err)
	}
	tools, err := l.tx.sharedTools(c.id)
	switch {
	case err != nil:
		return 0, err
	case !self.mayOwn(t.Owner):
		return 0, circle.ErrNotAllowed
	case len(tools[c.id]) >= circle.MaxSharedTools:
		return 0, circle.ErrFull
	}
	id, _, err = l.tx.insert(sqlAddTool, c.id, orNull(t.Owner), t.Name, t.Tool.WidthCM, t.Tool.MaxWidthCM, t.Price,
		t.MemberDay, t.GuestDay, t.Broken)
	return id, fail("add tool", errors.Join(err, l.tx.planSoon(c.id, l.now)))
}

// ChangeSharedTool changes a tool; Earned is ignored. Each member may say that a tool is broken or mended; the rest is
// for its owner, or for the keeper if it is the circle's. An owner may give it to the circle or to another member.
func (l *Ledger) ChangeSharedTool(t circle.SharedTool) error {
	c, self, was, err := l.tool(t.ID)
	if err == nil {
		err = checkTool(t)
	}
	if err != nil {
		return fail("change tool", err)
	}
	rest := t
	rest.Broken, rest.Earned = was.Broken, was.Earned
	to := c.person(t.Owner)
	if rest != was && !self.mayOwn(was.Owner) || t.Owner != was.Owner && t.Owner != 0 && (to == nil || !to.Joined) {
		return circle.ErrNotAllowed
	}
	err = l.do(sqlChangeTool, orNull(t.Owner), t.Name, t.Tool.WidthCM, t.Tool.MaxWidthCM, t.Price, t.MemberDay,
		t.GuestDay, t.Broken, t.ID)
	return fail("change tool", errors.Join(err, l.tx.planSoon(c.id, l.now)))
}

// tool opens the circle of this member for a change of one of its tools.
func (l *Ledger) tool(id int64) (c *openCircle, self *memberRow, t circle.SharedTool, err error) {
	if c, self, err = l.own(); err != nil {
		return nil, nil, t, err
	}
	tools, err := l.tx.sharedTools(c.id)
	if err != nil {
		return nil, nil, t, err
	}
	i := slices.IndexFunc(tools[c.id], func(t circle.SharedTool) bool { return t.ID == id })
	if i < 0 {
		return nil, nil, t, circle.ErrNoCircle
	}
	return c, self, tools[c.id][i], nil
}

// RemoveSharedTool takes a tool out of the circle. What was charged for its days stays.
func (l *Ledger) RemoveSharedTool(id int64) error {
	c, self, t, err := l.tool(id)
	switch {
	case err != nil:
		return fail("remove tool", err)
	case !self.mayOwn(t.Owner):
		return circle.ErrNotAllowed
	}
	if _, err := l.tx.ChargeDays(c.id, l.Today()); err != nil {
		return err
	}
	return fail("remove tool", errors.Join(l.tx.removeTool(id, l.Today()), l.tx.planSoon(c.id, l.now)))
}

var _ = [1]struct{}{}[circle.MaxHireDays-14] // compiles only if the query is right

// sqlLookSoon has the bell look at a plot again, which may write a reminder anew that was withdrawn.
const sqlLookSoon = `UPDATE plot SET look_at = $1 WHERE id = $2 AND look_at > $1`

// Wish stores what the member says of the turn of a plot, for the window with this number. The turn that the member
// saw has the days that were wished before, so further extra days are added to them, up to 14.
func (l *Ledger) Wish(plotNo int, window int, w circle.Wish) error {
	c, _, err := l.own()
	if err != nil {
		return fail("wish", err)
	}
	r, err := l.find(plotNo)
	switch {
	case err != nil:
		return err
	case w.ExtraDays < 0 || w.ExtraDays > circle.MaxHireDays || window < 1:
		return errors.New("store: wish: a turn can be at most 14 days longer")
	case w == circle.Wish{}:
		err = l.do(sqlDropWish, r.id, window)
	default:
		var ready any
		if w.Ready {
			ready = l.Today()
		}
		err = l.do(sqlPutWish, r.id, window, w.ExtraDays, w.Skip, ready)
	}
	if err == nil && (w.Skip || w.Ready) { // a text that waits may name the turn that is given to others
		err = errors.Join(l.withdraw(r.id), l.do(sqlLookSoon, l.now, r.id))
	}
	return fail("wish", errors.Join(err, l.tx.planSoon(c.id, l.now)))
}
