package store

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"filippo.io/age"

	"rowbell/store/agefile"
	"rowbell/store/recordfile"
)

// recordFileOf writes the records of a store to a record file, also if they are in a file.
func recordFileOf(t *testing.T, s *Store) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "rowbell"+recordfile.Suffix)
	var b bytes.Buffer
	view(t, s, func(tx *Tx) error {
		c, err := tx.contents(Contents{})
		if err == nil {
			_, err = tx.writeRecords(&b, c)
		}
		return err
	})
	writeFile(t, path, b.Bytes())
	return path
}

// A record file holds all rows of either database, and becomes a file with the same rows.
func TestARecordFileHoldsAllRows(t *testing.T) {
	s := open(t)
	richRecords(t, s)
	from := recordFileOf(t, s)
	c, err := Describe(ctx, from)
	ok(t, err)
	equal(t, [4]int64{c.Growers, c.Rows, c.LastID, c.Schema}, [4]int64{2, 2, 3, Schema()}, "what it says")
	errorIf(t, !IsBackup(from), "it is no backup")
	part := filepath.Join(t.TempDir(), "part")
	ok(t, copyFile(from, part))
	file, err := databaseOf(ctx, part)
	ok(t, err)
	again := openWith(t, file, Options{Existing: true})
	equal(t, sumsOf(t, again), sumsOf(t, s), "the sums")
	for _, name := range neverReused {
		equal(t, lastIDsOf(t, again)[name], lastIDsOf(t, s)[name], "the last id of %s", name)
	}
	intact(t, again)
	equal(t, export(t, again, ana, ben), export(t, s, ana, ben), "what is stored about persons")
	_, err = os.Stat(part)
	errorIf(t, err == nil, "the copy of the record file is still there")
}

// A restore does the same with a record file as with any other backup: what may have been sent is withdrawn, and STOPs
// in the replaced records count.
func TestARecordFileIsRestored(t *testing.T) {
	s := fileStore(t)
	withPlot(t, s, ana, ben)
	id := enqueue(t, s, text("a", ana, noon))
	from := recordFileOf(t, s)
	ledger(t, s, ben, noon+1, (*Ledger).Stop)
	to := shut(t, s)
	r, err := Restore(ctx, RestoreOptions{From: from, To: to, Now: noon + 2, DiscardNewer: true, DiscardOld: true})
	ok(t, err)
	equal(t, [2]int{r.Reconciled.Others, r.Reconciled.Stopped}, [2]int{1, 1}, "withdrawn and stopped")
	again := openAt(t, to)
	wantState(t, again, id, Withdrawn)
	errorIf(t, !read(t, again, ben, noon, func(l *Ledger) (bool, error) { return l.Stopped(), nil }), "ben gets texts")
}

// A record file of an older schema is restored by the migrations that came since.
func TestARecordFileOfAnOlderSchemaIsRestored(t *testing.T) {
	old := filepath.Join(t.TempDir(), "old.db")
	s := openWith(t, old, Options{noLock: true, unseeded: true, fileSchema: 16})
	execSQL(t, s, `INSERT INTO place (id, name, zone, latitude, elevation_m, normals)
		VALUES (1, 'default', 'UTC', 1, 1, '[{},{},{},{},{},{},{},{},{},{},{},{}]')`)
	execSQL(t, s, `INSERT INTO grower (id, phone, language, place_id, consent_at, consent_text, consent_channel,
		created_at, seen_at) VALUES (7, '+447700900001', 'en', 1, 1, '1', 'sms', 1, 1)`)
	from, to := recordFileOf(t, s), filepath.Join(t.TempDir(), "new.db")
	r, err := Restore(ctx, RestoreOptions{From: from, To: to, Now: noon})
	ok(t, err)
	equal(t, [2]int64{r.Backup.Schema, r.Backup.Growers}, [2]int64{16, 1}, "schema and growers of the backup")
	wantRows(t, openAt(t, to), map[string]int64{"grower": 1, "early_receipt": 0})
}

