package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
)

var errBad = errors.New("bad job")

// busy runs fn while the writer is busy, and then waits for the goroutines that fn started in wg.
func busy(s *Store, fn func(wg *sync.WaitGroup)) {
	var wg sync.WaitGroup
	wg.Go(func() { _ = s.InTx(ctx, func(*Tx) error { fn(&wg); return nil }) })
	wg.Wait()
}

// waitForJobs waits until at least n jobs are waiting for the writer. On a server it waits until n writes are in
// progress, or as many as may be.
func waitForJobs(s *Store, n int) {
	if s.fileDB == nil {
		for len(s.server.writes) < min(n, cap(s.server.writes)) {
			runtime.Gosched()
		}
		return
	}
	for len(s.writer.jobs) < n {
		runtime.Gosched()
	}
}

// together passes several functions to InTx while the writer is busy, so that the writer runs these functions as
// one batch. It returns the errors of all functions.
func together(s *Store, ctx context.Context, fns ...func(*Tx) error) []error {
	errs := make([]error, len(fns))
	if s.fileDB == nil {
		for i, fn := range fns {
			errs[i] = s.InTx(ctx, fn)
		}
		return errs
	}
	busy(s, func(wg *sync.WaitGroup) {
		for i, fn := range fns {
			wg.Go(func() { errs[i] = s.InTx(ctx, fn) })
			waitForJobs(s, i+1)
		}
	})
	return errs
}

// orphan violates foreign keys, which the database reports only at the commit.
func orphan(tx *Tx) error {
	late := "PRAGMA defer_foreign_keys = ON"
	if tx.pg != nil {
		const deferred = " DEFERRABLE INITIALLY DEFERRED"
		late = "ALTER TABLE message_plot ALTER CONSTRAINT message_plot_plot_id_fkey" + deferred +
			", ALTER CONSTRAINT message_plot_message_id_fkey" + deferred
	}
	return errors.Join(tx.do(late), tx.do("INSERT INTO message_plot (plot_id, message_id) VALUES (7, 7)"))
}

// remember returns a function that stores a reply with the given key.
func remember(key string) func(*Tx) error {
	return func(tx *Tx) error { return tx.StoreReply("local", key, "", []byte(key), noon) }
}

// wantReplies checks that the replies with these keys are stored.
func wantReplies(t *testing.T, s *Store, keys []string) {
	t.Helper()
	view(t, s, func(tx *Tx) (err error) {
		for _, key := range keys {
			_, stored, err2 := tx.StoredReply("local", key, ana, 0)
			errorIf(t, !stored, "%s was promised and is not there", key)
			err = errors.Join(err, err2)
		}
		return err
	})
}

func remembered(t *testing.T, s *Store) string {
	t.Helper()
	var keys []string
	view(t, s, func(tx *Tx) (err error) {
		keys, err = column[string](tx, "SELECT key FROM callback ORDER BY key", nil)
		return err
	})
	return strings.Join(keys, " ")
}

func TestBadJobsUndoOnlyThemselves(t *testing.T) {
	s := open(t)
	errs := together(s, ctx,
		remember("a"),
		func(tx *Tx) error { return errors.Join(remember("b")(tx), errBad) },
		remember("c"),
		func(tx *Tx) error { _ = remember("d")(tx); panic("no such plot") },
		remember("e"),
		func(tx *Tx) error {
			_ = remember("f")(tx)
			return second(tx.exec("INSERT INTO no_such_table VALUES (1)"))
		},
		remember("g"),
	)
	for i, want := range []string{"", "bad job", "", "panicked: no such plot", "", "no_such_table", ""} {
		err := errs[i]
		errorIf(t, (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want),
			"job %d: %v, want %q", i, err, want)
	}
	wantErr(t, errs[1], errBad, "the job's own error")
	var p *PanicError
	fatalIf(t, !errors.As(errs[3], &p), "the panic is lost: %#v", errs[3])
	errorIf(t, p.Value != "no such plot" || !strings.Contains(string(p.Stack), "writer_test.go"), "panic %+v", p)
	equal(t, remembered(t, s), "a c e g", "kept")
}

// No caller of InTx may get its result before the commit.
func TestAnswersComeAfterTheCommit(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	var first sync.WaitGroup
	answered := make(chan error, 1)
	first.Add(1)
	errs := together(s, ctx,
		remember("a"),
		func(tx *Tx) error {
			// This job runs in the same batch as the job that stores a, and after it. No other connection may see
			// a before the commit.
			equal(t, remembered(t, s), "", "seen before the commit")
			go func() { answered <- s.InTx(ctx, remember("c")); first.Done() }()
			select {
			case <-answered:
				t.Error("answered before the commit")
			default:
			}
			return remember("b")(tx)
		},
	)
	ok(t, errors.Join(errs...))
	first.Wait()
	ok(t, <-answered)
	equal(t, remembered(t, s), "a b c", "kept")
}

func TestFailedCommitIsEveryonesError(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	errs := together(s, ctx, remember("a"), orphan, remember("b"), func(*Tx) error { return errBad })
	for i, err := range errs {
		errorIf(t, err == nil || !strings.Contains(err.Error(), "commit"), "job %d: %v", i, err)
	}
	write(t, s, remember("c"))
	equal(t, remembered(t, s), "c", "kept")
}

