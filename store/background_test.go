package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/mattn/go-sqlite3"
	"pgregory.net/rapid"
)

// watch is a stopwatch that only the steps of a test move.
type watch struct{ at atomic.Int64 }

func (w *watch) now() time.Duration       { return time.Duration(w.at.Load()) }
func (w *watch) advance(by time.Duration) { w.at.Add(int64(by)) }

func openWatched(t *testing.T) (*Store, *watch) {
	sqliteOnly(t) // a server has no slices
	t.Helper()
	w := &watch{}
	return openNew(t, Options{Stopwatch: w.now}), w
}

// countCommits counts the commits of the writer from now on.
func countCommits(t *testing.T, s *Store) *atomic.Int64 {
	t.Helper()
	n := new(atomic.Int64)
	write(t, s, func(tx *Tx) error {
		return tx.conn.Raw(func(c any) error {
			c.(*sqlite3.SQLiteConn).RegisterCommitHook(func() int { n.Add(1); return 0 })
			return nil
		})
	})
	n.Store(0)
	return n
}

// A slice ends at its budget, measured by the stopwatch; without a stopwatch each step is a slice.
func TestSlicesEndByTime(t *testing.T) {
	sqliteOnly(t)
	for name, c := range map[string]struct {
		step    time.Duration
		steps   int
		commits int64
	}{
		"many steps in a slice":      {fullSlice / 10, 100, 10},
		"steps of a whole slice":     {fullSlice, 7, 7},
		"steps longer than a slice":  {3 * fullSlice, 7, 7},
		"all steps in one slice":     {time.Nanosecond, 100, 1},
		"a clock that stands still":  {0, 100, 1},
		"slices that end in between": {fullSlice * 2 / 5, 9, 3},
	} {
		t.Run(name, func(t *testing.T) {
			s, w := openWatched(t)
			commits := countCommits(t, s)
			n := 0
			ok(t, s.Background(ctx, func(tx *Tx) (bool, error) {
				n++
				w.advance(c.step)
				return n == c.steps, remember(fmt.Sprintf("%03d", n))(tx)
			}))
			equal(t, commits.Load(), c.commits, "commits")
			wantRows(t, s, map[string]int64{"callback": int64(c.steps)})
		})
	}
	s := open(t)
	commits := countCommits(t, s)
	n := 0
	ok(t, s.Background(ctx, func(tx *Tx) (bool, error) {
		n++
		return n == 5, remember(fmt.Sprint(n))(tx)
	}))
	equal(t, commits.Load(), 5, "commits without a stopwatch")
}

// A job that comes during a slice is committed before the next slice, and the slice ends as soon as it has had the
// short time.
func TestJobsGoBeforeBackgroundWork(t *testing.T) {
	s, w := openWatched(t)
	commits := countCommits(t, s)
	var log []string // only the goroutine of the writer uses it
	var jobs sync.WaitGroup
	n := 0
	ok(t, s.Background(ctx, func(*Tx) (bool, error) {
		if n++; n == 2 {
			jobs.Go(func() { _ = s.InTx(ctx, func(*Tx) error { log = append(log, "job"); return nil }) })
			waitForJobs(s, 1)
		}
		w.advance(shortSlice / 2)
		log = append(log, "step")
		return n == 5, nil
	}))
	jobs.Wait()
	equal(t, strings.Join(log, " "), "step step job step step step", "order")
	equal(t, commits.Load(), 2, "commits: the job shares that of the first slice")
}

// However many jobs come, background work gets its share, and jobs get theirs.
func TestNobodyStarves(t *testing.T) {
	s, w := openWatched(t)
	const job, step = shortSlice / (2 * maxBatch), shortSlice / 10
	var inJobs, inSteps time.Duration
	var done atomic.Bool
	next := func() { // so that jobs always wait
		if !done.Load() {
			waitForJobs(s, 1)
		}
	}
	var feeder sync.WaitGroup
	feeder.Go(func() {
		for !done.Load() {
			_ = s.submit(ctx, newJob(ctx, func(*Tx) error { w.advance(job); inJobs += job; next(); return nil }))
		}
	})
	waitForJobs(s, 1)
	n := 0
	ok(t, s.Background(ctx, func(*Tx) (bool, error) {
		n++
		w.advance(step)
		inSteps += step
		if n == 1000 {
			done.Store(true)
			return true, nil
		}
		next()
		return false, nil
	}))
	feeder.Wait()
	write(t, s, func(*Tx) error { return nil }) // all jobs have ended
	errorIf(t, inJobs < jobsShare*inSteps, "jobs had %s, background work %s", inJobs, inSteps)
	errorIf(t, inJobs > 3*jobsShare*inSteps, "background work had %s, jobs %s", inSteps, inJobs)
}

