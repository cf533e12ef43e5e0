package store

import (
	"context"
	"database/sql"
	"errors"
	"runtime/debug"
)

// maxBatch bounds the writes of one commit, so that the first of them is not
// kept waiting by the last.
const maxBatch = 512

// job is one function given to InTx, and where its caller waits.
type job struct {
	ctx  context.Context
	fn   func(*Tx) error
	err  error
	done chan struct{}
}

// newJob keeps what ctx carries but not its end: a caller that hung up will
// ask again, and must find the work done.
func newJob(ctx context.Context, fn func(*Tx) error) *job {
	return &job{ctx: context.WithoutCancel(ctx), fn: fn, done: make(chan struct{})}
}

// writer owns the writing connection. Only its goroutine touches it.
type writer struct {
	s    *Store
	conn *sql.Conn
	jobs chan *job

	begin, commit, rollback, save, release, undo *sql.Stmt
	stmts                                        []*sql.Stmt // all of them
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

// close gives the connection back. A statement left open would keep SQLite
// from folding the write-ahead log into the file at the end.
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

// group runs the first job of the batch and those that are waiting when it is
// done, and commits them together. Jobs that fail are undone alone and keep
// their own error; the error of group is for all, and nothing was kept.
func (w *writer) group(batch *[]*job) error {
	ctx := context.Background()
	if _, err := w.begin.ExecContext(ctx); err != nil {
		w.takeWaiting(batch) // each would wait as long for the same answer
		return fail("begin", err)
	}
	for i := 0; i < len(*batch); i++ {
		if err := w.runJob((*batch)[i]); err != nil {
			w.takeWaiting(batch)
			_, _ = w.rollback.ExecContext(ctx) // SQLite may have done so itself
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

// runJob runs one job in a savepoint. Its error is not the job's own: the
// transaction is lost.
func (w *writer) runJob(j *job) error {
	ctx := context.Background()
	if _, err := w.save.ExecContext(ctx); err != nil {
		return err
	}
	j.err = w.call(j)
	if j.err != nil {
		if _, err := w.undo.ExecContext(ctx); err != nil {
			return j.err // SQLite undid the whole transaction, for this reason
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

// take adds a waiting job, if there is one.
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
