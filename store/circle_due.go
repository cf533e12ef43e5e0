package store

import (
	"reflect"
	"slices"
	"time"

	"rowbell/engine"
	"rowbell/engine/circle"
)

// turnsBack is for how many days back DueCircles returns turns: longer than two windows of a plot are apart.
const turnsBack = 60

// DueCircle is a circle whose turns should be planned, with all that the plan needs.
type DueCircle struct {
	ID          int64
	Number      int
	Zone        *time.Location // of its place
	MorningHour int
	PlanAt      int64 // when it became due, in Unix seconds
	Members     []DueMember
	Tools       []circle.SharedTool // by id
	Turns       []CircleTurn        // by tool, then by day, from 60 days ago on; those of guests are agreed hires
}

// DueMember is a person of a circle who has not left: a member, a guest, or who has asked to join. They are ordered by
// id.
type DueMember struct {
	circle.Member
	GrowerID int64 // 0: erased
	// Grower has all open plots, due or not, with their seasons and what was told, also if the grower wants no texts.
	// It is empty for persons who have not joined, and for growers without a number.
	Grower DueGrower
	Plots  []DueTurns // in the order of Grower.Plots
}

// DueTurns is what concerns the turns of a plot.
type DueTurns struct {
	Wishes map[int]DueWish // by the number of the window; nil: none
	Told   *ToldTurn       // what its grower was told last of its turns; nil: nothing
}

// DueWish is a wish. ReadyOn is when the member said that the tool is free from the next day on; 0 if Ready is not set.
type DueWish struct {
	circle.Wish
	ReadyOn engine.Day
}

const (
	sqlDueCircles = `SELECT ` + circleColumns + ` FROM circle c
	WHERE c.plan_at <= $1 ORDER BY c.plan_at, c.id LIMIT CAST($2 AS BIGINT)`
	sqlCirclesByID = `SELECT ` + circleColumns + ` FROM circle c WHERE c.id IN ` + idList + ` ORDER BY c.id`
	// sqlFreeCircles locks circles in a transaction that writes, but waits for no other transaction.
	sqlFreeCircles = `SELECT c.id FROM circle c WHERE c.id IN ` + idList + ` ORDER BY c.id`
	sqlWishes      = `SELECT w.plot_id, w.window_no, w.extra_days, w.skip, coalesce(w.ready_day, 0) FROM circle_wish w
	WHERE w.plot_id IN ` + idList + ` ORDER BY w.plot_id, w.window_no`
)

// DueCircles returns at most limit circles that are due, the one that became due first first. A circle is due from the
// instant on that SetTurns set, and after a change that touches its turns. The number of queries does not depend on the
// number of circles.
func (tx *Tx) DueCircles(now int64, limit int) ([]DueCircle, error) {
	rows, err := rows(tx, sqlDueCircles, args(now, limit), (*circleRow).into)
	if err != nil {
		return nil, fail("due circles", err)
	}
	list, err := tx.fillCircles(rows, now)
	return list, fail("due circles", err)
}

// CircleToPlan returns a circle as DueCircles does, due or not; false if there is none, or it has ended.
func (tx *Tx) CircleToPlan(id, now int64) (c DueCircle, known bool, err error) {
	found, err := rows(tx, sqlCirclesByID, args(ids([]int64{id})), (*circleRow).into)
	if err != nil || len(found) == 0 || found[0].ended {
		return c, false, fail("circle to plan", err)
	}
	list, err := tx.fillCircles(found, now)
	if err != nil {
		return c, false, fail("circle to plan", err)
	}
	return list[0], true, nil
}

func circleIDs(circles []DueCircle) []int64 {
	list := make([]int64, len(circles))
	for i := range circles {
		list[i] = circles[i].ID
	}
	return list
}

