package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"strconv"
	"strings"

	"github.com/pressly/goose/v3"
)

// While the processes on a server are upgraded one after the other, an older program works with the schema of a newer
// one. So each migration says in a line "-- oldest: 17" which is the oldest schema whose program may work with the
// records afterwards. A number below its own is only for a migration that adds: tables, columns that may be left out,
// and indexes that refuse nothing. TestMigrationsThatOlderProgramsSurvive reads the files.
//
// A migration that an older program does not survive waits until no such program runs.

// firstOldest is the number of the first migration that says which is the oldest schema.
const firstOldest = 17

// serverSchema are the migrations of a database on a server.
type serverSchema struct{ files fs.FS }

// newSchema returns the migrations of this program.
func newSchema() serverSchema {
	files, err := fs.Sub(migrationFiles, "migrations/postgres")
	if err != nil {
		panic("store: " + err.Error()) // the files are part of the program
	}
	return serverSchema{files}
}

// each calls fn with the number and the text of each migration.
func (s serverSchema) each(fn func(number int64, text []byte) error) error {
	names, err := fs.Glob(s.files, "*.sql")
	for _, name := range names {
		var number int64
		var text []byte
		if err == nil {
			number, err = goose.NumericComponent(name)
		}
		if err == nil {
			text, err = fs.ReadFile(s.files, name)
		}
		if err == nil {
			err = fn(number, text)
		}
	}
	return err
}

// newest returns the number of the newest migration.
func (s serverSchema) newest() (newest int64) {
	_ = s.each(func(number int64, _ []byte) error { // an error comes again when the database is migrated
		newest = max(newest, number)
		return nil
	})
	return newest
}

var oldestLine = regexp.MustCompile(`(?m)^-- oldest: (\d+)$`)

// oldest returns the oldest schema whose program may work with the records after all migrations.
func (s serverSchema) oldest() (oldest int64, err error) {
	err = s.each(func(number int64, text []byte) error {
		m := oldestLine.FindSubmatch(text)
		switch {
		case m != nil:
			n, err := strconv.ParseInt(string(m[1]), 10, 64)
			oldest = max(oldest, n)
			return err
		case number >= firstOldest:
			return fmt.Errorf("migration %d does not say the oldest schema", number)
		}
		oldest = max(oldest, number)
		return nil
	})
	return oldest, err
}

func (s serverSchema) provider(db *sql.DB) (*goose.Provider, error) {
	return goose.NewProvider(goose.DialectPostgres, db, s.files, goose.WithTableName(versionTable),
		goose.WithDisableGlobalRegistry(true), goose.WithSessionLocker(migrationTimeouts{}))
}

// migrationTimeouts lets migrations take as long as they need: on many records one takes longer than statement_timeout.
// It is no lock: goose calls it with the connection of the migrations before and after them. lock_timeout stays,
// because all other transactions wait behind a migration that waits for its lock.
type migrationTimeouts struct{}

func (migrationTimeouts) SessionLock(ctx context.Context, conn *sql.Conn) error {
	return second(conn.ExecContext(ctx, "SET statement_timeout = 0"))
}

func (migrationTimeouts) SessionUnlock(ctx context.Context, conn *sql.Conn) error {
	return second(conn.ExecContext(ctx, serverSettings))
}

// up migrates a database.
func (s serverSchema) up(ctx context.Context, db *sql.DB) error {
	p, err := s.provider(db)
	if err != nil {
		return err
	}
	if _, err = p.Up(ctx); err != nil {
		return err
	}
	return s.setOldest(ctx, db)
}

// metaOldest is the key of the oldest schema whose program may work with the records.
const metaOldest = "oldest schema"

const (
	pgOlder = `SELECT name FROM process
	WHERE schema < $1 AND until > extract(epoch FROM clock_timestamp()) ORDER BY name`
	pgHasProcesses = `SELECT to_regclass('process') IS NOT NULL`
)

func (s serverSchema) setOldest(ctx context.Context, db *sql.DB) error {
	oldest, err := s.oldest()
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, sqlSetMeta, metaOldest, strconv.AppendInt(nil, oldest, 10))
	return err
}

// oldestSchema returns the oldest schema whose program may work with the records, as the last migration recorded it. If
// none has, it returns unrecorded.
func (tx *Tx) oldestSchema(unrecorded int64) (int64, error) {
	value, recorded, err := tx.meta(metaOldest)
	if err != nil || !recorded {
		return unrecorded, err
	}
	return strconv.ParseInt(string(value), 10, 64)
}

// checkSchema returns ErrNewer if this program cannot work with the records any more.
func (tx *Tx) checkSchema() error {
	if tx.pg == nil {
		return nil // a file is not migrated while the service has it open
	}
	oldest, err := tx.oldestSchema(0)
	if err == nil && oldest > tx.s.server.schema.newest() {
		err = ErrNewer
	}
	return err
}

// ErrOlderRuns means that processes run which would not survive a migration. It is wrapped in an *OpenError.
var ErrOlderRuns = errors.New("processes of an older version run, which cannot work with the records of this one")

// migrate migrates the records from a schema, 0 for an empty database. The caller has the lock of the schema.
func (d *serverDB) migrate(ctx context.Context, conn *sql.Conn, from int64) error {
	oldest, err := d.schema.oldest()
	if err == nil && from > 0 {
		err = d.checkOlder(ctx, conn, oldest)
	}
	if err == nil && from > 0 {
		err = d.schema.setOldest(ctx, d.db) // before the migration, so that no older program starts during it
	}
	if err == nil {
		err = d.schema.up(ctx, d.db)
	}
	var refused *OpenError
	if err == nil || errors.As(err, &refused) {
		return err
	}
	return d.failed("migrate", err)
}

// checkOlder returns an error if a process runs whose program knows only a schema before oldest.
func (d *serverDB) checkOlder(ctx context.Context, conn *sql.Conn, oldest int64) error {
	var there bool
	if err := conn.QueryRowContext(ctx, pgHasProcesses).Scan(&there); err != nil || !there {
		return err
	}
	names, err := column[string](statements(ctx, conn), pgOlder, args(oldest))
	if err != nil || len(names) == 0 {
		return err
	}
	return &OpenError{Op: "migrate", Path: d.name, Err: fmt.Errorf("%w: %s", ErrOlderRuns, strings.Join(names, ", ")),
		Try: "Stop them first; one that was killed counts as running for a minute"}
}
