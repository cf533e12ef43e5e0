package store

import (
	"context"
	"errors"
	"fmt"
	"os"
)

// compactDSN has a longer busy timeout than the other DSNs, because the service may be writing a large batch.
const compactDSN = "_busy_timeout=30000&_foreign_keys=1&mode=rw&_synchronous=FULL&_secure_delete=true"

// Compacted is the result of Compact.
type Compacted struct {
	Before, After int64 // size of the database file in bytes
	LogLeft       bool  // the file has its new size only when the write-ahead log has been emptied
}

// Compact rewrites the database file at path without its free pages, so that it takes less room. The service may run;
// its writes wait until the new pages are written. A failure or a crash changes no record. Every error is an
// *OpenError.
func Compact(ctx context.Context, path string) (c Compacted, err error) {
	refuse := func(err error) error {
		switch {
		case noRoom(err):
			err = fmt.Errorf("the disk is full (%w)", err)
		case isNotDatabase(err):
			return &OpenError{Op: "compact", Path: path, Err: fmt.Errorf("%w (%w)", ErrDamaged, err),
				Try: "Put back a backup with rowbell restore"}
		}
		return &OpenError{Op: "compact", Path: path, Err: err, Try: "The records are as before. Make room for two " +
			"more files of this size, one beside it and one in the folder for temporary files, and try again"}
	}
	before, err := os.Stat(path)
	if err == nil && Empty(before) {
		err = ErrNoRecords
	}
	if err != nil {
		return c, &OpenError{Op: "compact", Path: path, Err: err, Try: "Give the file of the records with --db"}
	}
	if err := probe(ctx, path); err != nil {
		return c, err
	}
	h, err := lockForStore(ctx, path, false)
	if err != nil {
		return c, err
	}
	defer h.release()
	db := openPool(path, compactDSN, hardening, 1)
	defer func() {
		if e := db.Close(); e != nil && err == nil {
			err = refuse(e)
		}
	}()
	if _, err := db.ExecContext(ctx, "VACUUM"); err != nil {
		return c, refuse(err)
	}
	var log, copied int
	err = db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&c.LogLeft, &log, &copied)
	after, err2 := os.Stat(path)
	if err := errors.Join(err, err2); err != nil {
		return c, refuse(err)
	}
	c.Before, c.After = before.Size(), after.Size()
	return c, nil
}
