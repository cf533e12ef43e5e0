package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

func backupOf(t testing.TB, s *Store) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "backup.db")
	ok(t, second(Backup(ctx, s.path, to, BackupOptions{})))
	return to
}

// nothingUnfinished reports a test error if a folder has unfinished backup files.
func nothingUnfinished(t testing.TB, dir string) {
	t.Helper()
	left, _ := filepath.Glob(filepath.Join(dir, partPrefix+"*"))
	errorIf(t, len(left) > 0, "left behind: %v", left)
}

// A backup contains every write that was confirmed before it began, while other goroutines go on writing.
func TestBackupWhileOthersWrite(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	var mu sync.Mutex
	var promised []string
	enough, done := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	for g := range 4 {
		wg.Go(func() {
			for i := 0; ; i++ {
				select {
				case <-done:
					return
				default:
				}
				key := fmt.Sprintf("%d-%d", g, i)
				if err := s.InTx(ctx, remember(key)); err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				if promised = append(promised, key); len(promised) == 200 {
					close(enough)
				}
				mu.Unlock()
			}
		})
	}
	<-enough
	mu.Lock()
	before := append([]string(nil), promised...)
	mu.Unlock()
	to := filepath.Join(t.TempDir(), "backup.db")
	c, err := Backup(ctx, s.path, to, BackupOptions{})
	close(done)
	wg.Wait()
	ok(t, err)
	info, err := os.Stat(to)
	ok(t, err)
	equal(t, info.Mode().Perm(), 0o600, "mode of the backup")
	errorIf(t, c.Newest < noon, "newest %d", c.Newest)
	equal(t, c, Contents{Path: to, Size: info.Size(), Schema: Schema(), Growers: 1, OpenPlots: 1, Rows: 1, LastID: 1,
		Newest: c.Newest}, "contents")
	nothingUnfinished(t, filepath.Dir(to))
	wantReplies(t, openAt(t, to), before)
}

func TestBackupOnlyReplacesBackups(t *testing.T) {
	sqliteOnly(t)
	s, other := open(t), open(t)
	ok(t, other.Checkpoint(ctx))
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	ok(t, second(Backup(ctx, s.path, at("backup.db"), BackupOptions{})))
	writeFile(t, at("letter.txt"), []byte(strings.Repeat("Dear sir, ", 20)))
	writeFile(t, at("short.txt"), []byte("x"))
	writeFile(t, at("empty.db"), nil)
	ok(t, errors.Join(os.Symlink(at("backup.db"), at("link.db")), os.Symlink(s.path, at("records.db")),
		os.Mkdir(at("folder"), 0o700)))
	for _, c := range []struct {
		to      string
		replace bool
		says    string // part of the expected error; "" if the backup must succeed
	}{
		{at("backup.db"), false, "--replace"},
		{at("backup.db"), true, ""},
		{at("new.db"), true, ""},
		{at("letter.txt"), false, "--replace"},
		{at("letter.txt"), true, "not a backup"},
		{at("short.txt"), true, "not a backup"},
		{at("empty.db"), true, "not a backup"},
		{at("link.db"), true, "not a file"},
		{at("records.db"), true, "not a file"},
		{at("folder"), true, "not a file"},
		{s.path, true, "the records themselves"},
		{other.path, true, "a service works on"},
		{at("nowhere/backup.db"), false, "folder"},
		{at("letter.txt/backup.db"), false, "not a directory"},
	} {
		was, _ := os.ReadFile(c.to)
		_, err := Backup(ctx, s.path, c.to, BackupOptions{Replace: c.replace})
		if c.says == "" {
			ok(t, errors.Join(err, second(Inspect(ctx, c.to))))
		} else {
			errorIf(t, err == nil || !strings.Contains(err.Error(), c.says),
				"to %s, replace %t: %v", filepath.Base(c.to), c.replace, err)
			is, _ := os.ReadFile(c.to)
			errorIf(t, string(is) != string(was), "%s was changed", filepath.Base(c.to))
		}
		nothingUnfinished(t, dir)
	}
}

