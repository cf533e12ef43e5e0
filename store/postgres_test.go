package store

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// pgReadsAll lists the queries for which PostgreSQL may read a whole table. Each is only for the operator, reads a
// table with few rows, or stops after a few rows.
var pgReadsAll = slices.Concat(scansAll, strings.Fields(`
	sqlEndPrompts sqlEndSessions`))

// onFilesOnly lists the queries that only a restored file gets.
var onFilesOnly = []string{"sqlSetSequence", "sqlFormerSequence"}

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
