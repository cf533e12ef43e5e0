package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
)

// RestoreOptions say which backup is restored, and to which file.
type RestoreOptions struct {
	From, To     string
	Identity     string // file of the private key of an encrypted backup; "" if the backup is not encrypted
	Now          int64
	DiscardNewer bool   // restore even if the records in the file To are newer than the backup
	Aside        string // name under which the replaced file is stored
	DiscardOld   bool   // delete the replaced file, unless it could not be read

	step        func(string) // for tests: called before each step at which a crash must be safe
	onStatement func(string) // for tests: Options.OnStatement of the restored records
}

// Restored is the result of the function Restore.
type Restored struct {
	Backup     Contents
	Replaced   Contents // Path is "" if no file was replaced
	Damaged    error    // damage in the replaced file; nil if the whole file could be read
	Aside      string   // path of the replaced file now; "" if there is no such file any more
	Reconciled Reconciled
}

// NewerError is returned if the backup is older than the records which it would replace.
type NewerError struct {
	Backup, Records int64 // newest instant in the backup and newest instant in the records, in Unix seconds
}

func (*NewerError) Error() string { return "the records are newer than the backup" }

// Restore replaces the records in the file o.To with a backup. The file may be damaged or missing. Restore copies the
// backup, checks the copy, migrates it to this program's schema, and adds decisions from the replaced records (see
// Reconciled). Then one rename gives the copy the name o.To. After a crash at any point, the file o.To contains either
// all the old records or all the new records. The errors are *NewerError and *OpenError, which may wrap ErrInUse.
func Restore(ctx context.Context, o RestoreOptions) (Restored, error) {
	r, err := restore(ctx, o)
	var told *OpenError
	var newer *NewerError
	switch {
	case err == nil, errors.As(err, &told), errors.As(err, &newer):
	case errors.Is(err, ErrInUse):
		err = &OpenError{Op: "restore", Path: o.To, Err: err,
			Try: stopFirst}
	case noRoom(err):
		err = &OpenError{Op: "restore", Path: o.To, Err: fmt.Errorf("the disk is full (%w)", err),
			Try: "Make room: the records and the backup must fit beside each other. The records are as they were"}
	default:
		err = &OpenError{Op: "restore", Path: o.To, Err: err, Try: "Check that the folder is there and can be written"}
	}
	return r, err
}

func restore(ctx context.Context, o RestoreOptions) (r Restored, err error) {
	if o.step == nil {
		o.step = func(string) {}
	}
	to, err := realPath(o.To)
	if err != nil {
		return r, err
	}
	if sameFile(o.From, to) {
		return r, &OpenError{Op: "check", Path: o.From, Err: errors.New("these are the records themselves"),
			Try: otherBackup}
	}
	h, err := takeLock(ctx, to, alone)
	if err != nil {
		return r, err
	}
	defer h.release()

	o.step("copy")
	part, err := copyBackup(o.From, filepath.Dir(to), o.Identity)
	if err != nil {
		return r, err
	}
	defer removePart(part)
	if part, err = databaseOf(ctx, part); err != nil {
		return r, named(err, o.From)
	}
	defer removePart(part)
	o.step("check")
	old, err := o.readBoth(ctx, part, to, &r)
	if err == nil {
		err = o.takeDecisions(ctx, part, &old, &r)
	}
	if err = errors.Join(err, old.close()); err != nil {
		return r, err
	}
	o.step("sync")
	if err := syncFile(part); err != nil {
		return r, err
	}
	aside := o.Aside
	if r.Replaced.Size == 0 || o.DiscardOld && r.Damaged == nil {
		aside = ""
	}
	if r.Aside, err = layAside(to, aside, o.step); err != nil {
		return r, err
	}
	o.step("rename")
	if err := os.Rename(part, to); err != nil {
		return r, err
	}
	o.step("sync folder")
	_ = writeSeen(to, seen{r.Backup.Rows, r.Backup.LastID}) // so that a backup without growers may be served
	return r, syncDir(filepath.Dir(to))
}

// readBoth checks the copy of the backup and reads the records that are replaced, at the same time, because each takes
// many times as long as the copying. If the backup is refused, the replaced records are only read.
func (o RestoreOptions) readBoth(ctx context.Context, part, to string, r *Restored) (old replaced, err error) {
	var oldErr error
	var reads sync.WaitGroup
	reading, giveUp := context.WithCancel(ctx)
	defer giveUp()
	reads.Go(func() { old, oldErr = readReplaced(reading, to) })
	if r.Backup, err = Inspect(ctx, part); err != nil {
		giveUp()
	}
	reads.Wait()
	if err != nil {
		return old, named(err, o.From)
	}
	r.Backup.Path, old.since = o.From, r.Backup.Newest
	return old, oldErr
}

// takeDecisions adds later decisions from the records that are replaced to the copy of the backup.
func (o RestoreOptions) takeDecisions(ctx context.Context, part string, old *replaced, r *Restored) (err error) {
	o.step("merge the log of what is replaced")
	if err := old.mergeLog(ctx); err != nil {
		return err
	}
	r.Replaced, r.Damaged = old.Contents, old.damaged
	if old.Newest > r.Backup.Newest && !o.DiscardNewer {
		return &NewerError{Backup: r.Backup.Newest, Records: old.Newest}
	}
	o.step("take decisions over")
	r.Reconciled, err = o.renew(ctx, part, r.Backup, *old)
	return named(err, o.From)
}

