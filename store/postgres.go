package store

import (
	"cmp"
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"
)

// serverDB is the part of a Store whose records are on a PostgreSQL server. Any number of processes may use them at the
// same time.
type serverDB struct {
	s      *Store
	db     *sql.DB
	schema serverSchema
	name   string         // address of the database without a password
	work   sync.WaitGroup // writes in progress
	// writes has an element for each write in progress. Fewer writes than connections run at the same time, so that
	// reading never waits for them.
	writes chan struct{}
}

const (
	defaultServerConns = 16
	// writeLimit bounds a write. The server ends a statement earlier (see serverSettings), so only a server that does
	// not answer takes so long.
	writeLimit = 60 * time.Second
	// rollbackLimit bounds the end of a view.
	rollbackLimit = 5 * time.Second
	// maxRuns is how often a write is run at most, if it conflicts with another write, or the connection is lost before
	// the commit.
	maxRuns = 5

	beginWrite = "BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE"
	beginView  = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
)

// serverTx is what a Tx on a server knows more than one in a file.
type serverTx struct {
	writes bool
	begun  bool     // false until the first statement of a transaction that writes
	queue  []queued // statements that are not sent yet
	locked []string // phone numbers that this transaction has locked
}

// statements returns a Tx whose queries run on a connection one by one, each in a transaction of its own.
func statements(ctx context.Context, conn *sql.Conn) *Tx {
	return &Tx{ctx: ctx, conn: conn, pg: &serverTx{begun: true}}
}

// inTx is InTx on a server.
func (d *serverDB) inTx(ctx context.Context, fn func(*Tx) error) error {
	if !d.enter() {
		return ErrClosed
	}
	defer d.work.Done()
	select { // if there is room, a write begins even if ctx has ended
	case d.writes <- struct{}{}:
	default:
		select {
		case d.writes <- struct{}{}:
		case <-ctx.Done():
			return fmt.Errorf("store: the write did not start: %w", ctx.Err())
		}
	}
	defer func() { <-d.writes }()
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), writeLimit)
	defer cancel()
	for run := 1; ; run++ {
		again, err := d.run(ctx, fn)
		if err == nil || !again || run == maxRuns {
			return err
		}
	}
}

// enter reports whether the store is open, and counts one more write in progress.
func (d *serverDB) enter() bool {
	d.s.mu.RLock()
	defer d.s.mu.RUnlock()
	if d.s.closed {
		return false
	}
	d.work.Add(1)
	return true
}

// run runs fn once in a transaction. The result again is true if nothing was written and another run may succeed.
func (d *serverDB) run(ctx context.Context, fn func(*Tx) error) (again bool, err error) {
	if err := d.s.failAt(AtBegin); err != nil {
		return false, fail("begin", err)
	}
	conn, err := d.db.Conn(ctx)
	if err != nil {
		return false, fail("begin", err)
	}
	defer func() { closeConn(conn, broken(err)) }()
	tx := &Tx{ctx: ctx, s: d.s, conn: conn, pg: &serverTx{writes: true}}
	work := func() error {
		if err := tx.checkLease(); err != nil {
			return err
		}
		return fn(tx)
	}
	if err := recovered(work); err != nil {
		if tx.pg.begun {
			_, _ = conn.ExecContext(ctx, "ROLLBACK") // an error does not matter: then the connection is broken
		}
		return conflict(err) || broken(err), markLost(err)
	}
	if !tx.pg.begun && len(tx.pg.queue) == 0 { // fn has neither read nor written anything
		return false, nil
	}
	if err := d.s.failAt(AtCommit); err != nil {
		_, _ = conn.ExecContext(ctx, "ROLLBACK")
		return false, fail("commit", err)
	}
	sure, err := tx.commit()
	switch {
	case err == nil:
		return false, fail("commit", d.s.failAt(Committed))
	case sure:
		if !broken(err) {
			_, _ = conn.ExecContext(ctx, "ROLLBACK")
		}
		return conflict(err) || broken(err), fail("commit", markLost(err))
	}
	return false, fail("commit", &UnknownError{err})
}

