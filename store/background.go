package store

import (
	"context"
	"fmt"
	"time"
)

// Background work is done in slices, so that no grower waits for it. All budgets stand here.
const (
	// fullSlice is how long a slice may last while no job waits. A job that comes meanwhile ends the slice after
	// shortSlice, so the budget only bounds how much one commit writes: 5 ms of deletions fill about 1 MB of the
	// write-ahead log (measured), which a disk takes in less time than that. With a fullSlice of 5 ms and a shortSlice
	// of 2 ms, callbacks during background work took up to a quarter longer (measured).
	fullSlice = 3 * time.Millisecond
	// shortSlice is how long a slice lasts while jobs wait: no longer than one commit to a disk takes, so that a grower
	// does not notice it.
	shortSlice = time.Millisecond
	// jobsShare is how many times as long as the last slice jobs go first, if they wait. So background work gets half
	// of the writer's time however many jobs come, or a short slice after each transaction with jobs, if that takes
	// longer: reminders must go out on a busy morning too. Jobs share the commit of such a slice, so it costs them
	// little more than its own time.
	jobsShare = 1

	// roundsInFile takes about half a millisecond.
	roundsInFile = 8
	// roundsOnServer is larger, because the growers share the round trips to the server. The callbacks of their phones
	// wait meanwhile, about ten milliseconds.
	roundsOnServer = 50
)

// RoundsAtOnce returns how many growers' rounds a step of Background should write.
func (s *Store) RoundsAtOnce() int {
	if s.server != nil {
		return roundsOnServer
	}
	return roundsInFile
}

// turns decides whether jobs or background work have their turn at the writer.
type turns struct {
	owed time.Duration // how long jobs that wait still go first
}

// ofBackground reports whether background work has its turn.
func (t *turns) ofBackground(jobsWait bool) bool { return !jobsWait || t.owed <= 0 }

// over reports whether a slice that has lasted this long must end.
func (t *turns) over(lasted time.Duration, jobsWait bool) bool {
	if jobsWait {
		return lasted >= shortSlice
	}
	return lasted >= fullSlice
}

// took counts the time of one transaction, of which a slice took inSlice. Without jobs all of it was for the slice.
func (t *turns) took(all, inSlice time.Duration, jobs bool) {
	if !jobs {
		inSlice = all
	}
	t.owed -= all - inSlice
	if inSlice > 0 {
		t.owed = jobsShare * inSlice
	}
}

// elapsed returns the time since a fixed instant; always 0 without a stopwatch.
func (s *Store) elapsed() time.Duration {
	if s.stopwatch == nil {
		return 0
	}
	return s.stopwatch()
}

// work is one call of Background.
type work struct {
	ctx    context.Context
	step   func(*Tx) (done bool, err error)
	rounds *Rounds // see Tx.rounds
	plans  bool    // see Tx.plans, of the steps of the last slice
	done   bool
	err    error
	ended  chan struct{}
}

// end ends x with the error of the transaction or, if it has none, with that of the last step.
func (x *work) end(err error) {
	if err != nil {
		x.err = err
	}
	close(x.ended)
}

// Background calls step again and again until step says that it is done. Several steps share a transaction, which ends
// after a few milliseconds, and earlier if a job waits: then jobs and steps take turns. So a step must be short, at
// most a few dozen rows. Several works take turns too.
//
// Between two steps anything may be written by others, so a step must not rely on what an earlier one read. If step
// fails or panics, its own writes are rolled back, and Background returns the error; what earlier steps wrote stays. If
// a commit fails, the writes of all steps since the last commit are lost. The same is true if ctx ends (then Background
// ends after the present step) or the program is killed: what is left to do must follow from the records.
//
// On a server each step has its own transaction, and runs again if the database gave it up in favour of another write.
// So a step changes only in tx.Kept what the next step or the caller reads.
func (s *Store) Background(ctx context.Context, step func(tx *Tx) (done bool, err error)) error {
	return s.inSlices(ctx, nil, step)
}

// inSlices is Background for the steps of rounds, or for other steps if it is nil.
func (s *Store) inSlices(ctx context.Context, rounds *Rounds, step func(tx *Tx) (done bool, err error)) error {
	if s.runTwice {
		once := step
		step = func(tx *Tx) (done bool, err error) {
			err = s.twice(func(tx *Tx) (err error) {
				done, err = once(tx)
				return err
			})(tx)
			return done, err
		}
	}
	if s.server != nil {
		return s.server.background(ctx, step)
	}
	x := &work{ctx: ctx, step: step, rounds: rounds, ended: make(chan struct{})}
	if err := s.submitWork(x); err != nil {
		return err
	}
	<-x.ended
	return x.err
}

// Kept sets what to call when the writes of this step of Background are in the transaction for good.
func (tx *Tx) Kept(fn func()) { tx.kept = fn }

func (s *Store) submitWork(x *work) error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return ErrClosed
	}
	if x.ctx.Err() == nil {
		select {
		case s.writer.background <- x:
			return nil
		case <-x.ctx.Done():
		}
	}
	return fmt.Errorf("store: the work did not start: %w", x.ctx.Err())
}

// takeWork takes one new work, if there is one.
func (w *writer) takeWork() bool {
	select {
	case x := <-w.background:
		w.waiting = append(w.waiting, x)
		return true
	default:
		return false
	}
}

// slice runs steps of x until its time is over, and returns how long that took. It returns an error only if the whole
// transaction was rolled back.
func (w *writer) slice(x *work, batch []*job) (lasted time.Duration, err error) {
	if x == nil {
		return 0, nil
	}
	begun := w.s.elapsed()
	x.plans = false
	if x.rounds != nil {
		if err := w.countForeign(); err != nil {
			return 0, err
		}
	}
	for {
		var kept func()
		step := newJob(x.ctx, func(tx *Tx) (err error) {
			x.done, err = x.step(tx)
			kept = tx.kept
			return err
		})
		step.rounds = x.rounds
		err = w.runJob(step)
		x.plans = x.plans || step.plans
		if err == nil && step.err == nil && kept != nil {
			kept()
		}
		lasted = w.s.elapsed() - begun
		x.err = step.err
		switch {
		case err != nil, x.done, x.err != nil, x.ctx.Err() != nil, w.s.stopwatch == nil,
			w.turns.over(lasted, len(batch)+len(w.jobs) > 0):
			return lasted, err
		}
	}
}

// finish ends x if it is done or has failed; otherwise x waits for its next slice. err is the error of the
// whole transaction.
func (w *writer) finish(x *work, err error) {
	switch {
	case x == nil:
	case err != nil, x.err != nil, x.done:
		x.end(err)
	case x.ctx.Err() != nil:
		x.end(fmt.Errorf("store: the work was broken off: %w", x.ctx.Err()))
	default:
		w.waiting = append(w.waiting, x)
	}
}
