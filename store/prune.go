package store

import (
	"context"
	"slices"
)

const (
	sqlPruneCallbacks = `DELETE FROM callback WHERE id IN
	(SELECT c.id FROM callback c WHERE c.at < $1 ORDER BY c.at LIMIT CAST($2 AS BIGINT))`
	sqlPrunePrompts = `DELETE FROM prompt WHERE phone IN
	(SELECT c.phone FROM prompt c WHERE c.until < $1 ORDER BY c.until LIMIT CAST($2 AS BIGINT))`
	sqlPruneExchanges = `DELETE FROM exchange WHERE phone IN
	(SELECT c.phone FROM exchange c WHERE c.at < $1 ORDER BY c.at LIMIT CAST($2 AS BIGINT))`
	sqlPruneSpend = `DELETE FROM spend WHERE (scope, day) IN (SELECT c.scope, c.day FROM spend c WHERE c.day < $1
		ORDER BY c.day LIMIT CAST($2 AS BIGINT))`
	sqlPruneCodes = `DELETE FROM move_code WHERE hash IN
	(SELECT c.hash FROM move_code c WHERE c.until < $1 ORDER BY c.until LIMIT CAST($2 AS BIGINT))`
	sqlPruneWrong = `DELETE FROM move_wrong WHERE day IN
	(SELECT c.day FROM move_wrong c WHERE c.day < $1 LIMIT CAST($2 AS BIGINT))`
	sqlPruneTries = `DELETE FROM move_try WHERE hash IN
	(SELECT c.hash FROM move_try c WHERE c.until < $1 ORDER BY c.until LIMIT CAST($2 AS BIGINT))`
)

const (
	// The two queries of old texts read only the 2 * $2 texts with the lowest ids, because ids grow with time. Not all
	// of them can be deleted: some still wait, and a wrong clock may have given some a later date. So they read more
	// than $2 texts.
	sqlOldLoose = `SELECT c.id FROM message c WHERE c.grower_id IS NULL AND c.claim_at IS NULL AND c.created_at < $1
		AND c.id < coalesce((SELECT y.id FROM message y WHERE y.grower_id IS NULL ORDER BY y.id LIMIT 1 OFFSET 2 * $2),
			9223372036854775807)
	ORDER BY c.id LIMIT CAST($2 AS BIGINT)`
	sqlOldMessages = `SELECT c.id FROM message c WHERE c.claim_at IS NULL AND c.created_at < $1 AND c.id <
		coalesce((SELECT y.id FROM message y ORDER BY y.id LIMIT 1 OFFSET 2 * $2), 9223372036854775807)
	ORDER BY c.id LIMIT CAST($2 AS BIGINT)`
	sqlPruneMessages = `DELETE FROM message WHERE id IN ` + idList + ` AND claim_at IS NULL`

	sqlOldSeason  = `SELECT p.id FROM plot p WHERE p.closed_day < $1 ORDER BY p.closed_day LIMIT 1`
	sqlPruneAbout = `DELETE FROM message WHERE claim_at IS NULL AND id IN
		(SELECT mp.message_id FROM message_plot mp WHERE mp.plot_id = ` + asID + `)`
	sqlPruneSeason = `DELETE FROM plot WHERE id = $1`
	// The queries select growers who were last heard of before the instant $1, unless they have an open plot that was
	// planted on the day $2 (the day of $1) or later. An open plot with an earlier planting day was forgotten: its
	// season is over.
	oldGrower = `SELECT g.phone FROM grower g WHERE g.seen_at < $1 AND NOT EXISTS
		(SELECT 1 FROM plot p WHERE p.grower_id = g.id AND p.closed_day IS NULL AND p.planted >= $2)`
	sqlOldGrowers     = oldGrower + ` AND g.id > CAST($3 AS BIGINT) AND g.id <= CAST($4 AS BIGINT) ORDER BY g.id`
	sqlLastGrower     = `SELECT coalesce(max(id), 0) FROM grower`
	sqlStillOldGrower = oldGrower + ` AND g.phone = CAST($3 AS TEXT)`
)

