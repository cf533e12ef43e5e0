package store

import (
	"go/ast"
	"go/constant"
	"go/parser"
	"go/token"
	"go/types"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/mattn/go-sqlite3"
)

// readSource returns the package's queries, which are the string constants whose names begin with sql. The result
// loose contains all string literals of the package that are not in a constant.
func readSource(t *testing.T) (queries map[string]string, loose []string) {
	t.Helper()
	set := token.NewFileSet()
	var files []*ast.File
	names, err := filepath.Glob("*.go")
	ok(t, err)
	for _, name := range names {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(set, name, nil, 0)
		ok(t, err)
		files = append(files, file)
		ast.Inspect(file, func(n ast.Node) bool {
			if lit, is := n.(*ast.BasicLit); is && lit.Kind == token.STRING {
				s, _ := strconv.Unquote(lit.Value)
				loose = append(loose, s)
			}
			decl, is := n.(*ast.GenDecl)
			return !is || decl.Tok != token.CONST
		})
	}
	// The imports are not found, so there are errors. The queries are still computed, because they need no import.
	pkg, _ := (&types.Config{Error: func(error) {}}).Check("store", set, files, nil)
	queries = map[string]string{}
	for _, name := range pkg.Scope().Names() {
		if c, is := pkg.Scope().Lookup(name).(*types.Const); is && strings.HasPrefix(name, "sql") {
			queries[name] = constant.StringVal(c.Val())
		}
	}
	fatalIf(t, len(queries) < 50, "found only %d queries", len(queries))
	return queries, loose
}

var placeholder = regexp.MustCompile(`\$(\d+)`)

// inOrder returns the first placeholder that is not in the order $1, $2, $3, and false. SQLite binds values in the
// order of first use and takes $2 only as a name.
func inOrder(query string) (bad string, ok bool) {
	next := 1
	for _, m := range placeholder.FindAllStringSubmatch(query, -1) {
		n, _ := strconv.Atoi(m[1])
		if n > next {
			return m[0], false
		}
		if n == next {
			next++
		}
	}
	return "", true
}

func TestInOrder(t *testing.T) {
	for query, want := range map[string]bool{
		"": true, "a = $1": true, "$1 $2 $1 $3": true, "$1 $1 $2": true,
		"$2 $1": false, "a = $2": false, "$1 $3 $2": false, "$1 $2 $3 $4 $5 $6 $7 $8 $9 $11 $10": false,
	} {
		_, ok := inOrder(query)
		errorIf(t, ok != want, "inOrder(%q) = %v", query, ok)
	}
}

func TestPlaceholdersAreInOrderOfFirstUse(t *testing.T) {
	queries, loose := readSource(t)
	for name, query := range queries {
		bad, ok := inOrder(query)
		errorIf(t, !ok, "%s uses %s before its turn", name, bad)
	}
	for _, s := range loose {
		errorIf(t, placeholder.MatchString(s),
			"a query stands outside of the constants, where it is not checked: %q", s)
	}
}

// scansAll lists the queries that may read a whole table. Each is only for the operator, reads a table with few rows,
// or stops after a few rows.
var scansAll = strings.Fields(`
	sqlAnyStaff sqlOperators sqlPlaceIDs sqlPruneLink sqlStaff sqlStaffPlaces
	sqlAttendedPlaces sqlAttentionDue
	sqlAskedLook sqlClaimedBy sqlColumns sqlDropProcesses sqlProcesses
	sqlAnyRecords sqlEndAllAsks sqlForgetTurns sqlPlanAll
	sqlAwaited sqlClaimed sqlContents sqlDefaultPlace sqlEndCodes sqlFormerOptOuts
	sqlFormerStops sqlOldMessages sqlPlaces sqlSeen sqlSequences sqlSetSequence sqlWaiting`)

var scan = regexp.MustCompile(`\bSCAN (\w+)`)

// indexes lists, for some queries, the index uses that its query plan must contain.
var indexes = map[string][]string{
	"sqlDueBack":             {"message_back (back=? AND urgency=?", "message_waits (phone=?"},
	"sqlDueByPrefix":         {"message_claim (urgency=? AND lane=? AND useful_until>?", "message_waits (phone=?"},
	"sqlDueUncertain":        {"message_doubt (gateway=?"},
	"sqlExpire":              {"message_claim (urgency=? AND lane=? AND useful_until<?"},
	"sqlPendingInQuietHours": {"message_claim (urgency=?"},
	"sqlMorning":             {"attention_rank (place_id=?"},
	"sqlMorningCounts":       {"attention_reasons (place_id=?"},
	"sqlMorningOf":           {"attention_reasons (place_id=? AND reasons=?"},
	"sqlMorningSets":         {"attention_reasons (place_id=?", "attention_reasons (place_id=? AND reasons>?"},
	"sqlAttentionOf":         {"plot_grower (grower_id=?"},
	"sqlContactOf":           {"contact_plot (plot_id=?"},
	"sqlLookAtGrowers":       {"plot_grower (grower_id=?"},
	"sqlNextGrowers":         {"grower_place (place_id=? AND rowid>?"},
	"sqlPendingOfPhone":      {"message_waits (phone=?"},
	"sqlWaitsOfPhones":       {"message_waits (phone=?", "message_undecided"},
}

