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
		s := openRecords(t, db)
		write(t, s, func(tx *store.Tx) error {
			l, err := tx.Ledger(fictional(n), when.Unix())
			if err == nil {
				err = l.Consent("en", "v", "ussd")
			}
			return err
		})
		must(t, s.Close())
	}
	expect := func(code int, args []string, says ...string) {
		t.Helper()
		out, errs, got := runCommand(args...)
		for _, want := range says {
			if got != code || !strings.Contains(out+errs, want) {
				t.Errorf("rowbell %v: %d, want %d and %q\n%s%s", args, got, code, want, out, errs)
			}
		}
		assertNoNumbers(t, out+errs)
	}
	const when, stamp = "2026-11-25T09:00:00Z", "2026-11-25-090000" // aDay

	expect(1, []string{"backup", "--db", db}, "there are no records at "+db)
	expect(2, []string{"restore"}, "--from")
	visit(1, aDay)
	expect(0, []string{"backup", "--db", db, "--to", night}, night, "1 grower (0 stopped) and 0 open plots",
		"2026-11-25 09:00:00 UTC", "phone numbers")
	expect(1, []string{"backup", "--db", db, "--to", night}, "no backup was made", "--replace")
	expect(0, []string{"backup", "--db", db, "--to", night, "--replace"}, "checked")
	expect(0, []string{"backup", "--db", db, "--test-clock", when}, "rowbell-"+stamp+".db")

	visit(2, aDay.Add(time.Hour))
	restore := []string{"restore", "--from", night, "--db", db, "--test-clock", when}
	expect(1, restore, "nothing was restored", "2026-11-25 10:00:00 UTC", "--discard-newer")
	expect(0, append(restore, "--discard-newer"), "1 grower", "no STOP, START, erasure or move",
		"rowbell.db.replaced-"+stamp, "rowbell serve")
	expect(0, append(restore, "--discard-old"), "checked")
	if _, err := os.Stat(db + ".replaced-" + stamp + "-2"); err == nil {
		t.Error("the replaced file was kept in spite of --discard-old")
	}
	for _, broken := range []string{night, db} {
		b, err := os.ReadFile(broken)
		must(t, err)
		must(t, os.WriteFile(broken, append([]byte(strings.Repeat("x", 4096)), b[4096:]...), 0o600))
		if broken == night {
			expect(1, restore, "nothing was restored", night, "damaged", "Name another backup with --from")
			must(t, os.WriteFile(night, b, 0o600))
		}
	}
	expect(0, append(restore, "--discard-old"), "are damaged", "may be texted again", "rowbell.db.replaced-"+stamp+"-2")
	must(t, os.Remove(db))
	expect(0, restore, "nothing to replace", "may be texted again")
	expect(1, []string{"restore", "--from", at("nowhere.db"), "--db", db}, at("nowhere.db"), "--from")
}
