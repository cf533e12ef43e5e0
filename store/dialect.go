package store

import (
	"encoding/json"
	"fmt"

	"github.com/mattn/go-sqlite3"
)

// The queries of this package are written for SQLite. Those that PostgreSQL does not understand, or that must lock rows
// there, have another form in postgres_dialect.go.

// idList follows IN in a query whose first parameter is a list of row ids. The function ids packs the list into
// that one parameter.
const idList = "(SELECT value FROM jsonb_each($1))"

// asID and asText are SQL expressions for the first parameter of a query. Their cast hides its value from SQLite's
// query planner. Otherwise SQLite 3.54 parses a statement again whenever it runs, because its plan may depend on the
// value: a column that equals 0 or 1, or the number after LIMIT. Parsing costs more than the query: see
// TestStatementsAreParsedOnce. Other parameters in these places are cast for the same reason.
const (
	asID   = "CAST($1 AS BIGINT)"
	asText = "CAST($1 AS TEXT)"
)

// ids packs row ids into one parameter, so that one prepared statement works for a list of any length.
func ids(list []int64) string {
	if len(list) == 0 {
		return "[]" // nil would be null, which is not a list for a server
	}
	b, _ := json.Marshal(list) // a list of integers can always be encoded
	return string(b)
}

// insert adds a row unless the row exists, and returns the row's id. The result fresh is false if the row existed
// before. A RETURNING clause would take twice as long, because SQLite builds a table for it.
func (tx *Tx) insert(query string, a ...any) (id int64, fresh bool, err error) {
	if tx.pg != nil {
		fresh, err = tx.one(query+" RETURNING id", a, &id)
		return id, fresh, err
	}
	tx.note(query)
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

// oldestLibrary is 3.51.3. Most earlier versions may lose writes in WAL mode when two connections write or checkpoint
// at the same time (sqlite.org/wal.html, section 11), and all before 3.51.0 lack jsonb_each (sqlite.org/json1.html).
const oldestLibrary = 3051003

// checkLibrary returns an error if this version of the SQLite library is too old.
func checkLibrary(path, version string, number int) error {
	if number >= oldestLibrary {
		return nil
	}
	return &OpenError{Op: "open", Path: path, Err: fmt.Errorf("SQLite %s: %w", version, ErrLibrary),
		Try: "Build without the tag libsqlite3, or install a newer SQLite library"}
}