const (
	// pruneStep is the largest number of rows that one step of background work deletes: 25 rows take less than a
	// millisecond. Seasons and growers go one by one, because each also deletes rows of other tables.
	pruneStep = 25
	pruneList = 1000 // how many texts or sessions are listed at once, outside of the writer
	pruneWalk = 4000 // among how many growers old ones are looked for at once, outside of the writer
)

// Pruned is how many rows of each kind Prune deleted. Messages leaves out the texts of deleted seasons and growers.
type Pruned struct {
	Callbacks, Sessions, Prompts, Exchanges, Messages, Codes, Early, Spend, Seasons, Growers int64

	Circles int64 // ended circles, and questions and turns of all circles
	Staff   int64 // ended sessions, old links, old entries of the trail and old letters
}

// Prune deletes data that is older than its retention period, as background work. Texts that may still be sent are not
// deleted, unless their grower is deleted.
func (s *Store) Prune(ctx context.Context, now int64) (p Pruned, err error) {
	defer func() { err = fail("prune", err) }()
	for _, work := range []struct {
		query  string
		before int64
		count  *int64
	}{
		{sqlPruneCallbacks, now - days(s.keep.Callbacks), &p.Callbacks},
		{sqlPrunePrompts, now - PromptRetention, &p.Prompts},
		{sqlPruneExchanges, now - ExchangeRetention, &p.Exchanges},
		{sqlPruneCodes, now, &p.Codes},
		{sqlPruneTries, now, &p.Codes},
		{sqlPruneWrong, dayOf(now), &p.Codes},
		{sqlPruneEarly, now - keepEarly, &p.Early},
		{sqlPruneSpend, dayOf(now) - spendRetentionDays, &p.Spend},
		{sqlPruneStaffSessions, now, &p.Staff},
		{sqlPruneLink, now, &p.Staff},
		{sqlPruneTrail, now - trailRetention, &p.Staff},
		{sqlPruneLetters, now - trailRetention, &p.Staff},
	} {
		err := s.Background(ctx, func(tx *Tx) (bool, error) {
			n, err := tx.exec(work.query, work.before, pruneStep)
			tx.Kept(func() { *work.count += n })
			return n < pruneStep, err
		})
		if err != nil {
			return p, err
		}
	}
	if err := s.pruneSessions(ctx, now, &p.Sessions); err != nil {
		return p, err
	}
	if err := s.pruneTexts(ctx, sqlOldLoose, now-days(s.keep.LooseTexts), &p.Messages); err != nil {
		return p, err
	}
	if err := s.pruneTexts(ctx, sqlOldMessages, now-days(s.keep.Texts), &p.Messages); err != nil {
		return p, err
	}
	if err := s.pruneCircles(ctx, now, &p.Circles); err != nil {
		return p, err
	}
	if s.keep.Seasons > 0 {
		before := dayOf(now) - int64(s.keep.Seasons)
		err := s.Background(ctx, func(tx *Tx) (bool, error) { return tx.pruneSeason(before, &p.Seasons) })
		if err != nil {
			return p, err
		}
	}
	if s.keep.Growers == 0 {
		return p, nil
	}
	return p, s.pruneGrowers(ctx, now, &p.Growers)
}

func days(n int) int64 { return int64(n) * secondsADay }

// pruneTexts deletes the texts that a query lists and that were written before an instant. It lists them outside of the
// writer, because the query may read much.
func (s *Store) pruneTexts(ctx context.Context, query string, before int64, count *int64) error {
	for {
		var old []int64
		err := s.View(ctx, func(tx *Tx) (err error) {
			old, err = column[int64](tx, query, args(before, pruneList))
			return err
		})
		if err != nil {
			return err
		}
		was := *count
		err = removeListed(ctx, s, old, pruneStep, count, func(tx *Tx, part []int64) (int64, error) {
			return tx.exec(sqlPruneMessages, ids(part))
		})
		if err != nil || len(old) < pruneList || *count == was {
			return err
		}
	}
}

