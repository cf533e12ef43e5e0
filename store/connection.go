package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"

	"github.com/mattn/go-sqlite3"
)

// applicationID marks a database file as a file of this program. Its bytes are "rbel" in the database header.
const applicationID = 0x7262656c

// Connection settings are part of the DSN (the data source name), so that every connection of a pool has these
// settings. A PRAGMA statement on a pool would change only one of its connections.
//
//   - WAL (write-ahead log) with synchronous=FULL: readers do not wait for the writer, and a committed write
//     survives a power cut. The driver's default, NORMAL, does not guarantee that it survives.
//   - secure_delete: SQLite overwrites deleted data in the file.
//   - temp_store=MEMORY: the undo log of a savepoint is stored in memory. When it was stored in a file, which
//     is the default, writing a batch of reminders took twenty times as long.
//   - cache_size: in KiB. With 8 MB steps are as fast as with 32 MB, over 1,000 and over a million growers: the system
//     caches the file too (measured).
//   - _busy_timeout: how long a connection waits while another process writes, such as an import. Within this
//     process only one connection writes.
const (
	busyTimeout = "5000" // in milliseconds
	shared      = "_busy_timeout=" + busyTimeout + "&_foreign_keys=1&_stmt_cache_size=128"
	writerDSN   = shared + "&_journal_mode=WAL" +
		"&_synchronous=FULL&_txlock=immediate&_secure_delete=true&_cache_size=-8000"
	readerDSN  = shared + "&mode=ro&_query_only=1&_synchronous=FULL&_cache_size=-1000"
	probeDSN   = shared + "&mode=rw"
	upkeepDSN  = "_busy_timeout=1000&mode=rw&_synchronous=FULL" // short timeout: other writes wait meanwhile
	writerTune = "PRAGMA wal_autocheckpoint = 4000; PRAGMA journal_size_limit = 67108864; PRAGMA temp_store = MEMORY"
	hardening  = "PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON"
)

// connector opens connections with one DSN and runs the same pragmas on each connection.
type connector struct {
	dsn    string
	driver *sqlite3.SQLiteDriver
	check  func() error // returns an error if no connection may be opened now
}

func (c connector) Connect(context.Context) (driver.Conn, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	conn, err := c.driver.Open(c.dsn)
	if err != nil {
		return nil, err
	}
	if err := c.check(); err != nil {
		return nil, errors.Join(err, conn.Close())
	}
	return conn, nil
}

func (c connector) Driver() driver.Driver { return c.driver }

func openPool(path, params, pragmas string, conns int) *sql.DB {
	return openGuardedPool(path, params, pragmas, conns, func() error { return nil })
}

// openGuardedPool is like openPool, but opens a connection only if check returns no error before and after that.
func openGuardedPool(path, params, pragmas string, conns int, check func() error) *sql.DB {
	// The path is escaped because it may contain spaces, '?', '%' and '#'.
	dsn := "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + params
	tune := func(c *sqlite3.SQLiteConn) error { return second(c.Exec(pragmas, nil)) }
	db := sql.OpenDB(connector{dsn, &sqlite3.SQLiteDriver{ConnectHook: tune}, check})
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	return db
}

// probe returns an error if an existing file does not belong to this program. It accepts a missing file, and writes
// nothing.
func probe(ctx context.Context, path string) error {
	refuse := func(err error, try string) error {
		return &OpenError{Op: "open", Path: path, Err: err, Try: try}
	}
	dir := filepath.Dir(path)
	if info, err := os.Stat(dir); errors.Is(err, os.ErrNotExist) || err == nil && !info.IsDir() {
		return refuse(fmt.Errorf("%s: %w", dir, ErrNoDirectory), "Make it, or give another path with --db")
	} else if err != nil {
		return refuse(err, "Check who may read the directory")
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return refuse(err, "Check who may read the file")
	case info.IsDir():
		return refuse(ErrNotDatabase, "It is a directory: give the path of a file with --db")
	case Empty(info):
		return nil
	}
	db := openPool(path, probeDSN, hardening, 1)
	defer db.Close()
	var app, tables int64
	var version sql.NullInt64
	err = db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&app)
	if err == nil {
		err = db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables)
	}
	switch {
	case isNotDatabase(err):
		return refuse(fmt.Errorf("%w (%v)", ErrNotDatabase, err), "Check the path, or put back a backup")
	case err != nil:
		return refuse(err, "Check that the file and its directory can be written, and that no other program holds it")
	case app != applicationID && (app != 0 || tables > 0):
		return refuse(fmt.Errorf("%w (application id %#x)", ErrForeign, app), "Give the path of another file with --db")
	case tables == 0:
		return nil
	}
	err = db.QueryRowContext(ctx, "SELECT max(version_id) FROM "+versionTable).Scan(&version)
	if err != nil {
		return refuse(err, "Put back a backup: the record of migrations cannot be read")
	}
	if newest := Schema(); version.Int64 > newest {
		return refuse(fmt.Errorf("%w (schema %d, this one knows %d)", ErrNewer, version.Int64, newest),
			"Run the newer version, or put back a backup made before the upgrade")
	}
	return nil
}
