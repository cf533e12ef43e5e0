package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
)

// replaced is what a restore needs from the records which it replaces. Growers and what was spent are read page by page
// when they are needed.
type replaced struct {
	Contents
	db      *sql.DB // nil if there is nothing that can be read
	damaged error
	since   int64 // newest instant in the backup
	key     []byte
	held    []byte // the operator hold; nil if it is off
	optOuts map[[32]byte]int64
	stopAt  map[Phone]int64 // when growers with a phone number stopped texts
	lastIDs map[string]int64
}

// close closes the replaced records. It may be called twice.
func (old *replaced) close() error {
	if old.db == nil {
		return nil
	}
	return old.db.Close()
}

// view runs fn on the replaced records.
func (old *replaced) view(ctx context.Context, fn func(*Tx) error) error {
	return inView(ctx, old.db, nil, fn)
}

type formerGrower struct {
	id        int64
	phone     Phone
	stoppedAt int64
	seenAt    int64
}

// The replaced records may have an older schema, so these queries use only columns that every schema version has.
const (
	sqlFormerGrowers = `SELECT id, phone, coalesce(stopped_at, 0), seen_at FROM grower
	WHERE id > $1 ORDER BY id LIMIT CAST($2 AS BIGINT)`
	sqlFormerGrowersTo = `SELECT id, phone, coalesce(stopped_at, 0), seen_at FROM grower
	WHERE id > $1 AND id <= $2 ORDER BY id`
	sqlFormerStops   = `SELECT phone, stopped_at FROM grower WHERE stopped_at IS NOT NULL`
	sqlFormerPhone   = `SELECT id FROM grower WHERE phone = $1`
	sqlFormerOptOuts = `SELECT hash, at FROM opt_out`
)

// mergeLog merges the write-ahead log of the records into their file. It returns ErrInUse if another program has them
// open.
func (old *replaced) mergeLog(ctx context.Context) error {
	if old.db == nil {
		return nil
	}
	err := old.close()
	if merged := mergeLog(ctx, old.Path); errors.Is(merged, ErrInUse) {
		return merged
	} else if merged != nil {
		old.damaged = merged
	}
	old.db = openPool(old.Path, probeDSN, hardening, 1)
	return err
}

// readReplaced reads as much as possible from the records at path. It returns an error for a database of another
// program.
func readReplaced(ctx context.Context, path string) (old replaced, err error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return old, nil
	case err != nil:
		return old, err
	case !info.Mode().IsRegular():
		return old, errors.New("what is to be replaced is not a file")
	}
	old.Path, old.Size = path, info.Size()
	if info.Size() == 0 {
		return old, nil
	}
	if _, err := readHead(path); err != nil { // not opened, because SQLite would delete its write-ahead log
		old.damaged = ErrNotDatabase
		return old, nil
	}
	switch err := probe(ctx, path); {
	case err == nil, errors.Is(err, ErrNewer): // newer schemas are accepted: the queries work with every schema version
	case errors.Is(err, ErrForeign):
		return old, err
	default:
		old.damaged = err
	}
	old.db = openPool(path, probeDSN, hardening, 1)
	if err := old.view(ctx, old.read); err != nil {
		old.damaged = err
	}
	return old, ctx.Err()
}

// read fills in everything that can be read. From damaged records, it reads the rows before the damage.
func (old *replaced) read(tx *Tx) error {
	old.optOuts, old.stopAt = map[[32]byte]int64{}, map[Phone]int64{}
	// Of the indexes, only those of the tables that a restore reads are compared with their tables.
	found, err := tx.damageFound("PRAGMA foreign_key_check", "PRAGMA quick_check",
		"PRAGMA integrity_check(grower)", "PRAGMA integrity_check(opt_out)")
	if err == nil && len(found) > 0 {
		err = fmt.Errorf("%w: %s", ErrDamaged, found[0])
	}
	var errs [4]error
	old.Contents, errs[0] = tx.contents(old.Contents)
	old.key, _, errs[1] = tx.meta(metaHashKey)
	old.held, _, errs[2] = tx.meta(metaSending)
	old.lastIDs, errs[3] = tx.lastIDs()
	return errors.Join(err, errors.Join(errs[:]...),
		tx.each(sqlFormerStops, nil, func(scan func(...any) error) error {
			var phone Phone
			var at int64
			err := scan(&phone, &at)
			if err == nil && !withoutNumber(phone) {
				old.stopAt[phone] = at
			}
			return err
		}),
		tx.each(sqlFormerOptOuts, nil, func(scan func(...any) error) error {
			var hash []byte
			var at int64
			err := scan(&hash, &at)
			if err == nil && len(hash) == 32 {
				old.optOuts[[32]byte(hash)] = at
			}
			return err
		}),
	)
}

// growersTo returns the growers whose ids follow the id after, up to the id last.
func (old *replaced) growersTo(ctx context.Context, after, last int64) (map[int64]formerGrower, error) {
	byID := map[int64]formerGrower{}
	err := old.view(ctx, func(tx *Tx) error {
		list, err := tx.formerGrowers(sqlFormerGrowersTo, after, last)
		for _, g := range list {
			byID[g.id] = g
		}
		return err
	})
	return byID, err
}

// has reports whether there is a grower with this phone number.
func (old *replaced) has(ctx context.Context, phone Phone) (there bool, err error) {
	err = old.view(ctx, func(tx *Tx) (err error) {
		there, err = tx.one(sqlFormerPhone, args(phone.E164()), new(int64))
		return err
	})
	return there, err
}

func (tx *Tx) formerGrowers(query string, a ...any) ([]formerGrower, error) {
	return rows(tx, query, a, func(g *formerGrower) []any { return args(&g.id, &g.phone, &g.stoppedAt, &g.seenAt) })
}

// formerPage is how many growers of each of the two records are in memory.
const formerPage = 2000

// eachPair calls visit for each grower of the restored records, in the order of ids, with the grower who has the same
// id in the replaced records. If these are other or damaged records, there is false for all growers.
func (tx *Tx) eachPair(old replaced, visit func(g, was formerGrower, there bool) error) error {
	for after := int64(0); ; {
		page, err := tx.formerGrowers(sqlFormerGrowers, after, formerPage)
		if err != nil || len(page) == 0 {
			return err
		}
		last := page[len(page)-1].id
		same := map[int64]formerGrower{}
		if old.damaged == nil && tx.lineage(old) {
			if same, err = old.growersTo(tx.ctx, after, last); err != nil {
				return err
			}
		}
		for _, g := range page {
			was, there := same[g.id]
			if err := visit(g, was, there); err != nil {
				return err
			}
		}
		after = last
	}
}