// CirclesUnchanged is Unchanged for circles that DueCircles returned earlier for the same now. On a server, a circle
// counts as changed with which, or with whose growers, another transaction works just now.
func (tx *Tx) CirclesUnchanged(now int64, read []DueCircle) ([]bool, error) {
	same := make([]bool, len(read))
	free, err := column[int64](tx, sqlFreeCircles, args(ids(circleIDs(read))))
	if err != nil {
		return nil, fail("due circles again", err)
	}
	var growers []int64
	for _, c := range read {
		for _, m := range c.Members {
			if m.GrowerID != 0 {
				growers = append(growers, m.GrowerID)
			}
		}
	}
	locked, err := tx.lockGrowers(growers)
	if err != nil {
		return nil, fail("due circles again", err)
	}
	rows, err := rows(tx, sqlCirclesByID, args(ids(free)), (*circleRow).into)
	if err != nil {
		return nil, fail("due circles again", err)
	}
	list, err := tx.fillCircles(rows, now)
	for i := range read {
		at := slices.IndexFunc(list, func(c DueCircle) bool { return c.ID == read[i].ID })
		busy := slices.ContainsFunc(read[i].Members, func(m DueMember) bool {
			return m.GrowerID != 0 && !slices.Contains(locked, m.GrowerID)
		})
		same[i] = at >= 0 && !busy && reflect.DeepEqual(list[at], read[i])
	}
	return same, fail("due circles again", err)
}

// fillCircles reads all that plans of these circles need.
func (tx *Tx) fillCircles(found []circleRow, now int64) ([]DueCircle, error) {
	if len(found) == 0 {
		return nil, nil
	}
	list, at, places := make([]DueCircle, len(found)), make([]int64, len(found)), make([]int64, len(found))
	since, earliest := make([]engine.Day, len(found)), engine.Day(0)
	for i, c := range found {
		at[i], places[i] = c.id, c.placeID
	}
	ready, err := tx.placesByID(places)
	if err != nil {
		return nil, err
	}
	for i, c := range found {
		p := ready[c.placeID]
		list[i] = DueCircle{ID: c.id, Number: c.number, Zone: p.loc, MorningHour: p.MorningHour, PlanAt: c.planAt}
		since[i] = p.today(now) - turnsBack
		if i == 0 || since[i] < earliest {
			earliest = since[i]
		}
	}
	people, err := tx.peopleOf(at...)
	if err != nil {
		return nil, err
	}
	tools, err := tx.sharedTools(at...)
	if err != nil {
		return nil, err
	}
	turns, err := tx.turns(earliest, at...)
	if err != nil {
		return nil, err
	}
	for i := range list {
		list[i].Tools = tools[list[i].ID]
		for _, t := range turns[list[i].ID] { // of each circle the same, whichever others are read with it
			if t.Day >= since[i] {
				list[i].Turns = append(list[i].Turns, t)
			}
		}
		for _, p := range people[list[i].ID] {
			if p.left == 0 {
				list[i].Members = append(list[i].Members, DueMember{Member: p.member(now), GrowerID: p.growerID})
			}
		}
	}
	return list, tx.fillMembers(list)
}

// fillMembers adds the growers of the members, and what concerns the turns of their plots.
func (tx *Tx) fillMembers(list []DueCircle) error {
	var growers []int64
	for _, c := range list {
		for _, m := range c.Members {
			if m.Joined && m.GrowerID != 0 {
				growers = append(growers, m.GrowerID)
			}
		}
	}
	r, err := tx.roll(sqlGrowersByID, ids(growers))
	if err == nil && len(r.growers) > 0 {
		err = tx.fill(&r, sqlOpenPlotsOf, args(ids(r.ids)))
	}
	if err == nil && len(r.growers) > 0 {
		err = tx.fillTold(&r)
	}
	if err != nil {
		return err
	}
	var plots []int64
	for _, g := range r.growers {
		for _, p := range g.Plots {
			plots = append(plots, p.ID)
		}
	}
	wishes, err := tx.wishes(plots)
	if err != nil {
		return err
	}
	told, err := tx.toldTurns(plots)
	if err != nil {
		return err
	}
	for i := range list {
		for j := range list[i].Members {
			m := &list[i].Members[j]
			at, there := r.at[m.GrowerID]
			if !m.Joined || !there {
				continue
			}
			m.Grower = r.growers[at]
			for _, p := range m.Grower.Plots {
				d := DueTurns{Wishes: wishes[p.ID]}
				if t, known := told[p.ID]; known {
					d.Told = &t
				}
				m.Plots = append(m.Plots, d)
			}
		}
	}
	return nil
}