// background is Background on a server. There other writes do not wait for a step, so each has its own transaction. A
// step may run again, as fn of InTx may.
func (d *serverDB) background(ctx context.Context, step func(*Tx) (done bool, err error)) error {
	for done := false; !done; {
		if err := ctx.Err(); err != nil {
			return fmt.Errorf("store: the work was broken off: %w", err)
		}
		var kept func()
		err := d.inTx(ctx, func(tx *Tx) (err error) {
			done, err = step(tx)
			kept = tx.kept
			return err
		})
		if err != nil {
			return err
		}
		if kept != nil {
			kept()
		}
	}
	return nil
}

// commit sends what waits and commits. It returns an error if the server rolled the transaction back instead, which it
// does without an error after a statement that failed. The result sure is true if it surely did not commit.
func (tx *Tx) commit() (sure bool, err error) {
	before := len(tx.pg.queue) // COMMIT comes after at least so many
	done, tag, err := tx.send("COMMIT")
	switch {
	case err == nil && tag != "COMMIT":
		err = errRolledBack
	case err == nil:
		err = tx.conn.Raw(func(c any) error { return waitedForStandby(c.(*stdlib.Conn).Conn()) })
	}
	// The server works on the statements in their order. If it answers one with an error, it has not come to COMMIT.
	return refused(err) || pgconn.SafeToRetry(err) || serverCode(err) != "" && done < before, err
}

// errRolledBack means that a write went on after a statement had failed.
var errRolledBack = errors.New("an earlier statement of the write failed, so nothing was written")

// closeConn gives a connection back to the pool, or closes it if it is lost.
func closeConn(conn *sql.Conn, lost bool) {
	if lost {
		_ = conn.Raw(func(any) error { return driver.ErrBadConn })
	}
	_ = conn.Close()
}

// view is View on a server.
func (d *serverDB) view(ctx context.Context, fn func(*Tx) error) error {
	if err := d.s.failAt(AtView); err != nil {
		return fail("view", err)
	}
	conn, err := d.beginView(ctx)
	if err != nil {
		return fail("view", markLost(err))
	}
	lost := true // if fn panics
	defer func() {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), rollbackLimit)
		defer cancel()
		if _, err := conn.ExecContext(ctx, "ROLLBACK"); err != nil {
			lost = true
		}
		closeConn(conn, lost)
	}()
	err = fn(&Tx{ctx: ctx, s: d.s, conn: conn, pg: &serverTx{begun: true}})
	lost = broken(err)
	return markLost(err)
}

// servingName is the name under which a service is connected; others are connected under visitingName.
const (
	servingName  = "rowbell serve"
	visitingName = "rowbell"

	pgServed = `SELECT count(*) FROM pg_stat_activity
		WHERE datname = current_database() AND application_name = '` + servingName + `'`
)

// served reports whether a service is connected to the database.
func (d *serverDB) served(ctx context.Context) (bool, error) {
	var n int
	err := d.view(ctx, func(tx *Tx) error { return second(tx.one(pgServed, nil, &n)) })
	return n > 0, fail("served", err)
}

// beginView begins a transaction that only reads. A connection that was lost while it was idle is replaced.
func (d *serverDB) beginView(ctx context.Context) (conn *sql.Conn, err error) {
	for range maxRuns {
		if conn, err = d.db.Conn(ctx); err != nil {
			return nil, err
		}
		if _, err = conn.ExecContext(ctx, beginView); err == nil {
			return conn, nil
		}
		lost := broken(err)
		closeConn(conn, lost)
		if !lost || ctx.Err() != nil {
			break
		}
	}
	return nil, err
}

// close waits for the writes in progress.
func (d *serverDB) close() error {
	d.work.Wait()
	return fail("close", d.db.Close())
}

// Lock makes other transactions that lock one of these phones wait until this transaction has ended. In a file it does
// nothing, because only one write runs at a time there. Call it before the first query if the transaction is about two
// phones, so that all transactions lock them in the same order.
func (tx *Tx) Lock(phones ...Phone) error {
	if tx.pg == nil || !tx.pg.writes {
		return nil
	}
	phones = slices.Compact(slices.Sorted(slices.Values(phones)))
	for _, p := range phones {
		if p == "" {
			continue // nobody's
		}
		if err := tx.lock(p.E164()); err != nil {
			return err
		}
	}
	return nil
}

// pgLockGrowers locks the phones of growers, but waits for no other transaction: it leaves out those that are locked.
// The list of growers is made first: otherwise the server may lock the phone of each grower that there is, before it
// asks whether the grower is meant.
const pgLockGrowers = `WITH meant AS MATERIALIZED (SELECT g.id, g.phone FROM grower g WHERE g.id` + pgIDs + `)
	SELECT m.id FROM meant m WHERE pg_try_advisory_xact_lock(hashtextextended(m.phone, 0))`

