package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func rename(t *testing.T, from, to string) {
	t.Helper()
	ok(t, os.Rename(from, to))
}

// detachments are ways to remove or replace the files of an open store.
var detachments = []struct {
	name  string
	do    func(t *testing.T, path string)
	whole bool // no copy is made, because the file at the path has everything
}{
	{name: "removed", do: func(t *testing.T, path string) { ok(t, os.Remove(path)) }},
	{name: "removed with its log", do: func(t *testing.T, path string) {
		for _, suffix := range []string{"", "-wal", "-shm"} {
			ok(t, os.Remove(path+suffix))
		}
	}},
	{name: "another moved over it", do: func(t *testing.T, path string) {
		other := filepath.Join(t.TempDir(), "other.db")
		s, err := Open(ctx, other, Options{})
		ok(t, errors.Join(err, s.Close()))
		rename(t, other, path)
	}},
	{name: "moved, and a link left", do: func(t *testing.T, path string) {
		rename(t, path, path+".away")
		ok(t, os.Symlink(path+".away", path))
	}},
	{name: "the folder moved", do: func(t *testing.T, path string) {
		rename(t, filepath.Dir(path), filepath.Dir(path)+".away")
	}},
	{name: "the folder replaced", do: func(t *testing.T, path string) {
		rename(t, filepath.Dir(path), filepath.Dir(path)+".away")
		ok(t, os.Mkdir(filepath.Dir(path), 0o700))
	}},
	{name: "the log removed", whole: true, do: func(t *testing.T, path string) { ok(t, os.Remove(path+"-wal")) }},
	{name: "the lock removed", whole: true, do: func(t *testing.T, path string) { ok(t, os.Remove(path+"-lock")) }},
	{name: "the index removed", whole: true, do: func(t *testing.T, path string) {
		ok(t, os.Remove(path+"-shm"))
	}},
}

// Each way in which the files of an open store are removed or replaced: the next write is refused, and all earlier
// writes are in the rescued copy or in the database file.
func TestDetachedRecords(t *testing.T) {
	sqliteOnly(t)
	for _, c := range detachments {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "records", "rowbell.db")
			ok(t, os.Mkdir(filepath.Dir(path), 0o700))
			var told []*DetachedError
			fallback := t.TempDir()
			s := openWith(t, path, Options{RescueFolders: []string{fallback},
				OnDetached: func(e *DetachedError) { told = append(told, e) }})
			withPlot(t, s, ana)
			write(t, s, remember("before"))
			c.do(t, path)
			for range 3 {
				err := s.InTx(ctx, remember("after"))
				errorIf(t, !Unavailable(err) || Advice(err) != detachedAdvice, "a write: %v", err)
			}
			var e *DetachedError
			fatalIf(t, !errors.As(s.CheckFile(), &e) || len(told) != 1 || told[0] != e, "%v, told %v", e, told)
			view(t, s, func(tx *Tx) error { // the open records can still be read
				return second(tx.Ledger(ana, noon))
			})
			wantErr(t, s.Checkpoint(ctx), e, "checkpoint")
			err := s.Close()
			errorIf(t, !errors.As(err, &e), "close: %v", err)
			equal(t, len(told), 1, "rescues")
			equal(t, e.Whole, c.whole, "whole")
			left := e.Rescued
			if c.whole {
				left = path
			} else {
				errorIf(t, !strings.Contains(e.Error(), "rowbell restore --from "+left), "%v", e)
			}
			after := openAt(t, left)
			wantReplies(t, after, []string{"before"})
			equal(t, remembered(t, after), "before", "kept")
			errorIf(t, !read(t, after, ana, noon, func(l *Ledger) (bool, error) { return l.Known(), nil }), "no grower")
		})
	}
}

// A file that is removed during a transaction: its commit is not acknowledged, but is in the rescued copy, so that the
// repeat of a call finds it. The copy overwrites no file.
func TestDetachedDuringAWrite(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	taken := filepath.Join(filepath.Dir(s.path), "rowbell-rescued.db")
	ok(t, os.WriteFile(taken, []byte("an earlier one"), 0o600))
	err := s.InTx(ctx, func(tx *Tx) error { return errors.Join(remember("during")(tx), os.Remove(s.path)) })
	var e *DetachedError
	fatalIf(t, !errors.As(err, &e), "acknowledged: %v", err)
	ok(t, second(os.Stat(taken)))
	errorIf(t, !errors.As(s.Close(), &e) || e.Rescued != strings.Replace(taken, "rescued", "rescued-2", 1), "%+v", e)
	equal(t, remembered(t, openAt(t, e.Rescued)), "during", "kept")
	kept, err := os.ReadFile(taken)
	errorIf(t, err != nil || string(kept) != "an earlier one", "overwritten: %q %v", kept, err)
}

