package store

import (
	"context"
	"fmt"
	"strings"
)

// Checkpoint folds the write-ahead log into the file and empties it, so that
// nothing of what was erased stays behind there. While somebody reads it may
// stay undone: it is only put off to the next time.
func (s *Store) Checkpoint(ctx context.Context) error {
	db := openPool(s.path, upkeepDSN, hardening, 1) // the writer is never outside of a transaction
	defer db.Close()
	_, err := db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	return fail("checkpoint", err)
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

const metaCheckedAt = "checked at"

// MarkWritable writes down that the records took a write at this instant. It is what
// finds out that they do not. Each mark differs from the one before: SQLite
// does not write what is there already.
func (tx *Tx) MarkWritable(now int64) error {
	return tx.setMeta(metaCheckedAt, fmt.Appendf(nil, "%d/%d", now, tx.s.marks.Add(1)))
}
