package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
)

// openLog opens a store for the service whose log is copied after a few pages.
func openLog(t *testing.T, after, bound int64) *Store {
	t.Helper()
	return openNew(t, Options{Serving: true, logAfter: after, logBound: bound})
}

// fillLog writes about 20 pages.
func fillLog(t *testing.T, s *Store) {
	t.Helper()
	value := bytes.Repeat([]byte{byte(s.marks.Add(1))}, 80_000) // a new one, because an unchanged page is not written
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", value) })
}

func logPages(t *testing.T, s *Store) int64 {
	t.Helper()
	pages, _, ok := s.files.logPages()
	fatalIf(t, !ok, "the index of the log cannot be read")
	return pages
}

// untilShort writes until the log has begun anew.
func untilShort(t *testing.T, s *Store) {
	t.Helper()
	for logPages(t, s) >= s.checkpointer.after {
		fillLog(t, s)
	}
}

// The log stays short however long writes come; if the goroutine that copies it does not keep up, the writer copies.
func TestTheLogIsBounded(t *testing.T) {
	sqliteOnly(t)
	for name, copies := range map[string]bool{"copied by the goroutine": true, "copied by the writer": false} {
		t.Run(name, func(t *testing.T) {
			s := openLog(t, 100, 300)
			if !copies {
				s.checkpointer.check = func() error { return errors.New("it cannot copy") }
			}
			for range 200 {
				fillLog(t, s)
				pages := logPages(t, s)
				fatalIf(t, pages > 450, "the log has %d pages", pages)
			}
			info, err := os.Stat(s.path + "-wal")
			ok(t, err)
			errorIf(t, info.Size() > 450*4200, "the log has %d octets", info.Size())
			intact(t, s)
		})
	}
}

// The goroutine copies the log, and the writer only what is left, so that the log begins anew while writes come.
func TestTheLogBeginsAnew(t *testing.T) {
	sqliteOnly(t)
	s := openLog(t, 100, 1<<40)
	for range 3 {
		for logPages(t, s) < s.checkpointer.after {
			fillLog(t, s)
		}
		untilShort(t, s)
	}
	intact(t, s)
}

// A copy of the log also has the disk write the file. Otherwise the writer does, and callbacks wait.
func TestACopyOfTheLogIsSynced(t *testing.T) {
	sqliteOnly(t)
	s := openLog(t, 1<<40, 1<<40)
	fillLog(t, s)
	_, err := s.checkpointer.copy(t.Context()) // the connection is open from now on
	ok(t, err)
	closed, err := os.Open(s.path)
	ok(t, errors.Join(err, closed.Close()))
	file := s.files.content
	s.checkpointer.check = func() error { return nil }
	s.files.content = closed
	_, err = s.checkpointer.copy(t.Context())
	s.files.content = file
	errorIf(t, !errors.Is(err, os.ErrClosed), "the file is not synced: %v", err)
}

// The writer copies the rest of the log only if it need not wait for another copy. Otherwise this test never ends.
func TestTheWriterWaitsForNoCopy(t *testing.T) {
	sqliteOnly(t)
	s := openLog(t, 1000, 1<<40)
	s.checkpointer.copying.Lock() // another copy is in progress
	s.checkpointer.rest.Store(true)
	fillLog(t, s)
	fillLog(t, s)
	errorIf(t, !s.checkpointer.rest.Load(), "the rest was forgotten")
	s.checkpointer.copying.Unlock()
	fillLog(t, s)
	fillLog(t, s)
	errorIf(t, s.checkpointer.rest.Load(), "the rest was not copied")
	intact(t, s)
}

// Nobody waits for a long reader, such as a backup, and the log grows meanwhile. Afterwards it is short again.
func TestTheLogOfALongReader(t *testing.T) {
	sqliteOnly(t)
	s := openLog(t, 100, 300)
	fillLog(t, s)
	view(t, s, func(tx *Tx) error {
		before, err := tx.Growers()
		for range 50 {
			fillLog(t, s)
		}
		withPlot(t, s, ana)
		after, err2 := tx.Growers()
		equal(t, after, before, "growers in the view")
		return errors.Join(err, err2)
	})
	errorIf(t, logPages(t, s) < 900, "the log has %d pages: it was lost to the reader", logPages(t, s))
	untilShort(t, s)
	intact(t, s)
}

// What a long reader leaves is much, so the goroutine copies it, and not the writer, for which callbacks wait.
func TestTheWriterDoesNotCopyWhatALongReaderLeft(t *testing.T) {
	sqliteOnly(t)
	s := openLog(t, 100, 1<<40)
	c := s.checkpointer
	view(t, s, func(tx *Tx) error {
		_, err := tx.Growers()
		for range 50 {
			fillLog(t, s)
		}
		// A write runs in the goroutine of the writer, which then asks for no copy, because the log has not grown.
		write(t, s, func(*Tx) error { c.asked, _, _ = s.files.logPages(); return nil })
		write(t, s, func(*Tx) error { return nil })
		for c.busy.Load() {
			runtime.Gosched()
		}
		return err
	})
	write(t, s, func(*Tx) error { c.rest.Store(true); return nil })
	write(t, s, func(*Tx) error { return nil }) // the writer has looked at the rest
	errorIf(t, c.rest.Load(), "the writer has not looked at the rest")
	_, left, _ := s.files.logPages()
	fatalIf(t, left < 900, "the writer has copied: %d pages are left", left)
	untilShort(t, s)
	intact(t, s)
}

// inLog reports whether the write-ahead log contains a text.
func inLog(t *testing.T, s *Store, text string) bool {
	t.Helper()
	b, err := os.ReadFile(s.path + "-wal")
	ok(t, err)
	return bytes.Contains(b, []byte(text))
}

// Checkpoint empties the log of what was erased, also while writes come; if somebody reads, it is emptied later.
func TestCheckpointEmptiesTheLog(t *testing.T) {
	sqliteOnly(t)
	for _, serving := range []bool{true, false} {
		t.Run(fmt.Sprint("serving ", serving), func(t *testing.T) {
			s := openNew(t, Options{Serving: serving, logAfter: 100, logBound: 300})
			var done atomic.Bool
			var writers sync.WaitGroup
			for g := range 4 {
				writers.Go(func() {
					for n := 0; !done.Load(); n++ {
						if err := s.InTx(ctx, remember(fmt.Sprint(g, "-", n))); err != nil {
							t.Error(err)
							return
						}
					}
				})
			}
			const secret = "by the hollow rock"
			keep := func(text string) {
				write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte(text)) })
			}
			for range 5 {
				keep(secret)
				keep("")
				ok(t, s.Checkpoint(ctx))
				fatalIf(t, inLog(t, s, secret), "what was erased is still in the log")
			}
			done.Store(true)
			writers.Wait()
			if !serving {
				return
			}
			view(t, s, func(tx *Tx) error {
				_, err := tx.Growers()
				for range 20 {
					fillLog(t, s) // so that a log which only begins anew does not overwrite the secret
				}
				keep(secret)
				keep("")
				return errors.Join(err, s.Checkpoint(ctx))
			})
			errorIf(t, !inLog(t, s, secret), "the log was emptied although somebody read it")
			for n := 0; n < 500 && inLog(t, s, secret); n++ {
				fillLog(t, s)
			}
			errorIf(t, inLog(t, s, secret), "what was erased stays in the log")
		})
	}
}
