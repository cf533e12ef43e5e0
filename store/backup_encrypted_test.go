package store

import (
	"path/filepath"
	"testing"

	"filippo.io/age"

	"rowbell/store/agefile"
)

// An encrypted backup describes its contents like a plain one, without a key, and is restored with its private key.
func TestEncryptedBackup(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana, ben, cleo)
	write(t, s, remember("a"))
	ledger(t, s, ben, noon+5, (*Ledger).Stop)
	ledger(t, s, cleo, noon+6, (*Ledger).Erase)
	ledger(t, s, ana, noon+7, addPlot)
	key, err := age.GenerateX25519Identity()
	ok(t, err)
	to, err := agefile.Recipients([]string{key.Recipient().String()})
	ok(t, err)
	dir := t.TempDir()
	plain, encrypted := filepath.Join(dir, "plain.db"), filepath.Join(dir, "night.db.age")
	want, err := Backup(ctx, s.path, plain, BackupOptions{})
	ok(t, err)
	made, err := Backup(ctx, s.path, encrypted, BackupOptions{Recipients: to})
	ok(t, err)
	nothingUnfinished(t, dir)
	nothingUnfinished(t, filepath.Dir(s.path))
	got, err := Describe(ctx, encrypted)
	ok(t, err)
	equal(t, got, made, "described, and as it was made")
	want.Path, want.Size = got.Path, got.Size
	want.Free = 0 // the note does not have it
	equal(t, got, want, "described, and the plain backup")
	shut(t, s)
	for path, is := range map[string]bool{encrypted: true, plain: true, s.path: false} {
		equal(t, IsBackup(path), is, "%s is a backup", path)
	}

	identity := filepath.Join(dir, "key.txt")
	writeFile(t, identity, []byte(key.String()+"\n"))
	o := overwriting(encrypted, filepath.Join(dir, "restored.db"))
	errorIf(t, second(Restore(ctx, o)) == nil, "restored without a key")
	o.Identity = identity
	ok(t, second(Restore(ctx, o)))
	equal(t, remembered(t, openAt(t, o.To)), "a", "restored")
}
