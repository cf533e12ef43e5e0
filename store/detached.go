package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// DetachedError says that the open database is no longer the file at its path, because the file was removed, moved or
// replaced. What is written to the open database would be lost when this program ends, so no write is acknowledged.
type DetachedError struct {
	Path        string // path of the file that was removed, moved or replaced
	What        string // name of that file for people, such as "the write-ahead log"
	Overwritten bool   // true if the content of the file was replaced in place, so that nothing can be rescued
	Rescued     string // path of a copy of all acknowledged writes; "" if there is none
	Whole       bool   // true if the database file at its path has all acknowledged writes, so no copy is needed
	Err         error  // why no copy could be made; nil if there is a copy or none is needed
}

func (e *DetachedError) Error() string {
	s := fmt.Sprintf("%s %s was removed or replaced while it was open", e.What, e.Path)
	switch {
	case e.Overwritten:
		return fmt.Sprintf("%s %s was overwritten while it was open; what was in it is lost: stop the service, and "+
			"put back a backup with rowbell restore", e.What, e.Path)
	case e.Whole:
		return s + "; all that was answered is in the database file: start the service again"
	case e.Rescued != "":
		return fmt.Sprintf("%s; all that was answered is in %s: stop the service, and put it back with "+
			"rowbell restore --from %s --db %s", s, e.Rescued, e.Rescued, e.Path)
	case e.Err != nil:
		return fmt.Sprintf("%s; what was answered could not be copied (%v): make room and make the folder of the "+
			"records again, while the service still runs", s, e.Err)
	}
	return s
}

func (e *DetachedError) Unwrap() error { return e.Err }

const detachedAdvice = "their file was removed or replaced while the service runs: the log says what was rescued and " +
	"where it is; stop the service and restore that"

// openFiles are the files of an open database, as they were when it was opened. SQLite finds the write-ahead log and
// the index of that log (its shared memory) by their names, so these two must not be replaced either. The same is true
// for the lock file.
type openFiles struct {
	given string     // path that the program was given; it may contain symbolic links
	real  string     // path without symbolic links; SQLite derives the other two names from this path
	files []openFile // the database file is the first
	// content is the database file, and index is the index of the write-ahead log. They are read to find out whether
	// the database or the log was overwritten; nil if that is not watched. They are closed only after SQLite has closed
	// these files, because to close them earlier would release the locks of SQLite.
	content, index *os.File
}

type openFile struct {
	path, what string
	info       os.FileInfo
}

// databaseFiles lists the suffixes of the files of a database, and that of the lock file: if the lock file were
// replaced, a second service could serve the same records.
var databaseFiles = []struct{ suffix, what string }{
	{"", "the database file"}, {"-wal", "the write-ahead log"}, {"-shm", "the index of the write-ahead log"},
	{lockSuffix, "the lock file"},
}

// filesOf describes the files that the database at path has now.
func filesOf(path string) (*openFiles, error) {
	real, err := realPath(path)
	if err != nil {
		return nil, err
	}
	f := &openFiles{given: path, real: real}
	for _, d := range databaseFiles {
		info, err := os.Lstat(real + d.suffix)
		switch {
		case errors.Is(err, os.ErrNotExist) && d.suffix != "":
		case err != nil:
			return nil, err
		default:
			f.files = append(f.files, openFile{real + d.suffix, d.what, info})
		}
	}
	return f, nil
}

// walVersion is the position of two bytes in the header of a database file that are 2 while SQLite has a write-ahead
// log, and 1 in a backup (sqlite.org/fileformat.html, section 1.3).
const walVersion = 18

// watchContent opens the database file and the index once more. It does nothing if the file has no write-ahead log.
func (f *openFiles) watchContent() (err error) {
	if f.content, err = os.Open(f.real); err != nil {
		return err
	}
	if f.overwritten() {
		file := f.content
		f.content = nil
		return file.Close()
	}
	f.index, err = os.Open(f.real + "-shm")
	return err
}

// overwritten reports whether the content of the file is no longer that of a database with a write-ahead log. It finds
// that the file was emptied, or that a backup or another file was copied over it. It does not find that a copy of a
// database in use was copied over it.
func (f *openFiles) overwritten() bool {
	var version [2]byte
	if f.content == nil {
		return false
	}
	_, err := f.content.ReadAt(version[:], walVersion)
	return err != nil || version != [2]byte{2, 2}
}

func (f *openFiles) close() error {
	if f == nil || f.content == nil {
		return nil
	}
	return errors.Join(f.content.Close(), f.index.Close())
}