// wishes returns the wishes for plots, by plot and by the number of the window.
func (tx *Tx) wishes(plots []int64) (map[int64]map[int]DueWish, error) {
	all := map[int64]map[int]DueWish{}
	if len(plots) == 0 {
		return all, nil
	}
	err := tx.each(sqlWishes, args(ids(plots)), func(scan func(...any) error) error {
		var plot int64
		var window int
		var w DueWish
		err := scan(&plot, &window, &w.ExtraDays, &w.Skip, &w.ReadyOn)
		w.Ready = w.ReadyOn != 0
		if all[plot] == nil {
			all[plot] = map[int]DueWish{}
		}
		all[plot][window] = w
		return err
	})
	return all, fail("wishes", err)
}

const sqlSetPlan = `UPDATE circle SET plan_at = $1 WHERE id = $2 AND ended_at IS NULL`

// SetTurns replaces the turns of plots from a day on, and sets when the circle is due next, in Unix seconds; 0: when it
// is changed. Hires of guests stay. The circle must be as DueCircles returned it: see CirclesUnchanged.
func (tx *Tx) SetTurns(c DueCircle, from engine.Day, turns []CircleTurn, planAt int64) error {
	for _, was := range c.Turns {
		stays := slices.ContainsFunc(turns, func(t CircleTurn) bool { return t.Tool == was.Tool && t.Day == was.Day })
		if was.Day < from || was.Plot == 0 || stays {
			continue
		}
		if err := tx.dropTurn(was); err != nil {
			return fail("set turns", err)
		}
	}
	for _, t := range turns {
		if t.Day < from || slices.ContainsFunc(c.Turns, t.same) {
			continue
		}
		if err := tx.putTurn(t); err != nil {
			return fail("set turns", err)
		}
	}
	return fail("set turns", tx.do(sqlSetPlan, orNull(planAt), c.ID))
}

const (
	sqlToCharge = `SELECT t.tool_id, t.day, t.member_id, coalesce(k.owner_id, 0), k.member_day
	FROM circle_tool k JOIN circle_turn t ON t.tool_id = k.id
	WHERE k.circle_id = ` + asID + ` AND t.charged = 0 AND t.day < CAST($2 AS BIGINT) AND t.plot_id IS NOT NULL
	ORDER BY t.day, t.tool_id`
	sqlTurnCharged = `UPDATE circle_turn SET charged = 1 WHERE tool_id = $1 AND day = $2`
	sqlEnter       = `INSERT INTO circle_entry (circle_id, day, debtor_id, creditor_id, amount, kind, tool_id, turn_day,
		ask_id, corrects)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
	sqlEnterDay = sqlEnter + ` ON CONFLICT (tool_id, turn_day) DO NOTHING`
)

// ChargeDays writes an entry for each day of a tool before a day that has none yet, if a member had the tool for a plot
// and owes something for it. It returns the number of entries.
func (tx *Tx) ChargeDays(circleID int64, before engine.Day) (n int, err error) {
	type passed struct {
		tool, member, owner, amount int64
		day                         engine.Day
	}
	list, err := rows(tx, sqlToCharge, args(circleID, before), func(p *passed) []any {
		return args(&p.tool, &p.day, &p.member, &p.owner, &p.amount)
	})
	for _, p := range list {
		if err == nil && p.amount > 0 && p.member != p.owner {
			n++
			err = tx.do(sqlEnterDay, circleID, p.day, p.member, orNull(p.owner), p.amount, circle.EntryDay, p.tool,
				p.day, nil, nil)
		}
		if err == nil {
			err = tx.do(sqlTurnCharged, p.tool, p.day)
		}
	}
	return n, fail("charge days", err)
}