// A record file that was changed or cut off is refused before anything is written.
func TestAChangedRecordFileIsNotRestored(t *testing.T) {
	s := openWithPlot(t, ana)
	from := recordFileOf(t, s)
	whole, err := os.ReadFile(from)
	ok(t, err)
	dir := t.TempDir()
	changed := bytes.Clone(whole)
	changed[len(changed)/2] ^= 1
	for name, b := range map[string][]byte{
		"cut off": whole[:len(whole)-9], "changed": changed,
		"newer":  []byte(strings.Replace(string(whole), " 1\n", " 2\n", 1)),
		"longer": append(bytes.Clone(whole), whole...),
	} {
		writeFile(t, from, b)
		_, err := Restore(ctx, RestoreOptions{From: from, To: filepath.Join(dir, "new.db"), Now: noon})
		want := recordfile.ErrChanged
		if name == "newer" {
			want = recordfile.ErrNewer
		}
		wantErr(t, err, want, "%s", name)
		_, err = Describe(ctx, from)
		wantErr(t, err, want, "describe: %s", name)
	}
	left, err := filepath.Glob(filepath.Join(dir, "*"))
	ok(t, err)
	equal(t, left, []string{filepath.Join(dir, "new.db"+lockSuffix)}, "files")
}

// A record file with other tables than its schema has is refused, and so is one of a newer schema.
func TestARecordFileOfOtherTablesIsNotRestored(t *testing.T) {
	whole, err := os.Open(recordFileOf(t, open(t)))
	ok(t, err)
	defer whole.Close()
	for name, c := range map[string]struct {
		change func(h *recordfile.Header)
		want   error
	}{
		"no change":      {func(*recordfile.Header) {}, nil},
		"newer schema":   {func(h *recordfile.Header) { h.Schema++ }, ErrNewer},
		"another table":  {func(h *recordfile.Header) { h.Tables[0].Name = "sqlite_schema" }, recordfile.ErrChanged},
		"another column": {func(h *recordfile.Header) { h.Tables[0].Columns[0].Name = "x" }, recordfile.ErrChanged},
		"another kind":   {func(h *recordfile.Header) { h.Tables[0].Columns[0].Kind = "x" }, recordfile.ErrChanged},
	} {
		ok(t, second(whole.Seek(0, io.SeekStart)))
		r, err := recordfile.NewReader(whole)
		ok(t, err)
		h := r.Header()
		c.change(&h)
		var file bytes.Buffer
		w, err := recordfile.NewWriter(&file, h)
		for range h.Tables {
			err = errors.Join(err, w.EndTable())
		}
		ok(t, errors.Join(err, second(w.Close())))
		from := filepath.Join(t.TempDir(), "a.records")
		writeFile(t, from, file.Bytes())
		_, err = Restore(ctx, RestoreOptions{From: from, To: filepath.Join(t.TempDir(), "new.db"), Now: noon})
		wantErr(t, err, c.want, "%s", name)
	}
}

