package store

import (
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// pgReadsAll lists the queries for which PostgreSQL may read a whole table. Each is only for the operator, reads a
// table with few rows, or stops after a few rows.
var pgReadsAll = slices.Concat(scansAll, strings.Fields(`
	sqlEndPrompts sqlEndSessions sqlNewest sqlSchema`))

// onFilesOnly lists the queries that only a restored file gets.
var onFilesOnly = []string{"sqlSetSequence", "sqlSequences", "sqlInsertSequence"}

var seqScan = regexp.MustCompile(`Seq Scan on (\w+)`)

// The server plans each query without sequential scans where it can. So a scan in a plan means that no index fits.
func TestEveryQueryIsValidOnAServer(t *testing.T) {
	serverOnly(t)
	s := open(t)
	queries, _ := readSource(t)
	for name, query := range queries {
		if slices.Contains(onFilesOnly, name) {
			continue
		}
		for _, writes := range []bool{false, true} {
			text := pgQuery(query, writes)
			plan := ""
			err := s.InTx(ctx, func(tx *Tx) error {
				plan = ""
				if err := tx.flush(); err != nil {
					return err
				}
				for _, first := range []string{"SET LOCAL enable_seqscan = off",
					"SET LOCAL plan_cache_mode = force_generic_plan", "PREPARE it AS " + text} {
					if _, err := tx.conn.ExecContext(ctx, first); err != nil {
						return err
					}
				}
				defer func() { _ = tx.do("DEALLOCATE it") }()
				call := "it"
				if n := len(nulls(query)); n > 0 {
					call += "(NULL" + strings.Repeat(", NULL", n-1) + ")"
				}
				return tx.each("EXPLAIN EXECUTE "+call, nil, func(row func(...any) error) error {
					var line string
					err := row(&line)
					plan += line + "\n"
					return err
				})
			})
			errorIf(t, err != nil, "%s: %v\n%s", name, err, text)
			for _, m := range seqScan.FindAllStringSubmatch(plan, -1) {
				errorIf(t, !slices.Contains(pgReadsAll, name), "%s reads the whole table %s:\n%s", name, m[1], plan)
			}
			if want := indexes[name]; want != nil {
				index, _, _ := strings.Cut(want[0], " ")
				errorIf(t, !strings.Contains(plan, index), "%s does not use %s:\n%s", name, index, plan)
			}
		}
	}
}

// The last schema has the same number on both databases: each change is a file of the same number for both.
func TestMigrationsGoTogether(t *testing.T) {
	newest := map[string]string{}
	for _, folder := range []string{"sqlite", "postgres"} {
		names, err := fs.Glob(migrationFiles, "migrations/"+folder+"/*.sql")
		ok(t, err)
		for _, name := range names {
			newest[folder] = max(newest[folder], path.Base(name))
		}
	}
	equal(t, newest["postgres"], newest["sqlite"], "the last migration")
}

func TestServerMigrationsGoDownAndUpAgain(t *testing.T) {
	serverOnly(t)
	s := openWithPlot(t, ana)
	p, err := newSchema().provider(s.server.db)
	ok(t, err)
	write(t, s, func(tx *Tx) error { return tx.StoreReply("local", "a", ana, []byte("seen"), noon) })
	write(t, s, remember("b"))
	ok(t, second(p.DownTo(ctx, 12)))
	ok(t, second(p.Up(ctx)))
	for key, want := range map[string]string{"a": "seen", "b": "b"} {
		reply, _ := lookUp(t, s, func(tx *Tx) ([]byte, bool, error) { return tx.StoredReply("local", key, ana, noon) })
		equal(t, string(reply), want, "the reply %s", key)
	}
	ok(t, second(p.DownTo(ctx, 0)))
	ok(t, second(p.Up(ctx)))
	wantRows(t, s, map[string]int64{"grower": 0})
}
