package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/mattn/go-sqlite3"
)

func openDatabaseFile(ctx context.Context, s *Store, path string, o Options) (*Store, error) {
	full, err := filepath.Abs(path)
	if err != nil {
		return nil, &OpenError{Op: "open", Path: path, Err: err}
	}
	version, number, _ := sqlite3.Version()
	if err := checkLibrary(full, version, number); err != nil {
		return nil, err
	}
	lost, err := o.lostWrites(full)
	if err != nil {
		return nil, err
	}
	if err := probe(ctx, full); err != nil {
		return nil, err
	}
	if o.ReadConns <= 0 {
		o.ReadConns = defaultReadConns
	}
	if o.OnDetached == nil {
		o.OnDetached = func(*DetachedError) {}
	}
	s.fileDB = &fileDB{path: full, writerEnded: make(chan struct{}), onDetached: o.OnDetached,
		rescueFolders: o.RescueFolders, stopwatch: o.Stopwatch}
	vanished, err := o.checkMissing(ctx, full)
	if err != nil {
		return nil, err
	}
	if !o.noLock {
		if s.lock, err = lockForStore(ctx, full, o.Serving); err != nil {
			return nil, err
		}
	}
	if lost > 0 { // now no other service can be writing
		o.OnLostWrites(lost)
	}
	if err = vanished; err == nil {
		err = createFile(full)
	}
	if err != nil {
		s.lock.release()
		return nil, err
	}
	s.writeDB = openPool(full, writerDSN, hardening+"; "+writerTune, 1)
	if err := s.prepare(ctx, o); err != nil {
		s.closeFiles()
		return nil, damagedFile(full, err)
	}
	go func() {
		defer close(s.writerEnded)
		s.writer.run()
	}()
	if s.checkpointer != nil {
		go s.checkpointer.run()
	}
	if o.Serving {
		if err := s.checkGrowers(ctx, o); err != nil {
			return nil, errors.Join(damagedFile(full, err), s.Close())
		}
	}
	return s, nil
}

// lostWrites is the function lostWrites for the log of the file at path, if somebody wants to know. It must be called
// before the file is opened, because SQLite merges the log.
func (o Options) lostWrites(path string) (int, error) {
	if !o.Serving || o.OnLostWrites == nil {
		return 0, nil
	}
	real, err := realPath(path)
	if err != nil {
		return 0, nil // there is no file, of which more is said later
	}
	lost, err := lostWrites(real + "-wal")
	if err != nil {
		err = &OpenError{Op: "open", Path: path, Err: err, Try: "Check who may read the write-ahead log"}
	}
	return lost, err
}

// checkMissing returns an error if the file at path is missing or empty and must not be created. The caller returns err
// at once, but vanished only after it got the file lock: if another program has the lock, that is the better reason.
func (o Options) checkMissing(ctx context.Context, path string) (vanished, err error) {
	switch {
	case !missing(path):
		return nil, nil
	case o.Existing:
		return nil, &OpenError{Op: "open", Path: path, Err: ErrNoRecords, Try: "Give the file of the records with --db"}
	}
	vanished = o.vanished(ctx, path, Contents{})
	if real, err := realPath(path); err == nil {
		if _, err := os.Lstat(real + lockSuffix); err != nil {
			return nil, vanished // a new lock file would look like that of earlier records at the next start
		}
	}
	return vanished, nil
}

// vanished calls the function Vanished if the store is for the service and New is not set.
func (o Options) vanished(ctx context.Context, path string, c Contents) error {
	if !o.Serving || o.New {
		return nil
	}
	var backups []string
	if o.Backups != nil {
		backups = o.Backups()
	}
	return Vanished(ctx, path, c, backups)
}

// checkGrowers returns an error if there are no growers although there were some. Otherwise it writes down how many
// there are.
func (s *Store) checkGrowers(ctx context.Context, o Options) error {
	var c Contents
	err := s.View(ctx, func(tx *Tx) (err error) {
		c, err = tx.contents(c)
		return err
	})
	if err != nil {
		return fail("open", err)
	}
	if err := o.vanished(ctx, s.path, c); err != nil {
		return err
	}
	s.serving = true
	return s.NoteGrowers(ctx)
}

// prepare marks the file, migrates it, inserts the first rows, and opens the connections.
func (s *Store) prepare(ctx context.Context, o Options) error {
	refuse := func(op string, err error) error {
		return &OpenError{Op: op, Path: s.path, Err: err,
			Try: "Check that the file and its directory can be written, that the disk is not full, " +
				"and that no other program holds it"}
	}
	if _, err := s.writeDB.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d", applicationID)); err != nil {
		return refuse("open", err)
	}
	if err := migrateTo(ctx, s.writeDB, cmp.Or(o.fileSchema, Schema())); err != nil {
		return refuse("migrate", err)
	}
	var err error
	if s.writer, err = newWriter(ctx, s, s.writeDB); err != nil {
		return refuse("open", err)
	}
	first := newJob(ctx, func(tx *Tx) error { return s.firstRows(tx, o) })
	err = errors.Join(second(s.writer.group(&[]*job{first}, nil)), first.err)
	var told *OpenError
	switch {
	case errors.As(err, &told):
		return told
	case err != nil:
		return refuse("open", err)
	}
	if !o.noLock {
		if s.files, err = filesOf(s.path); err != nil {
			return refuse("open", err)
		}
	}
	if o.Serving {
		if err = s.files.watchContent(); err != nil {
			return refuse("open", err)
		}
	}
	if s.files != nil && s.files.index != nil {
		if _, err = s.writer.conn.ExecContext(ctx, "PRAGMA wal_autocheckpoint = 0"); err != nil {
			return refuse("open", err)
		}
		s.checkpointer = newCheckpointer(s, o)
	}
	s.readDB = openGuardedPool(s.path, readerDSN, hardening, o.ReadConns, s.files.check)
	if err := s.readDB.PingContext(ctx); err != nil {
		return refuse("open", err)
	}
	return nil
}

func (s *Store) closeFiles() error {
	if err := s.CheckFile(); err != nil && s.writer != nil {
		// The connections stay open until the program ends: closing the last one would remove the write-ahead log at
		// the path, which may belong to another file now.
		s.writer.rescueIfDetached(err, true)
		err = s.CheckFile()
		var e *DetachedError
		if errors.As(err, &e) && e.Overwritten {
			err = errors.Join(err, renameLog(s.files.real, "overwritten"))
		}
		return fail("close", err)
	}
	var errs []error
	if s.readDB != nil {
		errs = append(errs, s.readDB.Close())
	}
	if s.checkpointer != nil {
		errs = append(errs, s.checkpointer.db.Close())
	}
	if s.writer != nil {
		errs = append(errs, s.writer.close())
	}
	errs = append(errs, s.writeDB.Close(), s.files.close())
	s.lock.release()
	return fail("close", errors.Join(errs...))
}
