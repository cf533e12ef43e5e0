package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestBackupAndRestorePrint(t *testing.T) {
	dir := t.TempDir()
	at := func(name string) string { return filepath.Join(dir, name) }
	db, night := at("rowbell.db"), at("night.db")
	visit := func(n int, when time.Time) {
		t.Helper()
		s, err := store.Open(t.Context(), db, store.Options{ReadConns: 1})
		if err != nil {
			t.Fatal(err)
		}
		err = s.InTx(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(fictional(n), when.Unix())
			if err == nil {
				err = l.Consent("en", "v", "ussd")
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	expect := func(code int, args []string, says ...string) {
		t.Helper()
		out, errs, got := runCommand(args...)
		for _, want := range says {
			if got != code || !strings.Contains(out+errs, want) {
				t.Errorf("rowbell %v: %d, want %d and %q\n%s%s", args, got, code, want, out, errs)
			}
		}
		if found := phoneNumbers.FindString(out + errs); found != "" {
			t.Errorf("rowbell %v prints the number %s", args, found)
		}
	}
	const when, stamp = "2026-11-25T09:00:00Z", "2026-11-25-090000"
	day := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

	expect(1, []string{"backup", "--db", db}, "there are no records at "+db)
	expect(2, []string{"restore"}, "--from")
	visit(1, day)
	expect(0, []string{"backup", "--db", db, "--to", night}, night, "1 grower (0 stopped) and 0 open plots",
		"2026-11-25 09:00:00 UTC", "phone numbers")
	expect(1, []string{"backup", "--db", db, "--to", night}, "no backup was made", "--replace")
	expect(0, []string{"backup", "--db", db, "--to", night, "--replace"}, "checked")
	expect(0, []string{"backup", "--db", db, "--test-clock", when}, "rowbell-"+stamp+".db")

	visit(2, day.Add(time.Hour))
	restore := []string{"restore", "--from", night, "--db", db, "--test-clock", when}
	expect(1, restore, "nothing was restored", "2026-11-25 10:00:00 UTC", "--discard-newer")
	expect(0, append(restore, "--discard-newer"), "1 grower", "no STOP, START, erasure or move",
		"rowbell.db.replaced-"+stamp, "rowbell serve")
	expect(0, append(restore, "--discard-old"), "checked")
	if _, err := os.Stat(db + ".replaced-" + stamp + "-2"); err == nil {
		t.Error("the replaced file was to be thrown away")
	}
	for _, broken := range []string{night, db} {
		b, err := os.ReadFile(broken)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(broken, append([]byte(strings.Repeat("x", 4096)), b[4096:]...), 0o600); err != nil {
			t.Fatal(err)
		}
		if broken == night {
			expect(1, restore, "nothing was restored", night, "damaged", "Name another backup with --from")
			if err := os.WriteFile(night, b, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	expect(0, append(restore, "--discard-old"), "are damaged", "may be texted again", "rowbell.db.replaced-"+stamp+"-2")
	if err := os.Remove(db); err != nil {
		t.Fatal(err)
	}
	expect(0, restore, "nothing to replace", "may be texted again")
	expect(1, []string{"restore", "--from", at("nowhere.db"), "--db", db}, at("nowhere.db"), "--from")
}
