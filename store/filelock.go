package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// A process that opens the records also locks the empty file rowbell.db-lock beside them, until it has closed the
// records. The three lock levels use SQLite's own locks. Any number of commands (level visiting) and one service
// (level serving) may work at the same time. A restore replaces the database file, so it works alone (level alone).
// When a process ends, even by a crash, the operating system releases its lock.
const (
	visiting = "BEGIN; SELECT count(*) FROM sqlite_schema"
	serving  = "BEGIN IMMEDIATE"
	alone    = "BEGIN EXCLUSIVE"

	lockSuffix = "-lock"
	// The lock file stays empty, because its transactions are never committed. The busy timeout gives another process
	// time to end if it was just asked to stop.
	lockDSN = "_busy_timeout=1000&mode=rw&_journal_mode=MEMORY"
)

// fileLock is a lock on the lock file. A nil pointer means that no lock was taken.
type fileLock struct {
	db   *sql.DB
	conn *sql.Conn
}

// takeLock takes a lock of this level for the database file at path. It returns ErrInUse if another process has a
// lock that excludes this level.
func takeLock(ctx context.Context, path, level string) (*fileLock, error) {
	real, err := realPath(path)
	if err != nil {
		return nil, err
	}
	lock := real + lockSuffix
	// An existing lock file is not opened here. SQLite may have it open in this process, and closing a second handle
	// would release SQLite's locks. The same is true for every database file.
	if _, err := os.Stat(lock); errors.Is(err, os.ErrNotExist) {
		f, err := os.OpenFile(lock, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err == nil {
			err = f.Close()
		}
		if err != nil && !errors.Is(err, os.ErrExist) {
			return nil, err
		}
	}
	l := &fileLock{db: openPool(lock, lockDSN, hardening, 1)}
	if l.conn, err = l.db.Conn(ctx); err == nil {
		_, err = l.conn.ExecContext(ctx, level)
	}
	if err != nil {
		l.release()
		if isBusy(err) {
			err = ErrInUse
		}
		return nil, err
	}
	return l, nil
}

func (l *fileLock) release() {
	if l == nil {
		return
	}
	if l.conn != nil {
		_ = l.conn.Close() // the transaction that locks wrote nothing, so an error does not matter
	}
	_ = l.db.Close()
}

// realPath resolves symbolic links, because every process must lock the same file. The file at the end need not exist.
func realPath(path string) (string, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	real, err := filepath.EvalSymlinks(full)
	if errors.Is(err, os.ErrNotExist) {
		var dir string
		if dir, err = filepath.EvalSymlinks(filepath.Dir(full)); errors.Is(err, os.ErrNotExist) {
			return "", fmt.Errorf("%s: %w", filepath.Dir(full), ErrNoDirectory)
		}
		real = filepath.Join(dir, filepath.Base(full))
	}
	return real, err
}

// lockForStore takes the file lock of level serving for the service, and of level visiting for other programs.
func lockForStore(ctx context.Context, path string, service bool) (*fileLock, error) {
	level, try := visiting, "Try again when it has ended: records are being put back there"
	if service {
		level = serving
		try = "One service serves the records: stop the other, or give this one a file of its own with --db"
	}
	l, err := takeLock(ctx, path, level)
	switch {
	case errors.Is(err, ErrInUse):
		return nil, &OpenError{Op: "open", Path: path, Err: err, Try: try}
	case err != nil:
		return nil, &OpenError{Op: "open", Path: path, Err: err,
			Try: "Check that the directory can be written and that the disk is not full"}
	}
	return l, nil
}

// Served reports whether a service has these records open. If one has a file open, Served takes a second.
func (s *Store) Served(ctx context.Context) (bool, error) {
	if s.fileDB == nil {
		return s.server.served(ctx)
	}
	l, err := takeLock(ctx, s.path, serving)
	if errors.Is(err, ErrInUse) {
		return true, nil
	}
	l.release()
	return false, err
}
