package seeded

import (
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"rowbell/store/testrun"
)

// left are tables that are not compared: they say when the service worked, or keep a receipt until its text is known.
var left = []string{"meta", "process", "early_receipt"}

// reader reads all rows of the records, beside the service, on a connection of its own that stays open.
type reader struct {
	db      *sql.DB
	rows    []*tableRows // nil: not prepared yet
	version int64        // of the records when text was read: it counts the commits of other connections
	text    string
	ids     []string // tables with a sequence of ids, only on a server
}

// tableRows selects all rows of a table.
type tableRows struct {
	table  string
	text   string
	chance bool // the text leaves out something that was drawn anew
	all    *sql.Stmt
	values []any
	into   []any
}

func newReader(address string) *reader {
	driver := "pgx"
	if !testrun.OnServer() {
		driver, address = "sqlite3", "file:"+filepath.ToSlash(address)+"?mode=ro"
	}
	db, err := sql.Open(driver, address)
	if err != nil {
		panic(err) // it opens nothing yet
	}
	db.SetMaxOpenConns(1)
	return &reader{db: db}
}

func (r *reader) close() error { return r.db.Close() }

// contents returns all rows of the records.
func (w *world) contents() string {
	text, err := w.reader.contents()
	w.must(err)
	return text
}

func (r *reader) contents() (string, error) {
	if r.rows == nil {
		if err := r.prepare(); err != nil {
			return "", err
		}
	}
	version, err := r.now()
	if err != nil || version == r.version {
		return r.text, err
	}
	var b strings.Builder
	for _, t := range r.rows {
		if err := t.read(); err != nil {
			return "", err
		}
		if !slices.Contains(left, t.table) {
			b.WriteString(t.text)
		}
	}
	r.version, r.text = version, b.String()
	return r.text, nil
}

// now returns the present version: see reader.version.
func (r *reader) now() (version int64, err error) {
	count := "PRAGMA data_version"
	if testrun.OnServer() {
		count = "SELECT txid_snapshot_xmax(txid_current_snapshot())"
	}
	err = r.db.QueryRow(count).Scan(&version)
	return version, err
}

func (r *reader) prepare() error {
	names, err := r.tables()
	for _, name := range names {
		t := &tableRows{table: name}
		if t.all, err = r.db.Prepare(`SELECT * FROM "` + name + `"`); err != nil {
			return err
		}
		r.rows = append(r.rows, t)
	}
	return err
}

func (r *reader) tables() (names []string, err error) {
	query := `SELECT name, false FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name`
	if testrun.OnServer() {
		query = `SELECT t.table_name, EXISTS (SELECT 1 FROM information_schema.columns c
				WHERE c.table_schema = t.table_schema AND c.table_name = t.table_name AND c.column_name = 'id'
					AND c.is_identity = 'YES')
			FROM information_schema.tables t WHERE t.table_schema = current_schema() ORDER BY t.table_name`
	}
	tables, err := r.db.Query(query)
	if err != nil {
		return nil, err
	}
	for tables.Next() {
		var name string
		var counted bool
		if err := tables.Scan(&name, &counted); err != nil {
			return nil, err
		}
		if names = append(names, name); counted {
			r.ids = append(r.ids, name)
		}
	}
	return names, errors.Join(tables.Err(), tables.Close())
}

// read reads the rows in their order, one a line.
func (t *tableRows) read() error {
	rows, err := t.all.Query()
	if err != nil {
		return err
	}
	b := make([]byte, 0, len(t.text)+512)
	t.chance = false
	defer rows.Close()
	for rows.Next() {
		if t.into == nil {
			columns, err := rows.Columns()
			if err != nil {
				return err
			}
			t.values, t.into = make([]any, len(columns)), make([]any, len(columns))
			for i := range t.values {
				t.into[i] = &t.values[i]
			}
		}
		if err := rows.Scan(t.into...); err != nil {
			return err
		}
		b = append(b, t.table...)
		for _, v := range t.values {
			b = t.append(append(b, ' '), v)
		}
		b = append(b, '\n')
	}
	t.text = string(b)
	if testrun.OnServer() { // its rows are in no order
		lines := strings.SplitAfter(t.text, "\n")
		slices.Sort(lines)
		t.text = strings.Join(lines, "")
	}
	return rows.Err()
}

func (t *tableRows) append(b []byte, v any) []byte {
	switch v := v.(type) {
	case int64:
		return strconv.AppendInt(b, v, 10)
	case string:
		return t.appendString(b, v)
	case []byte:
		return hex.AppendEncode(b, v)
	default:
		return fmt.Append(b, v)
	}
}

// byChance is the length of the part of the key of an answer that is drawn anew each time: so many digits of base 16.
const byChance = 24

// appendString appends a value, with a question mark in place of what is drawn anew each time.
func (t *tableRows) appendString(b []byte, s string) []byte {
	from := 0 // of the word at i
	for i := 0; i <= len(s); i++ {
		if i < len(s) && (s[i] >= '0' && s[i] <= '9' || s[i] >= 'a' && s[i] <= 'f') {
			continue
		}
		if i-from == byChance {
			b, t.chance = append(b, '?'), true
		} else {
			b = append(b, s[from:i]...)
		}
		if i < len(s) {
			b = append(b, s[i])
		}
		from = i + 1
	}
	return b
}
