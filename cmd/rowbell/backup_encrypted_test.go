package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// Invented key pairs, made for these tests by filippo.io/age.
const (
	publicKey = "age19m2w7nlyf96s6pgvjj9wck7ncet6yu385lyl0rdy0x6jjdn50d5ssm7a3e"
	aKey      = "AGE-SECRET-KEY-19D28ZDX0SLL59HELUAVXAYZ7N3EYCTG2WZMP9LL0K2U2FKMK4ZUSJNY9CF"
	publicTwo = "age102vum8fjmk9zmlru5ktw9lyev586j3wxvyte3hspt98dc0lymqgsxsxvve"
	keyTwo    = "AGE-SECRET-KEY-1CAUD7KMAH9NC4LYQ0WQL0P6XFG6JTDD6UCHR6FECH0RF6NFWDFSQ6NNUPL"
)

// encryptedBackups is a folder with records, the same records in a folder "service", keys and an encrypted backup.
type encryptedBackups struct {
	t                *testing.T
	dir, db, night   string
	backup, restores string // the beginning of the commands
}

func newEncryptedBackups(t *testing.T) encryptedBackups {
	dir := t.TempDir()
	e := encryptedBackups{t: t, dir: dir, db: filepath.Join(dir, "service", "rowbell.db")}
	e.night = e.file("night.db.age")
	e.backup = "backup --db " + e.db
	e.restores = "restore --db " + e.db + " --test-clock " + aDay.Format(time.RFC3339) + " --from "
	must(t, os.Mkdir(filepath.Join(dir, "service"), 0o700))
	for name, content := range map[string]string{
		"key.txt": "# public key: " + publicKey + "\n" + aKey + "\n", "two.txt": keyTwo, "none.txt": "7 geese\n",
		"both.toml": fmt.Sprintf("[backup]\nfolder = %q\nrecipients = [%q, %q]\n", dir, publicKey, publicTwo),
	} {
		must(t, os.WriteFile(e.file(name), []byte(content), 0o600))
	}
	e.consents(1)
	return e
}

func (e encryptedBackups) file(name string) string { return filepath.Join(e.dir, name) }

func (e encryptedBackups) consents(n int) {
	e.t.Helper()
	s := openRecords(e.t, e.db)
	write(e.t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(fictional(n), aDay.Unix())
		if err == nil {
			err = l.Consent("en", "v", "ussd")
		}
		return err
	})
	must(e.t, s.Close())
}

// untouched checks that the records are those of before and that no copy of them was left.
func (e encryptedBackups) untouched(before []byte) {
	e.t.Helper()
	now, err := os.ReadFile(e.db)
	must(e.t, err)
	if !bytes.Equal(before, now) {
		e.t.Error("the records changed")
	}
	for _, folder := range []string{e.dir, filepath.Dir(e.db)} {
		if left, _ := filepath.Glob(filepath.Join(folder, ".rowbell-part-*")); len(left) > 0 {
			e.t.Errorf("copies are left: %v", left)
		}
	}
}

// A backup is encrypted to the keys of the configuration, and any of their private keys restores it. What it holds can
// be read without a key, but nobody's number.
func TestEncryptedBackup(t *testing.T) {
	e := newEncryptedBackups(t)
	runSteps(t, "", []shellStep{
		{e.backup + " --to " + e.night + " --config " + e.file("both.toml"), 0, "1 grower … It is encrypted"},
		{e.backup + " --to " + e.night + " --recipient " + publicTwo, 1, "--replace"},
		{e.backup + " --to " + e.night + " --replace --config " + e.file("both.toml"), 0, "checked"},
		{e.backup + " --to " + e.dir + " --test-clock 2026-11-25T09:00:00Z --recipient " + publicTwo, 0,
			"rowbell-2026-11-25-090000.db.age"},
		{e.backup + " --to " + e.file("plain.db") + " --plain --config " + e.file("both.toml"), 0, "phone numbers"},
		{e.backup + " --plain --recipient " + publicTwo, 2, "not both"},
		{e.backup + " --recipient age1xx", 2, "--recipient: key 1 is not a public key"},
	})
	if _, errs, code := runCommand("backup", "--db", e.db, "--recipient", aKey); code != 2 ||
		!strings.Contains(errs, "is a private key: write the public key") || strings.Contains(errs, aKey) {
		t.Errorf("a private key: exit code %d: %s", code, errs)
	}
	made, err := os.ReadFile(e.night)
	must(t, err)
	for _, secret := range []string{"SQLite format 3", fictional(1).E164(), aKey} {
		if bytes.Contains(made, []byte(secret)) {
			t.Errorf("%q is readable in the encrypted backup", secret)
		}
	}
	c, err := store.Describe(t.Context(), e.night)
	must(t, err)
	plain, err := store.Describe(t.Context(), e.file("plain.db"))
	must(t, err)
	if c.Path, c.Size, plain.Path, plain.Size = "", 0, "", 0; c != plain || c.Growers != 1 {
		t.Errorf("the note says %+v, want %+v", c, plain)
	}
	must(t, os.WriteFile(e.file("foreign.age"), []byte("age-encryption.org/v1\n-> X25519 a\nb\n--- c\n"), 0o600))
	runSteps(t, "", []shellStep{
		{e.backup + " --replace --to " + e.file("foreign.age"), 1, "is not a backup of rowbell"},
	})
	for _, key := range []string{"key.txt", "two.txt"} {
		must(t, os.Remove(e.db))
		if key == "key.txt" { // the service does not begin without growers where an encrypted backup has some
			for _, name := range []string{"-lock", "-seen", "-wal", "-shm"} {
				_ = os.Remove(e.db + name)
			}
			beside := filepath.Join(filepath.Dir(e.db), "rowbell-2026-11-25.db.age")
			must(t, os.WriteFile(beside, made, 0o600))
			serve := "serve --listen 127.0.0.1:0 --config " + e.file("both.toml") + " --db " + e.db
			says := "has 1 growers … rowbell restore --from " + beside + " --identity FILE"
			runSteps(t, "", []shellStep{{serve, 1, says}})
		}
		runSteps(t, "", []shellStep{{e.restores + e.night + " --identity " + e.file(key), 0, "1 grower"}})
	}
	now, err := os.ReadFile(e.db)
	must(t, err)
	e.untouched(now)
}

