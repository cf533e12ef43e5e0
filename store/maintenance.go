package store

import (
	"context"
	"fmt"
	"strings"
)

// Checkpoint copies the write-ahead log into the database file and empties it, so that nothing erased stays
// in the log. If a reader is at work, the log is emptied by a later call.
func (s *Store) Checkpoint(ctx context.Context) error {
	db := openPool(s.path, upkeepDSN, hardening, 1) // the writer's connection is always in a transaction
	defer db.Close()
	_, err := db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	return fail("checkpoint", err)
}

// IntegrityCheck reads the whole database and returns an error that lists what is damaged.
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

// damage lists what is wrong in the file, one line each.
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

// MarkWritable proves that the records can be written: it writes the instant now. Each value differs
// from the last, because SQLite does not write an unchanged value.
func (tx *Tx) MarkWritable(now int64) error {
	return tx.setMeta(metaCheckedAt, fmt.Appendf(nil, "%d/%d", now, tx.s.marks.Add(1)))
}