// lockGrowers locks the phones of growers as Lock does, and returns the growers whose phones no other transaction had
// locked. In a file these are all.
func (tx *Tx) lockGrowers(list []int64) ([]int64, error) {
	if tx.pg == nil || !tx.pg.writes {
		return list, nil
	}
	return column[int64](tx, pgLockGrowers, args(ids(list)))
}

// lock locks a name until the end of the transaction.
func (tx *Tx) lock(name string) error {
	if tx.pg == nil || !tx.pg.writes || slices.Contains(tx.pg.locked, name) {
		return nil
	}
	if err := errors.Join(tx.do(pgLock, name), tx.flush()); err != nil {
		return fail("lock", err)
	}
	tx.pg.locked = append(tx.pg.locked, name)
	return nil
}

// queued is a statement that waits to be sent, with its values.
type queued struct {
	text   string
	values []any
}

// maxQueued bounds how many statements wait.
const maxQueued = 100

// later queues a statement whose result nobody reads. It is sent before the next query or with COMMIT, so that several
// statements take one round trip to the server. Its error comes from that query or from the commit.
func (tx *Tx) later(query string, values []any) error {
	tx.pg.queue = append(tx.pg.queue, queued{pgQuery(query, true), pgValues(values)})
	if len(tx.pg.queue) < maxQueued {
		return nil
	}
	return tx.flush()
}

// flush begins the transaction if it has not begun, and sends what waits.
func (tx *Tx) flush() error {
	if tx.pg == nil || tx.pg.begun && len(tx.pg.queue) == 0 {
		return nil
	}
	_, _, err := tx.send()
	return err
}

// forgetQueue drops what waits, because the part that wrote it is undone.
func (tx *Tx) forgetQueue() {
	if tx.pg != nil {
		tx.pg.queue = nil
	}
}

// send sends BEGIN, if the transaction has not begun, what waits, and further statements in one round trip. It returns
// how many the server has done, and the tag of the last one of these.
func (tx *Tx) send(last ...string) (done int, tag string, err error) {
	var b pgx.Batch
	if !tx.pg.begun {
		b.Queue(beginWrite)
	}
	for _, q := range tx.pg.queue {
		b.Queue(q.text, q.values...)
	}
	for _, text := range last {
		b.Queue(text)
	}
	tx.pg.begun, tx.pg.queue = true, nil
	err = tx.conn.Raw(func(c any) error {
		r := c.(*stdlib.Conn).Conn().SendBatch(tx.ctx, &b)
		var failed error
		for ; done < b.Len(); done++ {
			t, err := r.Exec()
			if failed = err; failed != nil {
				break
			}
			tag = t.String()
		}
		return cmp.Or(failed, r.Close())
	})
	return done, tag, err
}

// unlockIfUndone remembers which locks the transaction has. The function that it returns forgets later ones if err is
// set, because the server gives up locks with the savepoint that is rolled back.
func (tx *Tx) unlockIfUndone(err *error) func() {
	if tx.pg == nil {
		return func() {}
	}
	had := len(tx.pg.locked)
	return func() {
		if *err != nil {
			tx.pg.locked = tx.pg.locked[:had]
		}
	}
}

// Names of locks that are no phones.
const (
	lockClaims = "claims"
	lockCodes  = "move codes"
	lockSchema = "schema"
	lockTokens = "tokens"
)

const (
	// pgLockKey is the key of the lock of a phone or of a name.
	pgLockKey = `hashtextextended($1, 0)`
	pgLock    = `SELECT pg_advisory_xact_lock(` + pgLockKey + `)`
)

// spareConns is how many connections of a process are left for reading.
const spareConns = 2

// connect returns a pool of connections to a server.
func connect(conf *pgx.ConnConfig, conns int) *sql.DB {
	conf.OnNotice = onNotice
	db := stdlib.OpenDB(*conf, stdlib.OptionAfterConnect(func(ctx context.Context, c *pgx.Conn) error {
		_, err := c.Exec(ctx, serverSettings)
		if err == nil && conf.RuntimeParams["application_name"] == servingName {
			err = checkMoved(ctx, c, nameOf(conf))
		}
		return err
	}))
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	return db
}