func TestBackupOfAServer(t *testing.T) {
	serverOnly(t)
	s := open(t)
	richRecords(t, s)
	db, dir := addressOf(s), t.TempDir()
	key, err := age.GenerateX25519Identity()
	ok(t, err)
	identity := filepath.Join(dir, "key.txt")
	writeFile(t, identity, []byte(key.String()))
	plain, secret := filepath.Join(dir, "a.records"), filepath.Join(dir, "a.records.age")
	c, err := Backup(ctx, db, plain, BackupOptions{})
	ok(t, err)
	equal(t, [2]int64{c.Growers, c.LastID}, [2]int64{2, 3}, "growers and last id")
	_, err = Backup(ctx, db, plain, BackupOptions{})
	errorIf(t, err == nil, "a backup was replaced")
	ok(t, second(Backup(ctx, db, plain, BackupOptions{Replace: true})))
	e, err := Backup(ctx, db, secret, BackupOptions{Recipients: []agefile.Recipient{key.Recipient()}})
	ok(t, err)
	d, err := Describe(ctx, secret)
	ok(t, err)
	c.Path, c.Size, d.Path, d.Size = "", 0, "", 0
	equal(t, d, c, "the note")
	errorIf(t, e.Size == 0 || !IsBackup(secret) || !IsBackup(plain), "the encrypted one is no backup")
	ledger(t, s, ben, noon+1, (*Ledger).Stop)
	closed(t, s)
	for from, identity := range map[string]string{plain: "", secret: identity} {
		o := RestoreOptions{From: from, Identity: identity, Now: noon + 9, DiscardNewer: true}
		o.To = filepath.Join(t.TempDir(), "rowbell.db")
		ok(t, second(Restore(ctx, o)))
		file := openAt(t, o.To)
		o.To = emptyTarget(t)
		r, err := RestoreToServer(ctx, o, "")
		ok(t, err)
		equal(t, r.Reconciled.Stopped, 0, "STOPs taken over from nothing")
		server := openWith(t, o.To, Options{Existing: true})
		equal(t, sumsOf(t, server), sumsOf(t, file), "the sums of what was restored")
		wantRows(t, server, map[string]int64{"grower": 2, "session": 0, "prompt": 0})

		o.To = addressOf(server)
		closed(t, server)
		wantErr(t, second(RestoreToServer(ctx, o, "")), ErrOtherRecords, "a restore over records")
		o.To = emptyTarget(t)
		r, err = RestoreToServer(ctx, o, db)
		ok(t, err)
		equal(t, r.Reconciled.Stopped, 1, "STOPs taken over from the records of before")
		ok(t, mayOpen(db))
	}
}

// A backup of a file is restored to a server, also after one that was cut short.
func TestABackupOfAFileIsRestoredToAServer(t *testing.T) {
	serverOnly(t)
	s := fileStore(t)
	richRecords(t, s)
	backup := filepath.Join(t.TempDir(), "backup.db")
	ok(t, second(Backup(ctx, addressOf(s), backup, BackupOptions{})))
	o := RestoreOptions{From: backup, To: emptyTarget(t), Now: noon}
	cut, err := os.CreateTemp(t.TempDir(), "")
	ok(t, err)
	closed(t, cut)
	ok(t, copyFile(backup, cut.Name()))
	execAt(t, cut.Name(), "UPDATE grower SET seen_at = seen_at + 1") // what it wrote is of another instant
	_, err = Copy(ctx, CopyOptions{From: cut.Name(), To: o.To, step: func(what string) error {
		if what == "write plot" {
			return errBad
		}
		return nil
	}})
	wantErr(t, err, errBad, "a restore that is cut short")
	ok(t, second(RestoreToServer(ctx, o, "")))
	wantRows(t, openWith(t, o.To, Options{Existing: true}), map[string]int64{"grower": 2, "opt_out": rowsOfPage + 2})
}

// A backup of records that were moved, or of a copy that is not whole, is restored, or refused.
func TestBackupsOfMarkedRecords(t *testing.T) {
	s := fileStore(t)
	withPlot(t, s, ana)
	from, dir := shut(t, s), t.TempDir()
	half, to := filepath.Join(dir, "half.db"), filepath.Join(dir, "to.db")
	_, err := Copy(ctx, CopyOptions{From: from, To: half, step: func(what string) error {
		if what == "write plot" {
			return errBad
		}
		return nil
	}})
	wantErr(t, err, errBad, "the half copy")
	ok(t, second(Copy(ctx, CopyOptions{From: from, To: to})))
	for i, db := range []string{from, half} {
		backup := db + ".backup"
		ok(t, second(Backup(context.Background(), db, backup, BackupOptions{})))
		_, err := Restore(ctx, RestoreOptions{From: backup, To: db + ".restored", Now: noon})
		if i == 0 {
			ok(t, err)
			ok(t, mayOpen(db+".restored"))
		} else {
			wantErr(t, err, ErrUnfinish, "a backup of a half copy")
		}
	}
}
