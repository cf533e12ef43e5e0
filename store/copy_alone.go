package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
)

const stopFirst = "Stop the service, and wait for other commands to end"

// openAlone opens records that no other process may use until they are closed.
func openAlone(ctx context.Context, db string, o Options, now int64) (s *Store, closed func() error, err error) {
	o.copying, o.ReadConns = true, 2
	if OnServer(db) {
		if s, err = Open(ctx, db, o); err != nil {
			return nil, nil, err
		}
		release, err := s.server.alone(ctx, now)
		if err != nil {
			return nil, nil, errors.Join(err, s.Close())
		}
		return s, func() error { release(); return s.Close() }, nil
	}
	if o.Existing && missing(db) { // before the lock, whose file would look like that of earlier records
		return nil, nil, &OpenError{Op: "copy", Path: db, Err: ErrNoRecords, Try: "Check the name"}
	}
	lock, err := takeLock(ctx, db, alone)
	switch {
	case errors.Is(err, ErrInUse):
		return nil, nil, &OpenError{Op: "copy", Path: db, Err: err, Try: stopFirst}
	case err != nil:
		return nil, nil, &OpenError{Op: "copy", Path: db, Err: err, Try: "Check that the folder can be written"}
	}
	o.noLock = true
	if s, err = Open(ctx, db, o); err != nil {
		lock.release()
		return nil, nil, err
	}
	return s, func() error { defer lock.release(); return s.Close() }, nil
}

const (
	copyingName = "rowbell copy" // application name of a copy's connections
	lockCopy    = "copy"

	pgTryExclusive = `SELECT pg_try_advisory_lock(` + pgLockKey + `)`
	pgTryShared    = `SELECT pg_try_advisory_lock_shared(` + pgLockKey + `)`
	pgUnlockShared = `SELECT pg_advisory_unlock_shared(` + pgLockKey + `)`
	pgOthers       = `SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()
		AND application_name IN ('` + servingName + `', '` + visitingName + `')`
)

// checkCopying returns an error if another process copies these records.
func (d *serverDB) checkCopying(ctx context.Context, conn *sql.Conn) error {
	var free bool
	err := conn.QueryRowContext(ctx, pgTryShared, lockCopy).Scan(&free)
	switch {
	case err != nil:
		return err
	case !free:
		return d.refuse(ErrCopying, "Wait until rowbell copy has ended")
	}
	return conn.QueryRowContext(ctx, pgUnlockShared, lockCopy).Scan(&free)
}

// alone makes sure that no other process uses the records, and that none begins to until release is called or this
// process ends.
func (d *serverDB) alone(ctx context.Context, now int64) (release func(), err error) {
	inUse := func(what string) error {
		return &OpenError{Op: "copy", Path: d.name, Err: fmt.Errorf("%w (%s)", ErrInUse, what), Try: stopFirst}
	}
	conn, err := d.db.Conn(ctx)
	if err != nil {
		return nil, fail("copy", err)
	}
	release = func() { closeConn(conn, true) } // ends the session, and with it the lock
	var free bool
	var others int
	var list []Process
	err = conn.QueryRowContext(ctx, pgTryExclusive, lockCopy).Scan(&free)
	if err == nil && free {
		err = d.view(ctx, func(tx *Tx) (err error) {
			if _, err = tx.one(pgOthers, nil, &others); err == nil {
				list, err = tx.Processes(now)
			}
			return err
		})
	}
	switch {
	case err != nil:
		err = fail("copy", err)
	case !free:
		err = inUse("another copy")
	case others > 0:
		err = inUse(fmt.Sprintf("%d connections", others))
	}
	for _, p := range list {
		if err == nil && p.Alive {
			err = inUse("the service " + p.Name + ", which ran within the last minute")
		}
	}
	if err != nil {
		release()
		return nil, err
	}
	return release, nil
}
