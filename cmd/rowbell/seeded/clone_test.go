package seeded

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"rowbell/store"
	"rowbell/store/testrun"
)

// copied is a second service, which never fails. It has records of its own, which are made the same as those of the
// season each time it is used. In a file it serves all seasons of a test, because what it knows beside its records must
// not matter.
type copied struct {
	*world
	rows *sql.Conn // of its records; a file of the season is attached as source
	db   *sql.DB
	of   *world // whose file is the source
}

// clone copies the records as they are now, and returns what they contain after do, which uses a service on the copy
// that never fails, and the points that the records passed in do. A start ends claims; the service of the copy does
// not start again, so no claim may be left to it.
func (w *world) clone(do func(*world)) (contents string, passed []store.Point) {
	if strings.Contains(w.contents(), " claimed ") {
		w.serviceRestarts()
	}
	c := w.kit.copied
	if testrun.OnServer() && c.of != w {
		c.close()
	}
	if c.world == nil {
		w.must(c.begin(w))
	}
	c.t = w.t
	w.must(c.take(w))
	c.passed = nil
	do(c.world)
	return c.contents(), slices.Clone(c.passed)
}

func (c *copied) begin(w *world) (err error) {
	c.world = &world{t: w.t, kit: w.kit, folder: w.test.TempDir()}
	if testrun.OnServer() {
		c.conf.DB, c.of = ofCopy(w.conf.DB), w
		c.service, c.reader = c.start(c.conf, c.note), newReader(c.conf.DB)
		c.db, err = sql.Open("pgx", c.conf.DB)
	} else {
		c.open(c.note)
		c.db, err = sql.Open("sqlite3", "file:"+filepath.ToSlash(c.path())+"?_busy_timeout=5000&_synchronous=OFF")
	}
	c.test.Cleanup(c.close)
	if err == nil {
		c.rows, err = c.db.Conn(context.Background())
	}
	return err
}

func (c *copied) close() {
	if c.world == nil {
		return
	}
	if err := errors.Join(c.service.Close(), c.rows.Close(), c.db.Close(), c.reader.close()); err != nil {
		c.test.Error(err)
	}
	c.world, c.of = nil, nil
}

// take makes the records the same as those of the season, which is as it was last read.
func (c *copied) take(w *world) error {
	if _, err := c.reader.contents(); err != nil {
		return err
	}
	var tables []string
	for i, t := range w.reader.rows {
		if t.chance || t.text != c.reader.rows[i].text {
			tables = append(tables, t.table)
		}
	}
	if !testrun.OnServer() {
		tables = append(tables, "sqlite_sequence")
		if err := c.attach(w); err != nil {
			return err
		}
		return c.replace(tables, "BEGIN IMMEDIATE;", "main", "source", "")
	}
	w.setSequences(copySchema, w.sequences())
	// No row is checked against rows of other tables.
	return c.replace(tables, "BEGIN; SET LOCAL session_replication_role = replica;", copySchema, "public",
		"OVERRIDING SYSTEM VALUE")
}

// replace replaces all rows of some tables.
func (c *copied) replace(tables []string, begin, to, from, how string) error {
	var b strings.Builder
	b.WriteString(begin)
	for _, t := range tables {
		fmt.Fprintf(&b, "DELETE FROM %s.%s; INSERT INTO %s.%s %s SELECT * FROM %s.%s;", to, t, to, t, how, from, t)
	}
	b.WriteString("COMMIT")
	_, err := c.rows.ExecContext(context.Background(), b.String())
	return err
}

// attach makes the file of a season the source.
func (c *copied) attach(w *world) error {
	if c.of == w {
		return nil
	}
	if c.of != nil {
		if _, err := c.rows.ExecContext(context.Background(), "DETACH source"); err != nil {
			return err
		}
	}
	c.of = w
	_, err := c.rows.ExecContext(context.Background(), "ATTACH ? AS source", w.path())
	return err
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
