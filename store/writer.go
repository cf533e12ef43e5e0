package store

import (
	"context"
	"database/sql"
	"errors"
	"runtime/debug"
	"slices"
)

// maxBatch is the largest number of writes in one commit, so that the first write need not wait for too many others.
const maxBatch = 512

// job is one function that was passed to InTx, and the channel on which the caller of InTx waits for the result.
type job struct {
	ctx  context.Context
	fn   func(*Tx) error
	err  error
	done chan struct{}

	undo   func() // undoes what fn changed outside the database, if the transaction fails; nil = nothing
	rescue bool   // wait for the rescue if the records are detached, and try a failed one again
}

// newJob makes a job whose context is not cancelled when ctx is cancelled. InTx explains why.
func newJob(ctx context.Context, fn func(*Tx) error) *job {
	return &job{ctx: context.WithoutCancel(ctx), fn: fn, done: make(chan struct{})}
}

func (j *job) fail(err error) {
	j.err = err
	if j.undo != nil {
		j.undo()
	}
}

// writer has the only connection that writes. Only the goroutine of the writer uses it. The writer commits all
// waiting jobs together, but each job has its own savepoint.
type writer struct {
	s    *Store
	conn *sql.Conn
	jobs chan *job

	begin, commit, rollback, save, release, undo statement
	stmts                                        []*sql.Stmt // all the statements above
}

// statement is a prepared statement of the writer, with its text for Options.OnStatement.
type statement struct {
	*sql.Stmt
	text string
}

func (w *writer) exec(st statement) error {
	if w.s.onStatement != nil {
		w.s.onStatement(st.text)
	}
	return second(st.ExecContext(context.Background()))
}

func newWriter(ctx context.Context, s *Store, db *sql.DB) (*writer, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	w := &writer{s: s, conn: conn, jobs: make(chan *job, maxBatch)}
	for _, p := range []struct {
		stmt *statement
		text string
	}{
		{&w.begin, "BEGIN IMMEDIATE"}, {&w.commit, "COMMIT"}, {&w.rollback, "ROLLBACK"},
		{&w.save, "SAVEPOINT job"}, {&w.release, "RELEASE job"}, {&w.undo, "ROLLBACK TO job"},
	} {
		st, err := conn.PrepareContext(ctx, p.text)
		if err != nil {
			_ = w.close()
			return nil, err
		}
		*p.stmt = statement{st, p.text}
		w.stmts = append(w.stmts, st)
	}
	return w, nil
}

// close closes the statements and returns the connection to the pool. An open statement would prevent SQLite from
// merging the write-ahead log into the file.
func (w *writer) close() error {
	var errs []error
	for _, st := range w.stmts {
		errs = append(errs, st.Close())
	}
	return errors.Join(append(errs, w.conn.Close())...)
}

// run commits batches of jobs until the channel jobs is closed and empty.
func (w *writer) run() {
	batch := make([]*job, 0, maxBatch)
	for first := range w.jobs {
		batch = append(batch[:0], first)
		err := w.group(&batch)
		if slices.ContainsFunc(batch, func(j *job) bool { return j.rescue }) {
			w.rescueIfDetached(err, true)
		}
		for i, j := range batch {
			if err != nil {
				j.fail(err)
			}
			close(j.done)
			batch[i] = nil
		}
		w.rescueIfDetached(err, false) // after the answers, because it may take seconds
	}
}

// group runs the first job and then the jobs that wait by that time, and commits all of them together. If one job
// fails, only this job is rolled back. If group returns an error, all callers get it: nothing was written, or it
// was written to a file that is no longer at its path.
func (w *writer) group(batch *[]*job) error {
	if err := w.checkFile(); err != nil {
		w.takeWaiting(batch)
		return fail("begin", err)
	}
	if err := w.exec(w.begin); err != nil {
		w.takeWaiting(batch) // the waiting jobs would only get the same error later
		return fail("begin", err)
	}
	for i := 0; i < len(*batch); i++ {
		if err := w.runJob((*batch)[i]); err != nil {
			w.takeWaiting(batch)
			_ = w.exec(w.rollback) // an error does not matter: SQLite may have rolled back already
			return fail("write", err)
		}
		if i == len(*batch)-1 && len(*batch) < maxBatch {
			w.take(batch)
		}
	}
	if err := w.exec(w.commit); err != nil {
		_ = w.exec(w.rollback)
		return fail("commit", err)
	}
	return fail("commit", w.checkFile())
}

// runJob runs one job in a savepoint. It returns an error only if the whole transaction was rolled back.
func (w *writer) runJob(j *job) error {
	if err := w.exec(w.save); err != nil {
		return err
	}
	if err := w.call(j); err != nil {
		j.fail(err)
		if undoErr := w.exec(w.undo); undoErr != nil {
			return err // no savepoint is left: SQLite rolled back the whole transaction
		}
	}
	return w.exec(w.release)
}

func (w *writer) call(j *job) error {
	return recovered(func() error { return j.fn(&Tx{ctx: j.ctx, s: w.s, conn: w.conn}) })
}

// Part runs fn as a part of the transaction. If fn fails or panics, only what fn wrote is undone, and Part returns the
// error; the caller may go on. If broken is true, the transaction itself is lost and must be given up.
func (tx *Tx) Part(fn func() error) (broken bool, err error) {
	if err := tx.do("SAVEPOINT part"); err != nil {
		return true, fail("part", err)
	}
	if err = recovered(fn); err != nil {
		broken = Unavailable(err) || tx.do("ROLLBACK TO part") != nil
		if broken {
			return true, err
		}
	}
	if release := tx.do("RELEASE part"); release != nil {
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

// take adds one waiting job to the batch, if a job is waiting.
func (w *writer) take(batch *[]*job) bool {
	select {
	case j, ok := <-w.jobs:
		if ok {
			*batch = append(*batch, j)
		}
		return ok
	default:
		return false
	}
}

func (w *writer) takeWaiting(batch *[]*job) {
	for len(*batch) < maxBatch && w.take(batch) {
	}
}
