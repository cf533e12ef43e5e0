package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"fmt"
	"io"
	"path/filepath"
	"sync"
	"sync/atomic"

	"github.com/mattn/go-sqlite3"
)

// Options of a store. The zero value is what a small host needs.
type Options struct {
	ReadConns int        // connections for View; 0 = 4
	Random    io.Reader  // what codes are drawn from; nil = crypto/rand
	Retention *Retention // for how long what is over is kept; nil = DefaultKeep
	Serving   bool       // this is the service: refused where another one serves the file

	alone bool // nobody else knows the file
	// RoutePrefixes are the prefixes of numbers that have a way of their own out, such
	// as "+4477"; nil: those that were handed in last.
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
	hashKey       []byte    // of opt_out, and of what else is kept hashed
	random        io.Reader // for codes
	keep          Retention
	places        placeCache
	marks         atomic.Uint64 // see Mark
	routePrefixes []string      // prefixes, the longest first
	early         early

	mu      sync.RWMutex // held for reading while work is handed to the writer
	closed  bool
	drained chan struct{}
}

// Open opens the database file, makes it if there is none, and brings its
// schema up to date. It refuses, with an *OpenError, what it must not touch:
// see the Err values. There is a place named default when it returns.
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
	if !o.alone {
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

// prepare makes the file ours, current and ready to be read.
func (s *Store) prepare(ctx context.Context, o Options) error {
	refuse := func(op string, err error) error {
		return &OpenError{Op: op, Path: s.path, Err: err,
			Try: "Check that the file and its directory can be written, that the disk is not full, and that no other program holds it"}
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

// seed puts in what every database has: the default place, and the key of
// the opt-out hashes.
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

// Close lets the writes that were handed in finish, then closes the file.
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
	var first error
	keep := func(err error) {
		if first == nil {
			first = err
		}
	}
	if s.readDB != nil {
		keep(s.readDB.Close())
	}
	if s.writer != nil {
		keep(s.writer.close())
	}
	keep(s.writeDB.Close())
	s.lock.release()
	return fail("close", first)
}

// InTx runs fn in a write transaction and returns when it is committed to
// disk. An error or a panic of fn undoes what fn did, and only that. fn must
// not call InTx or View, keep tx, or take long: one write runs at a time.
//
// When ctx ends before the work was taken up, InTx returns its error and
// nothing is done. After that the work goes on whatever ctx does, and InTx
// returns its result.
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
	select {
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

// View runs fn on a connection that cannot write. What fn reads is of one
// moment. It ends early when ctx does.
func (s *Store) View(ctx context.Context, fn func(*Tx) error) (err error) {
	conn, err := s.readDB.Conn(ctx)
	if err != nil {
		return fail("view", err)
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "BEGIN"); err != nil {
		return fail("view", err)
	}
	// The connection goes back to the pool: it must not take the snapshot
	// along, also when fn panics or ctx has ended.
	defer func() { _, _ = conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK") }()
	return fn(&Tx{ctx: ctx, s: s, conn: conn})
}
