package seeded

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// clone copies the records as they are now, and returns what they contain after do, which uses a service on the copy
// that never fails. The start of that service ends claims, so that of the season starts first if there are any.
func (w *world) clone(do func(*world)) (contents string) {
	if strings.Contains(w.contents(), " claimed ") {
		w.serviceRestarts()
	}
	folder, err := os.MkdirTemp(w.folder, "clone-")
	w.must(err)
	defer os.RemoveAll(folder)
	c := &world{t: w.t, folder: folder, clock: w.clock, conf: w.conf, profiles: w.profiles}
	for _, end := range []string{"", "-wal"} {
		octets, err := os.ReadFile(w.db() + end)
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		w.must(err)
		w.must(os.WriteFile(c.db()+end, octets, 0o600))
	}
	c.conf.DB = c.db()
	c.service = c.start(c.conf, nil)
	do(c)
	w.must(c.service.Close())
	return c.contents()
}

// left are tables that are not compared: they say when the service worked, or keep a receipt until its text is known.
var left = []string{"meta", "process", "early_receipt"}

// byChance is the part of the key of an answer that is drawn anew each time.
var byChance = regexp.MustCompile(`\b[0-9a-f]{24}\b`)

// open opens the file of the records for reading.
func (w *world) open() *sql.DB {
	db, err := sql.Open("sqlite3", "file:"+filepath.ToSlash(w.db())+"?mode=ro")
	w.must(err)
	return db
}

// contents returns all rows of the records.
func (w *world) contents() string {
	db := w.open()
	defer db.Close()
	tables, err := db.Query(`SELECT name FROM sqlite_schema WHERE type = 'table'
		AND name NOT LIKE 'sqlite_%' ORDER BY name`)
	w.must(err)
	var names []string
	for tables.Next() {
		var name string
		w.must(tables.Scan(&name))
		names = append(names, name)
	}
	w.must(errors.Join(tables.Err(), tables.Close()))
	var b strings.Builder
	for _, name := range names {
		if !slices.Contains(left, name) {
			w.rows(&b, db, name)
		}
	}
	return byChance.ReplaceAllString(b.String(), "?")
}

// rows writes the rows of a table in their order.
func (w *world) rows(b *strings.Builder, db *sql.DB, table string) {
	rows, err := db.Query(`SELECT * FROM "` + table + `"`)
	w.must(err)
	defer rows.Close()
	columns, err := rows.Columns()
	w.must(err)
	values := make([]any, len(columns))
	into := make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	for rows.Next() {
		w.must(rows.Scan(into...))
		fmt.Fprintf(b, "%s %v\n", table, values)
	}
	w.must(rows.Err())
}

// differences returns the lines that only one of two contents has.
func differences(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	var out []string
	for _, line := range a {
		if !slices.Contains(b, line) {
			out = append(out, "has   "+line)
		}
	}
	for _, line := range b {
		if !slices.Contains(a, line) {
			out = append(out, "lacks "+line)
		}
	}
	return strings.Join(out, "\n")
}
