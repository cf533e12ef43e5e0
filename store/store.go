package store

import (
	"cmp"
	"context"
	"crypto/rand"
	"database/sql"
	"io"
	"sync"
	"sync/atomic"
	"time"
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

	// OnLostWrites is called when the service opens records whose write-ahead log is damaged, with how many
	// acknowledged writes are lost with it. nil = nothing is called.
	OnLostWrites func(writes int)

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

	// Fault is for tests: it is called at each Point of a transaction, which fails with the error that it returns.
	// nil = nothing is called.
	Fault func(Point) error

	logAfter, logBound int64 // pages, in place of the constants, for tests

	noLock   bool // take no file lock, because no other process knows the file
	unseeded bool // insert no first rows
	copying  bool // open also records that Copy has marked

	fileSchema int64 // of a new file; 0 means that of this program

	schema serverSchema // of a server, for tests; the zero value is that of this program
}

// Point is an instant of a transaction at which tests have it fail.
type Point uint8

const (
	AtView    Point = iota + 1 // before a transaction that only reads
	AtBegin                    // before a transaction that writes
	AtCommit                   // before its commit: nothing is written
	Committed                  // after its commit: all is written, but the caller is told of a failure
)

// failAt returns the error with which a test has a transaction fail at a point; nil: it goes on.
func (s *Store) failAt(p Point) error {
	if s == nil || s.fault == nil {
		return nil
	}
	return s.fault(p)
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
	fault         func(Point) error        // see Options.Fault

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
	checkpointer  *checkpointer                 // nil if the store is not for the service
	files         *openFiles                    // nil if they are not watched
	detached      atomic.Pointer[DetachedError] // nil while the open database is the file at its path
	onDetached    func(*DetachedError)
	rescueFolders []string
	stopwatch     func() time.Duration // nil if there is none
	changes       atomic.Int64         // how often something was written that DueGrowers reads; see Rounds
	serving       bool                 // true for the service after checkGrowers has found no error
	writerEnded   chan struct{}        // closed when the writer has ended
}

// Open opens the records and migrates them to the current schema. The argument db is the path of a SQLite file, or the
// address of a PostgreSQL database (see OnServer). If there are no records, Open creates them with the place
// DefaultPlace. If Open must not use the database, it returns an *OpenError, which wraps one of the Err values.
func Open(ctx context.Context, db string, o Options) (*Store, error) {
	if o.Random == nil {
		o.Random = rand.Reader
	}
	s := &Store{random: o.Random, keep: DefaultRetention(), onStatement: o.OnStatement, runTwice: o.RunTwice,
		fault: o.Fault, process: cmp.Or(o.Process, defaultProcess)}
	if o.Retention != nil {
		s.keep = *o.Retention
	}
	s.routePrefixes.Store(new([]string))
	if OnServer(db) {
		return openServer(ctx, s, db, o)
	}
	return openDatabaseFile(ctx, s, db, o)
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

// Close waits until the jobs that were given to InTx are done, and then closes the database.
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
	<-s.writerEnded
	s.checkpointer.close()
	if s.serving {
		_ = s.NoteGrowers(context.Background()) // an error only makes the check at the next start weaker
	}
	return s.closeFiles()
}
