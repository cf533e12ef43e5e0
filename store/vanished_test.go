package store

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A store that must exist is not created: a mistyped path leaves no file.
func TestExistingRecordsOnly(t *testing.T) {
	sqliteOnly(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "rowbel.db")
	_, err := Open(ctx, path, Options{Existing: true})
	wantErr(t, err, ErrNoRecords, "no file")
	files, err := os.ReadDir(dir)
	errorIf(t, err != nil || len(files) > 0, "made: %v %v", files, err)
	ok(t, os.WriteFile(path, nil, 0o600))
	_, err = Open(ctx, path, Options{Existing: true})
	wantErr(t, err, ErrNoRecords, "an empty file")
}

// A refused start leaves no trace that would make the next one be refused. While another service has the lock, that is
// the reason of the refusal.
func TestVanishedRecords(t *testing.T) {
	sqliteOnly(t)
	dir := t.TempDir()
	path, backup := filepath.Join(dir, "rowbell.db"), filepath.Join(dir, "night.db")
	other := openWithPlot(t, ana)
	ok(t, second(Backup(ctx, other.path, backup, BackupOptions{})))
	_, err := Open(ctx, path, Options{Serving: true, Backups: func() []string { return []string{backup} }})
	errorIf(t, !errors.Is(err, ErrVanished) || !strings.Contains(err.Error(), "restore --from "+backup), "%v", err)
	s := openWith(t, path, Options{Serving: true})
	ok(t, os.Remove(path))
	_, err = Open(ctx, path, Options{Serving: true, New: true})
	wantErr(t, err, ErrInUse, "the other service still has the records open")
	_, err = Open(ctx, path, Options{Serving: true})
	wantErr(t, err, ErrInUse, "the other service still has the records open")
	var e *DetachedError
	errorIf(t, !errors.As(s.Close(), &e) || e.Rescued == "", "%+v", e)
}

// The count of growers in the reason also counts those without a number, because they are records too.
func TestVanishedGrowersWithoutANumber(t *testing.T) {
	sqliteOnly(t)
	dir := t.TempDir()
	backup := filepath.Join(dir, "night.db")
	s := openWithPlot(t, ana)
	ledger(t, s, ana, noon, (*Ledger).Unlink)
	ok(t, second(Backup(ctx, s.path, backup, BackupOptions{})))
	err := Vanished(ctx, filepath.Join(dir, "rowbell.db"), Contents{}, []string{backup})
	errorIf(t, err == nil || !strings.Contains(err.Error(), "the backup night.db has 1 growers"), "%v", err)
}

// Whether records without growers are refused depends on the ids that growers had: those that were erased on purpose
// are known by their ids.
func TestVanishedGrowers(t *testing.T) {
	sqliteOnly(t)
	dir := t.TempDir()
	path, empty := filepath.Join(dir, "rowbell.db"), filepath.Join(dir, "empty.db")
	serving := Options{Serving: true}
	ok(t, second(Backup(ctx, shut(t, openWith(t, path, serving)), empty, BackupOptions{})))
	s := openWith(t, path, serving)
	withPlot(t, s, ana)
	shut(t, s)
	s = openWith(t, path, serving)
	ok(t, try(s, ana, noon, (*Ledger).Erase))
	s = openAgain(t, s, serving) // erased on purpose
	withPlot(t, s, ben)
	ok(t, s.NoteGrowers(ctx)) // as upkeep does, before a crash
	shut(t, s)
	ok(t, os.Rename(empty, path))
	_, err := Open(ctx, path, serving)
	errorIf(t, !errors.Is(err, ErrVanished) || !strings.Contains(err.Error(), "had 1 growers"), "%v", err)
	_, err = Open(ctx, path, serving)
	wantErr(t, err, ErrVanished, "the refused start has changed nothing")
	s = openWith(t, path, Options{Serving: true, New: true})
	openAgain(t, s, serving)
}

// SQLite makes a new database of a file of one octet, so such a file counts as one without records.
func TestFileOfOneOctet(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rowbell.db")
	for content, missingIs := range map[string]bool{"": true, "S": true, "SQ": false} {
		ok(t, os.WriteFile(path, []byte(content), 0o600))
		_, err := Open(ctx, path, Options{Existing: true})
		errorIf(t, err == nil || errors.Is(err, ErrNoRecords) != missingIs, "%q: %v", content, err)
	}
}
