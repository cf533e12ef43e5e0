package store

import (
	"encoding/json"
	"fmt"

	"github.com/mattn/go-sqlite3"
)

// Code that depends on SQLite is in this file, in connection.go and in the migrations.

// idList follows IN in a query whose first parameter is a list of row ids, packed by the function ids.
const idList = "(SELECT value FROM json_each($1))"

// asID and asText are a query's first parameter, with a cast that hides the value from SQLite's planner.
// Without the cast SQLite 3.54 chooses the plan of some conditions by whether the parameter is 0 or 1, and
// parses the statement again for each new value, which costs more than the query: see
// TestStatementsAreParsedOnce.
const (
	asID   = "CAST($1 AS BIGINT)"
	asText = "CAST($1 AS TEXT)"
)

// ids packs row ids into one parameter, so that a batch of any size uses one prepared statement.
func ids(list []int64) string {
	b, _ := json.Marshal(list) // integers always encode
	return string(b)
}

// insert adds a row unless it exists, and returns its id; fresh is false if it existed. RETURNING would
// take twice as long: SQLite builds a table for its one row.
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

// SQLite returns the version of the SQLite library.
func SQLite() string {
	version, _, _ := sqlite3.Version()
	return version
}

// resetBug reports whether this version of the SQLite library may lose writes in WAL mode when two
// connections write or checkpoint at once: 3.7.0 to 3.51.2, except 3.44.6 and 3.50.7 and later releases
// of those two series (sqlite.org/wal.html, section 11). version is as in sqlite3_libversion_number:
// 3050007 is 3.50.7.
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

// checkLibrary refuses a SQLite library that may lose writes.
func checkLibrary(path, version string, number int) error {
	if !resetBug(number) {
		return nil
	}
	return &OpenError{Op: "open", Path: path, Err: fmt.Errorf("SQLite %s: %w", version, ErrLibrary),
		Try: "Build without the tag libsqlite3, or install a newer SQLite library"}
}