// A restore that cannot decrypt the whole backup says why and changes nothing.
func TestEncryptedBackupThatCannotBeRestored(t *testing.T) {
	e := newEncryptedBackups(t)
	runSteps(t, "", []shellStep{
		{e.backup + " --to " + e.night + " --recipient " + publicKey, 0, "checked"},
		{e.backup + " --to " + e.file("plain.db"), 0, "checked"},
	})
	before, err := os.ReadFile(e.db)
	must(t, err)
	made, err := os.ReadFile(e.night)
	must(t, err)
	bad := e.file("bad.db.age")
	key := " --identity " + e.file("key.txt")
	refused := func(name, command, says string) {
		t.Helper()
		out, errs, code := runCommand(strings.Fields(e.restores + command)...)
		if code != 1 || !strings.Contains(errs, "nothing was restored: ") || !strings.Contains(errs, says) {
			t.Errorf("%s: exit code %d: %s%s\nwant %s", name, code, out, errs, says)
		}
		e.untouched(before)
	}
	refused("no key", e.night, "it is encrypted. Name the file of your private key with --identity")
	refused("another key", e.night+" --identity "+e.file("two.txt"), "it is encrypted to another key")
	refused("no key in the file", e.night+" --identity "+e.file("none.txt"), "has no private key")
	refused("no file", e.night+" --identity "+e.file("nowhere.txt"), "the identity file cannot be read")
	refused("not encrypted", e.file("plain.db")+key, "it is not encrypted")
	head := bytes.Index(made, []byte("\n---")) + 50 // the length of the head; then a nonce and chunks follow
	const chunk = 64<<10 + 16
	first := head + 16
	for _, at := range []int{30, head - 20, first, first + chunk, first + chunk + 1, len(made) / 2, len(made) - 1} {
		must(t, os.WriteFile(bad, made[:at], 0o600))
		refused(fmt.Sprint("cut at ", at), bad+key, "was cut off or changed")
		changed := bytes.Clone(made)
		changed[at] ^= 1
		must(t, os.WriteFile(bad, changed, 0o600))
		refused(fmt.Sprint("changed at ", at), bad+key, "was cut off or changed")
	}
	must(t, os.WriteFile(bad, append(bytes.Clone(made), 'x'), 0o600))
	refused("longer", bad+key, "was cut off or changed")
	must(t, os.WriteFile(bad, bytes.Replace(made, []byte("growers=1"), []byte("growers=2"), 1), 0o600))
	refused("another note", bad+key, "was cut off or changed")
	changed := bytes.Clone(made)
	changed[0] ^= 1
	must(t, os.WriteFile(bad, changed, 0o600))
	refused("first octet", bad+key, "it is not encrypted, or its beginning is damaged")
	refused("first octet, without a key", bad, "")
}

// A backup that is killed at any moment leaves nothing in the folder of the backups that can be read without the key.
func TestKilledEncryptedBackup(t *testing.T) {
	t.Parallel()
	e := newEncryptedBackups(t)
	nights := e.file("nights")
	must(t, os.Mkdir(nights, 0o700))
	enlarge(t, e.db, 4<<20) // so that a kill comes while the file is written
	partial := 0
	for changes, running := 1, true; running; changes++ {
		cmd := exec.Command(binary(t), "backup", "--db", e.db, "--recipient", publicKey, "--to", nights+"/night.db.age",
			"--replace")
		running = killAfter(t, cmd, nights, changes)
		entries, err := os.ReadDir(nights)
		must(t, err)
		for _, entry := range entries {
			b, err := os.ReadFile(filepath.Join(nights, entry.Name()))
			must(t, err)
			if bytes.Contains(b, []byte("SQLite format 3")) || bytes.Contains(b, []byte(fictional(1).E164())) {
				t.Errorf("killed after %d changes, %s can be read", changes, entry.Name())
			}
			switch c, err := store.Describe(t.Context(), filepath.Join(nights, entry.Name())); {
			case entry.Name() != "night.db.age":
				partial++
				must(t, os.Remove(filepath.Join(nights, entry.Name())))
			case err != nil || c.Growers != 1:
				t.Errorf("killed after %d changes: %+v %v", changes, c, err)
			}
		}
	}
	if partial == 0 {
		t.Error("no backup was killed before its file had its name")
	}
	runSteps(t, "", []shellStep{{e.restores + nights + "/night.db.age --identity " + e.file("key.txt"), 0, "1 grower"}})
}