func TestLostTransactionIsEveryonesError(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	// When the disk fails, SQLite also rolls back the whole transaction.
	lose := func(tx *Tx) error { return second(tx.exec("ROLLBACK")) }
	for name, last := range map[string]func(*Tx) error{
		"said nothing": lose,
		"said so":      func(tx *Tx) error { return errors.Join(lose(tx), errBad) },
	} {
		errs := together(s, ctx, remember("a"), last, remember("b"))
		for i, err := range errs {
			errorIf(t, err == nil, "%s: job %d heard of success", name, i)
		}
		equal(t, remembered(t, s), "", "%s: kept", name)
	}
	write(t, s, remember("c"))
	equal(t, remembered(t, s), "c", "kept")
}

func TestFullDisk(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	limit := func(n int64) {
		write(t, s, func(tx *Tx) error {
			return second(tx.one(fmt.Sprintf("PRAGMA max_page_count = %d", n), nil, new(int64)))
		})
	}
	pages := number(t, s, "PRAGMA page_count")
	limit(pages)
	big := func(tx *Tx) error { return tx.SetTokenHash("local", make([]byte, 1<<20)) }
	err := s.InTx(ctx, big)
	fatalIf(t, err == nil || !Unavailable(err), "write to a full disk: %v", err)
	limit(1 << 30)
	write(t, s, big) // when the disk has room again, writes must work again
	intact(t, s)
}

func TestLockedByAnotherProgram(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	execSQL(t, s, "PRAGMA busy_timeout = 0")
	other := openPool(s.path, writerDSN, hardening, 1)
	defer other.Close()
	lock, err := other.Begin()
	ok(t, err)
	err = s.InTx(ctx, remember("a"))
	errorIf(t, err == nil || !Unavailable(err), "a write against a lock: %v", err)
	ok(t, lock.Rollback())
	write(t, s, remember("b"))
	equal(t, remembered(t, s), "b", "kept")
}

func TestCallerLeavesAFullQueue(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	ctx, leave := context.WithCancel(ctx)
	late := make(chan error)
	busy(s, func(wg *sync.WaitGroup) {
		for range cap(s.writer.jobs) {
			wg.Go(func() { _ = s.InTx(context.Background(), func(*Tx) error { return nil }) })
		}
		waitForJobs(s, cap(s.writer.jobs))
		go func() { late <- s.InTx(ctx, remember("late")) }()
		leave()
		wantErr(t, <-late, context.Canceled, "the late caller")
	})
	equal(t, remembered(t, s), "", "kept")
}

func TestCloseDrains(t *testing.T) {
	s := open(t)
	const writers = 50
	least := writers / 2
	if s.fileDB == nil {
		least = cap(s.server.writes) - 1 // the write that keeps the store busy is another one
	}
	errs := make([]error, writers)
	busy(s, func(wg *sync.WaitGroup) {
		for i := range errs {
			wg.Go(func() { errs[i] = s.InTx(ctx, remember(fmt.Sprint(i))) })
		}
		waitForJobs(s, writers/2)
		wg.Go(func() { shut(t, s) })
	})
	closed(t, s) // closing a second time must return no error
	wantErr(t, s.InTx(ctx, remember("x")), ErrClosed, "a write after Close")
	want := 0
	for i, err := range errs {
		if err == nil {
			want++
		} else {
			wantErr(t, err, ErrClosed, "job %d", i)
		}
	}
	kept := len(strings.Fields(remembered(t, openAt(t, addressOf(s)))))
	errorIf(t, kept != want || want < least, "%d kept, %d told so", kept, want)
}

// crashDB names the environment variable with the database path for a child process, which writes until it is killed.
const crashDB = "ROWBELL_TEST_CRASH_DB"

// Every confirmed write must be in the file, no matter when the process is killed.
func TestKilledProcessLosesNoConfirmedWrite(t *testing.T) {
	sqliteOnly(t)
	if path := os.Getenv(crashDB); path != "" {
		writeUntilKilled(t, path, os.Getenv(crashDB+"_ROUND"))
		return
	}
	path := filepath.Join(t.TempDir(), "rowbell.db")
	var promised []string
	for round := range 3 {
		child := exec.Command(os.Args[0], "-test.run=^TestKilledProcessLosesNoConfirmedWrite$")
		child.Env = append(os.Environ(), crashDB+"="+path, fmt.Sprintf("%s_ROUND=%d", crashDB, round))
		out, err := child.StdoutPipe()
		ok(t, err)
		ok(t, child.Start())
		lines := bufio.NewScanner(out)
		heard := 0
		for lines.Scan() {
			promised = append(promised, lines.Text())
			if heard++; heard == 200+150*round {
				ok(t, child.Process.Kill())
			}
		}
		err = child.Wait()
		fatalIf(t, err == nil || heard < 200, "the child was not killed at work: %v, %d lines", err, heard)
		s := openAt(t, path)
		intact(t, s)
		wantReplies(t, s, promised)
		shut(t, s)
	}
}

// writeUntilKilled writes from many goroutines, and prints the key of each confirmed write.
func writeUntilKilled(t *testing.T, path, round string) {
	s := openWith(t, path, Options{Serving: true, logAfter: 20, logBound: 60}) // so that it copies the log all the time
	var wg sync.WaitGroup
	for g := range 8 {
		wg.Go(func() {
			for i := 0; ; i++ {
				key := fmt.Sprintf("%s-%d-%d", round, g, i)
				if err := s.InTx(ctx, remember(key)); err != nil {
					return // the parent process no longer reads the output
				}
				fmt.Fprintf(os.Stdout, "%s\n", key)
			}
		})
	}
	wg.Wait()
}
