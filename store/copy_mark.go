package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"
)

// Marks of Copy in the table meta. They belong to one database: no copy takes them along, because their keys begin with
// "copy: ".
const (
	metaMoved   = "copy: moved" // in records that were copied: where they are now
	metaCopying = "copy: into"  // in records that are not whole yet, or that were copied to try it
)

// These errors are reasons to refuse records that Copy has marked. They are wrapped in an *OpenError.
var (
	ErrMoved     = errors.New("these records were moved")
	ErrUnfinish  = errors.New("a copy into these records has not finished")
	ErrRehearsal = errors.New("these records are a copy that was made to try it")
	ErrCopying   = errors.New("these records are being copied")
)

// movedMark is the mark in the source of a copy that has finished.
type movedMark struct {
	ID string `json:"id"` // of the copy
	To string `json:"to"` // without a password
	At int64  `json:"at"`
}

// copyMark is the mark in the target of a copy, with how far it has come.
type copyMark struct {
	ID        string `json:"id"`     // random
	From      string `json:"from"`   // without a password
	Source    string `json:"source"` // see sourceOf
	Table     string `json:"table"`  // the table in turn; "" if all rows are there
	After     []byte `json:"after"`  // key of the last row of this table that is there, as recordfile.AppendRow has it
	Rehearsed bool   `json:"rehearsed"`
}

// sourceOf tells records from others that did not begin as the same ones.
func (tx *Tx) sourceOf() (string, error) {
	key, _, err := tx.meta(metaHashKey)
	sum := sha256.Sum256(key)
	return hex.EncodeToString(sum[:8]), err
}

func (tx *Tx) mark(key string, into any) (there bool, err error) {
	b, there, err := tx.meta(key)
	if err == nil && there {
		err = fail("mark", json.Unmarshal(b, into))
	}
	return there, err
}

func (tx *Tx) setMark(key string, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fail("mark", err)
	}
	return tx.setMeta(key, b)
}

// checkMarks returns an *OpenError if Copy has marked the records, and they must not be opened.
func (tx *Tx) checkMarks(o Options) error {
	if o.copying {
		return nil
	}
	var m movedMark
	var c copyMark
	isMoved, err := tx.mark(metaMoved, &m)
	if err != nil {
		return err
	}
	begun, err := tx.mark(metaCopying, &c)
	if err != nil {
		return err
	}
	refuse := func(err error, try string) error {
		return &OpenError{Op: "open", Path: tx.s.Name(), Err: err, Try: try}
	}
	switch {
	case isMoved:
		return m.refuse(tx.s.Name())
	case begun && !c.Rehearsed:
		return refuse(fmt.Errorf("%w: it came from %s", ErrUnfinish, c.From), "Run the same command again: it goes on")
	case begun && o.Serving:
		return refuse(fmt.Errorf("%w: they came from %s", ErrRehearsal, c.From),
			"Run rowbell copy without --rehearse, and with --anew")
	}
	return nil
}

func (m movedMark) refuse(db string) error {
	at := time.Unix(m.At, 0).UTC().Format("2006-01-02 15:04 UTC")
	return &OpenError{Op: "open", Path: db, Err: fmt.Errorf("%w to %s on %s", ErrMoved, m.To, at),
		Try: "Name that place instead"}
}

const (
	pgHasMeta = `SELECT to_regclass('meta') IS NOT NULL`
	pgMoved   = `SELECT value FROM meta WHERE key = '` + metaMoved + `'`
)

// checkMoved refuses a new connection of a service to records that were moved. While they are moved no service is
// connected. So one that was cut off or suspended meanwhile cannot write a last answer where nobody will look for it.
func checkMoved(ctx context.Context, c *pgx.Conn, db string) error {
	var there bool
	var value []byte
	var m movedMark
	err := c.QueryRow(ctx, pgHasMeta).Scan(&there)
	if err != nil || !there {
		return err
	}
	switch err := c.QueryRow(ctx, pgMoved).Scan(&value); {
	case errors.Is(err, pgx.ErrNoRows):
		return nil
	case err != nil:
		return err
	}
	if err := json.Unmarshal(value, &m); err != nil {
		return err
	}
	return m.refuse(db)
}

// dropMarks forgets the marks in a backup, because an operator wants these records again. It returns an error if they
// are not whole.
func (tx *Tx) dropMarks() error {
	var c copyMark
	begun, err := tx.mark(metaCopying, &c)
	switch {
	case err != nil:
		return err
	case begun && !c.Rehearsed:
		return &OpenError{Op: "check", Path: tx.s.Name(), Err: ErrUnfinish, Try: otherBackup}
	}
	return errors.Join(tx.do(sqlDropMeta, metaMoved), tx.do(sqlDropMeta, metaCopying))
}
