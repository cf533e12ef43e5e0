package store

import (
	"context"
	"slices"

	"rowbell/engine"
)

const (
	sqlAttentionOf = `SELECT a.plot_id, a.place_id, a.later, a.rank, a.reasons FROM attention a WHERE a.plot_id IN
	(SELECT p.id FROM plot p WHERE p.grower_id IN ` + idList + `)`
	// A plot that was closed or erased since it was read gets no row.
	sqlPutAttention = `INSERT INTO attention (plot_id, grower_id, place_id, later, rank, reasons)
	SELECT p.id, p.grower_id, CAST(value->>1 AS BIGINT), CAST(value->>2 AS BIGINT), CAST(value->>3 AS BIGINT),
		CAST(value->>4 AS BIGINT)
	FROM jsonb_each($1) JOIN plot p ON p.id = CAST(value->>0 AS BIGINT) AND p.closed_day IS NULL WHERE true
	ON CONFLICT (plot_id) DO UPDATE SET place_id = excluded.place_id, later = excluded.later, rank = excluded.rank,
		reasons = excluded.reasons`
	sqlDropAttention         = `DELETE FROM attention WHERE plot_id IN ` + idList
	sqlDropAttentionOfGrower = `DELETE FROM attention WHERE plot_id IN
	(SELECT p.id FROM plot p WHERE p.grower_id = ` + asID + `)`

	sqlAttendSoon = `INSERT INTO attention_due (grower_id, mark) VALUES ($1, 1)
	ON CONFLICT (grower_id) DO UPDATE SET mark = attention_due.mark + 1`
	sqlAttendAllSoon = `INSERT INTO attention_due (grower_id, mark)
	SELECT g.id, 1 FROM jsonb_each($1) JOIN grower g ON g.id = CAST(value->>0 AS BIGINT) WHERE true
	ON CONFLICT (grower_id) DO UPDATE SET mark = attention_due.mark + 1`
	sqlAttentionDue = `SELECT d.grower_id, d.mark FROM attention_due d ORDER BY d.grower_id LIMIT CAST($1 AS BIGINT)`
	sqlAttended     = `DELETE FROM attention_due WHERE (grower_id, mark) IN
	(SELECT CAST(value->>0 AS BIGINT), CAST(value->>1 AS BIGINT) FROM jsonb_each($1))`
	sqlAttendedPlaces = `SELECT a.place_id, a.day, coalesce(a.after_grower, -1) FROM attention_place a`
	sqlAttendedPlace  = `INSERT INTO attention_place (place_id, day, after_grower) VALUES ($1, $2, $3)
	ON CONFLICT (place_id) DO UPDATE SET day = excluded.day, after_grower = excluded.after_grower`
)

const (
	attentionPage = 200 // growers who are read and planned at once
	attentionStep = 40  // rows that one step of background work writes: about a millisecond
)

// keptRow is a row of the table attention.
type keptRow struct {
	plot, place int64
	key         MorningKey
	reasons     engine.Reasons
}

// keptList is what must be written so that the table attention says what was computed.
type keptList struct {
	put  []keptRow
	drop []int64 // ids of plots
}

// attentionDue is the next part of the work of KeepAttention: a page of the growers of a place, or growers who changed.
type attentionDue struct {
	watched []Watched
	kept    []keptRow // what the table has of these growers

	// A page of a place; 0: growers who changed.
	place, last int64 // last is -1 after the last page
	day         engine.Day

	marks packed // the growers who changed
}

// KeepAttention brings the table attention up to date, as background work: for all plots of a place once on each day
// there, and for growers who changed. It returns how many plots it planned, and how many of them the engine refused;
// those are left out. If it is broken off, the next call goes on. No two calls may run at the same time.
//
// It plans outside of transactions, so that nobody waits for it. What changes meanwhile is marked, and planned again.
func (s *Store) KeepAttention(ctx context.Context, now int64) (planned, refused int, err error) {
	for {
		var part attentionDue
		var more bool
		err := s.View(ctx, func(tx *Tx) (err error) {
			part, more, err = tx.nextAttention(now)
			return err
		})
		if err != nil || !more {
			return planned, refused, fail("attention", err)
		}
		list, bad := part.plan()
		planned, refused = planned+len(part.watched), refused+bad
		if err := s.writeAttention(ctx, list, part.end); err != nil {
			return planned, refused, fail("attention", err)
		}
	}
}

// AttentionDue reports whether KeepAttention has something to do.
func (tx *Tx) AttentionDue(now int64) (bool, error) {
	_, _, _, due, err := tx.unattendedPlace(now)
	if err != nil || due {
		return due, fail("attention due", err)
	}
	due, err = tx.one(sqlAttentionDue, args(1), new(int64), new(int64))
	return due, fail("attention due", err)
}

// unattendedPlace returns the first place whose plots are not all planned for its day, and after which grower to go
// on.
func (tx *Tx) unattendedPlace(now int64) (place int64, day engine.Day, after int64, found bool, err error) {
	type progress struct {
		day   engine.Day
		after int64
	}
	done, err := grouped(tx, sqlAttendedPlaces, nil, func(p *progress) []any { return args(&p.day, &p.after) })
	if err != nil {
		return 0, 0, 0, false, err
	}
	places, err := tx.readyPlaces(sqlPlaces)
	for _, p := range places {
		today, so := p.today(now), done[p.ID]
		switch {
		case len(so) == 0 || so[0].day != today:
			return p.ID, today, 0, true, nil
		case so[0].after >= 0:
			return p.ID, today, so[0].after, true, nil
		}
	}
	return 0, 0, 0, false, err
}

