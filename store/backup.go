package store

import (
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"rowbell/store/agefile"
)

// Contents describes a database file, without any phone number.
type Contents struct {
	Path             string
	Size             int64 // size of the file in bytes
	Schema           int64
	Growers, Stopped int64 // growers with a phone number, and how many of these growers stopped texts
	OpenPlots        int64
	Rows             int64 // growers, also those without a phone number
	Free             int64 // bytes of the file that no record uses
	LastID           int64 // the highest id that a grower ever had
	Newest           int64 // latest time stored in any row of the file, in Unix seconds; 0 if the file has none
}

// The name of a backup file begins with partPrefix while the file is still being written.
const partPrefix = ".rowbell-part-"

// BackupOptions say how to write a backup.
type BackupOptions struct {
	Replace    bool                // an existing backup with this name is replaced
	Recipients []agefile.Recipient // to whom the backup is encrypted; none: it is not, see backupEncrypted
	// Ticks should come every SyncEvery. At each the growing file is synced: otherwise the system keeps gigabytes in
	// memory and then writes them all at once, and the commits of the service wait for that, a second and longer
	// (measured). nil: the file is synced when it is complete.
	Ticks <-chan time.Time
}

// SyncEvery is short, so that little of a backup must be written to the disk at once.
const SyncEvery = 20 * time.Millisecond

// Backup copies the database file from, as it is at one instant, to the file to. The service may write meanwhile. The
// copy gets its name only when it is complete, synced and checked. An existing file that is not a backup is not
// replaced. Every error is an *OpenError.
//
// The backup of records on a server is a record file; see backupServer.
func Backup(ctx context.Context, from, to string, o BackupOptions) (c Contents, err error) {
	if OnServer(from) {
		c, err = backupServer(ctx, from, to, o)
		from = DisplayName(from)
	} else {
		c, err = backup(ctx, from, to, o)
	}
	var told *OpenError
	switch {
	case err == nil, errors.As(err, &told):
	case noRoom(err):
		err = &OpenError{Op: "back up", Path: from, Err: fmt.Errorf("the disk of the backup is full (%w)", err),
			Try: "Make room there, or give another folder"}
	case isNotDatabase(err):
		err = &OpenError{Op: "back up", Path: from, Err: fmt.Errorf("%w (%w)", ErrDamaged, err),
			Try: "Put back an older backup with rowbell restore"}
	default:
		err = &OpenError{Op: "back up", Path: from, Err: err,
			Try: "Check that the folder of the backup is there and can be written"}
	}
	return c, err
}

func backup(ctx context.Context, from, to string, o BackupOptions) (Contents, error) {
	real, err := realPath(from)
	if err != nil {
		return Contents{}, err
	}
	if _, err := os.Stat(real); err != nil {
		return Contents{}, err
	}
	if to, err = filepath.Abs(to); err != nil {
		return Contents{}, err
	}
	if err := mayReplace(real, to, o.Replace); err != nil {
		return Contents{}, &OpenError{Op: "write", Path: to, Err: err, Try: "Give another name with --to"}
	}
	h, err := lockForStore(ctx, real, false)
	if err != nil {
		return Contents{}, err
	}
	defer h.release()
	if err := probe(ctx, real); err != nil {
		return Contents{}, err
	}
	if len(o.Recipients) > 0 {
		return backupEncrypted(ctx, real, to, o)
	}
	part, err := newPart(filepath.Dir(to))
	if err != nil {
		return Contents{}, err
	}
	defer removePart(part)
	if err := copyRecords(ctx, real, part, o.Ticks); err != nil {
		return Contents{}, err
	}
	c, err := Inspect(ctx, part)
	if err != nil {
		return c, err
	}
	if err := syncFile(part); err != nil {
		return c, err
	}
	c.Path = to
	return c, publish(part, to, o.Replace)
}

// mayReplace returns an error if the file to exists and must not be overwritten.
func mayReplace(db, to string, replace bool) error {
	at, err := os.Lstat(to)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return err
	}
	if of, err := os.Stat(db); err == nil && os.SameFile(at, of) {
		return errors.New("these are the records themselves")
	}
	switch {
	case !at.Mode().IsRegular():
		return errors.New("there is something of this name that is not a file")
	case !replace:
		return errors.New("there is a file of this name; --replace replaces it")
	}
	switch ours, live := recognize(to); {
	case !ours:
		return errors.New("the file of this name is not a backup of rowbell")
	case live:
		return errors.New("the file of this name holds records that a service works on")
	}
	return nil
}

