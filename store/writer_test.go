package store

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync"
	"testing"
)

var errBad = errors.New("bad job")

// together hands functions in while the writer is busy, so that it takes them as one batch, and returns
// their errors.
func together(s *Store, ctx context.Context, fns ...func(*Tx) error) []error {
	errs := make([]error, len(fns))
	var wg sync.WaitGroup
	wg.Go(func() {
		_ = s.InTx(context.Background(), func(*Tx) error {
			for i, fn := range fns {
				wg.Go(func() { errs[i] = s.InTx(ctx, fn) })
				for len(s.writer.jobs) < i+1 {
					runtime.Gosched()
				}
			}
			return nil
		})
	})
	wg.Wait()
	return errs
}

func remember(key string) func(*Tx) error {
	return func(tx *Tx) error { return tx.StoreReply("local", key, "", []byte(key), noon) }
}

func remembered(t *testing.T, s *Store) string {
	t.Helper()
	var keys []string
	view(t, s, func(tx *Tx) error {
		return tx.each("SELECT key FROM callback ORDER BY key", nil, func(scan func(...any) error) error {
			var k string
			err := scan(&k)
			keys = append(keys, k)
			return err
		})
	})
	return strings.Join(keys, " ")
}

func TestBadJobsUndoOnlyThemselves(t *testing.T) {
	s := open(t)
	errs := together(s, context.Background(),
		remember("a"),
		func(tx *Tx) error { return errors.Join(remember("b")(tx), errBad) },
		remember("c"),
		func(tx *Tx) error { _ = remember("d")(tx); panic("no such plot") },
		remember("e"),
		func(tx *Tx) error {
			_ = remember("f")(tx)
			_, err := tx.exec("INSERT INTO meta VALUES (1)")
			return err
		},
		remember("g"),
	)
	for i, want := range []string{"", "bad job", "", "panicked: no such plot", "", "table meta has 2 columns", ""} {
		if (errs[i] == nil) != (want == "") || errs[i] != nil && !strings.Contains(errs[i].Error(), want) {
			t.Errorf("job %d: %v, want %q", i, errs[i], want)
		}
	}
	if !errors.Is(errs[1], errBad) {
		t.Errorf("the job's own error is lost: %v", errs[1])
	}
	var p *PanicError
	if !errors.As(errs[3], &p) || p.Value != "no such plot" || !strings.Contains(string(p.Stack), "writer_test.go") {
		t.Errorf("the panic is lost: %#v", errs[3])
	}
	equal(t, remembered(t, s), "a c e g", "kept")
}