// Works take turns, so that a short one does not wait for a long one.
func TestWorksTakeTurns(t *testing.T) {
	s, w := openWatched(t)
	var order []string
	var works sync.WaitGroup
	slice := func(name string, n int) func(*Tx) (bool, error) {
		return func(*Tx) (bool, error) {
			order = append(order, name)
			n--
			w.advance(fullSlice)
			return n == 0, nil
		}
	}
	ok(t, s.Background(ctx, func(*Tx) (bool, error) {
		for i, c := range []struct {
			name string
			n    int
		}{{"long", 4}, {"short", 1}} {
			works.Go(func() { _ = s.Background(ctx, slice(c.name, c.n)) })
			for len(s.writer.waiting) <= i { // this is the goroutine of the writer
				s.writer.takeWork()
			}
		}
		return true, nil
	}))
	works.Wait()
	equal(t, strings.Join(order, " "), "long short long long long", "order")
}

// A step that fails or panics is undone alone and ends its work; the steps before it are kept.
func TestBadSteps(t *testing.T) {
	for name, bad := range map[string]func() error{
		"fails": func() error { return errBad }, "panics": func() error { panic("no such plot") },
	} {
		t.Run(name, func(t *testing.T) {
			s, _ := openWatched(t)
			n := 0
			err := s.Background(ctx, func(tx *Tx) (bool, error) {
				n++
				if err := remember(fmt.Sprint(n))(tx); err != nil || n < 3 {
					return false, err
				}
				return false, bad()
			})
			var p *PanicError
			errorIf(t, !errors.Is(err, errBad) && !errors.As(err, &p), "error %v", err)
			equal(t, n, 3, "steps")
			equal(t, remembered(t, s), "1 2", "kept")
		})
	}
}

// A commit that fails loses the slice, not the slices before it, and nobody hears of success.
func TestFailedCommitEndsTheWork(t *testing.T) {
	s, w := openWatched(t)
	n := 0
	err := s.Background(ctx, func(tx *Tx) (bool, error) {
		n++
		w.advance(fullSlice / 2)
		if n == 4 {
			return true, orphan(tx)
		}
		return false, remember(fmt.Sprint(n))(tx)
	})
	errorIf(t, err == nil, "the work heard of success")
	equal(t, remembered(t, s), "1 2", "kept")
	write(t, s, remember("after"))
}

// If a step fails and then the commit of the steps before it too, the work hears of the commit: that lost their writes.
func TestFailedCommitAfterABadStep(t *testing.T) {
	s, _ := openWatched(t)
	n := 0
	err := s.Background(ctx, func(tx *Tx) (bool, error) {
		if n++; n == 2 {
			return false, errBad
		}
		return false, orphan(tx)
	})
	errorIf(t, err == nil || errors.Is(err, errBad), "error %v, want that of the commit", err)
}

// The work ends with its context or with the store; what is committed stays.
func TestBrokenOffWork(t *testing.T) {
	s, w := openWatched(t)
	leaving, leave := context.WithCancel(ctx)
	n := 0
	work := func(when int, end func()) func(*Tx) (bool, error) {
		return func(tx *Tx) (bool, error) {
			n++
			w.advance(fullSlice)
			if n == when {
				end()
			}
			return false, remember(fmt.Sprint(n))(tx)
		}
	}
	wantErr(t, s.Background(leaving, work(3, leave)), context.Canceled, "the work whose context ends")
	wantErr(t, s.Background(leaving, work(0, nil)), context.Canceled, "the work whose context has ended")
	equal(t, remembered(t, s), "1 2 3", "kept")

	shutting := make(chan struct{})
	err := s.Background(ctx, work(5, func() {
		go func() { defer close(shutting); s.Close() }()
		for closed := false; !closed; { // until Close has told the writer
			s.mu.RLock()
			closed = s.closed
			s.mu.RUnlock()
		}
	}))
	wantErr(t, err, ErrClosed, "the work whose store closes")
	<-shutting
	wantErr(t, s.Background(ctx, work(0, nil)), ErrClosed, "work after Close")
}

// In any course of jobs and slices: if jobs wait, a slice begins only after the jobs had their share; background work
// has its turn again after a bounded time of jobs; and it never waits while no job waits.
func TestTurns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var turns turns
		duration := rapid.Map(rapid.IntRange(0, 20_000), func(n int) time.Duration {
			return time.Duration(n) * time.Microsecond
		})
		sinceSlice, lastSlice := time.Duration(0), time.Duration(0)
		for range rapid.IntRange(1, 200).Draw(t, "transactions") {
			wait := rapid.Bool().Draw(t, "jobs wait")
			background := turns.ofBackground(wait)
			switch {
			case !wait:
				errorIf(t, !background, "background work waits for nobody")
			case background:
				errorIf(t, sinceSlice < jobsShare*lastSlice, "a slice after %s of jobs, the last slice took %s",
					sinceSlice, lastSlice)
			default:
				errorIf(t, sinceSlice >= jobsShare*lastSlice, "background work waits after %s of jobs", sinceSlice)
			}
			slice, rest := time.Duration(0), duration.Draw(t, "rest")
			if background {
				for slice = duration.Draw(t, "first step"); !turns.over(slice, wait); {
					slice += 1 + duration.Draw(t, "step")
					wait = wait || rapid.Bool().Draw(t, "a job comes")
				}
			}
			turns.took(slice+rest, slice, wait)
			switch {
			case !wait && background:
				lastSlice, sinceSlice = slice+rest, 0
			case slice > 0:
				lastSlice, sinceSlice = slice, 0
			default:
				sinceSlice += rest
			}
		}
	})
}
