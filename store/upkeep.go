package store

import (
	"context"
	"fmt"
	"strings"
)

// How long what has served its purpose is kept.
const (
	// CallbackRetention is how long a repeat of a callback gets the reply it got.
	// Networks repeat within minutes, a queue after an outage within days.
	CallbackRetention = 7 * 24 * 60 * 60
	// PromptRetention is how long it is known that a prompt is over: as long as an
	// older dialogue by text may live, so that a late digit is not given to it.
	PromptRetention = 7 * 24 * 60 * 60
	// LooseTextRetention is how long a text that is over is kept for a phone without
	// records: nobody's consent covers more.
	LooseTextRetention = 7 * 24 * 60 * 60
	// TextRetention is the same for a grower's: a year and a season's start.
	TextRetention = 400 * 24 * 60 * 60
	pruneBatch    = 1000 // rows a transaction, so that a callback is not kept waiting
)

const (
	sqlPruneCallbacks = `DELETE FROM callback WHERE (gateway, key) IN
	(SELECT c.gateway, c.key FROM callback c WHERE c.at < $1 ORDER BY c.at LIMIT $2)`
	sqlPruneSessions = `DELETE FROM session WHERE (phone, channel) IN
	(SELECT c.phone, c.channel FROM session c WHERE c.expires_at < $1 ORDER BY c.expires_at LIMIT $2)`
	sqlPrunePrompts = `DELETE FROM prompt WHERE phone IN
	(SELECT c.phone FROM prompt c WHERE c.until < $1 ORDER BY c.until LIMIT $2)`
	sqlPruneLoose = `DELETE FROM message WHERE id IN
	(SELECT c.id FROM message c WHERE c.grower_id IS NULL AND c.claim_at IS NULL AND c.created_at < $1 LIMIT $2)`
	sqlPruneCodes = `DELETE FROM move_code WHERE hash IN
	(SELECT c.hash FROM move_code c WHERE c.until < $1 ORDER BY c.until LIMIT $2)`
	sqlPruneWrong = `DELETE FROM move_wrong WHERE day IN
	(SELECT c.day FROM move_wrong c WHERE c.day < $1 LIMIT $2)`
	sqlPruneTries = `DELETE FROM move_try WHERE hash IN
	(SELECT c.hash FROM move_try c WHERE c.until < $1 ORDER BY c.until LIMIT $2)`
	// Texts lie in the order in which they were written: only the first are
	// looked at. A few that a clock which was ahead left there, or that still
	// wait, do not end the search.
	sqlPruneMessages = `DELETE FROM message WHERE id IN
	(SELECT c.id FROM message c WHERE c.claim_at IS NULL AND c.created_at < $1 AND c.id <
		coalesce((SELECT y.id FROM message y ORDER BY y.id LIMIT 1 OFFSET 2 * $2), 9223372036854775807)
	ORDER BY c.id LIMIT $2)`
)

const (
	sqlOldSeasons   = `SELECT p.id FROM plot p WHERE p.closed_day < $1 ORDER BY p.closed_day LIMIT $2`
	sqlPruneAbout   = `DELETE FROM message WHERE claim_at IS NULL AND id IN (SELECT mp.message_id FROM message_plot mp WHERE mp.plot_id IN ` + idList + `)`
	sqlPruneSeasons = `DELETE FROM plot WHERE id IN ` + idList
	// Nobody but the grower closes a plot: one that was planted before the
	// grower was last heard of, so long ago, is no season any more.
	sqlOldGrowers = `SELECT g.phone FROM grower g WHERE g.seen_at < $1 AND NOT EXISTS
		(SELECT 1 FROM plot p WHERE p.grower_id = g.id AND p.closed_day IS NULL AND p.planted >= $2)
	ORDER BY g.seen_at LIMIT $3`
	pruneFewer = 25 // seasons and growers: each takes rows of many tables along
)

// Pruned counts what Prune removed. Messages, here, are those that went alone.
type Pruned struct{ Callbacks, Sessions, Prompts, Messages, Codes, Spend, Seasons, Growers int64 }

// Prune removes what was kept long enough (Keep), sessions that are over,
// prompts that have been over for KeepPrompts, codes and wrong codes that
// count no more, a few at a time. Texts that may still be sent stay, but those
// to growers that go.
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
		{sqlPruneCodes, now, &p.Codes},
		{sqlPruneTries, now, &p.Codes},
		{sqlPruneWrong, codeDay(now), &p.Codes},
		{sqlPruneLoose, now - days(s.keep.LooseTexts), &p.Messages},
		{sqlPruneMessages, now - days(s.keep.Texts), &p.Messages},
		{sqlPruneSpend, dayOf(now) - spendRetentionDays, &p.Spend},
	} {
		err := s.prune(ctx, pruneBatch, work.count, func(tx *Tx) (int64, error) { return tx.exec(work.query, work.before, pruneBatch) })
		if err != nil {
			return p, err
		}
	}
	if s.keep.Seasons > 0 {
		before := codeDay(now) - int64(s.keep.Seasons)
		if err := s.prune(ctx, pruneFewer, &p.Seasons, func(tx *Tx) (int64, error) { return tx.pruneSeasons(before) }); err != nil {
			return p, err
		}
	}
	if s.keep.Growers > 0 {
		before := now - days(s.keep.Growers)
		if err := s.prune(ctx, pruneFewer, &p.Growers, func(tx *Tx) (int64, error) { return tx.pruneGrowers(before) }); err != nil {
			return p, err
		}
	}
	return p, nil
}

