package store

import (
	"context"
)

const (
	sqlPruneCallbacks = `DELETE FROM callback WHERE (gateway, key) IN
	(SELECT c.gateway, c.key FROM callback c WHERE c.at < $1 ORDER BY c.at LIMIT $2)`
	sqlPruneSessions = `DELETE FROM session WHERE (phone, channel) IN
	(SELECT c.phone, c.channel FROM session c WHERE c.expires_at < $1 ORDER BY c.expires_at LIMIT $2)`
	sqlPrunePrompts = `DELETE FROM prompt WHERE phone IN
	(SELECT c.phone FROM prompt c WHERE c.until < $1 ORDER BY c.until LIMIT $2)`
	sqlPruneExchanges = `DELETE FROM exchange WHERE phone IN
	(SELECT c.phone FROM exchange c WHERE c.at < $1 ORDER BY c.at LIMIT $2)`
	sqlPruneSpend = `DELETE FROM spend WHERE (scope, day) IN (SELECT c.scope, c.day FROM spend c WHERE c.day < $1
		ORDER BY c.day LIMIT $2)`
	sqlPruneLoose = `DELETE FROM message WHERE id IN
	(SELECT c.id FROM message c WHERE c.grower_id IS NULL AND c.claim_at IS NULL AND c.created_at < $1 LIMIT $2)`
	sqlPruneCodes = `DELETE FROM move_code WHERE hash IN
	(SELECT c.hash FROM move_code c WHERE c.until < $1 ORDER BY c.until LIMIT $2)`
	sqlPruneWrong = `DELETE FROM move_wrong WHERE day IN
	(SELECT c.day FROM move_wrong c WHERE c.day < $1 LIMIT $2)`
	sqlPruneTries = `DELETE FROM move_try WHERE hash IN
	(SELECT c.hash FROM move_try c WHERE c.until < $1 ORDER BY c.until LIMIT $2)`
	// The query reads only the 2 * $2 messages with the lowest ids, because ids grow with time. Not all of them can be
	// deleted: some still wait, and a wrong clock may have given some a later date. So it reads more than $2 messages.
	sqlPruneMessages = `DELETE FROM message WHERE id IN
	(SELECT c.id FROM message c WHERE c.claim_at IS NULL AND c.created_at < $1 AND c.id <
		coalesce((SELECT y.id FROM message y ORDER BY y.id LIMIT 1 OFFSET 2 * $2), 9223372036854775807)
	ORDER BY c.id LIMIT $2)`
)

const (
	sqlOldSeasons = `SELECT p.id FROM plot p WHERE p.closed_day < $1 ORDER BY p.closed_day LIMIT $2`
	sqlPruneAbout = `DELETE FROM message WHERE claim_at IS NULL AND id IN
		(SELECT mp.message_id FROM message_plot mp WHERE mp.plot_id IN ` + idList + `)`
	sqlPruneSeasons = `DELETE FROM plot WHERE id IN ` + idList
	// The query selects growers who were last heard of before the instant $1, unless they have an open plot that was
	// planted on the day $2 (the day of $1) or later. An open plot with an earlier planting day was forgotten: its
	// season is over.
	sqlOldGrowers = `SELECT g.phone FROM grower g WHERE g.seen_at < $1 AND NOT EXISTS
		(SELECT 1 FROM plot p WHERE p.grower_id = g.id AND p.closed_day IS NULL AND p.planted >= $2)
	ORDER BY g.seen_at LIMIT $3`
	pruneBatch = 1000 // largest number of rows in one transaction, so that other writes do not wait long
	pruneFewer = 25   // smaller batch for seasons and growers, because each also deletes rows of other tables
)

// Pruned is how many rows of each kind Prune deleted. Messages leaves out the texts of deleted seasons and growers.
type Pruned struct{ Callbacks, Sessions, Prompts, Exchanges, Messages, Codes, Spend, Seasons, Growers int64 }

// Prune deletes data that is older than its retention period. It works in batches, so that other writes do not wait
// long. Texts that may still be sent are not deleted, unless their grower is deleted.
func (s *Store) Prune(ctx context.Context, now int64) (Pruned, error) {
	var p Pruned
	for _, work := range []struct {
		query  string
		before int64
		count  *int64
	}{
		{sqlPruneCallbacks, now - days(s.keep.Callbacks), &p.Callbacks},
		{sqlPruneSessions, now, &p.Sessions},
		{sqlPrunePrompts, now - PromptRetention, &p.Prompts},
		{sqlPruneExchanges, now - ExchangeRetention, &p.Exchanges},
		{sqlPruneCodes, now, &p.Codes},
		{sqlPruneTries, now, &p.Codes},
		{sqlPruneWrong, dayOf(now), &p.Codes},
		{sqlPruneLoose, now - days(s.keep.LooseTexts), &p.Messages},
		{sqlPruneMessages, now - days(s.keep.Texts), &p.Messages},
		{sqlPruneSpend, dayOf(now) - spendRetentionDays, &p.Spend},
	} {
		err := s.prune(ctx, pruneBatch, work.count, func(tx *Tx) (int64, error) {
			return tx.exec(work.query, work.before, pruneBatch)
		})
		if err != nil {
			return p, err
		}
	}
	if s.keep.Seasons > 0 {
		before := dayOf(now) - int64(s.keep.Seasons)
		err := s.prune(ctx, pruneFewer, &p.Seasons, func(tx *Tx) (int64, error) { return tx.pruneSeasons(before) })
		if err != nil {
			return p, err
		}
	}
	if s.keep.Growers > 0 {
		before := now - days(s.keep.Growers)
		err := s.prune(ctx, pruneFewer, &p.Growers, func(tx *Tx) (int64, error) { return tx.pruneGrowers(before) })
		if err != nil {
			return p, err
		}
	}
	return p, nil
}

func days(n int) int64 { return int64(n) * secondsADay }

// prune calls remove, each time in a new transaction, until remove deletes fewer rows than a full batch.
func (s *Store) prune(ctx context.Context, batch int64, count *int64, remove func(*Tx) (int64, error)) error {
	for {
		var n int64
		err := s.InTx(ctx, func(tx *Tx) (err error) {
			n, err = remove(tx)
			return err
		})
		if err != nil {
			return fail("prune", err)
		}
		*count += n
		if n < batch {
			return nil
		}
		if err := ctx.Err(); err != nil {
			return fail("prune", err)
		}
	}
}

// pruneSeasons deletes the plots that were closed before a day, with the texts about them. The weed rate that a place
// learned from these plots stays.
func (tx *Tx) pruneSeasons(before int64) (int64, error) {
	old, err := column[int64](tx, sqlOldSeasons, args(before, pruneFewer))
	if err != nil || len(old) == 0 {
		return 0, err
	}
	if err := tx.do(sqlPruneAbout, ids(old)); err != nil {
		return 0, err
	}
	err = tx.do(sqlPruneSeasons, ids(old)) // the row count is not used: it may include rows of other tables
	return int64(len(old)), err
}

// pruneGrowers deletes the growers who were last heard of before an instant. If a number has sent STOP, the STOP stays.
func (tx *Tx) pruneGrowers(before int64) (int64, error) {
	old, err := column[Phone](tx, sqlOldGrowers, args(before, dayOf(before), pruneFewer))
	if err != nil {
		return 0, err
	}
	for _, p := range old {
		if err := tx.eraseAll(p); err != nil {
			return 0, err
		}
	}
	return int64(len(old)), nil
}
