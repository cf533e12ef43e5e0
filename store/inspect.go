package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"
)

const (
	sqlContents = `SELECT (SELECT count(*) FROM grower WHERE phone NOT LIKE '+0%'),
	(SELECT count(*) FROM grower WHERE stopped_at IS NOT NULL AND phone NOT LIKE '+0%'),
	(SELECT count(*) FROM plot p JOIN grower g ON g.id = p.grower_id
		WHERE p.closed_day IS NULL AND g.phone NOT LIKE '+0%')`
	// Older versions wrote some backups, so sqlNewest uses only columns that every schema version has.
	sqlNewest = `SELECT max(coalesce((SELECT max(at) FROM callback), 0), coalesce((SELECT max(at) FROM opt_out), 0),
	coalesce((SELECT max(max(g.created_at, g.consent_at, g.seen_at, coalesce(g.stopped_at, 0))) FROM grower g), 0),
	coalesce((SELECT max(max(m.created_at, coalesce(m.accepted_at, 0), coalesce(m.ended_at, 0))) FROM message m), 0),
	coalesce((SELECT max(saved_at) FROM session), 0), coalesce((SELECT max(asked_at) FROM prompt), 0))`
	sqlSchema = `SELECT max(version_id) FROM ` + versionTable
)

// Inspect reads a whole database file and describes its contents, without changing the file. It returns an *OpenError
// if the file is damaged, belongs to another program, or was written by a newer version of this program.
func Inspect(ctx context.Context, path string) (Contents, error) {
	return inspect(ctx, path, func(db *sql.DB) (found []string, err error) {
		err = inView(ctx, db, nil, func(tx *Tx) (err error) {
			found, err = tx.damage()
			return err
		})
		return found, err
	})
}

// Examine is like Inspect, for records that a service may be writing. Each table has its own View: while one lasts, the
// service cannot reuse its write-ahead log. The indexes are not compared with their tables, which would take three
// times as long: the check of a backup does that.
func Examine(ctx context.Context, path string) (Contents, error) {
	return inspect(ctx, path, func(db *sql.DB) (found []string, err error) {
		var tables []string
		if err := inView(ctx, db, nil, func(tx *Tx) (err error) {
			tables, err = column[string](tx, "SELECT name FROM sqlite_schema WHERE type = 'table'", nil)
			return err
		}); err != nil {
			return nil, err
		}
		for _, table := range tables {
			err := inView(ctx, db, nil, func(tx *Tx) error {
				more, err := tx.damageFound("PRAGMA foreign_key_check("+quoted(table)+")",
					"PRAGMA quick_check("+quoted(table)+")")
				found = append(found, more...)
				return err
			})
			if err != nil {
				return found, err
			}
		}
		return found, nil
	})
}

const useAnother = "Use another backup"

// quoted returns a name as SQLite reads it in a statement.
func quoted(name string) string { return `"` + strings.ReplaceAll(name, `"`, `""`) + `"` }

func inspect(ctx context.Context, path string, damage func(*sql.DB) (found []string, err error)) (
	c Contents, err error) {
	refuse := func(err error) error {
		return &OpenError{Op: "check", Path: path, Err: err, Try: useAnother}
	}
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return c, refuse(err)
	case !info.Mode().IsRegular():
		return c, refuse(errors.New("it is not a file"))
	case Empty(info):
		return c, refuse(errors.New("the file is empty"))
	}
	c.Path, c.Size = path, info.Size()
	if err := probe(ctx, path); err != nil {
		return c, err
	}
	db := openPool(path, probeDSN, hardening, 1)
	defer db.Close()
	err = inView(ctx, db, nil, func(tx *Tx) (err error) {
		c, err = tx.contents(c)
		return err
	})
	if err == nil {
		var found []string
		if found, err = damage(db); err == nil && len(found) > 0 {
			err = fmt.Errorf("%w: %s", ErrDamaged, strings.Join(found[:min(3, len(found))], "; "))
		}
	}
	switch {
	case isNotDatabase(err):
		return c, refuse(fmt.Errorf("%w (%w)", ErrDamaged, err))
	case err != nil:
		return c, refuse(err)
	}
	return c, nil
}

// contents fills in the counts of c that can be read. A damaged file may have unreadable counts.
func (tx *Tx) contents(c Contents) (_ Contents, err error) {
	var free, page int64
	if tx.pg == nil {
		err = errors.Join(second(tx.one("PRAGMA freelist_count", nil, &free)),
			second(tx.one("PRAGMA page_size", nil, &page)))
	}
	err = errors.Join(err,
		second(tx.one(sqlSchema, nil, &c.Schema)),
		second(tx.one(sqlContents, nil, &c.Growers, &c.Stopped, &c.OpenPlots)),
		second(tx.one(sqlSeen, nil, &c.Rows, &c.LastID)),
		second(tx.one(sqlNewest, nil, &c.Newest)))
	c.Free = free * page
	if err == nil && c.Schema == 0 {
		err = errors.New("there are no records in it")
	}
	return c, err
}
