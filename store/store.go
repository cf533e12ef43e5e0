package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"sync"
	"sync/atomic"

	"github.com/mattn/go-sqlite3"
)

// Options of a store. The zero value suits a small host.
type Options struct {
	ReadConns int        // connections for View; 0 = 4
	Random    io.Reader  // source of move codes; nil = crypto/rand
	Retention *Retention // nil = DefaultRetention
	Serving   bool       // set by the service: Open fails if another process serves the file

	noLock bool // take no file lock: nobody else knows the file
	// RoutePrefixes are the number prefixes that have their own route, such as "+4477"; nil = the prefixes
	// of the last start.
	RoutePrefixes []string
}

const defaultReadConns = 4

// Store is an open database. Its methods may be called from any goroutine.
type Store struct {
	path          string
	lock          *fileLock
	writeDB       *sql.DB
	readDB        *sql.DB
	writer        *writer
	hashKey       []byte    // key of the hashes that stand for phone numbers and codes
	random        io.Reader // source of move codes
	keep          Retention
	places        placeCache
	marks         atomic.Uint64 // see MarkWritable
	routePrefixes []string      // longest first
	early         early

	mu      sync.RWMutex // read-locked while work is handed to the writer
	closed  bool
	drained chan struct{}
}

// Open opens the database file, creates it if it does not exist, and migrates it to the current schema.
// It refuses, with an *OpenError, files that it must not touch: see the Err values. Afterwards the
// place DefaultPlace exists.
func Open(ctx context.Context, path string, o Options) (*Store, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, &OpenError{Op: "open", Path: path, Err: err}
	}
	version, number, _ := sqlite3.Version()
	if err := checkLibrary(full, version, number); err != nil {
		return nil, err
	}
	if err := probe(ctx, full); err != nil {
		return nil, err
	}
	if o.ReadConns <= 0 {
		o.ReadConns = defaultReadConns
	}
	if o.Random == nil {
		o.Random = rand.Reader
	}
	s := &Store{path: full, random: o.Random, keep: DefaultRetention(), drained: make(chan struct{})}
	if o.Retention != nil {
		s.keep = *o.Retention
	}
	if !o.noLock {
		if s.lock, err = lockForStore(ctx, full, o.Serving); err != nil {
			return nil, err
		}
	}
	s.writeDB = openPool(full, writerDSN, hardening+"; "+writerTune, 1)
	if err := s.prepare(ctx, o); err != nil {
		s.closeFiles()
		return nil, err
	}
	go func() {
		defer close(s.drained)
		s.writer.run()
	}()
	return s, nil
}

// prepare marks the file as ours, migrates and seeds it, and opens the connections.
func (s *Store) prepare(ctx context.Context, o Options) error {
	refuse := func(op string, err error) error {
		return &OpenError{Op: op, Path: s.path, Err: err,
			Try: "Check that the file and its directory can be written, that the disk is not full, " +
				"and that no other program holds it"}
	}
	if _, err := s.writeDB.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d", applicationID)); err != nil {
		return refuse("open", err)
	}
	if err := migrate(ctx, s.writeDB); err != nil {
		return refuse("migrate", err)
	}
	var err error
	if s.writer, err = newWriter(ctx, s, s.writeDB); err != nil {
		return refuse("open", err)
	}
	first := newJob(ctx, func(tx *Tx) error {
		if err := s.seed(tx); err != nil {
			return err
		}
		return s.setRoutePrefixes(tx, o.RoutePrefixes)
	})
	batch := []*job{first}
	if err := s.writer.group(&batch); err != nil {
		return refuse("open", err)
	}
	if first.err != nil {
		return refuse("open", first.err)
	}
	s.readDB = openPool(s.path, readerDSN, hardening, o.ReadConns)
	if err := s.readDB.PingContext(ctx); err != nil {
		return refuse("open", err)
	}
	return nil
}

// seed inserts the default place and the hash key on first open.
func (s *Store) seed(tx *Tx) error {
	if _, ok, err := tx.PlaceByName(DefaultPlace); err != nil {
		return err
	} else if !ok {
		if _, err := tx.PutPlace(defaultPlace()); err != nil {
			return err
		}
	}
	key, ok, err := tx.meta(metaHashKey)
	if err == nil && !ok {
		key = make([]byte, 32)
		_, _ = rand.Read(key) // never fails
		err = tx.setMeta(metaHashKey, key)
	}
	s.hashKey = key
	return err
}

// Close waits until the writes handed to InTx are done, then closes the file.
func (s *Store) Close() error {
	s.mu.Lock()
	was := s.closed
	s.closed = true
	s.mu.Unlock()
	if was {
		return nil
	}
	close(s.writer.jobs)
	<-s.drained
	return s.closeFiles()
}

func (s *Store) closeFiles() error {
	var errs []error
	if s.readDB != nil {
		errs = append(errs, s.readDB.Close())
	}
	if s.writer != nil {
		errs = append(errs, s.writer.close())
	}
	errs = append(errs, s.writeDB.Close())
	s.lock.release()
	return fail("close", errors.Join(errs...))
}

// InTx runs fn in a write transaction and returns when its writes are on disk. If fn fails or panics, only
// its own writes are rolled back. fn must not call InTx or View, keep tx, or take long: one write runs at a
// time.
//
// If ctx ends before the work has started, InTx returns its error and nothing is done. After that the
// work is finished whatever ctx does, because a caller that hangs up will repeat its call and must find
// the work done.
func (s *Store) InTx(ctx context.Context, fn func(*Tx) error) error {
	j := newJob(ctx, fn)
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
	select { // with room in the queue a job is accepted even if ctx has ended
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

// View runs fn on a connection that cannot write. fn sees one snapshot of the records. Its queries fail
// once ctx has ended.
func (s *Store) View(ctx context.Context, fn func(*Tx) error) (err error) {
	conn, err := s.readDB.Conn(ctx)
	if err != nil {
		return fail("view", err)
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "BEGIN"); err != nil {
		return fail("view", err)
	}
	// The connection returns to the pool without the snapshot, also if fn panics or ctx has ended.
	defer func() { _, _ = conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK") }()
	return fn(&Tx{ctx: ctx, s: s, conn: conn})
}
