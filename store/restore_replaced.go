package store

import (
	"context"
	"errors"
	"fmt"
	"os"
)

// replaced is the data that a restore needs from the records which it replaces.
type replaced struct {
	Contents
	damaged   error
	key       []byte
	held      []byte // the operator hold; nil if it is off
	optOuts   map[[32]byte]int64
	growers   map[int64]formerGrower
	sequences map[string]int64
	spent     []spent
}

// spent is a row of the table spend.
type spent struct {
	scope                        string
	day, texts, segments, micros int64
}

type formerGrower struct {
	id        int64
	phone     Phone
	stoppedAt int64
	seenAt    int64
}

// The replaced records may have an older schema, so these queries use only columns that every schema version has.
const (
	sqlFormerGrowers  = `SELECT id, phone, coalesce(stopped_at, 0), seen_at FROM grower`
	sqlFormerOptOuts  = `SELECT hash, at FROM opt_out`
	sqlFormerSequence = `SELECT name, seq FROM sqlite_sequence`
)

// readReplaced reads as much as possible from the records at path, and merges their write-ahead log into the file. It
// returns an error for a database of another program.
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
	if err := foldLog(ctx, path); errors.Is(err, ErrInUse) {
		return old, err
	} else if err != nil {
		old.damaged = err
	}
	db := openPool(path, probeDSN, hardening, 1)
	defer db.Close()
	if err := inView(ctx, db, nil, old.read); err != nil {
		old.damaged = err
	}
	return old, ctx.Err()
}

// read fills in everything that can be read. From damaged records, it reads the rows before the damage.
func (old *replaced) read(tx *Tx) error {
	old.optOuts = map[[32]byte]int64{}
	found, err := tx.damage()
	if err == nil && len(found) > 0 {
		err = fmt.Errorf("%w: %s", ErrDamaged, found[0])
	}
	var errs [5]error
	old.Contents, errs[0] = tx.contents(old.Contents)
	old.key, _, errs[1] = tx.meta(metaHashKey)
	old.held, _, errs[2] = tx.meta(metaSending)
	old.growers, errs[3] = tx.formerGrowers()
	old.sequences, errs[4] = tx.sequences()
	old.readSpent(tx)
	return errors.Join(err, errors.Join(errs[:]...),
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

// formerGrowers returns the growers by id. Growers who cannot be read are missing.
func (tx *Tx) formerGrowers() (map[int64]formerGrower, error) {
	list, err := rows(tx, sqlFormerGrowers, nil, func(g *formerGrower) []any {
		return args(&g.id, &g.phone, &g.stoppedAt, &g.seenAt)
	})
	all := map[int64]formerGrower{}
	for _, g := range list {
		all[g.id] = g
	}
	return all, err
}

// sequences returns the last used id of each table that never uses an id twice.
func (tx *Tx) sequences() (map[string]int64, error) {
	all := map[string]int64{}
	err := tx.each(sqlFormerSequence, nil, func(scan func(...any) error) error {
		var name string
		var seq int64
		err := scan(&name, &seq)
		all[name] = seq
		return err
	})
	return all, err
}

const sqlSpent = `SELECT scope, day, texts, segments, micros FROM spend`

// readSpent reads what was spent. If an old schema has no table spend, this is not reported as damage.
func (old *replaced) readSpent(tx *Tx) {
	old.spent, _ = rows(tx, sqlSpent, nil, func(s *spent) []any {
		return args(&s.scope, &s.day, &s.texts, &s.segments, &s.micros)
	})
}
