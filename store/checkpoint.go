package store

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
)

// A page of the write-ahead log holds 4,096 octets and a small header.
const (
	// logAfter is after how many pages the log is copied into the database file (16 MB).
	logAfter = 4000
	// logBound is how many pages (64 MB) may be written while older ones are copied. After that the writer waits and
	// copies the rest itself, so that callbacks wait too: the log grows faster than the disk takes it. Only a long
	// reader, such as a backup, lets the log grow further.
	logBound = 4 * logAfter
	// emptyWaitMS is how many milliseconds emptying the log may wait for readers, because callbacks wait meanwhile.
	emptyWaitMS = 100
)

// checkpointer copies the write-ahead log of a service into the database file, on a connection and in a goroutine of
// its own: SQLite would do it in a commit, for which callbacks wait. SQLite begins the log anew only if all of it is
// copied and nobody reads from it. While writes come all the time, that is true only if the writer copies the last few
// pages between two transactions.
type checkpointer struct {
	db           *sql.DB
	check        func() error // returns an error if the database is no longer the file at its path
	files        *openFiles
	after, bound int64 // logAfter and logBound
	wake         chan struct{}
	ended        chan struct{}
	copying      sync.Mutex  // held while the log is copied
	busy         atomic.Bool // true from when the writer asks for a copy until the goroutine has done what it could
	rest         atomic.Bool // true if the writer may copy what is left
	failed       atomic.Bool // true if the last copy of the goroutine failed

	asked int64 // pages of the log when the writer last asked for a copy; only the writer uses it
}

func newCheckpointer(s *Store, o Options) *checkpointer {
	c := &checkpointer{after: logAfter, bound: logBound, check: s.CheckFile, files: s.files,
		db:   openGuardedPool(s.path, upkeepDSN, hardening, 1, s.CheckFile),
		wake: make(chan struct{}, 1), ended: make(chan struct{})}
	if o.logAfter > 0 {
		c.after, c.bound = o.logAfter, o.logBound
	}
	return c
}

func (c *checkpointer) run() {
	defer close(c.ended)
	for range c.wake {
		left := c.after
		// Each round leaves what was written during it. After an error the writer copies, and if the disk is full, the
		// writes say so.
		for round := 0; round < 5 && left > c.after/32; round++ {
			var err error
			left, err = c.copy(context.Background())
			c.failed.Store(err != nil)
		}
		c.rest.Store(true)
		c.busy.Store(false)
	}
}

// copy copies the log as far as readers let it, so that nobody waits for it, and syncs the database file. It returns
// how many pages are left. SQLite itself syncs the file only when all of the log is copied, thus when the writer has
// copied the rest: callbacks waited 50 ms for the pages that were copied before (measured).
func (c *checkpointer) copy(ctx context.Context) (left int64, err error) {
	c.copying.Lock()
	defer c.copying.Unlock()
	if err := c.check(); err != nil {
		return 0, err
	}
	var busy, log, copied int64
	err = c.db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &log, &copied)
	err = errors.Join(err, writeOut(c.files.content), c.files.content.Sync())
	if _, now, ok := c.files.logPages(); ok {
		return now, err
	}
	return log - copied, err
}

// close ends the goroutine.
func (c *checkpointer) close() {
	if c != nil {
		close(c.wake)
		<-c.ended
	}
}

// keepLogShort has the log copied if it has grown. The writer calls it between two transactions, after the answers.
func (w *writer) keepLogShort() {
	c := w.s.checkpointer
	if c == nil {
		return
	}
	pages, left, ok := w.s.files.logPages()
	if !ok {
		return
	}
	if pages < c.asked {
		c.asked = 0 // the log has begun anew
	}
	switch grown := pages - c.asked; {
	case c.rest.Load() && c.copying.TryLock(): // if another copy is in progress, it leaves a new rest
		c.rest.Store(false)
		if left <= c.after || c.failed.Load() { // a long reader leaves more, which the goroutine copies
			w.copyRest()
		}
		c.copying.Unlock()
	case !c.busy.Load() && grown >= c.after:
		c.asked = pages
		c.busy.Store(true)
		c.wake <- struct{}{}
	case grown >= c.bound:
		c.asked = pages
		c.copying.Lock()
		w.copyRest()
		c.copying.Unlock()
	}
}

// copyRest copies what is left of the log as far as readers let it. If the log could not be emptied when that was
// asked for, it tries again.
func (w *writer) copyRest() {
	if w.s.CheckFile() != nil {
		return
	}
	if w.unemptied {
		_ = w.emptyLog(0)
		return
	}
	_, _ = w.conn.ExecContext(context.Background(), "PRAGMA wal_checkpoint(PASSIVE)")
}

// emptyLog copies what is left of the log and empties it, if readers leave within waitMS milliseconds.
func (w *writer) emptyLog(waitMS int) error {
	ctx := context.Background()
	if _, err := w.conn.ExecContext(ctx, fmt.Sprintf("PRAGMA busy_timeout = %d", waitMS)); err != nil {
		return err
	}
	var busy, log, copied int
	err := w.conn.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &log, &copied)
	w.unemptied = err != nil || busy != 0
	_, failed := w.conn.ExecContext(ctx, "PRAGMA busy_timeout = "+busyTimeout)
	if err == nil {
		err = failed
	}
	return err
}

// Checkpoint copies the write-ahead log into the database file and empties the log, so that no erased data stays in
// it. While another connection is reading, the log cannot be emptied; then it is tried again when it has grown.
func (s *Store) Checkpoint(ctx context.Context) error {
	if s.fileDB == nil {
		return nil // a server does it
	}
	if s.checkpointer != nil { // most of it while the writer goes on
		if _, err := s.checkpointer.copy(ctx); err != nil {
			return fail("checkpoint", err)
		}
	}
	j := newJob(ctx, func(*Tx) error { return nil })
	var failed error
	j.after = func(w *writer) {
		if s.checkpointer == nil { // for the service in another process, which waits while the log is emptied
			_, _ = w.conn.ExecContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)")
		} else { // while the log is copied it cannot be emptied
			s.checkpointer.copying.Lock()
			defer s.checkpointer.copying.Unlock()
		}
		failed = w.emptyLog(emptyWaitMS)
	}
	if err := s.do(ctx, j); err != nil {
		return fail("checkpoint", err)
	}
	return fail("checkpoint", failed)
}

// logPages returns how many pages the write-ahead log has, and how many of these are not yet copied into the database
// file; ok is false if the index of the log cannot be read now (sqlite.org/walformat.html, section 2.1).
func (f *openFiles) logPages() (pages, left int64, ok bool) {
	header, copied, ok := f.readIndex()
	if !ok {
		return 0, 0, false
	}
	pages = int64(binary.NativeEndian.Uint32(header[16:]))
	return pages, pages - int64(copied), true
}
