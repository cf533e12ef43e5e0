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
	leaveTries = 5 // how often a copy looks whether the connections of others have ended, with pgWait between

	copyingName = "rowbell copy" // application name of a copy's connections
	lockCopy    = "copy"

	pgTryExclusive = `SELECT pg_try_advisory_lock(` + pgLockKey + `)`
	pgTryShared    = `SELECT pg_try_advisory_lock_shared(` + pgLockKey + `)`
	pgUnlock       = `SELECT pg_advisory_unlock(` + pgLockKey + `)`
	pgUnlockShared = `SELECT pg_advisory_unlock_shared(` + pgLockKey + `)`
	pgWait         = `SELECT pg_sleep(0.1)`
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
	release = func() {
		// The end of the session would end the lock too, but the server may notice that later than the next open.
		_, _ = conn.ExecContext(context.WithoutCancel(ctx), pgUnlock, lockCopy)
		closeConn(conn, true)
	}
	var free bool
	var others int
	var list []Process
	err = conn.QueryRowContext(ctx, pgTryExclusive, lockCopy).Scan(&free)
	if err == nil && free {
		others, list, err = d.others(ctx, conn, now)
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

// others returns how many connections others have, and the processes of the service. It gives those a moment that have
// closed their connections: the server lists them a little longer.
func (d *serverDB) others(ctx context.Context, conn *sql.Conn, now int64) (count int, list []Process, err error) {
	for range leaveTries {
		err = d.view(ctx, func(tx *Tx) (err error) {
			if _, err = tx.one(pgOthers, nil, &count); err == nil {
				list, err = tx.Processes(now)
			}
			return err
		})
		if err != nil || count == 0 {
			break
		}
		if _, err = conn.ExecContext(ctx, pgWait); err != nil {
			break
		}
	}
	return count, list, err
}

// analyze has the server count what is in the tables, so that it plans queries well from the first one on, and not only
// when its autovacuum has been there (PostgreSQL 15, 14.4.8 "Run ANALYZE Afterwards"; 25.1.4 for VACUUM and scans that
// read only an index).
func (d *serverDB) analyze(ctx context.Context) error {
	conn, err := d.db.Conn(ctx)
	if err != nil {
		return fail("analyze", err)
	}
	defer conn.Close()
	for _, query := range []string{`SET statement_timeout = '1h'`, `VACUUM (ANALYZE)`, serverSettings} {
		if _, err = conn.ExecContext(ctx, query); err != nil {
			break
		}
	}
	return fail("analyze", err)
}