func days(n int) int64 { return int64(n) * secondsADay }

// prune removes a batch a transaction until there is less than a batch.
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

// pruneSeasons removes plots that were closed before a day, with what happened
// on them and the texts about them. What a place learned from them stays with
// the place.
func (tx *Tx) pruneSeasons(before int64) (int64, error) {
	var old []int64
	err := tx.each(sqlOldSeasons, args(before, pruneFewer), func(scan func(...any) error) error {
		var id int64
		err := scan(&id)
		old = append(old, id)
		return err
	})
	if err != nil || len(old) == 0 {
		return 0, err
	}
	if _, err := tx.exec(sqlPruneAbout, ids(old)); err != nil {
		return 0, err
	}
	_, err = tx.exec(sqlPruneSeasons, ids(old)) // not its count: rows of other tables may be among it
	return int64(len(old)), err
}

// pruneGrowers removes growers nobody heard of since an instant, linked or
// not, as if they had asked for it; but whether the number wants texts stays
// as it was.
func (tx *Tx) pruneGrowers(before int64) (int64, error) {
	var old []Phone
	err := tx.each(sqlOldGrowers, args(before, codeDay(before), pruneFewer), func(scan func(...any) error) error {
		var p Phone
		err := scan(&p)
		old = append(old, p)
		return err
	})
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

// Checkpoint folds the write-ahead log into the file and empties it, so that
// nothing of what was erased stays behind there. While somebody reads it may
// stay undone: it is only put off to the next time.
func (s *Store) Checkpoint(ctx context.Context) error {
	db := openPool(s.path, upkeepDSN, hardening, 1) // the writer is never outside of a transaction
	defer db.Close()
	_, err := db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	return fail("checkpoint", err)
}

// Stats are counts for the operator. Growers without a number, and their plots,
// are not among them.
type Stats struct {
	Growers, Stopped int64
	OpenPlots        int64
	DuePlots         int64 // the bell should have looked at them
	Sessions         int64 // not expired
	Outbox           map[State]int64
	Oldest           map[State]int64 // when the longest waiting text in this state was due; none where nothing more is expected
}

const (
	sqlStats = `SELECT (SELECT count(*) FROM grower WHERE unlinked_at IS NULL),
	(SELECT count(*) FROM grower WHERE stopped_at IS NOT NULL AND unlinked_at IS NULL),
	(SELECT count(*) FROM plot WHERE closed_day IS NULL AND grower_id NOT IN (SELECT g.id FROM grower g WHERE g.unlinked_at IS NOT NULL)),
	(SELECT count(*) FROM plot WHERE look_at <= $1),
	(SELECT count(*) FROM session WHERE expires_at >= $1)`
	sqlStatsOutbox = `SELECT state, count(*), coalesce(min(CASE WHEN ended_at IS NULL THEN due_at END), 0) FROM message GROUP BY state`
)

// Stats counts. It reads whole tables: once a minute, not once a request.
func (tx *Tx) Stats(now int64) (Stats, error) {
	st := Stats{Outbox: map[State]int64{}, Oldest: map[State]int64{}}
	_, err := tx.one(sqlStats, args(now), &st.Growers, &st.Stopped, &st.OpenPlots, &st.DuePlots, &st.Sessions)
	if err == nil {
		err = tx.each(sqlStatsOutbox, nil, func(scan func(...any) error) error {
			var state string
			var n, oldest int64
			err := scan(&state, &n, &oldest)
			st.Outbox[State(state)] = n
			if oldest > 0 {
				st.Oldest[State(state)] = oldest
			}
			return err
		})
	}
	return st, fail("stats", err)
}

// IntegrityCheck reads the whole database and reports what is damaged in it.
func (s *Store) IntegrityCheck(ctx context.Context) error {
	var found []string
	err := s.View(ctx, func(tx *Tx) (err error) {
		found, err = tx.damage()
		return err
	})
	if err != nil {
		return fail("integrity check", err)
	}
	if len(found) > 0 {
		return fmt.Errorf("store: integrity check of %s: %s", s.path, strings.Join(found, "; "))
	}
	return nil
}

// damage is what is wrong in the file, a line each.
func (tx *Tx) damage() (found []string, err error) {
	err = tx.each("PRAGMA integrity_check", nil, func(scan func(...any) error) error {
		var line string
		err := scan(&line)
		if line != "ok" {
			found = append(found, line)
		}
		return err
	})
	if err != nil {
		return found, err
	}
	err = tx.each("PRAGMA foreign_key_check", nil, func(scan func(...any) error) error {
		var table, parent string
		var row, key any // the row is NULL in a table without rowids
		err := scan(&table, &row, &parent, &key)
		found = append(found, fmt.Sprintf("a row of %s names a missing %s", table, parent))
		return err
	})
	return found, err
}