// Files that are moved back are the open ones again, so the store works on. A rescue that failed is tried again.
func TestDetachedAndBack(t *testing.T) {
	sqliteOnly(t)
	told := 0
	s := openNew(t, Options{OnDetached: func(*DetachedError) { told++ }})
	write(t, s, remember("a"))
	dir := filepath.Dir(s.path)
	ok(t, os.Rename(dir, dir+".away"))
	var e *DetachedError
	for range 2 { // the second write waits until the rescue after the first one has ended
		errorIf(t, !errors.As(s.InTx(ctx, remember("b")), &e), "acknowledged")
	}
	errorIf(t, !errors.As(s.CheckFile(), &e) || e.Err == nil || !strings.Contains(e.Error(), "could not be copied"),
		"%+v", e)
	equal(t, told, 1, "told of it")
	ok(t, os.Mkdir(dir, 0o700))
	errorIf(t, !errors.As(s.Recheck(ctx), &e), "acknowledged")
	errorIf(t, !errors.As(s.CheckFile(), &e) || e.Rescued == "", "%+v", e)
	ok(t, errors.Join(os.RemoveAll(dir), os.Rename(dir+".away", dir)))
	write(t, s, remember("c"))
	ok(t, s.CheckFile())
	equal(t, told, 3, "told of it")
	equal(t, remembered(t, openAgain(t, s, Options{})), "a c", "kept")
}

// A symbolic link that leads to another file detaches the records; so does an emptied file.
func TestDetachedByALink(t *testing.T) {
	sqliteOnly(t)
	link := filepath.Join(t.TempDir(), "link.db")
	s := open(t)
	path := shut(t, s)
	ok(t, os.Symlink(path, link))
	s = openWith(t, link, Options{})
	write(t, s, remember("a"))
	other := shut(t, open(t))
	ok(t, errors.Join(os.Remove(link), os.Symlink(other, link)))
	var e *DetachedError
	errorIf(t, !errors.As(s.InTx(ctx, remember("b")), &e) || e.Path != link, "acknowledged: %+v", e)
	ok(t, errors.Join(os.Remove(link), os.Symlink(path, link)))
	write(t, s, remember("c"))
	ok(t, os.Truncate(path, 0))
	errorIf(t, !errors.As(s.InTx(ctx, remember("d")), &e) || e.Path != path, "acknowledged: %+v", e)
}

// A write-ahead log that is emptied or cut off in place is noticed at the next write, and what is left of it is not
// applied. SQLite itself may empty it at any time.
func TestLogCutOff(t *testing.T) {
	sqliteOnly(t)
	for name, part := range map[string]int64{"all": 0, "half": 2, "the last frame": 100} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "rowbell.db")
			s := openWith(t, path, Options{Serving: true})
			write(t, s, remember("a"))
			ok(t, second(Compact(ctx, path))) // empties the log
			write(t, s, remember("b"))
			info, err := os.Stat(path + "-wal")
			ok(t, err)
			size := int64(0)
			if part > 0 {
				size = info.Size() - info.Size()/part
			}
			ok(t, os.Truncate(path+"-wal", size))
			var e *DetachedError
			fatalIf(t, !errors.As(s.InTx(ctx, remember("c")), &e) || !e.Overwritten, "acknowledged: %+v", e)
			err = s.Close()
			errorIf(t, !errors.As(err, &e) || e.Rescued != "" || e.Whole, "close: %v", err)
			ok(t, second(os.Stat(path+"-wal-overwritten-1")))
		})
	}
}

// A backup that is copied over the open file of the service, or another file, is noticed. Nothing is rescued from the
// mix of both, and the write-ahead log of the old content is not applied to the new one.
func TestOverwrittenRecords(t *testing.T) {
	sqliteOnly(t)
	for name, content := range map[string]func(backup string) []byte{
		"a backup":     func(backup string) []byte { b, err := os.ReadFile(backup); ok(t, err); return b },
		"another file": func(string) []byte { return []byte(strings.Repeat("not records ", 9000)) },
		"nothing":      func(string) []byte { return nil },
	} {
		t.Run(name, func(t *testing.T) {
			path, backup := filepath.Join(t.TempDir(), "rowbell.db"), filepath.Join(t.TempDir(), "night.db")
			s := openWith(t, path, Options{Serving: true})
			write(t, s, remember("a"))
			ok(t, second(Backup(ctx, path, backup, BackupOptions{})))
			write(t, s, remember("b"))
			ok(t, os.WriteFile(path, content(backup), 0o600))
			var e *DetachedError
			fatalIf(t, !errors.As(s.InTx(ctx, remember("c")), &e) || !e.Overwritten, "acknowledged: %+v", e)
			err := s.Close()
			errorIf(t, !errors.As(err, &e) || e.Rescued != "" || e.Whole, "close: %v", err)
			ok(t, second(os.Stat(path+"-wal-overwritten-1")))
			wantErr(t, second(os.Stat(path+"-wal")), os.ErrNotExist, "the old log")
		})
	}
}