// No caller gets its result before the commit.
func TestAnswersComeAfterTheCommit(t *testing.T) {
	s := open(t)
	var first sync.WaitGroup
	answered := make(chan error, 1)
	first.Add(1)
	errs := together(s, context.Background(),
		remember("a"),
		func(tx *Tx) error {
			// This runs in the batch of a, after it: nobody else may see a yet.
			equal(t, remembered(t, s), "", "seen before the commit")
			go func() { answered <- s.InTx(context.Background(), remember("c")); first.Done() }()
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
	s := open(t)
	orphan := func(tx *Tx) error { // an error that only the commit finds
		if _, err := tx.exec("PRAGMA defer_foreign_keys = ON"); err != nil {
			return err
		}
		_, err := tx.exec("INSERT INTO message_plot (plot_id, message_id) VALUES (7, 7)")
		return err
	}
	errs := together(s, context.Background(), remember("a"), orphan, remember("b"), func(*Tx) error { return errBad })
	for i, err := range errs {
		errorIf(t, err == nil || !strings.Contains(err.Error(), "commit"), "job %d: %v", i, err)
	}
	write(t, s, remember("c"))
	equal(t, remembered(t, s), "c", "kept")
}

func TestLostTransactionIsEveryonesError(t *testing.T) {
	s := open(t)
	lose := func(tx *Tx) error { // as SQLite does when the disk fails
		_, err := tx.exec("ROLLBACK")
		return err
	}
	for name, last := range map[string]func(*Tx) error{
		"said nothing": lose,
		"said so":      func(tx *Tx) error { return errors.Join(lose(tx), errBad) },
	} {
		errs := together(s, context.Background(), remember("a"), last, remember("b"))
		for i, err := range errs {
			errorIf(t, err == nil, "%s: job %d heard of success", name, i)
		}
		equal(t, remembered(t, s), "", "%s: kept", name)
	}
	write(t, s, remember("c"))
	equal(t, remembered(t, s), "c", "kept")
}

func TestFullDisk(t *testing.T) {
	s := open(t)
	limit := func(n int64) {
		write(t, s, func(tx *Tx) error {
			return second(tx.one(fmt.Sprintf("PRAGMA max_page_count = %d", n), nil, new(int64)))
		})
	}
	pages := number(t, s, "PRAGMA page_count")
	limit(pages)
	big := func(tx *Tx) error { return tx.SetTokenHash("local", make([]byte, 1<<20)) }
	err := s.InTx(context.Background(), big)
	fatalIf(t, err == nil || !Unavailable(err), "write to a full disk: %v", err)
	limit(1 << 30)
	write(t, s, big) // it works again when there is room
	intact(t, s)
}

func TestLockedByAnotherProgram(t *testing.T) {
	s := open(t)
	execSQL(t, s, "PRAGMA busy_timeout = 0")
	other := openPool(s.path, writerDSN, hardening, 1)
	defer other.Close()
	lock, err := other.Begin()
	ok(t, err)
	if err := s.InTx(context.Background(), remember("a")); err == nil || !Unavailable(err) {
		t.Errorf("a write against a lock: %v", err)
	}
	ok(t, lock.Rollback())
	write(t, s, remember("b"))
	equal(t, remembered(t, s), "b", "kept")
}

func TestWorkGoesOnWhenTheCallerLeaves(t *testing.T) {
	s := open(t)
	ctx, leave := context.WithCancel(context.Background())
	errs := together(s, ctx,
		func(tx *Tx) error { leave(); return remember("a")(tx) },
		remember("b"))
	err := errors.Join(errs...)
	errorIf(t, err != nil, "%v", err)
	equal(t, remembered(t, s), "a b", "kept")
}

func TestCallerWhoLeavesTheDoorOfAFullQueue(t *testing.T) {
	s := open(t)
	ctx, leave := context.WithCancel(context.Background())
	var wg sync.WaitGroup
	late := make(chan error)
	wg.Go(func() {
		_ = s.InTx(context.Background(), func(*Tx) error {
			for range cap(s.writer.jobs) {
				wg.Go(func() { _ = s.InTx(context.Background(), func(*Tx) error { return nil }) })
			}
			for len(s.writer.jobs) < cap(s.writer.jobs) {
				runtime.Gosched()
			}
			go func() { late <- s.InTx(ctx, remember("late")) }()
			leave()
			err := <-late
			errorIf(t, !errors.Is(err, context.Canceled), "error %v", err)
			return nil
		})
	})
	wg.Wait()
	equal(t, remembered(t, s), "", "kept")
}

func TestCloseDrains(t *testing.T) {
	s := open(t)
	const writers = 50
	errs := make([]error, writers)
	var wg sync.WaitGroup
	wg.Go(func() {
		_ = s.InTx(context.Background(), func(*Tx) error {
			for i := range errs {
				wg.Go(func() { errs[i] = s.InTx(context.Background(), remember(fmt.Sprint(i))) })
			}
			for len(s.writer.jobs) < writers/2 {
				runtime.Gosched()
			}
			wg.Go(func() {
				shut(t, s)
			})
			return nil
		})
	})
	wg.Wait()
	if err := s.Close(); err != nil {
		t.Errorf("closing twice: %v", err)
	}
	wantErr(t, s.InTx(context.Background(), remember("x")), ErrClosed, "a write after Close")
	again := openAt(t, s.path)
	kept := strings.Fields(remembered(t, again))
	want := 0
	for i, err := range errs {
		switch {
		case err == nil:
			want++
		case !errors.Is(err, ErrClosed):
			t.Errorf("job %d: %v", i, err)
		}
	}
	errorIf(t, len(kept) != want || want < writers/2, "%d kept, %d told so", len(kept), want)
}
