package store

import (
	"context"
	"fmt"
	"strings"
)

// IntegrityCheck reads the whole database. If anything is damaged, the returned error lists the damage.
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
		return fmt.Errorf("store: integrity check of %s: %s", s.Name(), strings.Join(found, "; "))
	}
	return nil
}

// damage returns what is damaged in the file, one item for each problem. A server checks its pages and keys itself.
func (tx *Tx) damage() (found []string, err error) {
	if tx.pg != nil {
		return nil, nil
	}
	return tx.damageFound("PRAGMA foreign_key_check", "PRAGMA integrity_check")
}

// damageFound is like damage, with these checks of SQLite. keys is the check whether rows name missing rows.
func (tx *Tx) damageFound(keys string, checks ...string) (found []string, err error) {
	for _, check := range checks {
		lines, err := column[string](tx, check, nil)
		for _, line := range lines {
			if line != "ok" {
				found = append(found, strings.Join(strings.Fields(line), " ")) // some are of several lines
			}
		}
		if err != nil {
			return found, err
		}
	}
	err = tx.each(keys, nil, func(scan func(...any) error) error {
		var table, parent string
		err := scan(&table, new(any), &parent, new(any))
		found = append(found, fmt.Sprintf("a row of %s names a missing %s", table, parent))
		return err
	})
	return found, err
}

const metaCheckedAt = "checked at"

// MarkWritable proves that the database can be written. Each value that it writes is new, because SQLite does not
// write an unchanged value.
func (tx *Tx) MarkWritable(now int64) error {
	return tx.setMeta(metaCheckedAt, fmt.Appendf(nil, "%d/%d", now, tx.s.marks.Add(1)))
}
