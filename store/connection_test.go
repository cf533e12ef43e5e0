package store

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/mattn/go-sqlite3"
)

// Every connection must have its settings, so the writer and all readers are checked while all are open.
func TestEveryConnectionHasItsSettings(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	both := map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "5000",
		"trusted_schema": "0", "cell_size_check": "1"}
	check := func(t *testing.T, tx *Tx, more map[string]string) {
		for _, list := range []map[string]string{both, more} {
			for pragma, want := range list {
				var got string
				_, err := tx.one("PRAGMA "+pragma, nil, &got)
				errorIf(t, err != nil || got != want, "%s = %s (%v), want %s", pragma, got, err, want)
			}
		}
	}
	write(t, s, func(tx *Tx) error {
		check(t, tx, map[string]string{"query_only": "0", "secure_delete": "1", "wal_autocheckpoint": "4000",
			"temp_store": "2", "journal_size_limit": "67108864"})
		return nil
	})
	equal(t, s.writeDB.Stats().MaxOpenConnections, 1, "writing connections")
	var hold func(left int)
	hold = func(left int) {
		view(t, s, func(tx *Tx) error {
			check(t, tx, map[string]string{"query_only": "1"})
			if left > 1 {
				hold(left - 1)
			} else {
				equal(t, s.readDB.Stats().InUse, defaultReadConns, "readers in use")
			}
			return nil
		})
	}
	hold(defaultReadConns)
}

func TestReadersCannotWrite(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	err := s.View(ctx, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("x")) })
	errorIf(t, err == nil || !Unavailable(err), "a write in View: %v", err)
	// If the function given to View panics, the connection must return to the pool without its transaction.
	for range 2 * defaultReadConns {
		func() {
			defer func() { recover() }()
			s.View(ctx, func(*Tx) error { panic("gone") })
		}()
	}
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("x")) })
	for range 2 * defaultReadConns {
		wantNumber(t, s, 1, "SELECT count(*) FROM meta WHERE key = 'token hash: local'")
	}
}

// A view does not see writes that are committed while the view runs.
func TestViewIsOfOneMoment(t *testing.T) {
	s := open(t)
	view(t, s, func(tx *Tx) error {
		_, before, err := tx.TokenHash("local")
		write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("x")) })
		_, after, err2 := tx.TokenHash("local")
		errorIf(t, before || after, "token before the write %v, after it %v", before, after)
		return errors.Join(err, err2)
	})
}

func TestOddPaths(t *testing.T) {
	sqliteOnly(t)
	for _, name := range []string{"a b.db", "a?b.db", "a%20b.db", "100%.db", "a#b.db", "a'b.db", "a&mode=memory.db",
		"a+b;c=d.db", "é.db", ":memory:", "file:x"} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "dir ?%#", name)
			ok(t, os.Mkdir(filepath.Dir(path), 0o700))
			s := openAt(t, path)
			withPlot(t, s, ana)
			errorIf(t, !read(t, s, ana, noon, func(l *Ledger) (bool, error) { return l.Known(), nil }),
				"the readers opened another file")
			shut(t, s)
			info, err := os.Stat(path)
			errorIf(t, err != nil || info.Size() == 0, "no file at the path: %v", err)
			files, _ := os.ReadDir(filepath.Dir(path))
			errorIf(t, len(files) != 2, "files beside it: %v", files)
		})
	}
}

