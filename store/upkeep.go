package store

import (
	"context"
	"fmt"
	"strings"
)

// How long what has served its purpose is kept.
const (
	// KeepCallbacks is how long a repeat of a callback gets the reply it got.
	// Networks repeat within minutes, a queue after an outage within days.
	KeepCallbacks = 7 * 24 * 60 * 60
	// KeepPrompts is how long it is known that a prompt is over: as long as an
	// older dialogue by text may live, so that a late digit is not given to it.
	KeepPrompts = 7 * 24 * 60 * 60
	// KeepLoose is how long a text that is over is kept for a phone without
	// records: nobody's consent covers more.
	KeepLoose = 7 * 24 * 60 * 60
	// KeepMessages is the same for a grower's: a year and a season's start.
	KeepMessages = 400 * 24 * 60 * 60
	pruneBatch   = 1000 // rows a transaction, so that a callback is not kept waiting
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
	// Texts lie in the order in which they were written: the first that is
	// young ends the search.
	sqlPruneMessages = `DELETE FROM message WHERE id IN
	(SELECT c.id FROM message c WHERE c.claim_at IS NULL AND c.id <
		coalesce((SELECT y.id FROM message y WHERE y.created_at >= $1 ORDER BY y.id LIMIT 1), 9223372036854775807)
	ORDER BY c.id LIMIT $2)`
)

// Pruned counts what Prune removed.
type Pruned struct{ Callbacks, Sessions, Prompts, Messages, Codes, Spend int64 }

// Prune removes callbacks older than KeepCallbacks, sessions that are over,
// prompts that have been over for KeepPrompts, codes and wrong codes that
// count no more, and texts that nothing more is
// done with, after KeepLoose or KeepMessages, a few at a time.
func (s *Store) Prune(ctx context.Context, now int64) (Pruned, error) {
	var p Pruned
	for _, work := range []struct {
		query  string
		before int64
		count  *int64
	}{
		{sqlPruneCallbacks, now - KeepCallbacks, &p.Callbacks},
		{sqlPruneSessions, now, &p.Sessions},
		{sqlPrunePrompts, now - KeepPrompts, &p.Prompts},
		{sqlPruneCodes, now, &p.Codes},
		{sqlPruneTries, now, &p.Codes},
		{sqlPruneWrong, codeDay(now), &p.Codes},
		{sqlPruneSpend, dayOf(now) - keepSpend, &p.Spend},
		{sqlPruneLoose, now - KeepLoose, &p.Messages},
		{sqlPruneMessages, now - KeepMessages, &p.Messages},
	} {
		for {
			var n int64
			err := s.InTx(ctx, func(tx *Tx) (err error) {
				n, err = tx.exec(work.query, work.before, pruneBatch)
				return err
			})
			if err != nil {
				return p, fail("prune", err)
			}
			*work.count += n
			if n < pruneBatch {
				break
			}
			if err := ctx.Err(); err != nil {
				return p, fail("prune", err)
			}
		}
	}
	return p, nil
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
}

const (
	sqlStats = `SELECT (SELECT count(*) FROM grower WHERE unlinked_at IS NULL),
	(SELECT count(*) FROM grower WHERE stopped_at IS NOT NULL AND unlinked_at IS NULL),
	(SELECT count(*) FROM plot WHERE closed_day IS NULL AND grower_id NOT IN (SELECT g.id FROM grower g WHERE g.unlinked_at IS NOT NULL)),
	(SELECT count(*) FROM plot WHERE look_at <= $1),
	(SELECT count(*) FROM session WHERE expires_at >= $1)`
	sqlStatsOutbox = `SELECT state, count(*) FROM message GROUP BY state`
)

// Stats counts. It reads whole tables: once a minute, not once a request.
func (tx *Tx) Stats(now int64) (Stats, error) {
	st := Stats{Outbox: map[State]int64{}}
	_, err := tx.one(sqlStats, args(now), &st.Growers, &st.Stopped, &st.OpenPlots, &st.DuePlots, &st.Sessions)
	if err == nil {
		err = tx.each(sqlStatsOutbox, nil, func(scan func(...any) error) error {
			var state string
			var n int64
			err := scan(&state, &n)
			st.Outbox[State(state)] = n
			return err
		})
	}
	return st, fail("stats", err)
}

// IntegrityCheck reads the whole database and reports what is damaged in it.
func (s *Store) IntegrityCheck(ctx context.Context) error {
	var found []string
	err := s.View(ctx, func(tx *Tx) error {
		err := tx.each("PRAGMA integrity_check", nil, func(scan func(...any) error) error {
			var line string
			err := scan(&line)
			if line != "ok" {
				found = append(found, line)
			}
			return err
		})
		if err != nil {
			return err
		}
		return tx.each("PRAGMA foreign_key_check", nil, func(scan func(...any) error) error {
			var table, parent string
			var row, key any // the row is NULL in a table without rowids
			err := scan(&table, &row, &parent, &key)
			found = append(found, fmt.Sprintf("a row of %s names a missing %s", table, parent))
			return err
		})
	})
	if err != nil {
		return fail("integrity check", err)
	}
	if len(found) > 0 {
		return fmt.Errorf("store: integrity check of %s: %s", s.path, strings.Join(found, "; "))
	}
	return nil
}