// removeListed calls remove in steps of background work, each time with at most size of the list. The function remove
// returns how many of these it deleted; it must check that they are still old.
func removeListed[T any](ctx context.Context, s *Store, old []T, size int, count *int64,
	remove func(*Tx, []T) (int64, error)) error {
	if len(old) == 0 {
		return nil
	}
	return s.Background(ctx, func(tx *Tx) (bool, error) {
		part := old[:min(size, len(old))]
		n, err := remove(tx, part)
		tx.Kept(func() { *count += n; old = old[len(part):] })
		return len(part) == len(old), err
	})
}

const (
	sqlSessionsAfter = `SELECT phone, channel, expires_at FROM session
	WHERE (phone, channel) > (` + asText + `, CAST($2 AS TEXT)) ORDER BY phone, channel LIMIT CAST($3 AS BIGINT)`
	sqlPruneSession = `DELETE FROM session WHERE phone = $1 AND channel = $2 AND expires_at < $3`
)

// pruneSessions deletes expired dialogues. It reads all sessions in the order of their keys, outside of the writer: an
// index of their expiry would be written at each step of a dialogue, and only dialogues of the last days are stored.
func (s *Store) pruneSessions(ctx context.Context, now int64, count *int64) error {
	for last, full := (Session{}), true; full; {
		var list []Session
		err := s.View(ctx, func(tx *Tx) (err error) {
			list, err = rows(tx, sqlSessionsAfter, args(last.Phone.E164(), last.Channel, pruneList),
				func(x *Session) []any { return args(&x.Phone, &x.Channel, &x.ExpiresAt) })
			return err
		})
		if err != nil || len(list) == 0 {
			return err
		}
		last, full = list[len(list)-1], len(list) == pruneList
		list = slices.DeleteFunc(list, func(x Session) bool { return x.ExpiresAt >= now })
		err = removeListed(ctx, s, list, pruneStep, count, func(tx *Tx, part []Session) (n int64, err error) {
			for _, x := range part {
				one, err := tx.exec(sqlPruneSession, x.Phone.E164(), x.Channel, now)
				if err != nil {
					return 0, err
				}
				n += one
			}
			return n, nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// pruneGrowers deletes the growers who were last heard of too long ago. It looks at all growers in the order of
// their ids, outside of the writer: an index of when they were heard of would be written on each day on which they
// call.
func (s *Store) pruneGrowers(ctx context.Context, now int64, count *int64) error {
	before := now - days(s.keep.Growers)
	still := args(before, dayOf(before))
	for from, last := int64(0), int64(1); from < last; from += pruneWalk {
		var old []Phone
		err := s.View(ctx, func(tx *Tx) (err error) {
			if _, err = tx.one(sqlLastGrower, nil, &last); err == nil {
				old, err = column[Phone](tx, sqlOldGrowers, append(slices.Clone(still), from, from+pruneWalk))
			}
			return err
		})
		if err == nil {
			err = removeListed(ctx, s, old, 1, count, func(tx *Tx, list []Phone) (int64, error) {
				return tx.pruneGrower(list[0], still, now)
			})
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// pruneSeason deletes one plot that was closed before a day, with the texts about it. The weed rate that a place
// learned from it stays. If there is no such plot, pruneSeason is done.
func (tx *Tx) pruneSeason(before int64, count *int64) (done bool, err error) {
	var plot int64
	old, err := tx.one(sqlOldSeason, args(before), &plot)
	if err != nil || !old {
		return true, err
	}
	if err := tx.do(sqlPruneAbout, plot); err != nil {
		return false, err
	}
	tx.Kept(func() { *count++ })
	return false, tx.do(sqlPruneSeason, plot)
}

// pruneGrower deletes a grower, if the records still say that it is an old one. If the number has sent STOP, the STOP
// stays.
func (tx *Tx) pruneGrower(phone Phone, old []any, now int64) (int64, error) {
	if err := tx.Lock(phone); err != nil {
		return 0, err
	}
	still, err := tx.one(sqlStillOldGrower, append(slices.Clone(old), phone.E164()), new(Phone))
	if err != nil || !still {
		return 0, err
	}
	return 1, tx.eraseAll(phone, now)
}