func TestBackupOfWhatIsNone(t *testing.T) {
	sqliteOnly(t)
	dir := t.TempDir()
	for name, content := range map[string]string{"nowhere.db": "", "letter.db": strings.Repeat("Dear sir, ", 500)} {
		from := filepath.Join(dir, name)
		if content != "" {
			writeFile(t, from, []byte(content))
		}
		err := second(Backup(ctx, from, filepath.Join(dir, "backup.db"), BackupOptions{}))
		errorIf(t, err == nil, "%s was backed up", name)
		errorIf(t, second(os.Stat(filepath.Join(dir, "backup.db"))) == nil, "there is a backup of nothing")
	}
	errorIf(t, second(os.Stat(filepath.Join(dir, "nowhere.db"))) == nil, "the records were made")
	nothingUnfinished(t, dir)
}

func TestBackupThatIsCalledOff(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	ctx, cancel := context.WithCancel(ctx)
	cancel()
	dir := t.TempDir()
	err := second(Backup(ctx, s.path, filepath.Join(dir, "backup.db"), BackupOptions{}))
	wantErr(t, err, context.Canceled, "backup")
	files, _ := os.ReadDir(dir)
	errorIf(t, len(files) > 0, "left behind: %v", files)
}

// Unfinished backup files are removed only when they are old: a new one may belong to a backup in progress.
func TestBackupRemovesWhatCrashesLeft(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	dir := filepath.Join(t.TempDir(), "a [b] *")
	ok(t, os.Mkdir(dir, 0o700))
	left, young := filepath.Join(dir, partPrefix+"1"), filepath.Join(dir, partPrefix+"2")
	others := filepath.Join(dir, "others")
	for _, name := range []string{left, young, others} {
		writeFile(t, name, []byte("half"))
	}
	info, err := os.Stat(left)
	ok(t, err)
	old := info.ModTime().Add(-2 * time.Hour)
	for _, name := range []string{left, others} {
		ok(t, os.Chtimes(name, old, old))
	}
	ok(t, second(Backup(ctx, s.path, filepath.Join(dir, "backup.db"), BackupOptions{})))
	for name, stays := range map[string]bool{left: false, young: true, others: true} {
		equal(t, second(os.Stat(name)) == nil, stays, "%s is there", filepath.Base(name))
	}
}

// spoil replaces the content of a file by the result of change.
func spoil(t testing.TB, path string, change func([]byte) []byte) {
	t.Helper()
	b, err := os.ReadFile(path)
	ok(t, err)
	writeFile(t, path, change(b))
}

// execAt runs SQL on a database file. If the file does not exist, it is created.
func execAt(t testing.TB, path, query string) {
	t.Helper()
	db := openPool(path, shared, hardening, 1)
	defer db.Close()
	ok(t, second(db.Exec(query)))
}

// changed returns a function that replaces the content of a file by the result of change.
func changed(change func([]byte) []byte) func(*testing.T, string) string {
	return func(t *testing.T, path string) string { spoil(t, path, change); return path }
}

// spoilt lists ways to damage a backup file, each with the error that checking the file must return; nil means
// any *OpenError.
var spoilt = []struct {
	name  string
	spoil func(*testing.T, string) string
	is    error
}{
	{"the head overwritten", changed(func(b []byte) []byte { clear(b[:100]); return b }), ErrNotDatabase},
	{"bytes in the middle overwritten", changed(func(b []byte) []byte {
		for i := 4096; i < len(b); i += 4096 {
			copy(b[i:], strings.Repeat("\xff", 16))
		}
		return b
	}), ErrNotDatabase},
	{"one page of zeros", changed(func(b []byte) []byte { clear(b[8192:12288]); return b }), ErrDamaged},
	{"cut off", changed(func(b []byte) []byte { return b[:len(b)/2] }), nil},
	{"cut off in its head", changed(func(b []byte) []byte { return b[:50] }), nil},
	{"empty", with(""), nil},
	{"a letter", with(strings.Repeat("Dear sir, ", 500)), ErrNotDatabase},
	{"another program's", withSQL("PRAGMA application_id = 7"), ErrForeign},
	{"of a newer version", withSQL("INSERT INTO schema_version (version_id, is_applied) VALUES (9999, 1)"), ErrNewer},
	{"a plot of nobody", withSQL("PRAGMA foreign_keys = OFF; DELETE FROM grower"), ErrDamaged},
	{"a directory", func(t *testing.T, p string) string {
		ok(t, errors.Join(os.Remove(p), os.Mkdir(p, 0o700)))
		return p
	}, nil},
	{"not there", func(t *testing.T, p string) string { ok(t, os.Remove(p)); return p }, os.ErrNotExist},
}