// nextAttention reads the next part of the work; false if there is none.
func (tx *Tx) nextAttention(now int64) (part attentionDue, more bool, err error) {
	place, day, after, found, err := tx.unattendedPlace(now)
	if err != nil {
		return part, false, err
	}
	var r roll
	if found {
		part.place, part.day, part.last = place, day, -1
		if r, err = tx.roll(sqlGrowersOfPlace, place, after, attentionPage); len(r.ids) == attentionPage {
			part.last = r.ids[attentionPage-1]
		}
	} else {
		if err := part.readMarks(tx, &r); err != nil || len(part.marks) == 0 {
			return part, false, err
		}
	}
	if err == nil {
		part.watched, err = tx.watched(&r, r.dayAt(now, 0))
	}
	if err == nil {
		part.kept, err = tx.keptOf(r.ids)
	}
	return part, true, err
}

// readMarks reads growers who changed.
func (part *attentionDue) readMarks(tx *Tx, r *roll) error {
	type mark struct{ grower, mark int64 }
	marks, err := rows(tx, sqlAttentionDue, args(attentionPage), func(m *mark) []any {
		return args(&m.grower, &m.mark)
	})
	if err != nil || len(marks) == 0 {
		return err
	}
	growers := make([]int64, len(marks))
	for i, m := range marks {
		growers[i] = m.grower
		part.marks.add(m.grower, m.mark)
	}
	*r, err = tx.roll(sqlGrowersByID, ids(growers))
	return err
}

// keptOf returns what the table attention has of the plots of growers.
func (tx *Tx) keptOf(growers []int64) ([]keptRow, error) {
	list, err := rows(tx, sqlAttentionOf, args(ids(growers)), func(r *keptRow) []any {
		return args(&r.plot, &r.place, &r.key.Later, &r.key.Rank, &r.reasons)
	})
	for i := range list {
		list[i].key.PlotID = list[i].plot
	}
	return list, err
}

// plan returns what changes in the table, and how many plots the engine refused.
func (part *attentionDue) plan() (list keptList, refused int) {
	was := map[int64]keptRow{}
	for _, r := range part.kept {
		was[r.plot] = r
	}
	for i := range part.watched {
		w := &part.watched[i]
		a, err := w.Attention()
		if err != nil {
			refused++
			continue
		}
		if a.Reasons == 0 {
			continue
		}
		row := keptRow{w.PlotID, w.PlaceID, MorningKeyOf(w.PlotID, a), a.Reasons}
		if was[w.PlotID] != row {
			list.put = append(list.put, row)
		}
		delete(was, w.PlotID)
	}
	for plot := range was {
		list.drop = append(list.drop, plot)
	}
	slices.Sort(list.drop)
	return list, refused
}

// end records that a part is done.
func (part *attentionDue) end(tx *Tx) error {
	switch {
	case part.place == 0:
		return part.marks.write(tx, sqlAttended)
	case part.last < 0:
		return tx.do(sqlAttendedPlace, part.place, part.day, nil)
	}
	return tx.do(sqlAttendedPlace, part.place, part.day, part.last)
}

// writeAttention writes a list as background work. end runs in the last step.
func (s *Store) writeAttention(ctx context.Context, list keptList, end func(*Tx) error) error {
	return s.Background(ctx, func(tx *Tx) (done bool, err error) {
		put := list.put[:min(len(list.put), attentionStep)]
		drop := list.drop[:min(len(list.drop), attentionStep-len(put))]
		done = len(put) == len(list.put) && len(drop) == len(list.drop)
		err = keptList{put, drop}.write(tx)
		if err == nil && done {
			err = end(tx)
		}
		tx.Kept(func() { list.put, list.drop = list.put[len(put):], list.drop[len(drop):] })
		return done, err
	})
}

func (list keptList) write(tx *Tx) error {
	var put packed
	for _, r := range list.put {
		put.add(r.plot, r.place, asBit(r.key.Later), r.key.Rank, int64(r.reasons))
	}
	if err := put.write(tx, sqlPutAttention); err != nil || len(list.drop) == 0 {
		return err
	}
	return tx.do(sqlDropAttention, ids(list.drop))
}

// AttendSoon makes KeepAttention plan the plots of growers again.
func (tx *Tx) AttendSoon(growerIDs []int64) error {
	var list packed
	for _, id := range growerIDs {
		list.add(id)
	}
	return fail("attend soon", list.write(tx, sqlAttendAllSoon))
}

// Attend brings the rows of one grower in the table attention up to date at once, after a change by staff, and marks
// the grower, because KeepAttention may have read the records before the change.
func (tx *Tx) Attend(growerID, now int64) error {
	part := attentionDue{}
	list, err := tx.WatchedOf([]int64{growerID}, now, 0)
	if err == nil {
		part.watched = list
		part.kept, err = tx.keptOf([]int64{growerID})
	}
	if err == nil {
		changes, _ := part.plan()
		err = changes.write(tx)
	}
	if err == nil {
		err = tx.do(sqlAttendSoon, growerID)
	}
	return fail("attend", err)
}
