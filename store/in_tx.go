package store

import (
	"context"
	"database/sql"
	"errors"
	"runtime/debug"
)

// InTx runs fn in a write transaction, and returns when the writes of fn are on disk. If fn fails or panics, only the
// writes of fn are rolled back. In a file only one write runs at a time, so fn must be short, and must not call InTx or
// View. It must not use tx after it has returned.
//
// On a server, writes run at the same time, and fn runs again if the database gave it up in favour of another write. So
// fn must set what it changes outside of the database, and must not add to it. It must call Tx.Lock before it
// reads what belongs to a phone, unless it reads it by the methods Ledger, Session, Prompt or Exchange, which call it.
//
// If ctx ends before the write begins, InTx returns the error of ctx and nothing is done. After that, the write is
// finished even if ctx ends: a network that ends a call will repeat it, and the repeat must find the work done.
func (s *Store) InTx(ctx context.Context, fn func(*Tx) error) error {
	fn = s.twice(fn)
	if s.server != nil {
		return s.server.inTx(ctx, fn)
	}
	return s.do(ctx, newJob(ctx, fn))
}

// twice returns fn, or a function that runs fn twice if Options.RunTwice is set.
func (s *Store) twice(fn func(*Tx) error) func(*Tx) error {
	if !s.runTwice {
		return fn
	}
	return func(tx *Tx) error {
		if err := second(tx.exec("SAVEPOINT first")); err != nil {
			return err
		}
		undone := errors.New("the first run")
		unlock := tx.unlockIfUndone(&undone)
		first := recovered(func() error { return fn(tx) })
		if first == nil {
			first = tx.flush()
		}
		tx.forgetQueue()
		unlock()
		if err := errors.Join(second(tx.exec("ROLLBACK TO first")), second(tx.exec("RELEASE first"))); err != nil {
			return errors.Join(first, err)
		}
		return fn(tx)
	}
}

// Part runs fn as a part of the transaction. If fn fails or panics, only what fn wrote is undone, and Part returns the
// error; the caller may go on. If broken is true, the transaction itself is lost and must be given up.
func (tx *Tx) Part(fn func() error) (broken bool, err error) {
	if err := second(tx.exec("SAVEPOINT part")); err != nil {
		return true, fail("part", err)
	}
	defer tx.unlockIfUndone(&err)()
	if err = recovered(fn); err == nil {
		err = tx.flush()
	}
	if err != nil {
		tx.forgetQueue()
		broken = Unavailable(err) || second(tx.exec("ROLLBACK TO part")) != nil
		if broken {
			return true, err
		}
	}
	if release := second(tx.exec("RELEASE part")); release != nil {
		return true, fail("part", release)
	}
	return false, err
}

// recovered runs fn and returns a panic of it as a *PanicError.
func recovered(fn func() error) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &PanicError{Value: v, Stack: debug.Stack()}
		}
	}()
	return fn()
}

// View runs fn on a connection that cannot write. All queries of fn see the records as of one instant.
func (s *Store) View(ctx context.Context, fn func(*Tx) error) error {
	if s.server != nil {
		return s.server.view(ctx, fn)
	}
	return inView(ctx, s.readDB, s, fn)
}

// inView runs fn in a read transaction. The store s is nil if the database was not opened as a Store.
func inView(ctx context.Context, db *sql.DB, s *Store, fn func(*Tx) error) error {
	if err := s.failAt(AtView); err != nil {
		return fail("view", err)
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		return fail("view", err)
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "BEGIN"); err != nil {
		return fail("view", err)
	}
	// The snapshot is released even if fn panics or ctx has ended.
	defer func() { _, _ = conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK") }()
	return fn(&Tx{ctx: ctx, s: s, conn: conn})
}
