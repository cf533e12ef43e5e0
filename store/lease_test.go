package store

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"
)

func takeLease(t *testing.T, s *Store, now int64) (l Lease, held bool) {
	t.Helper()
	write(t, s, func(tx *Tx) (err error) {
		l, held, err = tx.TakeLease("work", now, time.Minute)
		return err
	})
	return l, held
}

// leaseRunsOut makes all leases end, as if their time had passed on the clock of the server.
func leaseRunsOut(t *testing.T, s *Store) {
	t.Helper()
	write(t, s, func(tx *Tx) error { return tx.do("UPDATE lease SET until = 1") })
}

// While one process has the lease of a piece of work, no other gets it; when it is ended, the other sees when the work
// was done.
func TestOneProcessHasALease(t *testing.T) {
	serverOnly(t)
	a := openNew(t, Options{Process: "a"})
	b := openWith(t, addressOf(a), Options{Process: "b"})
	mine, held := takeLease(t, a, noon)
	equal(t, held, true, "a free lease")
	_, held = takeLease(t, b, noon+9*day) // the clock of this machine is wrong, which does not matter
	equal(t, held, false, "a lease of another process")
	again, held := takeLease(t, a, noon)
	equal(t, held, true, "the same process takes its lease again")
	errorIf(t, again.number <= mine.number, "the lease has the number %d after %d", again.number, mine.number)
	write(t, a, func(tx *Tx) error { return tx.EndLease(again, noon+5) })
	next, held := takeLease(t, b, noon)
	equal(t, held, true, "an ended lease")
	equal(t, next.DoneAt, noon+5, "when the work was done")
	equal(t, get(t, a, func(tx *Tx) (int64, error) { return tx.LeaseDone("work") }), noon+5, "")
}

// After the clock of the service ran ahead and was put right, work was last done when the right clock says so.
// Otherwise work of once a day would begin at each try until the day of the wrong clock.
func TestLeaseDoneByAClockThatWasPutRight(t *testing.T) {
	s := open(t)
	for _, at := range []int64{noon + 9*day, noon} {
		l, _ := takeLease(t, s, at)
		write(t, s, func(tx *Tx) error { return tx.EndLease(l, at) })
	}
	l, _ := takeLease(t, s, noon)
	write(t, s, func(tx *Tx) error { return tx.EndLease(l, 0) }) // it was not done
	equal(t, get(t, s, func(tx *Tx) (int64, error) { return tx.LeaseDone("work") }), noon, "when the work was done")
}

// A process is stopped until its lease has ended and another process has taken it. It writes nothing afterwards, and
// cannot renew or end the lease of the other.
func TestLostLeaseWritesNothing(t *testing.T) {
	serverOnly(t)
	a := openNew(t, Options{Process: "a"})
	b := openWith(t, addressOf(a), Options{Process: "b"})
	mine, _ := takeLease(t, a, noon)
	put := func() error {
		return a.InTx(mine.Context(ctx), func(tx *Tx) error { return tx.setMeta("by a", []byte("x")) })
	}
	leaseRunsOut(t, a)
	ok(t, put()) // nobody else has begun the work
	ok(t, a.InTx(ctx, func(tx *Tx) error { return tx.RenewLease(mine, noon, time.Minute) }))
	_, held := takeLease(t, b, noon)
	equal(t, held, false, "a renewed lease")
	leaseRunsOut(t, a)
	theirs, held := takeLease(t, b, noon)
	equal(t, held, true, "a lease that has ended")
	write(t, b, func(tx *Tx) error { return tx.do("DELETE FROM meta WHERE key = 'by a'") })
	for name, do := range map[string]func() error{
		"a write": put,
		"a step of background work": func() error {
			return a.Background(mine.Context(ctx), func(tx *Tx) (bool, error) {
				return true, tx.setMeta("by a", []byte("x"))
			})
		},
		"renewing": func() error {
			return a.InTx(ctx, func(tx *Tx) error { return tx.RenewLease(mine, noon, time.Minute) })
		},
	} {
		err := do()
		errorIf(t, !errors.Is(err, ErrLeaseLost), "%s: %v", name, err)
	}
	write(t, a, func(tx *Tx) error { return tx.EndLease(mine, noon+9) })
	wantNumber(t, b, 0, "SELECT count(*) FROM meta WHERE key = 'by a'")
	ok(t, b.InTx(theirs.Context(ctx), func(tx *Tx) error { return nil }))
	equal(t, get(t, a, func(tx *Tx) (int64, error) { return tx.LeaseDone("work") }), 0, "done by a, who had lost it")
}

// A write of the work that has begun is committed before another process gets the lease.
func TestLeaseIsTakenAfterTheWrite(t *testing.T) {
	serverOnly(t)
	a := openNew(t, Options{Process: "a"})
	b := openWith(t, addressOf(a), Options{Process: "b"})
	mine, _ := takeLease(t, a, noon)
	leaseRunsOut(t, a)
	var found []byte
	taken := make(chan error, 1)
	err := a.InTx(mine.Context(ctx), func(tx *Tx) error {
		go func() {
			taken <- b.InTx(ctx, func(tx *Tx) (err error) {
				if _, held, err := tx.TakeLease("work", noon, time.Minute); err != nil || !held {
					return errors.Join(err, errors.New("b did not get the lease"))
				}
				found, _, err = tx.meta("by a")
				return err
			})
		}()
		if err := waitForLock(tx, taken); err != nil {
			return err
		}
		return tx.setMeta("by a", []byte("x"))
	})
	ok(t, err)
	ok(t, <-taken)
	equal(t, string(found), "x", "what b finds")
}

