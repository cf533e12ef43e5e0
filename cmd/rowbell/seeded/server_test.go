package seeded

import (
	"context"
	"database/sql"
	"fmt"
	"net/url"
	"strings"

	"rowbell/store"
	"rowbell/store/testrun"
)

// On a server the copy is a schema in the database of the season: one database for each season, from a template that
// has both schemas.

const copySchema = "copied"

// ofCopy returns the address of the copy in the database of a season.
func ofCopy(address string) string {
	u, err := url.Parse(address)
	if err != nil {
		panic(err)
	}
	u.RawQuery = "search_path=" + copySchema
	return u.String()
}

func migrate(address string) error {
	s, err := store.Open(context.Background(), address, store.Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

// migrateServer makes both schemas. They have the same secret, with which the records hash.
func migrateServer(address string) error {
	if err := migrate(address); err != nil {
		return err
	}
	db, err := sql.Open("pgx", address)
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.Exec("CREATE SCHEMA " + copySchema); err != nil {
		return err
	}
	if err := migrate(ofCopy(address)); err != nil {
		return err
	}
	to := copySchema + ".meta"
	_, err = db.Exec("DELETE FROM " + to + "; INSERT INTO " + to + " SELECT * FROM public.meta")
	return err
}

// sequence gives the ids of a table. On a server, what is rolled back has used ids up; to compare rows with those of a
// copy, the season takes them back.
type sequence struct {
	name   string
	last   int64
	called bool
}

// sequences returns those of the season; none of a file, where a rollback takes them back.
func (w *world) sequences() (list []sequence) {
	if !testrun.OnServer() {
		return nil
	}
	var parts []string
	for _, t := range w.reader.ids {
		name := t + "_id_seq"
		parts = append(parts, fmt.Sprintf("SELECT '%s', last_value, is_called FROM %s", name, name))
	}
	rows, err := w.reader.db.Query(strings.Join(parts, " UNION ALL "))
	w.must(err)
	defer rows.Close()
	for rows.Next() {
		var s sequence
		w.must(rows.Scan(&s.name, &s.last, &s.called))
		list = append(list, s)
	}
	w.must(rows.Err())
	return list
}

// setSequences sets them again, in the season or, with its schema, in the copy.
func (w *world) setSequences(schema string, list []sequence) {
	var parts []string
	for _, s := range list {
		parts = append(parts, fmt.Sprintf("setval('%s.%s', %d, %v)", schema, s.name, s.last, s.called))
	}
	if len(parts) > 0 {
		_, err := w.reader.db.Exec("SELECT " + strings.Join(parts, ", "))
		w.must(err)
	}
}