func TestEveryQueryIsValidAndUsesAnIndex(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	queries, _ := readSource(t)
	scans := map[string]bool{}
	for name, query := range queries {
		plan := queryPlan(t, s, query)
		for _, m := range scan.FindAllStringSubmatch(plan, -1) {
			whole := m[1] != "jsonb_each" && m[1] != "CONSTANT" && m[1] != "x"
			scans[name] = scans[name] || whole
			errorIf(t, whole && !slices.Contains(scansAll, name), "%s reads a whole table:\n%s", name, plan)
		}
		errorIf(t, strings.Contains(plan, "TEMP B-TREE") && name == "sqlDueByPrefix",
			"%s sorts all that is due:\n%s", name, plan)
		errorIf(t, strings.Contains(plan, "TEMP B-TREE") && strings.HasPrefix(name, "sqlMorning"),
			"%s sorts all that needs somebody:\n%s", name, plan)
		for _, index := range indexes[name] {
			errorIf(t, !strings.Contains(plan, index), "%s does not use %s:\n%s", name, index, plan)
		}
	}
	for _, name := range scansAll {
		errorIf(t, !scans[name], "%s is listed and reads no whole table", name)
	}
	for name := range indexes {
		errorIf(t, queries[name] == "", "%s is listed and does not exist", name)
	}
}

// queryPlan returns how SQLite finds the rows of a query. The alias x is a page of rows, which has a limit.
func queryPlan(t *testing.T, s *Store, query string) (plan string) {
	t.Helper()
	err := s.View(ctx, func(tx *Tx) error {
		return tx.each("EXPLAIN QUERY PLAN "+query, nulls(query), func(row func(...any) error) error {
			var detail string
			err := row(new(int64), new(int64), new(int64), &detail)
			plan += detail + "\n"
			return err
		})
	})
	errorIf(t, err != nil, "%s: %v", query, err)
	return plan
}

// parsedAnew lists the queries that SQLite may parse again. They run only when records are copied, or for staff.
var parsedAnew = strings.Fields(`sqlColumns sqlLetterCount sqlLetterGrowers`)

// A cached statement must not be parsed again when other values are bound. SQLite calls its authorizer when it parses.
func TestStatementsAreParsedOnce(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	queries, _ := readSource(t)
	parsed, anew := 0, map[string]bool{}
	err := s.InTx(ctx, func(tx *Tx) error {
		err := tx.conn.Raw(func(c any) error {
			c.(*sqlite3.SQLiteConn).RegisterAuthorizer(func(int, string, string, string) int {
				parsed++
				return sqlite3.SQLITE_OK
			})
			return nil
		})
		if err != nil {
			return err
		}
		for name, query := range queries {
			values := nulls(query)
			for round := range 4 {
				parsed = 0
				for i := range values {
					values[i] = int64(round + i)
				}
				_, _ = tx.exec("SAVEPOINT one")
				parsed = 0
				// An error does not matter, because only parsing is counted.
				_ = tx.each(query, values, func(func(...any) error) error { return nil })
				again := round > 0 && parsed > 0
				anew[name] = anew[name] || again
				errorIf(t, again && !slices.Contains(parsedAnew, name), "%s is parsed again when it is run again", name)
				_, _ = tx.exec("ROLLBACK TO one")
				_, _ = tx.exec("RELEASE one")
			}
		}
		return errBad // an error, so that the transaction is rolled back
	})
	fatalIf(t, err != errBad, "%v", err)
	for _, name := range parsedAnew {
		errorIf(t, !anew[name], "%s is listed and is not parsed again", name)
	}
}

// nulls returns one NULL for each placeholder of a query.
func nulls(query string) []any {
	n := 0
	for _, m := range placeholder.FindAllStringSubmatch(query, -1) {
		i, _ := strconv.Atoi(m[1])
		n = max(n, i)
	}
	return make([]any, n)
}
