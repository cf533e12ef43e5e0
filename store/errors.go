package store

import (
	"errors"
	"fmt"
)

// Why a database is refused. Each comes wrapped in an *OpenError.
var (
	ErrNoDirectory = errors.New("the directory does not exist")
	ErrNotDatabase = errors.New("the file is not a SQLite database, or is damaged")
	ErrForeign     = errors.New("the database belongs to another program")
	ErrNewer       = errors.New("the database was written by a newer version of this program")
	ErrDamaged     = errors.New("the file is damaged")
	ErrInUse       = errors.New("another program works on it")
	ErrLibrary     = errors.New("this version of the SQLite library can lose writes (fixed in 3.51.3, 3.50.7 and 3.44.6)")
)

// What a ledger refuses.
var (
	ErrUnknown = errors.New("store: no records for this phone")
	ErrTaken   = errors.New("store: this phone has records already")
	ErrLinked  = errors.New("store: these records have a number")
	ErrNoPlot  = errors.New("store: no open plot with this number")
	ErrNoPass  = errors.New("store: no pass logged on this plot")
	ErrFull    = errors.New("store: nine plots are open already")
	ErrTrial   = errors.New("store: a trial is running already")
	ErrNoTrial = errors.New("store: no trial is running")
)

// ErrNoPlace is returned for the name or id of a place that is not there.
var ErrNoPlace = errors.New("store: there is no such place")

// ErrClosed is returned for work handed in after Close.
var ErrClosed = errors.New("store: closed")

// OpenError says what could not be done with the database file, why, and what
// to try.
type OpenError struct {
	Op   string // what was being done: "open", "migrate", "back up", "restore"
	Path string
	Err  error
	Try  string
}

func (e *OpenError) Error() string {
	s := fmt.Sprintf("%s database %s: %v", e.Op, e.Path, e.Err)
	if e.Try != "" {
		s += ". " + e.Try
	}
	return s
}

func (e *OpenError) Unwrap() error { return e.Err }

// PanicError is a panic in a function given to InTx. Nothing of that function
// was kept; other writes are not touched.
type PanicError struct {
	Value any
	Stack []byte
}

func (e *PanicError) Error() string { return fmt.Sprintf("store: a write panicked: %v", e.Value) }