// IsBackup reports whether the file is a backup: a database of this program on which no service works, or an encrypted
// backup. This process must not have the file open.
func IsBackup(path string) bool {
	ours, live := recognize(path)
	return ours && !live
}

// recognize reports whether a file is a database or an encrypted backup of this program, and whether it is a database
// on which a service works.
func recognize(path string) (ours, live bool) {
	if isEncrypted(path) {
		_, err := readNote(path)
		return err == nil, false
	}
	if isRecordFile(path) {
		return true, false
	}
	const application = 68
	head, err := readHead(path)
	return err == nil && binary.BigEndian.Uint32(head[application:]) == applicationID, head[walVersion] != 1
}

// readHead reads the header of a SQLite file (sqlite.org/fileformat.html, section 1.3). This process must not have the
// file open, because closing a second handle of the file would release SQLite's locks.
func readHead(path string) (head [100]byte, err error) {
	f, err := os.Open(path)
	if err != nil {
		return head, err
	}
	defer f.Close()
	if _, err = io.ReadFull(f, head[:]); err == nil && string(head[:16]) != "SQLite format 3\x00" {
		err = ErrNotDatabase
	}
	return head, err
}

// newPart creates an empty backup file that only this user can read. It removes unfinished backup files in the folder
// that are older than an hour, because a crash left them.
func newPart(dir string) (string, error) {
	f, err := os.CreateTemp(dir, partPrefix+"*")
	if err != nil {
		return "", err
	}
	part := f.Name()
	now, err := f.Stat()
	if err = errors.Join(err, f.Close()); err != nil {
		removePart(part)
		return "", err
	}
	left, _ := filepath.Glob(filepath.Join(escapeGlob(dir), partPrefix+"*"))
	for _, name := range left {
		if was, err := os.Lstat(name); err == nil && was.ModTime().Before(now.ModTime().Add(-time.Hour)) {
			_ = os.Remove(name)
		}
	}
	return part, nil
}

func escapeGlob(dir string) string {
	return strings.NewReplacer(`*`, `[*]`, `?`, `[?]`, `[`, `[[]`).Replace(dir)
}

// removePart removes an unfinished backup file and the files that SQLite creates beside it, such as a journal.
func removePart(part string) {
	for _, suffix := range []string{"", "-journal", "-wal", "-shm"} {
		_ = os.Remove(part + suffix)
	}
}

// copyRecords writes a snapshot of the database, without its free pages, to an empty file. VACUUM INTO needs a
// connection that may write.
func copyRecords(ctx context.Context, from, to string, ticks <-chan time.Time) error {
	db := openPool(from, probeDSN+"&_synchronous=FULL", hardening, 1)
	defer db.Close()
	f, err := os.OpenFile(to, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	err = whileSynced(f, ticks, func() error { return second(db.ExecContext(ctx, "VACUUM INTO ?", to)) })
	return errors.Join(err, f.Close())
}

// whileSynced calls fill, which writes much to a file, and syncs the file at each tick meanwhile. What was written last
// is not synced.
func whileSynced(f *os.File, ticks <-chan time.Time, fill func() error) (err error) {
	filled, ended := make(chan struct{}), make(chan error)
	go func() {
		var failed error
		for {
			select {
			case <-filled:
				ended <- failed
				return
			case <-ticks:
				failed = cmp.Or(failed, f.Sync())
			}
		}
	}()
	defer func() { // also if fill panics
		close(filled)
		err = errors.Join(err, <-ended)
	}()
	return fill()
}

// publish gives a finished backup file its final name and syncs the folder. If another file got this name while the
// backup was being written, that file is replaced only if replace is set.
func publish(part, to string, replace bool) error {
	err := errors.ErrUnsupported
	if !replace {
		if err = os.Link(part, to); err == nil {
			err = os.Remove(part)
		}
	}
	switch {
	case errors.Is(err, os.ErrExist):
		return err
	case err != nil: // replace is true, or os.Link failed because the file system has no hard links
		err = os.Rename(part, to)
	}
	if err != nil {
		return err
	}
	return syncDir(filepath.Dir(to))
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// syncDir makes renames in a folder durable. It returns no error if the system cannot sync a folder.
func syncDir(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = f.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) || errors.Is(err, os.ErrPermission) {
		err = nil
	}
	return errors.Join(err, f.Close())
}
