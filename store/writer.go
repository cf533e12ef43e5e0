package store

import (
	"context"
	"database/sql"
	"errors"
	"runtime/debug"
)

// maxBatch is the most writes in one commit, so that the first write does not wait for too many others.
const maxBatch = 512

// job is one function passed to InTx, and the channel on which its caller waits.
type job struct {
	ctx  context.Context
	fn   func(*Tx) error
	err  error
	done chan struct{}
}

// newJob drops the cancellation of ctx, see InTx.
func newJob(ctx context.Context, fn func(*Tx) error) *job {
	return &job{ctx: context.WithoutCancel(ctx), fn: fn, done: make(chan struct{})}
}

// writer owns the writing connection; only its goroutine uses it. It commits waiting jobs as a group,
// each in its own savepoint.
type writer struct {
	s    *Store
	conn *sql.Conn
	jobs chan *job

	begin, commit, rollback, save, release, undo *sql.Stmt
	stmts                                        []*sql.Stmt // all of the above
}

func newWriter(ctx context.Context, s *Store, db *sql.DB) (*writer, error) {
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, err
	}
	w := &writer{s: s, conn: conn, jobs: make(chan *job, maxBatch)}
	for _, p := range []struct {
		stmt **sql.Stmt
		text string
	}{
		{&w.begin, "BEGIN IMMEDIATE"}, {&w.commit, "COMMIT"}, {&w.rollback, "ROLLBACK"},
		{&w.save, "SAVEPOINT job"}, {&w.release, "RELEASE job"}, {&w.undo, "ROLLBACK TO job"},
	} {
		if *p.stmt, err = conn.PrepareContext(ctx, p.text); err != nil {
			_ = w.close()
			return nil, err
		}
		w.stmts = append(w.stmts, *p.stmt)
	}
	return w, nil
}

// close returns the connection. The statements are closed first: an open one would keep SQLite from merging
// the write-ahead log.
func (w *writer) close() error {
	var errs []error
	for _, st := range w.stmts {
		errs = append(errs, st.Close())
	}
	return errors.Join(append(errs, w.conn.Close())...)
}

// run commits batches until jobs is closed and empty.
func (w *writer) run() {
	batch := make([]*job, 0, maxBatch)
	for first := range w.jobs {
		batch = append(batch[:0], first)
		err := w.group(&batch)
		for i, j := range batch {
			if err != nil {
				j.err = err
			}
			close(j.done)
			batch[i] = nil
		}
	}
}

// group runs the first job, then the jobs that wait by then, and commits them together. A job that fails is
// rolled back alone and keeps its own error. An error of group is for all jobs: nothing was written.
func (w *writer) group(batch *[]*job) error {
	ctx := context.Background()
	if _, err := w.begin.ExecContext(ctx); err != nil {
		w.takeWaiting(batch) // the waiting jobs would wait as long for the same error
		return fail("begin", err)
	}
	for i := 0; i < len(*batch); i++ {
		if err := w.runJob((*batch)[i]); err != nil {
			w.takeWaiting(batch)
			_, _ = w.rollback.ExecContext(ctx) // SQLite may have rolled back already
			return fail("write", err)
		}
		if i == len(*batch)-1 && len(*batch) < maxBatch {
			w.take(batch)
		}
	}
	if _, err := w.commit.ExecContext(ctx); err != nil {
		_, _ = w.rollback.ExecContext(ctx)
		return fail("commit", err)
	}
	return nil
}

// runJob runs one job in a savepoint. It returns an error only if the whole transaction is lost.
func (w *writer) runJob(j *job) error {
	ctx := context.Background()
	if _, err := w.save.ExecContext(ctx); err != nil {
		return err
	}
	j.err = w.call(j)
	if j.err != nil {
		if _, err := w.undo.ExecContext(ctx); err != nil {
			return j.err // SQLite rolled back the whole transaction because of it
		}
	}
	_, err := w.release.ExecContext(ctx)
	return err
}

func (w *writer) call(j *job) (err error) {
	defer func() {
		if v := recover(); v != nil {
			err = &PanicError{Value: v, Stack: debug.Stack()}
		}
	}()
	return j.fn(&Tx{ctx: j.ctx, s: w.s, conn: w.conn})
}

// take adds a waiting job to the batch, if there is one.
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