// check returns a *DetachedError if one of the files is no longer at its path, or was overwritten. A nil *openFiles is
// never detached.
func (f *openFiles) check() error {
	if f == nil {
		return nil
	}
	for i, was := range f.files {
		is, err := os.Lstat(was.path)
		if err != nil || !os.SameFile(is, was.info) {
			return &DetachedError{Path: was.path, What: was.what}
		}
		if i == 0 && (is.Size() == 0 || f.overwritten()) {
			return &DetachedError{Path: was.path, What: was.what, Overwritten: true}
		}
	}
	if f.logCut() {
		return &DetachedError{Path: f.real + "-wal", What: "the write-ahead log", Overwritten: true}
	}
	if f.given != f.real { // a symbolic link may lead to another file now
		if is, err := os.Stat(f.given); err != nil || !os.SameFile(is, f.files[0].info) {
			return &DetachedError{Path: f.given, What: f.files[0].what}
		}
	}
	return nil
}

// CheckFile returns a *DetachedError if the open database is no longer the file at its path.
func (s *Store) CheckFile() error {
	if s.fileDB == nil {
		return nil
	}
	err := s.files.check()
	if found := s.detached.Load(); found != nil && err != nil {
		return found // it also says what was rescued
	}
	return err
}

// Recheck compares the open database with the file at its path, as each write does, and waits for the rescue. If an
// earlier rescue failed, Recheck tries it again.
func (s *Store) Recheck(ctx context.Context) error {
	if s.fileDB == nil {
		return nil
	}
	j := newJob(ctx, func(*Tx) error { return nil })
	j.rescue = true
	return s.do(ctx, j)
}

// checkFile is like Store.CheckFile, and also reports to OnDetached that the files are back at their paths.
func (w *writer) checkFile() error {
	err := w.s.CheckFile()
	if err == nil && w.s.detached.Load() != nil {
		w.s.detached.Store(nil)
		w.s.onDetached(nil)
	}
	return err
}

// rescueIfDetached rescues the open records if err is a *DetachedError and they were not rescued yet. If an earlier
// rescue failed, it tries again only if again is set. The caller is the only user of the writing connection.
func (w *writer) rescueIfDetached(err error, again bool) {
	var e *DetachedError
	if before := w.s.detached.Load(); !errors.As(err, &e) || before != nil && (before.Err == nil || !again) {
		return
	}
	found := &DetachedError{Path: e.Path, What: e.What, Overwritten: e.Overwritten}
	if !e.Overwritten && w.s.files.files[0].path != e.Path && w.s.files.given != e.Path {
		// Only another file is gone, so the database file at its path can take the rest of the log.
		found.Whole = w.copyLog()
	}
	if !found.Whole && !found.Overwritten {
		found.Rescued, found.Err = w.rescue()
	}
	w.s.detached.Store(found)
	w.s.onDetached(found)
}

// renameLog renames the write-ahead log beside the database file real. It is used if the log does not belong to the
// present content of the file: SQLite would mix both, or delete the log. The word why becomes a part of the new name.
func renameLog(real, why string) error {
	for n := 1; ; n++ {
		to := fmt.Sprintf("%s-wal-%s-%d", real, why, n)
		if _, err := os.Lstat(to); errors.Is(err, os.ErrNotExist) {
			return os.Rename(real+"-wal", to)
		}
	}
}

// copyLog copies the whole write-ahead log into the database file, which is still at its path. It reports whether that
// succeeded.
func (w *writer) copyLog() bool {
	var busy, log, copied int
	err := w.conn.QueryRowContext(context.Background(), "PRAGMA wal_checkpoint(FULL)").Scan(&busy, &log, &copied)
	return err == nil && busy == 0 && log == copied
}

// rescueTimeout bounds a rescue, because writes wait until it ends, and are then refused.
const rescueTimeout = 10 * time.Minute

// rescue writes the open records to a new file in the folder of the database. If that fails, it tries the rescue
// folders. It returns the path of the file.
func (w *writer) rescue() (string, error) {
	ctx, cancel := context.WithTimeout(context.Background(), rescueTimeout)
	defer cancel()
	var errs []error
	for _, dir := range append([]string{filepath.Dir(w.s.path)}, w.s.rescueFolders...) {
		to, err := w.rescueTo(ctx, dir)
		if err == nil {
			return to, nil
		}
		errs = append(errs, err)
	}
	return "", errors.Join(errs...)
}

func (w *writer) rescueTo(ctx context.Context, dir string) (string, error) {
	part, err := newPart(dir)
	if err != nil {
		return "", err
	}
	defer removePart(part)
	if _, err := w.conn.ExecContext(ctx, "VACUUM INTO ?", part); err != nil {
		return "", err
	}
	if _, err := Inspect(ctx, part); err != nil {
		return "", err
	}
	if err := syncFile(part); err != nil {
		return "", err
	}
	base := filepath.Base(w.s.path)
	ext := filepath.Ext(base)
	for n := 1; ; n++ {
		name := strings.TrimSuffix(base, ext) + "-rescued"
		if n > 1 {
			name += fmt.Sprint("-", n)
		}
		to := filepath.Join(dir, name+ext)
		if _, err := os.Lstat(to); err == nil {
			continue
		}
		if err := publish(part, to, false); !errors.Is(err, os.ErrExist) {
			return to, err
		}
	}
}
