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

// DetachedError says that the open database is no longer the file at its path, because it was removed, moved or
// replaced. What is committed to it then would be lost when this program ends, so no write is acknowledged.
type DetachedError struct {
	Path    string // path of the file that was removed, moved or replaced
	What    string // which file that is
	Rescued string // path of a copy of all acknowledged writes; "" if there is none
	Whole   bool   // all acknowledged writes are in the database file at its path, so no copy is needed
	Err     error  // why no copy could be made; nil if there is a copy or none is needed
}

func (e *DetachedError) Error() string {
	s := fmt.Sprintf("%s %s was removed or replaced while it was open", e.What, e.Path)
	switch {
	case e.Whole:
		return s + "; all that was answered is in the database file: start the service again"
	case e.Rescued != "":
		return fmt.Sprintf("%s; all that was answered is in %s: stop the service, and put it back with "+
			"rowbell restore --from %s", s, e.Rescued, e.Rescued)
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
// the shared memory (the index of that log) by their names, so these two must not be replaced either.
type openFiles struct {
	given string // path that the program was given; it may contain symbolic links
	real  string // path without symbolic links; SQLite derives the other two names from this path
	files []openFile
}

type openFile struct {
	path, what string
	info       os.FileInfo
}

// databaseFiles lists the suffixes of the files of a database.
var databaseFiles = []struct{ suffix, what string }{
	{"", "the database file"}, {"-wal", "the write-ahead log"}, {"-shm", "the index of the write-ahead log"},
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

// check returns a *DetachedError if one of the files is no longer at its path. An emptied database file counts as
// replaced. A nil *openFiles is never detached.
func (f *openFiles) check() error {
	if f == nil {
		return nil
	}
	for i, was := range f.files {
		is, err := os.Lstat(was.path)
		if err != nil || !os.SameFile(is, was.info) || i == 0 && is.Size() == 0 {
			return &DetachedError{Path: was.path, What: was.what}
		}
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
	err := s.files.check()
	var is *DetachedError
	if was := s.detached.Load(); was != nil && errors.As(err, &is) {
		return was
	}
	return err
}

// Recheck compares the open database with the file at its path, as each write does, and waits for the rescue. If an
// earlier rescue failed, Recheck tries it again.
func (s *Store) Recheck(ctx context.Context) error {
	j := newJob(ctx, func(*Tx) error { return nil })
	j.rescue = true
	if err := s.submit(ctx, j); err != nil {
		return err
	}
	<-j.done
	return j.err
}

// attached is CheckFile for the writer, which also notes when the files are back at their paths.
func (w *writer) attached() error {
	err := w.s.CheckFile()
	if err == nil && w.s.detached.Load() != nil {
		w.s.detached.Store(nil)
		w.s.tell(nil)
	}
	return err
}

// detach rescues the open records when they are found detached, and once more if again is set and the rescue failed.
// The caller is the only user of the writing connection.
func (w *writer) detach(err error, again bool) {
	var e *DetachedError
	if was := w.s.detached.Load(); !errors.As(err, &e) || was != nil && (was.Err == nil || !again) {
		return
	}
	found := &DetachedError{Path: e.Path, What: e.What}
	if w.s.files.files[0].path != e.Path && w.s.files.given != e.Path {
		found.Whole = w.emptyLog()
	}
	if !found.Whole {
		found.Rescued, found.Err = w.rescue()
	}
	w.s.detached.Store(found)
	w.s.tell(found)
}

func (s *Store) tell(e *DetachedError) {
	if s.onDetached != nil {
		s.onDetached(e)
	}
}

// emptyLog copies the whole write-ahead log into the database file, which is still at its path. It reports whether that
// succeeded.
func (w *writer) emptyLog() bool {
	var busy, log, copied int
	err := w.conn.QueryRowContext(context.Background(), "PRAGMA wal_checkpoint(FULL)").Scan(&busy, &log, &copied)
	return err == nil && busy == 0 && log == copied
}

// rescueTimeout bounds a rescue, because writes wait for it only to be refused.
const rescueTimeout = 10 * time.Minute

// rescue writes the open records to a new file beside the path of the database, or in one of the other folders. It
// returns the path of the file.
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
