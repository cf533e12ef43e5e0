package store

import (
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

// additions are the statements of a migration that older programs survive. A new column must have a default or allow
// NULL, because older programs do not write it, and must have no other condition.
var additions = []*regexp.Regexp{
	regexp.MustCompile(`^CREATE TABLE \w+ `),
	regexp.MustCompile(`^CREATE INDEX (CONCURRENTLY )?\w+ ON `),
	regexp.MustCompile(`^ALTER TABLE \w+ ADD COLUMN \w+ (TEXT COLLATE "C"|BIGINT|DOUBLE PRECISION|BYTEA)` +
		`( DEFAULT \S+| NOT NULL DEFAULT \S+)?$`),
	regexp.MustCompile(`^INSERT INTO \w+ `),
	// They refused nothing, and others take their place.
	regexp.MustCompile(`^DROP INDEX (grower_place|plot_look)$`),
}

// checkMigration returns why older programs do not survive a migration although it says so, or why it says nothing.
func checkMigration(number int64, text string) error {
	m := oldestLine.FindStringSubmatch(text)
	if m == nil {
		return errors.New(`the line "-- oldest: " is missing`)
	}
	var oldest int64
	if _, err := fmt.Sscan(m[1], &oldest); err != nil || oldest > number {
		return fmt.Errorf("the oldest schema %d is newer than this one (%v)", oldest, err)
	}
	if oldest == number {
		return nil
	}
	_, up, _ := strings.Cut(text, "-- +goose Up\n")
	up, _, _ = strings.Cut(up, "-- +goose Down")
	up = regexp.MustCompile(`--[^\n]*`).ReplaceAllString(up, "")
	for _, statement := range strings.Split(up, ";") {
		statement = strings.Join(strings.Fields(statement), " ")
		adds := statement == ""
		for _, form := range additions {
			adds = adds || form.MatchString(statement)
		}
		if !adds {
			return fmt.Errorf("programs of schema %d may not survive: %s", oldest, statement)
		}
	}
	return nil
}

func TestMigrationsThatOlderProgramsSurvive(t *testing.T) {
	n := 0
	ok(t, newSchema().each(func(number int64, text []byte) error {
		n++
		if number >= firstOldest {
			err := checkMigration(number, string(text))
			errorIf(t, err != nil, "migration %d: %v", number, err)
		}
		return nil
	}))
	errorIf(t, n < 3, "found only %d migrations", n)
	for statement, survives := range map[string]bool{
		"CREATE TABLE a (b BIGINT NOT NULL)":                                     true,
		"CREATE INDEX a ON plot (no)":                                            true,
		"CREATE UNIQUE INDEX a ON plot (no)":                                     false,
		"ALTER TABLE plot ADD COLUMN a BIGINT":                                   true,
		"ALTER TABLE plot ADD COLUMN a BIGINT NOT NULL DEFAULT 0":                true,
		"ALTER TABLE plot ADD COLUMN a BIGINT NOT NULL":                          false,
		"ALTER TABLE plot ADD COLUMN a BIGINT NOT NULL DEFAULT 0 CHECK (a > no)": false,
		"ALTER TABLE plot DROP COLUMN no":                                        false,
		"ALTER TABLE plot RENAME COLUMN no TO a":                                 false,
		"DROP TABLE plot":                                                        false,
		"UPDATE plot SET no = 1":                                                 false,
	} {
		text := "-- oldest: %d\n-- +goose Up\n" + statement + "; -- why\n-- +goose Down\nDROP TABLE a;\n"
		err := checkMigration(18, fmt.Sprintf(text, 17))
		errorIf(t, (err == nil) != survives, "%s: %v", statement, err)
		ok(t, checkMigration(18, fmt.Sprintf(text, 18)))
		errorIf(t, checkMigration(18, fmt.Sprintf(text, 19)) == nil, "an oldest schema that is newer")
	}
	errorIf(t, checkMigration(18, "-- +goose Up\n") == nil, "no line")
}

// nextSchema is the schema of a next release: it has one more migration.
func nextSchema(t *testing.T, oldest int64) serverSchema {
	t.Helper()
	files := fstest.MapFS{}
	ok(t, newSchema().each(func(number int64, text []byte) error {
		files[fmt.Sprintf("%05d_x.sql", number)] = &fstest.MapFile{Data: text}
		return nil
	}))
	text := fmt.Sprintf("-- oldest: %d\n-- +goose Up\nALTER TABLE grower ADD COLUMN next BIGINT NOT NULL DEFAULT 0;\n"+
		"CREATE TABLE next AS SELECT current_setting('statement_timeout') AS statement, "+
		"current_setting('lock_timeout') AS lock;\n-- +goose Down\nDROP TABLE next;\n", oldest)
	files[fmt.Sprintf("%05d_next.sql", Schema()+1)] = &fstest.MapFile{Data: []byte(text)}
	return serverSchema{fs.FS(files)}
}

func alive(s *Store, number int64) error {
	return s.InTx(ctx, func(tx *Tx) error { return second(tx.RenewProcess(number, noon)) })
}

// A next release adds to the schema while a process of this release runs. Both work, and this release also starts anew.
func TestOlderProgramOnANewerSchema(t *testing.T) {
	serverOnly(t)
	old := openNew(t, Options{Process: "old"})
	number := startProcess(t, old)
	next := openWith(t, addressOf(old), Options{Process: "next", schema: nextSchema(t, Schema())})
	startProcess(t, next)
	// A migration may take long, but must not make others wait long for its locks.
	wantNumber(t, next, 1, "SELECT count(*) FROM next WHERE statement = '0' AND lock = '5s'")
	wantNumber(t, next, 1, "SELECT count(*) FROM pg_settings WHERE name = 'statement_timeout' AND setting = '30000'")
	withPlot(t, old, ana)
	withPlot(t, next, ben)
	wantNumber(t, next, 2, "SELECT count(*) FROM grower WHERE next = 0")
	ok(t, alive(old, number))
	again := openWith(t, addressOf(old), Options{Process: "again"})
	startProcess(t, again)
	withPlot(t, again, cleo)
	equal(t, len(processes(t, next)), 3, "processes")
}

// A next release changes the schema so that this one cannot work with it. It does not migrate while a process of this
// release runs; afterwards this release does not start, and a process that was only stopped notices it.
func TestOlderProgramIsRefused(t *testing.T) {
	serverOnly(t)
	old := openNew(t, Options{Process: "old"})
	number := startProcess(t, old)
	o := Options{Process: "next", schema: nextSchema(t, Schema()+1)}
	_, err := Open(ctx, addressOf(old), o)
	errorIf(t, !errors.Is(err, ErrOlderRuns) || !strings.Contains(err.Error(), ": old. Stop them first"), "%v", err)
	ok(t, alive(old, number))
	write(t, old, func(tx *Tx) error { return tx.do("UPDATE process SET until = 1") })
	next := openWith(t, addressOf(old), o)
	startProcess(t, next)
	err = alive(old, number)
	errorIf(t, !errors.Is(err, ErrNewer), "a process that was stopped for long: %v", err)
	_, err = Open(ctx, addressOf(old), Options{Process: "old"})
	errorIf(t, !errors.Is(err, ErrNewer), "%v", err)
}
