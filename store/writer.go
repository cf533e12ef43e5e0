package store

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"
)

// maxBatch is the largest number of writes in one commit, so that the first write need not wait for too many others.
const maxBatch = 512

// job is one function that was passed to InTx, and the channel on which the caller of InTx waits for the result.
type job struct {
	ctx  context.Context
	fn   func(*Tx) error
	err  error
	done chan struct{}

	after  func(*writer) // runs between this and the next transaction, before the result is given; nil = nothing
	undo   func()        // undoes what fn changed outside the database, if the transaction fails; nil = nothing
	rescue bool          // wait for the rescue if the records are detached, and try a failed one again
	rounds *Rounds       // see Tx.rounds
	plans  bool          // see Tx.plans
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
// waiting jobs together, but each job has its own savepoint. Background work gets its slices between the jobs.
type writer struct {
	s          *Store
	conn       *sql.Conn
	jobs       chan *job
	drained    bool       // true if jobs is closed and empty
	background chan *work // new background work
	waiting    []*work    // background work that is not done, in the order of its next slices
	turns      turns
	unemptied  bool  // true if the log must be emptied, but somebody was reading
	versionWas int64 // see countForeign

	begin, commit, rollback, save, release, undo, version statement
	stmts                                                 []*sql.Stmt // all the statements above
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
	w := &writer{s: s, conn: conn, jobs: make(chan *job, maxBatch), background: make(chan *work)}
	for _, p := range []struct {
		stmt *statement
		text string
	}{
		{&w.begin, "BEGIN IMMEDIATE"}, {&w.commit, "COMMIT"}, {&w.rollback, "ROLLBACK"},
		{&w.save, "SAVEPOINT job"}, {&w.release, "RELEASE job"}, {&w.undo, "ROLLBACK TO job"},
		{&w.version, "PRAGMA data_version"},
	} {
		st, err := conn.PrepareContext(ctx, p.text)
		if err != nil {
			_ = w.close()
			return nil, err
		}
		*p.stmt = statement{st, p.text}
		w.stmts = append(w.stmts, st)
	}
	if err := w.countForeign(); err != nil {
		_ = w.close()
		return nil, err
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

// run commits batches of jobs and slices of background work until the channel jobs is closed and empty. What is left
// of the background work then ends with ErrClosed.
func (w *writer) run() {
	batch := make([]*job, 0, maxBatch)
	for {
		batch = batch[:0]
		x := w.next(&batch)
		if len(batch) == 0 && x == nil {
			break
		}
		begun := w.s.elapsed()
		inSlice, err := w.group(&batch, x)
		w.turns.took(w.s.elapsed()-begun, inSlice, len(batch) > 0)
		if slices.ContainsFunc(batch, func(j *job) bool { return j.rescue }) {
			w.rescueIfDetached(err, true)
		}
		w.answer(batch, err)
		w.finish(x, err)
		w.keepLogShort()
		w.rescueIfDetached(err, false) // after the answers, because it may take seconds
	}
	for _, x := range w.waiting {
		x.end(ErrClosed)
	}
}

// answer gives the callers of the jobs their results. err is the error of the whole transaction.
func (w *writer) answer(batch []*job, err error) {
	var last []*job // jobs that go on after the transaction, so that no other caller waits for them
	for i, j := range batch {
		batch[i] = nil
		if err != nil {
			j.fail(err)
		} else if j.after != nil {
			last = append(last, j)
			continue
		}
		close(j.done)
	}
	for _, j := range last {
		j.after(w)
		close(j.done)
	}
}

// next waits for a job or for background work. It adds the first waiting job to the batch, and returns the background
// work whose turn it is; nil = none. If there is neither, no more will come.
func (w *writer) next(batch *[]*job) *work {
	for w.takeWork() {
	}
	if !w.take(batch) && !w.drained && len(w.waiting) == 0 {
		select {
		case j, ok := <-w.jobs:
			if ok {
				*batch = append(*batch, j)
			}
			w.drained = !ok
		case x := <-w.background:
			w.waiting = append(w.waiting, x)
		}
	}
	if w.drained || len(w.waiting) == 0 || !w.turns.ofBackground(len(*batch) > 0) {
		return nil
	}
	x := w.waiting[0]
	w.waiting = slices.Delete(w.waiting, 0, 1)
	return x
}

// group runs a slice of the background work x, if x is not nil, then the jobs of the batch and those that wait by that
// time, and commits all of it together. If a job or a step fails, only that is rolled back. If group returns an error,
// all callers get it: nothing was written, or it was written to a file that is no longer at its path. The result
// inSlice is how long the slice took.
func (w *writer) group(batch *[]*job, x *work) (inSlice time.Duration, err error) {
	if err := cmp.Or(w.checkFile(), w.s.failAt(AtBegin)); err != nil {
		w.takeWaiting(batch)
		return 0, fail("begin", err)
	}
	if err := w.exec(w.begin); err != nil {
		w.takeWaiting(batch) // the waiting jobs would only get the same error later
		return 0, fail("begin", err)
	}
	// A transaction that fails counts too: it may be written all the same.
	defer func() { w.countChanges(x, *batch) }()
	inSlice, err = w.slice(x, *batch)
	if x != nil && len(*batch) == 0 {
		w.take(batch) // a job that came meanwhile need not wait for a commit of its own
	}
	for i := 0; err == nil && i < len(*batch); i++ {
		if err = w.runJob((*batch)[i]); err == nil && i == len(*batch)-1 && len(*batch) < maxBatch {
			w.take(batch)
		}
	}
	if err != nil {
		w.takeWaiting(batch)
		_ = w.exec(w.rollback) // an error does not matter: SQLite may have rolled back already
		return inSlice, fail("write", err)
	}
	if err = w.s.failAt(AtCommit); err == nil {
		err = w.exec(w.commit)
	}
	if err != nil {
		_ = w.exec(w.rollback)
		return inSlice, fail("commit", err)
	}
	return inSlice, fail("commit", cmp.Or(w.checkFile(), w.s.failAt(Committed)))
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
	tx := &Tx{ctx: j.ctx, s: w.s, conn: w.conn, rounds: j.rounds}
	defer func() { j.plans = tx.plans }()
	return recovered(func() error { return j.fn(tx) })
}

// take adds one waiting job to the batch, if a job is waiting.
func (w *writer) take(batch *[]*job) bool {
	select {
	case j, ok := <-w.jobs:
		if ok {
			*batch = append(*batch, j)
		}
		w.drained = !ok
		return ok
	default:
		return false
	}
}

func (w *writer) takeWaiting(batch *[]*job) {
	for len(*batch) < maxBatch && w.take(batch) {
	}
}

// do gives a job to the writer and waits for its result.
func (s *Store) do(ctx context.Context, j *job) error {
	if err := s.submit(ctx, j); err != nil {
		return err
	}
	<-j.done
	return j.err
}

func (s *Store) submit(ctx context.Context, j *job) error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return ErrClosed
	}
	select { // if the queue has room, a job is accepted even if ctx has ended
	case s.writer.jobs <- j:
		return nil
	default:
	}
	select {
	case s.writer.jobs <- j:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("store: the write did not start: %w", ctx.Err())
	}
}
