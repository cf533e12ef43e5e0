package store

import (
	"errors"
	"fmt"
	"slices"
	"syscall"

	"github.com/mattn/go-sqlite3"

	"rowbell/engine"
)

// These errors are reasons to refuse a database file. They are wrapped in an *OpenError.
var (
	ErrNoDirectory = errors.New("the directory does not exist")
	ErrNotDatabase = errors.New("the file is not a SQLite database, or is damaged")
	ErrForeign     = errors.New("the database belongs to another program")
	ErrNewer       = errors.New("the database was written by a newer version of this program")
	ErrDamaged     = errors.New("the file is damaged")
	ErrInUse       = errors.New("another program works on it")
	ErrLibrary     = errors.New("this version of the SQLite library is too old: it must be 3.51.3 or later")
)

// These errors are reasons to refuse a change to a grower's records.
var (
	ErrUnknown    = errors.New("store: no records for this phone")
	ErrTaken      = errors.New("store: this phone has records already")
	ErrLinked     = errors.New("store: these records have a number")
	ErrNoPlot     = engine.ErrNoPlot
	ErrNoPass     = errors.New("store: no pass logged on this plot")
	ErrNoSighting = errors.New("store: no such sighting on this plot")
	ErrFull       = errors.New("store: nine plots are open already")
	ErrTrial      = errors.New("store: a trial is running already")
	ErrNoTrial    = errors.New("store: no trial is running")
)

// ErrNoPlace is returned if no place has the given name or id.
var ErrNoPlace = errors.New("store: there is no such place")

// ErrClosed is returned by InTx after the store was closed.
var ErrClosed = errors.New("store: closed")

// OpenError says which operation on the database file failed, why, and what the operator may try.
type OpenError struct {
	Op   string // "open", "migrate", "check", "write", "back up", "compact" or "restore"
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

// PanicError is a panic in a function given to InTx. The writes of that function were rolled back. Other writes
// are not affected.
type PanicError struct {
	Value any
	Stack []byte
}

func (e *PanicError) Error() string { return fmt.Sprintf("store: a write panicked: %v", e.Value) }

// code returns the SQLite code of an error, or 0 if the error does not come from SQLite.
func code(err error) sqlite3.ErrNo {
	var e sqlite3.Error
	errors.As(err, &e)
	return e.Code
}

// isNotDatabase reports whether the error means that the file is not a SQLite database, or is damaged.
func isNotDatabase(err error) bool {
	return code(err) == sqlite3.ErrNotADB || code(err) == sqlite3.ErrCorrupt
}

// damagedFile returns err as a reason to refuse the file at path, if it means that the file is damaged.
func damagedFile(path string, err error) error {
	if !isNotDatabase(err) {
		return err
	}
	return &OpenError{Op: "open", Path: path, Err: fmt.Errorf("%w (%w)", ErrDamaged, err),
		Try: "Put back a backup with rowbell restore"}
}

func isBusy(err error) bool { return code(err) == sqlite3.ErrBusy || code(err) == sqlite3.ErrLocked }

// noRoom reports whether the error means that the disk is full.
func noRoom(err error) bool { return errors.Is(err, syscall.ENOSPC) || code(err) == sqlite3.ErrFull }

// Unavailable reports whether the error is temporary: the database is locked by another process, the disk is full
// or fails, the file is read-only, or it was removed or replaced, or the server cannot be reached. The same work may
// succeed later.
func Unavailable(err error) bool {
	var detached *DetachedError
	return errors.As(err, &detached) || serverUnavailable(err) ||
		slices.Contains([]sqlite3.ErrNo{sqlite3.ErrBusy, sqlite3.ErrLocked,
			sqlite3.ErrFull, sqlite3.ErrIoErr, sqlite3.ErrReadonly, sqlite3.ErrCantOpen}, code(err))
}

// Advice tells an operator what to do about a database error. It returns "" for any other error.
func Advice(err error) string {
	var detached *DetachedError
	if errors.As(err, &detached) {
		return detachedAdvice
	}
	switch code(err) {
	case 0:
		return serverAdvice(err)
	case sqlite3.ErrFull:
		return "the disk is full: make room on it"
	case sqlite3.ErrIoErr:
		return "the disk fails, or does not let the file grow: look at the disk and at limits on file sizes"
	case sqlite3.ErrReadonly:
		return "the file cannot be written: look at its owner and rights, and at how its disk is mounted"
	case sqlite3.ErrCantOpen:
		return "the file cannot be opened: look at its folder, at its owner and rights, and at limits on open files"
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		return "another program holds the records: end it"
	case sqlite3.ErrCorrupt, sqlite3.ErrNotADB:
		return "the file is damaged: stop the service and put back a backup"
	}
	return "the database refuses the work"
}
