package store

import (
	"context"
	"database/sql"
	"embed"
	"io/fs"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/sqlite/*.sql
var migrationFiles embed.FS

// versionTable records the migrations that were applied.
const versionTable = "schema_version"

func migrations(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrationFiles, "migrations/sqlite")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files, goose.WithTableName(versionTable),
		goose.WithDisableGlobalRegistry(true))
}

// migrate brings the schema up to date, one transaction a migration. Released migrations are never
// edited: a change of the schema is a new numbered file.
func migrate(ctx context.Context, db *sql.DB) error {
	p, err := migrations(db)
	if err != nil {
		return err
	}
	_, err = p.Up(ctx)
	return err
}

// Schema returns the schema version that this program writes, the newest that it knows.
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
