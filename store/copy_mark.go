package store

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
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

// moved is the mark in the source of a copy that has finished.
type moved struct {
	ID string `json:"id"` // of the copy
	To string `json:"to"` // without a password
	At int64  `json:"at"`
}

// copying is the mark in the target of a copy, with how far it has come.
type copying struct {
	ID        string `json:"id"`     // random
	From      string `json:"from"`   // without a password
	Source    string `json:"source"` // see sourceOf
	Table     string `json:"table"`  // the table in turn; "" if all rows are there
	After     []byte `json:"after"`  // key of the last row of this table that is there, as recordfile.AppendRow has it
	Rehearsed bool   `json:"rehearsed"`
}

func newCopyID() string {
	b := make([]byte, 12)
	_, _ = rand.Read(b) // never returns an error
	return hex.EncodeToString(b)
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
	var m moved
	var c copying
	gone, err := tx.mark(metaMoved, &m)
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
	case gone:
		return m.refuse(tx.s.Name())
	case begun && !c.Rehearsed:
		return refuse(fmt.Errorf("%w: it came from %s", ErrUnfinish, c.From), "Run the same command again: it goes on")
	case begun && o.Serving:
		return refuse(fmt.Errorf("%w: they came from %s", ErrRehearsal, c.From),
			"Run rowbell copy without --rehearse, and with --anew")
	}
	return nil
}

func (m moved) refuse(db string) error {
	at := time.Unix(m.At, 0).UTC().Format("2006-01-02 15:04 UTC")
	return &OpenError{Op: "open", Path: db, Err: fmt.Errorf("%w to %s on %s", ErrMoved, m.To, at),
		Try: "Give that with --db"}
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
	var m moved
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
	var c copying
	begun, err := tx.mark(metaCopying, &c)
	switch {
	case err != nil:
		return err
	case begun && !c.Rehearsed:
		return &OpenError{Op: "check", Path: tx.s.Name(), Err: ErrUnfinish, Try: otherBackup}
	}
	return errors.Join(tx.do(sqlDropMeta, metaMoved), tx.do(sqlDropMeta, metaCopying))
}

const (
	copyingName = "rowbell copy" // application name of a copy's connections
	lockCopy    = "copy"

	pgTryAlone  = `SELECT pg_try_advisory_lock(` + pgLockKey + `)`
	pgTryBeside = `SELECT pg_try_advisory_lock_shared(` + pgLockKey + `)`
	pgLetBeside = `SELECT pg_advisory_unlock_shared(` + pgLockKey + `)`
	pgOthers    = `SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()
		AND application_name IN ('` + servingName + `', '` + visitingName + `')`
)

// checkCopying returns an error if another process copies these records.
func (d *serverDB) checkCopying(ctx context.Context, conn *sql.Conn) error {
	var free bool
	err := conn.QueryRowContext(ctx, pgTryBeside, lockCopy).Scan(&free)
	switch {
	case err != nil:
		return err
	case !free:
		return d.refuse(ErrCopying, "Wait until rowbell copy has ended")
	}
	return conn.QueryRowContext(ctx, pgLetBeside, lockCopy).Scan(&free)
}

// alone makes sure that no other process uses the records, and that none begins to until release is called or this
// process ends.
func (d *serverDB) alone(ctx context.Context, now int64) (release func(), err error) {
	inUse := func(what string) error {
		return &OpenError{Op: "copy", Path: d.name, Err: fmt.Errorf("%w (%s)", ErrInUse, what), Try: stopFirst}
	}
	conn, err := d.db.Conn(ctx)
	if err != nil {
		return nil, fail("copy", err)
	}
	release = func() { closeConn(conn, true) } // ends the session, and with it the lock
	var free bool
	var others int
	var list []Process
	err = conn.QueryRowContext(ctx, pgTryAlone, lockCopy).Scan(&free)
	if err == nil && free {
		err = d.view(ctx, func(tx *Tx) (err error) {
			if _, err = tx.one(pgOthers, nil, &others); err == nil {
				list, err = tx.Processes(now)
			}
			return err
		})
	}
	switch {
	case err != nil:
		err = fail("copy", err)
	case !free:
		err = inUse("another copy")
	case others > 0:
		err = inUse(fmt.Sprintf("%d connections", others))
	}
	for _, p := range list {
		if err == nil && p.Alive {
			err = inUse("the service " + p.Name + ", which ran within the last minute")
		}
	}
	if err != nil {
		release()
		return nil, err
	}
	return release, nil
}

const stopFirst = "Stop the service, and wait for other commands to end"
