package store

import (
	"encoding/json"
	"errors"

	"github.com/mattn/go-sqlite3"
)

// All that depends on the database stands in this file, in the connection
// (open.go) and in the migrations.

// idList is the right side of IN for a parameter made by ids. A query uses it
// as its first parameter.
const idList = "(SELECT value FROM json_each($1))"

// The first parameter as a value that the planner does not look at. SQLite 3.54
// asks of some conditions whether their parameter is 0 or 1, and then parses
// the statement anew each time that it is bound, which costs more than the
// query: see TestStatementsAreParsedOnce.
const (
	asID   = "CAST($1 AS BIGINT)"
	asText = "CAST($1 AS TEXT)"
)

// ids packs row ids into one parameter, so that a batch of any size is one
// prepared statement.
func ids(list []int64) string {
	b, _ := json.Marshal(list) // integers always encode
	return string(b)
}

// insert adds a row, unless it is there already, and returns its id. SQLite
// could return the id as a result of the query, from a table made for that one
// row: that took as long again as the insert.
func (tx *Tx) insert(query string, a ...any) (id int64, fresh bool, err error) {
	r, err := tx.conn.ExecContext(tx.ctx, query, a...)
	if err != nil {
		return 0, false, err
	}
	if n, err := r.RowsAffected(); err != nil || n == 0 {
		return 0, false, err
	}
	id, err = r.LastInsertId()
	return id, err == nil, err
}

// isNotDatabase reports that the file is something else or is damaged.
func isNotDatabase(err error) bool {
	var e sqlite3.Error
	return errors.As(err, &e) && (e.Code == sqlite3.ErrNotADB || e.Code == sqlite3.ErrCorrupt)
}

// Unavailable reports that the database could not take the work just now: it
// is locked by another process, its disk is full, failing or read-only. The
// same work may succeed later.
func Unavailable(err error) bool {
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return false
	}
	switch e.Code {
	case sqlite3.ErrBusy, sqlite3.ErrLocked, sqlite3.ErrFull, sqlite3.ErrIoErr, sqlite3.ErrReadonly, sqlite3.ErrCantOpen:
		return true
	}
	return false
}

// SQLite is the version of the SQLite library.
func SQLite() string {
	version, _, _ := sqlite3.Version()
	return version
}

// Advice says in words an operator can act on why the database did not take
// the work; "" for an error that is not the database's.
func Advice(err error) string {
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return ""
	}
	switch e.Code {
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

// resetBug reports that this version of the SQLite library may lose writes in
// WAL mode when two connections write or checkpoint at the same instant: 3.7.0
// to 3.51.2, except the corrected 3.44.6 and 3.50.7 and what followed them in
// their series (sqlite.org/wal.html, section 11). Versions are written as
// sqlite3_libversion_number does: 3.50.7 is 3050007.
func resetBug(version int) bool {
	series, release := version/1000, version%1000
	switch {
	case version < 3007000, version > 3051002:
		return false
	case series == 3044:
		return release < 6
	case series == 3050:
		return release < 7
	}
	return true
}
