package store

import (
	"cmp"
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"github.com/mattn/go-sqlite3"
)

// Options configure a store. The zero value suits a small computer.
type Options struct {
	ReadConns int        // number of connections for View; 0 means 4
	Random    io.Reader  // source of random move codes; nil means crypto/rand
	Retention *Retention // nil means DefaultRetention
	Serving   bool       // true for the service: Open fails if another service uses the file

	// If the file is missing or empty, Open fails if Existing is set, and creates the file otherwise. For the service
	// it creates the file only if nothing says that there were records (see Vanished), or if New is set.
	Existing, New bool
	Backups       func() []string // returns the backups of the records, the newest first; nil = none

	RescueFolders []string // folders for a copy of the records if their own folder is gone
	// OnDetached is called when the open database is no longer the file at its path, and with nil when it is that file
	// again. It must be short, and must not use the store. nil = nothing is called.
	OnDetached func(*DetachedError)

	// RoutePrefixes are the first digits of the phone numbers that certain networks serve, such as "+4477". If it is
	// nil, the prefixes of the last start are used.
	RoutePrefixes []string

	// Process names this process among those that share the records on a server. It should be the same after a restart.
	Process string

	// OnStatement is called with each statement of a transaction before it runs, so that tests can count them. It must
	// not use the store. nil = nothing is called.
	OnStatement func(query string)

	// Stopwatch returns the time since any fixed instant. It measures the slices of background work, so it must run
	// even if the clock of the service is moved by hand. nil: each step of background work is a slice of its own.
	Stopwatch func() time.Duration

	// RunTwice is for tests: each function that is passed to InTx or Background runs twice, and what the first run
	// wrote is rolled back. See InTx.
	RunTwice bool

	logAfter, logBound int64 // in place of the constants, for tests

	noLock   bool // take no file lock, because no other process knows the file
	unseeded bool // insert no first rows
	copying  bool // open also records that Copy has marked

	fileSchema int64 // of a new file; 0 means that of this program

	schema serverSchema // of a server, for tests; the zero value is that of this program
}

const (
	defaultReadConns = 4
	defaultProcess   = "rowbell"
)

// Store is an open database. Its methods may be called from any goroutine.
type Store struct {
	*fileDB           // the SQLite file; nil if the records are on a server
	server  *serverDB // the PostgreSQL database; nil if the records are in a file

	hashKey       []byte    // key of the hashes that are stored instead of phone numbers and codes
	random        io.Reader // source of random move codes
	keep          Retention
	places        placeCache
	marks         atomic.Uint64            // count of the calls of MarkWritable
	routePrefixes atomic.Pointer[[]string] // the longest prefix is first
	onStatement   func(string)             // nil = nothing is called
	process       string                   // Options.Process
	share         atomic.Pointer[share]    // nil: all growers
	runTwice      bool                     // see Options.RunTwice

	mu     sync.RWMutex // protects closed; read-locked while a write is given to the database, so that Close waits
	closed bool
}

// fileDB is the part of a Store that only a SQLite file has.
type fileDB struct {
	path          string
	lock          *fileLock
	writeDB       *sql.DB
	readDB        *sql.DB
	writer        *writer
	log           *checkpointer                 // nil if the store is not for the service
	files         *openFiles                    // nil if they are not watched
	detached      atomic.Pointer[DetachedError] // nil while the open database is the file at its path
	onDetached    func(*DetachedError)
	rescueFolders []string
	stopwatch     func() time.Duration // nil if there is none
	serving       bool                 // true for the service after checkGrowers has found no error
	drained       chan struct{}
}

// Open opens the records and migrates them to the current schema. The argument db is the path of a SQLite file, or the
// address of a PostgreSQL database (see OnServer). If there are no records, Open creates them with the place
// DefaultPlace. If Open must not use the database, it returns an *OpenError, which wraps one of the Err values.
func Open(ctx context.Context, db string, o Options) (*Store, error) {
	if o.Random == nil {
		o.Random = rand.Reader
	}
	s := &Store{random: o.Random, keep: DefaultRetention(), onStatement: o.OnStatement,
		runTwice: o.RunTwice,
		process:  cmp.Or(o.Process, defaultProcess)}
	if o.Retention != nil {
		s.keep = *o.Retention
	}
	s.routePrefixes.Store(new([]string))
	if OnServer(db) {
		return openServer(ctx, s, db, o)
	}
	return openDatabaseFile(ctx, s, db, o)
}

