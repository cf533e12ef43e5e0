package store

import (
	"fmt"
	"slices"
)

// neverReused lists the tables whose ids are never used twice, because idempotency keys that a network may remember
// contain them. On a server the other tables with an id have a sequence too.
var neverReused = []string{"grower", "plot", "message"}

const (
	sqlSequences = `SELECT name, seq FROM sqlite_sequence`
	pgIdentities = `SELECT table_name FROM information_schema.columns
	WHERE table_schema = current_schema() AND is_identity = 'YES' AND column_name = 'id' ORDER BY table_name`
)

// lastIDs returns the highest id that each table ever used; 0 if the table never had a row.
func (tx *Tx) lastIDs() (map[string]int64, error) {
	all := map[string]int64{}
	if tx.pg == nil {
		for _, name := range neverReused {
			all[name] = 0 // SQLite has no sequence of a table that never had a row
		}
		err := tx.each(sqlSequences, nil, func(scan func(...any) error) error {
			var name string
			var last int64
			err := scan(&name, &last)
			if slices.Contains(neverReused, name) {
				all[name] = last
			}
			return err
		})
		return all, fail("last ids", err)
	}
	names, err := column[string](tx, pgIdentities, nil)
	for _, name := range names {
		if err != nil {
			break
		}
		var last int64
		_, err = tx.one(fmt.Sprintf("SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM %s_id_seq", name), nil,
			&last)
		all[name] = last
	}
	return all, fail("last ids", err)
}

const (
	sqlSetSequence    = `UPDATE sqlite_sequence SET seq = $1 WHERE name = $2`
	sqlInsertSequence = `INSERT INTO sqlite_sequence (name, seq) VALUES ($1, $2)`
	pgSetSequence     = `SELECT setval(pg_get_serial_sequence($1, 'id'), $2)`
)

// setLastIDs makes new ids continue after these, and after those of the rows.
func (tx *Tx) setLastIDs(want map[string]int64) error {
	have, err := tx.lastIDs()
	if err != nil {
		return err
	}
	for name, last := range have {
		var highest int64
		if _, err := tx.one("SELECT coalesce(max(id), 0) FROM "+name, nil, &highest); err != nil {
			return fail("last ids", err)
		}
		next := max(last, highest, want[name])
		switch {
		case next == last:
		case tx.pg != nil:
			_, err = tx.one(pgSetSequence, args(name, next), &next)
		default:
			var n int64
			if n, err = tx.exec(sqlSetSequence, next, name); err == nil && n == 0 {
				err = tx.do(sqlInsertSequence, name, next)
			}
		}
		if err != nil {
			return fail("last ids", err)
		}
	}
	return nil
}

// behind returns a table whose next id was used before in the records that had these last ids; "" without one.
func behind(was, now map[string]int64) string {
	for _, name := range neverReused {
		if now[name] < was[name] {
			return name
		}
	}
	return ""
}
