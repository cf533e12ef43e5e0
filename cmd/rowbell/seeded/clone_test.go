package seeded

import (
	"context"
	"database/sql"
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"rowbell/store"
)

// copied is a second service, which never fails. It has records of its own, which are made the same as those of the
// season each time it is used. It serves all seasons of a test, because what it knows beside its records must not matter.
type copied struct {
	*world
	rows *sql.Conn // of its file, with the file of the season as source
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
	c.world.open(c.note)
	c.test.Cleanup(c.close)
	c.db, err = sql.Open("sqlite3", "file:"+filepath.ToSlash(c.path())+"?_busy_timeout=5000&_synchronous=OFF")
	if err == nil {
		c.rows, err = c.db.Conn(context.Background())
	}
	return err
}

func (c *copied) close() {
	if err := errors.Join(c.service.Close(), c.rows.Close(), c.db.Close(), c.reader.close()); err != nil {
		c.test.Error(err)
	}
}

// take makes the records the same as those of the season, which is as it was last read.
func (c *copied) take(w *world) error {
	ctx := context.Background()
	if _, err := c.reader.contents(); err != nil {
		return err
	}
	if c.of != w {
		if c.of != nil {
			if _, err := c.rows.ExecContext(ctx, "DETACH source"); err != nil {
				return err
			}
		}
		if _, err := c.rows.ExecContext(ctx, "ATTACH ? AS source", w.path()); err != nil {
			return err
		}
		c.of = w
	}
	tables := []string{"sqlite_sequence"}
	for i, t := range w.reader.rows {
		if t.chance || t.text != c.reader.rows[i].text {
			tables = append(tables, t.table)
		}
	}
	var b strings.Builder
	b.WriteString("BEGIN IMMEDIATE;")
	for _, t := range tables {
		b.WriteString("DELETE FROM main." + t + "; INSERT INTO main." + t + " SELECT * FROM source." + t + ";")
	}
	b.WriteString("COMMIT")
	_, err := c.rows.ExecContext(ctx, b.String())
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