func openDatabaseFile(ctx context.Context, s *Store, path string, o Options) (*Store, error) {
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
	if o.OnDetached == nil {
		o.OnDetached = func(*DetachedError) {}
	}
	s.fileDB = &fileDB{path: full, drained: make(chan struct{}), onDetached: o.OnDetached,
		rescueFolders: o.RescueFolders, stopwatch: o.Stopwatch}
	vanished, err := o.checkMissing(ctx, full)
	if err != nil {
		return nil, err
	}
	if !o.noLock {
		if s.lock, err = lockForStore(ctx, full, o.Serving); err != nil {
			return nil, err
		}
	}
	if err = vanished; err == nil {
		err = createFile(full)
	}
	if err != nil {
		s.lock.release()
		return nil, err
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
	if s.log != nil {
		go s.log.run()
	}
	if o.Serving {
		if err := s.checkGrowers(ctx, o); err != nil {
			return nil, errors.Join(err, s.Close())
		}
	}
	return s, nil
}

// checkMissing returns an error if the file at path is missing or empty and must not be created. The caller returns err
// at once, but vanished only after it got the file lock: if another program has the lock, that is the better reason.
func (o Options) checkMissing(ctx context.Context, path string) (vanished, err error) {
	switch {
	case !missing(path):
		return nil, nil
	case o.Existing:
		return nil, &OpenError{Op: "open", Path: path, Err: ErrNoRecords, Try: "Give the file of the records with --db"}
	}
	vanished = o.vanished(ctx, path, Contents{})
	if real, err := realPath(path); err == nil {
		if _, err := os.Lstat(real + lockSuffix); err != nil {
			return nil, vanished // a new lock file would look like that of earlier records at the next start
		}
	}
	return vanished, nil
}

// vanished calls the function Vanished if the store is for the service and New is not set.
func (o Options) vanished(ctx context.Context, path string, c Contents) error {
	if !o.Serving || o.New {
		return nil
	}
	var backups []string
	if o.Backups != nil {
		backups = o.Backups()
	}
	return Vanished(ctx, path, c, backups)
}

// checkGrowers returns an error if there are no growers although there were some. Otherwise it writes down how many
// there are.
func (s *Store) checkGrowers(ctx context.Context, o Options) error {
	var c Contents
	err := s.View(ctx, func(tx *Tx) (err error) {
		c, err = tx.contents(c)
		return err
	})
	if err != nil {
		return fail("open", err)
	}
	if err := o.vanished(ctx, s.path, c); err != nil {
		return err
	}
	s.serving = true
	return s.NoteGrowers(ctx)
}

// prepare marks the file, migrates it, inserts the first rows, and opens the connections.
func (s *Store) prepare(ctx context.Context, o Options) error {
	refuse := func(op string, err error) error {
		return &OpenError{Op: op, Path: s.path, Err: err,
			Try: "Check that the file and its directory can be written, that the disk is not full, " +
				"and that no other program holds it"}
	}
	if _, err := s.writeDB.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d", applicationID)); err != nil {
		return refuse("open", err)
	}
	if err := migrateTo(ctx, s.writeDB, cmp.Or(o.fileSchema, Schema())); err != nil {
		return refuse("migrate", err)
	}
	var err error
	if s.writer, err = newWriter(ctx, s, s.writeDB); err != nil {
		return refuse("open", err)
	}
	first := newJob(ctx, func(tx *Tx) error { return s.firstRows(tx, o) })
	err = errors.Join(second(s.writer.group(&[]*job{first}, nil)), first.err)
	var told *OpenError
	switch {
	case errors.As(err, &told):
		return told
	case err != nil:
		return refuse("open", err)
	}
	if !o.noLock {
		if s.files, err = filesOf(s.path); err != nil {
			return refuse("open", err)
		}
	}
	if o.Serving {
		if err = s.files.watchContent(); err != nil {
			return refuse("open", err)
		}
	}
	if s.files != nil && s.files.index != nil {
		if _, err = s.writer.conn.ExecContext(ctx, "PRAGMA wal_autocheckpoint = 0"); err != nil {
			return refuse("open", err)
		}
		s.log = newCheckpointer(s, o)
	}
	s.readDB = openGuardedPool(s.path, readerDSN, hardening, o.ReadConns, s.files.check)
	if err := s.readDB.PingContext(ctx); err != nil {
		return refuse("open", err)
	}
	return nil
}

// firstRows inserts what the records need when they are first opened, unless they must not be opened.
func (s *Store) firstRows(tx *Tx, o Options) error {
	if err := tx.checkMarks(o); err != nil || o.unseeded {
		return err
	}
	if err := s.seed(tx); err != nil {
		return err
	}
	return s.setRoutePrefixes(tx, o.RoutePrefixes)
}