func sameFile(a, b string) bool {
	x, err := os.Stat(a)
	y, other := os.Stat(b)
	return err == nil && other == nil && os.SameFile(x, y)
}

const otherBackup = "Name another backup with --from"

// named returns an error about the temporary copy of a backup as an error about the backup at path, because the
// operator knows only that path.
func named(err error, path string) error {
	var e *OpenError
	if errors.As(err, &e) {
		e.Op, e.Path = "check", path
		if errors.Is(err, ErrNotDatabase) || errors.Is(err, ErrForeign) || errors.Is(err, ErrDamaged) {
			e.Try = otherBackup
		}
	}
	return err
}

// copyBackup copies a backup into the folder of the records, decrypted if it is encrypted. A file that was copied while
// in use has a write-ahead log, which is copied too.
func copyBackup(from, dir, identity string) (part string, err error) {
	if info, err := os.Stat(from); err != nil || !info.Mode().IsRegular() {
		if err == nil {
			err = errors.New("it is not a file")
		}
		return "", &OpenError{Op: "check", Path: from, Err: err, Try: otherBackup}
	}
	encrypted := isEncrypted(from)
	if !encrypted && identity != "" {
		return "", &OpenError{Op: "check", Path: from,
			Err: errors.New("it is not encrypted, or its beginning is damaged"),
			Try: "Leave out --identity if you trust it; else name another backup with --from"}
	}
	if part, err = newPart(dir); err != nil {
		return "", err
	}
	if encrypted {
		err = decryptBackup(from, part, identity)
	} else if err = copyFile(from, part); err == nil {
		if err = copyFile(from+"-wal", part+"-wal"); errors.Is(err, os.ErrNotExist) {
			err = nil
		}
	}
	if err != nil {
		removePart(part)
	}
	return part, err
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}

// smallCache makes SQLite use 4 MB for pages: a restore reads most of them once.
const smallCache = "PRAGMA cache_size = -4000"

// renew migrates and reconciles the copy of a backup. Afterwards the copy is one file without a write-ahead log. A copy
// that was migrated is checked again.
func (o RestoreOptions) renew(ctx context.Context, part string, c Contents, old replaced) (Reconciled, error) {
	var t Reconciled
	s, err := Open(ctx, part, Options{ReadConns: 1, noLock: true, copying: true, OnStatement: o.onStatement})
	if err != nil {
		return t, err
	}
	err = s.InTx(ctx, func(tx *Tx) (err error) {
		if err = errors.Join(tx.do(smallCache), tx.dropMarks()); err == nil {
			t, err = tx.reconcile(old, o.Now)
		}
		return err
	})
	if err == nil && c.Schema != Schema() {
		err = s.IntegrityCheck(ctx)
	}
	if err = errors.Join(err, s.Close()); err != nil {
		return t, err
	}
	return t, mergeLog(ctx, part)
}

// mergeLog merges a database and its write-ahead log into one file. It returns ErrInUse if another process has the
// file open.
func mergeLog(ctx context.Context, path string) error {
	db := openPool(path, upkeepDSN, hardening, 1)
	defer db.Close()
	var mode string
	err := db.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode)
	switch {
	case err != nil && isBusy(err), err == nil && mode != "delete":
		return ErrInUse
	}
	return err
}

// layAside gives the old database file the additional name aside, so that the file stays when the restored file is
// renamed to the path to. If aside is "", the old file is not kept. layAside also moves the old write-ahead log away,
// because SQLite would apply that log to the new file.
func layAside(to, aside string, step func(string)) (kept string, err error) {
	if aside != "" {
		step("lay aside")
		if kept, err = keepAside(to, aside); err != nil {
			return "", err
		}
	}
	// takeDecisions has already merged the write-ahead log into the file. A log that is still there belongs to a file
	// that could not be opened, so the log is kept beside that file.
	for _, suffix := range []string{"-wal", "-journal", "-shm"} {
		step("take away " + suffix)
		var err error
		if kept != "" && suffix != "-shm" {
			err = os.Rename(to+suffix, kept+suffix)
		} else {
			err = os.Remove(to + suffix)
		}
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			return kept, err
		}
	}
	return kept, syncDir(filepath.Dir(to))
}

// keepAside gives the file a second name, or copies it if the file system has no hard links. If the name is used,
// keepAside adds a number to it.
func keepAside(to, aside string) (string, error) {
	for n := 1; ; n++ {
		name := aside
		if n > 1 {
			name = fmt.Sprintf("%s-%d", aside, n)
		}
		err := os.Link(to, name)
		switch {
		case err == nil:
			return name, nil
		case errors.Is(err, os.ErrExist):
			continue
		}
		if _, err := os.Lstat(name); err == nil {
			continue
		}
		return name, copyFile(to, name)
	}
}