var refusals = []struct {
	name string
	make func(t *testing.T, path string) string // creates a file and returns the path to open
	want error
	says string
}{
	{"missing directory", func(_ *testing.T, path string) string { return filepath.Join(path, "x.db") },
		ErrNoDirectory, "--db"},
	{"a file for a directory", func(t *testing.T, path string) string {
		return filepath.Join(with("")(t, path), "x.db")
	}, nil, "x.db"},
	{"a directory", func(_ *testing.T, path string) string { return filepath.Dir(path) }, ErrNotDatabase, "directory"},
	{"a text", with(strings.Repeat("not a database ", 100)), ErrNotDatabase, "backup"},
	{"a short text", with("hello"), ErrNotDatabase, "backup"},
	{"another program's mark", withSQL("PRAGMA application_id = 77; CREATE TABLE x (a)"), ErrForeign, "0x4d"},
	{"another program's mark, still empty", withSQL("PRAGMA application_id = 77"), ErrForeign, "0x4d"},
	{"no mark but tables", withSQL("CREATE TABLE x (a)"), ErrForeign, "another file"},
	{"a newer schema", func(t *testing.T, path string) string {
		shut(t, openAt(t, path))
		return withSQL("INSERT INTO schema_version (version_id, is_applied) VALUES (99, 1)")(t, path)
	}, ErrNewer, "schema 99"},
}

// with returns a function that writes a file with this content.
func with(content string) func(*testing.T, string) string {
	return func(t *testing.T, path string) string { writeFile(t, path, []byte(content)); return path }
}

// withSQL returns a function that runs a query on a database file, which is created if it does not exist.
func withSQL(query string) func(*testing.T, string) string {
	return func(t *testing.T, path string) string { execAt(t, path, query); return path }
}

func TestRefusals(t *testing.T) {
	sqliteOnly(t)
	for _, c := range refusals {
		t.Run(c.name, func(t *testing.T) {
			path := c.make(t, filepath.Join(t.TempDir(), "rowbell.db"))
			before, _ := os.ReadFile(path)
			_, err := Open(ctx, path, Options{})
			var open *OpenError
			fatalIf(t, !errors.As(err, &open) || open.Op != "open" || open.Path != path || open.Try == "",
				"error %#v", err)
			errorIf(t, c.want != nil && !errors.Is(err, c.want), "error %v, want %v", err, c.want)
			errorIf(t, !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), path),
				"error does not say %q and the path: %v", c.says, err)
			after, _ := os.ReadFile(path)
			errorIf(t, string(after) != string(before), "the refused file was changed")
		})
	}
}

func TestOpenAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rowbell.db")
	for range 3 {
		s := openAt(t, path)
		wantNumber(t, s, 1, "SELECT count(*) FROM place")
		// The records contain phone numbers, so only the owner of the files may read them.
		for _, f := range []string{path, path + "-wal"} {
			info, err := os.Stat(f)
			ok(t, err)
			equal(t, info.Mode().Perm(), 0o600, "%s has mode", filepath.Base(f))
		}
		shut(t, s)
	}
	empty := path + ".empty"
	writeFile(t, empty, nil) // an empty file is accepted as a new database
	shut(t, openAt(t, empty))
	raw, err := os.ReadFile(path)
	ok(t, err)
	equal(t, string(raw[68:72]), "rbel", "the file is marked")
}

func TestOldLibrary(t *testing.T) {
	sqliteOnly(t)
	for version, want := range map[int]bool{
		3007000: true, 3040001: true, 3044006: true, 3050007: true, 3051002: true,
		3051003: false, 3052000: false, 3054001: false, 4000000: false,
	} {
		err := checkLibrary("x.db", "3.x", version)
		errorIf(t, errors.Is(err, ErrLibrary) != want, "checkLibrary(%d): %v", version, err)
	}
}

func TestAdvice(t *testing.T) {
	sqliteOnly(t)
	for _, e := range []sqlite3.ErrNo{sqlite3.ErrFull, sqlite3.ErrIoErr, sqlite3.ErrReadonly, sqlite3.ErrCantOpen,
		sqlite3.ErrBusy, sqlite3.ErrCorrupt, sqlite3.ErrMisuse} {
		errorIf(t, Advice(fmt.Errorf("store: commit: %w", sqlite3.Error{Code: e})) == "", "no words for code %d", e)
	}
	for _, err := range []error{nil, context.Canceled, ErrClosed} {
		equal(t, Advice(err), "", "%v is not the database's", err)
	}
}