// seed inserts the default place and the hash key when the file is first opened.
func (s *Store) seed(tx *Tx) error {
	_, ok, err := tx.PlaceByName(DefaultPlace)
	if err == nil && !ok {
		_, err = tx.PutPlace(defaultPlace())
	}
	if err != nil {
		return err
	}
	key, ok, err := tx.meta(metaHashKey)
	if err == nil && !ok {
		key = make([]byte, 32)
		_, _ = rand.Read(key) // rand.Read never returns an error
		err = tx.setMeta(metaHashKey, key)
	}
	s.hashKey = key
	return err
}

// Name returns the path of the database file, or the address of the database without its password.
func (s *Store) Name() string {
	if s.server != nil {
		return s.server.name
	}
	return s.path
}

// Close waits until the jobs that were given to InTx are done, and then closes the file.
func (s *Store) Close() error {
	s.mu.Lock()
	was := s.closed
	s.closed = true
	s.mu.Unlock()
	switch {
	case was:
		return nil
	case s.server != nil:
		return s.server.close()
	}
	close(s.writer.jobs)
	<-s.drained
	s.log.close()
	if s.serving {
		_ = s.NoteGrowers(context.Background()) // an error only makes the check at the next start weaker
	}
	return s.closeFiles()
}

func (s *Store) closeFiles() error {
	if err := s.CheckFile(); err != nil && s.writer != nil {
		// The connections stay open until the program ends: closing the last one would remove the write-ahead log at
		// the path, which may belong to another file now.
		s.writer.rescueIfDetached(err, true)
		err = s.CheckFile()
		var e *DetachedError
		if errors.As(err, &e) && e.Overwritten {
			err = errors.Join(err, renameLog(s.files.real, "overwritten"))
		}
		return fail("close", err)
	}
	var errs []error
	if s.readDB != nil {
		errs = append(errs, s.readDB.Close())
	}
	if s.log != nil {
		errs = append(errs, s.log.db.Close())
	}
	if s.writer != nil {
		errs = append(errs, s.writer.close())
	}
	errs = append(errs, s.writeDB.Close(), s.files.close())
	s.lock.release()
	return fail("close", errors.Join(errs...))
}

// InTx runs fn in a write transaction, and returns when the writes of fn are on disk. If fn fails or panics, only the
// writes of fn are rolled back. In a file only one write runs at a time, so fn must be short, and must not call InTx or
// View. It must not use tx after it has returned.
//
// On a server, writes run at the same time, and fn runs again if the database gave it up in favour of another write. So
// fn must set what it changes outside of the database, and must not add to it. It must call Tx.Lock before it
// reads what belongs to a phone, unless it reads it by the methods Ledger, Session, Prompt or Exchange, which call it.
//
// If ctx ends before the write begins, InTx returns the error of ctx and nothing is done. After that, the write is
// finished even if ctx ends: a network that ends a call will repeat it, and the repeat must find the work done.
func (s *Store) InTx(ctx context.Context, fn func(*Tx) error) error {
	fn = s.twice(fn)
	if s.server != nil {
		return s.server.inTx(ctx, fn)
	}
	return s.do(ctx, newJob(ctx, fn))
}

// twice returns fn, or a function that runs fn twice if Options.RunTwice is set.
func (s *Store) twice(fn func(*Tx) error) func(*Tx) error {
	if !s.runTwice {
		return fn
	}
	return func(tx *Tx) error {
		if err := second(tx.exec("SAVEPOINT first")); err != nil {
			return err
		}
		undone := errors.New("the first run")
		unlock := tx.unlockIfUndone(&undone)
		first := recovered(func() error { return fn(tx) })
		if first == nil {
			first = tx.flush()
		}
		tx.forgetQueue()
		unlock()
		if err := errors.Join(second(tx.exec("ROLLBACK TO first")), second(tx.exec("RELEASE first"))); err != nil {
			return errors.Join(first, err)
		}
		return fn(tx)
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

// View runs fn on a connection that cannot write. All queries of fn see the records as of one instant.
func (s *Store) View(ctx context.Context, fn func(*Tx) error) error {
	if s.server != nil {
		return s.server.view(ctx, fn)
	}
	return inView(ctx, s.readDB, s, fn)
}

// inView runs fn in a read transaction. The store s is nil if the database was not opened as a Store.
func inView(ctx context.Context, db *sql.DB, s *Store, fn func(*Tx) error) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return fail("view", err)
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "BEGIN"); err != nil {
		return fail("view", err)
	}
	// The snapshot is released even if fn panics or ctx has ended.
	defer func() { _, _ = conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK") }()
	return fn(&Tx{ctx: ctx, s: s, conn: conn})
}