// A restore refuses a damaged backup file, and the records stay unchanged.
func TestSpoiltBackups(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	to, good := s.path, backupOf(t, s)
	shut(t, s)
	before, err := os.ReadFile(to)
	ok(t, err)
	for _, c := range spoilt {
		from := filepath.Join(t.TempDir(), "backup.db")
		ok(t, copyFile(good, from))
		c.spoil(t, from)
		_, err := Inspect(ctx, from)
		_, examined := Examine(ctx, from)
		_, restored := Restore(ctx, overwriting(from, to))
		for what, err := range map[string]error{"inspect": err, "examine": examined, "restore": restored} {
			var told *OpenError
			switch {
			case !errors.As(err, &told), c.is != nil && !errors.Is(err, c.is):
				t.Errorf("%s, %s: %v", c.name, what, err)
			case !strings.Contains(err.Error(), from):
				t.Errorf("%s, %s: the backup is not named: %v", c.name, what, err)
			}
		}
		after, err := os.ReadFile(to)
		fatalIf(t, err != nil || string(after) != string(before), "%s: the records are changed: %v", c.name, err)
		files, _ := filepath.Glob(filepath.Join(filepath.Dir(to), "*"))
		errorIf(t, len(files) != 2, "%s: files left: %v", c.name, files)
		nothingUnfinished(t, filepath.Dir(to))
	}
}

// Examine describes the records as Inspect does, and finds rows that may not be.
func TestExamine(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana, ben)
	ledger(t, s, ben, noon, (*Ledger).Stop)
	want, err := Inspect(ctx, s.path)
	ok(t, err)
	got, err := Examine(ctx, s.path)
	ok(t, err)
	equal(t, got, want, "examined")
	backup := backupOf(t, s)
	withSQL("PRAGMA foreign_keys = OFF; PRAGMA ignore_check_constraints = ON; UPDATE plot SET no = 10")(t, backup)
	err = second(Examine(ctx, backup))
	errorIf(t, !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "plot"), "a plot that may not be: %v", err)
}

// dump returns every row of every table of a database file as text.
func dump(t testing.TB, path string) map[string][]string {
	t.Helper()
	db := openPool(path, probeDSN, hardening, 1)
	defer db.Close()
	all := map[string][]string{}
	names := list(t, db, `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_stat%'`)
	for _, table := range names {
		columns := list(t, db, "SELECT 'quote(' || name || ')' FROM pragma_table_info('"+table+"') ORDER BY name")
		row := strings.Join(columns, " || ' ' || ")
		all[table] = list(t, db, "SELECT "+row+" FROM "+table+" ORDER BY 1")
	}
	return all
}

func list(t testing.TB, db *sql.DB, query string) []string {
	t.Helper()
	rows, err := db.Query(query)
	ok(t, err)
	defer rows.Close()
	var all []string
	for rows.Next() {
		all = append(all, "")
		ok(t, rows.Scan(&all[len(all)-1]))
	}
	ok(t, rows.Err())
	return all
}

// The error of what fills the file comes back, and that of a sync at a tick; a panic goes on.
func TestWhileSynced(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "records"))
	ok(t, err)
	ticks := make(chan time.Time)
	full := errors.New("the disk is full")
	for _, want := range []error{nil, full} {
		err := whileSynced(f, ticks, func() error { ticks <- time.Time{}; return want })
		errorIf(t, !errors.Is(err, want), "it returned %v, want %v", err, want)
	}
	ok(t, f.Close())
	wantErr(t, whileSynced(f, ticks, func() error { ticks <- time.Time{}; return nil }), os.ErrClosed, "a sync")
	defer func() { equal(t, recover(), any("no row"), "the panic") }()
	_ = whileSynced(f, ticks, func() error { panic("no row") })
}
