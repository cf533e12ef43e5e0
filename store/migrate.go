package store

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
)

//go:embed migrations/sqlite/*.sql
var migrationFiles embed.FS

// versionTable is the table that records which migrations were applied. The files and the table have the form of goose
// (github.com/pressly/goose), with which the tests read them; the program needs only the way up.
const versionTable = "schema_version"

const (
	sqlVersions = `CREATE TABLE IF NOT EXISTS ` + versionTable + ` (
		id INTEGER PRIMARY KEY AUTOINCREMENT,
		version_id INTEGER NOT NULL,
		is_applied INTEGER NOT NULL,
		tstamp TIMESTAMP DEFAULT (datetime('now'))
	)`
	sqlVersionZero = `INSERT INTO ` + versionTable + ` (version_id, is_applied)
		SELECT 0, 1 WHERE NOT EXISTS (SELECT 1 FROM ` + versionTable + `)`
	sqlApplied = `INSERT INTO ` + versionTable + ` (version_id, is_applied) VALUES ($1, 1)`
	// downMark begins the part of a file that takes the migration back.
	downMark = "\n-- +goose Down"
)

// migration is one numbered file.
type migration struct {
	version int64
	name    string
	up      string
}

// migrationsInOrder returns the migrations by ascending version. It panics if a file cannot be read or has no number,
// because both are mistakes in this package.
func migrationsInOrder() (list []migration) {
	files, err := fs.Glob(migrationFiles, "migrations/sqlite/*.sql")
	if err != nil {
		panic(err)
	}
	for _, file := range files {
		b, err := migrationFiles.ReadFile(file)
		if err != nil {
			panic(err)
		}
		number, _, _ := strings.Cut(path.Base(file), "_")
		version, err := strconv.ParseInt(number, 10, 64)
		if err != nil {
			panic("store: migration without a number: " + file)
		}
		up, _, _ := strings.Cut(string(b), downMark)
		list = append(list, migration{version, path.Base(file), up})
	}
	slices.SortFunc(list, func(a, b migration) int { return int(a.version - b.version) })
	return list
}

// migrate brings the schema up to date, with one transaction for each migration. A change of the schema needs a new
// numbered file: a released migration is never edited.
func migrate(ctx context.Context, db *sql.DB) error {
	for _, query := range []string{sqlVersions, sqlVersionZero} {
		if _, err := db.ExecContext(ctx, query); err != nil {
			return fmt.Errorf("store: record of migrations: %w", err)
		}
	}
	var now int64
	if err := db.QueryRowContext(ctx, sqlSchema).Scan(&now); err != nil {
		return fmt.Errorf("store: record of migrations: %w", err)
	}
	for _, m := range migrationsInOrder() {
		if m.version <= now {
			continue
		}
		if err := m.apply(ctx, db); err != nil {
			return fmt.Errorf("store: migration %s: %w", m.name, err)
		}
	}
	return nil
}

func (m migration) apply(ctx context.Context, db *sql.DB) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing after Commit
	if _, err := tx.ExecContext(ctx, m.up); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, sqlApplied, m.version); err != nil {
		return err
	}
	return tx.Commit()
}

// Schema returns the schema version that this program writes. It is the newest version that the program knows.
func Schema() int64 {
	list := migrationsInOrder()
	return list[len(list)-1].version
}
