package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Whoever works on a database file says so in an empty file beside it, for as
// long as the work takes: a service that serves it, a command that looks in,
// a restore that puts another file in its place. They are SQLite's own lock
// levels: any number of visitors go together with one service, nobody goes
// together with who must be alone. The system takes them away with the
// process, however that ends, and they are the same on every system.
const (
	visiting = "BEGIN; SELECT count(*) FROM sqlite_schema"
	serving  = "BEGIN IMMEDIATE"
	alone    = "BEGIN EXCLUSIVE"

	holdSuffix = "-lock"
	// The file stays empty: what begins there never ends in a commit. Who was
	// just asked to stop gets two seconds for it.
	holdDSN = "_busy_timeout=1000&mode=rw&_journal_mode=MEMORY"
)

// fileLock is one such claim; nil is none.
type fileLock struct {
	db   *sql.DB
	conn *sql.Conn
}

// takeLock claims the database file at path. ErrInUse: another claim is in the
// way.
func takeLock(ctx context.Context, path, level string) (*fileLock, error) {
	real, err := realPath(path)
	if err != nil {
		return nil, err
	}
	lock := real + holdSuffix
	// A file that is there is not opened here: closing it would take away
	// the claims that this process has on it.
	if _, err := os.Stat(lock); errors.Is(err, os.ErrNotExist) {
		f, err := os.OpenFile(lock, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err == nil {
			err = f.Close()
		}
		if err != nil && !errors.Is(err, os.ErrExist) {
			return nil, err
		}
	}
	h := &fileLock{db: openPool(lock, holdDSN, hardening, 1)}
	if h.conn, err = h.db.Conn(ctx); err == nil {
		_, err = h.conn.ExecContext(ctx, level)
	}
	if err != nil {
		h.release()
		if isBusy(err) {
			err = ErrInUse
		}
		return nil, err
	}
	return h, nil
}

func (h *fileLock) release() {
	if h == nil {
		return
	}
	if h.conn != nil {
		_ = h.conn.Close() // nothing was written
	}
	_ = h.db.Close()
}

// realPath is where the file is, or would be, behind symbolic links: all who
// use it must meet at one place.
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

// lockForStore is the claim of a store.
func lockForStore(ctx context.Context, path string, service bool) (*fileLock, error) {
	level, try := visiting, "Try again when it has ended: records are being put back there"
	if service {
		level, try = serving, "One service serves the records: stop the other, or give this one a file of its own with --db"
	}
	h, err := takeLock(ctx, path, level)
	switch {
	case errors.Is(err, ErrInUse):
		return nil, &OpenError{Op: "open", Path: path, Err: err, Try: try}
	case err != nil:
		return nil, &OpenError{Op: "open", Path: path, Err: err, Try: "Check that the directory can be written and that the disk is not full"}
	}
	return h, nil
}