// waitForLock returns when another transaction of the database waits for a lock. The goroutine of that transaction
// sends to ended when it has ended: then it did not wait, which is an error.
func waitForLock[T any](tx *Tx, ended <-chan T) error {
	for len(ended) == 0 {
		n := 0
		if _, err := tx.one(`SELECT count(*) FROM pg_stat_activity
			WHERE datname = current_database() AND wait_event_type = 'Lock'`, nil, &n); err != nil || n > 0 {
			return err
		}
		// The view is a snapshot until it is cleared.
		if err := tx.do("SELECT pg_stat_clear_snapshot()"); err != nil {
			return err
		}
	}
	return errors.New("the other transaction did not wait for a lock")
}

// In a file only one service writes: it always gets the lease, also one that a crash left behind.
func TestLeaseInAFile(t *testing.T) {
	sqliteOnly(t)
	s := openNew(t, Options{Process: "a"})
	mine, held := takeLease(t, s, noon)
	equal(t, held, true, "")
	s = openAgain(t, s, Options{Process: "b"})
	theirs, held := takeLease(t, s, noon)
	equal(t, held, true, "a lease that a crash left behind")
	errorIf(t, theirs.number <= mine.number, "numbers %d, %d", mine.number, theirs.number)
	ok(t, s.InTx(mine.Context(context.Background()), func(*Tx) error { return nil }))
}

func startProcess(t *testing.T, s *Store) int64 {
	t.Helper()
	return get(t, s, func(tx *Tx) (int64, error) { return tx.StartProcess("v1", noon) })
}

func processes(t *testing.T, s *Store) (alive []string) {
	t.Helper()
	view(t, s, func(tx *Tx) error {
		list, err := tx.Processes(noon)
		for _, p := range list {
			if p.Alive {
				alive = append(alive, p.Name+" "+p.Reload.ID)
			}
		}
		return err
	})
	return alive
}

func TestProcesses(t *testing.T) {
	a := openNew(t, Options{Process: "a"})
	first := startProcess(t, a)
	equal(t, processes(t, a), []string{"a "}, "")
	if a.server == nil {
		a = openAgain(t, a, Options{Process: "b"})
		startProcess(t, a)
		equal(t, processes(t, a), []string{"b "}, "only one service has the file open")
		return
	}
	b := openWith(t, addressOf(a), Options{Process: "b"})
	number := startProcess(t, b)
	write(t, b, func(tx *Tx) error { return tx.AnswerReload(number, ReloadDone{ID: "r1"}) })
	equal(t, processes(t, a), []string{"a ", "b r1"}, "")
	write(t, a, func(tx *Tx) error { return tx.do("UPDATE process SET until = 1 WHERE name = 'b'") })
	equal(t, processes(t, a), []string{"a "}, "b died")
	write(t, b, func(tx *Tx) error { return second(tx.RenewProcess(number, noon)) })
	equal(t, processes(t, a), []string{"a ", "b r1"}, "b was only stopped")

	newer := openWith(t, addressOf(a), Options{Process: "a"})
	later := startProcess(t, newer)
	err := a.InTx(ctx, func(tx *Tx) error { return second(tx.RenewProcess(first, noon)) })
	errorIf(t, !errors.Is(err, ErrNameTaken), "an older process of the same name: %v", err)
	write(t, a, func(tx *Tx) error { return tx.EndProcess(first) })
	equal(t, processes(t, b), []string{"a ", "b r1"}, "the older one ends")
	write(t, newer, func(tx *Tx) error { return tx.EndProcess(later) })
	equal(t, processes(t, b), []string{"b r1"}, "")
}

// Two processes begin with different growers. One that has done its share goes on with what the other left over, and
// one that is alone begins with all.
func TestProcessesShareDueGrowers(t *testing.T) {
	serverOnly(t)
	a := openNew(t, Options{Process: "a"})
	b := openWith(t, addressOf(a), Options{Process: "b"})
	first, _ := startProcess(t, a), startProcess(t, b)
	ok(t, alive(a, first)) // a now knows of b
	withPlot(t, a, ana, ben, cleo)
	write(t, a, func(tx *Tx) error { return tx.do("UPDATE plot SET look_at = $1", noon) })
	due := func(s *Store, but ...DueGrower) (list []DueGrower) {
		t.Helper()
		view(t, s, func(tx *Tx) (err error) {
			list, err = tx.DueGrowers(noon, 10, but...)
			return err
		})
		return list
	}
	mine, theirs := due(a), due(b)
	equal(t, len(mine)+len(theirs), 3, "growers of both")
	equal(t, len(mine) > 0 && len(theirs) > 0, true, "each has a share")
	for _, g := range mine {
		errorIf(t, slices.ContainsFunc(theirs, func(o DueGrower) bool { return o.ID == g.ID }), "both have %d", g.ID)
	}
	equal(t, len(due(a, mine...)), len(theirs), "after its own share")
	write(t, a, func(tx *Tx) error { return tx.do("UPDATE process SET until = 1 WHERE name = 'b'") })
	ok(t, alive(a, first))
	equal(t, len(due(a)), 3, "the other process died")
}

// A process that is suspended while the records are moved is told so when it wakes, and not that its name is taken.
func TestASuspendedProcessLearnsThatTheRecordsWereMoved(t *testing.T) {
	serverOnly(t)
	s := openNew(t, Options{Process: "a"})
	number := startProcess(t, s)
	write(t, s, func(tx *Tx) error {
		return errors.Join(tx.do(sqlDropProcesses, int64(1)<<60), tx.setMark(metaMoved, movedMark{To: "other.db"}))
	})
	err := alive(s, number)
	errorIf(t, !errors.Is(err, ErrMoved) || !strings.Contains(err.Error(), "to other.db"), "%v", err)
}
