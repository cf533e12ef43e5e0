package store

import (
	"context"
	"database/sql"
	"embed"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/sqlite/*.sql migrations/postgres/*.sql
var migrationFiles embed.FS

// versionTable is the table that records which migrations were applied.
const versionTable = "schema_version"

func migrations(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrationFiles, "migrations/sqlite")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files, goose.WithTableName(versionTable),
		goose.WithDisableGlobalRegistry(true))
}

// migrate brings the schema up to date, with one transaction for each migration. A change of the schema needs a new
// numbered file: a released migration is never edited.
func migrate(ctx context.Context, db *sql.DB) error { return migrateTo(ctx, db, Schema()) }

func migrateTo(ctx context.Context, db *sql.DB, version int64) error {
	p, err := migrations(db)
	if err != nil {
		return err
	}
	_, err = p.UpTo(ctx, version)
	return err
}

// migrateServer is migrate for a PostgreSQL database. Its first migration has the number at which the records began to
// be on a server too; from then on each change is a file of the same number for both.
func migrateServer(ctx context.Context, db *sql.DB) error { return newSchema().up(ctx, db) }

// Schema returns the schema version that this program writes. It is the newest version that the program knows.
func Schema() int64 {
	names, _ := fs.Glob(migrationFiles, "migrations/sqlite/*.sql")
	var newest int64
	for _, name := range names {
		if v, err := goose.NumericComponent(name); err == nil {
			newest = max(newest, v)
		}
	}
	return newest
}
