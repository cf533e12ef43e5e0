package store

import (
	"encoding/json"
	"fmt"

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

// SQLite is the version of the SQLite library.
func SQLite() string {
	version, _, _ := sqlite3.Version()
	return version
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

// checkLibrary refuses a SQLite library that can lose writes.
func checkLibrary(path, version string, number int) error {
	if !resetBug(number) {
		return nil
	}
	return &OpenError{Op: "open", Path: path, Err: fmt.Errorf("SQLite %s: %w", version, ErrLibrary),
		Try: "Build without the tag libsqlite3, or install a newer SQLite library"}
}
