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
	const when, stamp = "2026-11-25T09:00:00Z", "2026-11-25-090000" // both are the time aDay

	backup := "backup --db " + db
	restore := "restore --db " + db + " --test-clock " + when + " --from " + night
	runSteps(t, "", []shellStep{{backup, 1, "there are no records at " + db}, {"restore", 2, "--from"}})
	visit(1, aDay)
	runSteps(t, backup, []shellStep{
		{"--to " + night, 0, night + " … 1 grower (0 stopped) and 0 open plots … 2026-11-25 09:00:00 UTC … " +
			"phone numbers"},
		{"--to " + night, 1, "no backup was made … --replace"},
		{"--to " + night + " --replace", 0, "checked"},
		{"--test-clock " + when, 0, "rowbell-" + stamp + ".db"},
	})

	visit(2, aDay.Add(time.Hour))
	runSteps(t, restore, []shellStep{
		{"", 1, "nothing was restored … 2026-11-25 10:00:00 UTC … --discard-newer"},
		{"--discard-newer", 0, "1 grower … no STOP, START, erasure, move or leaving … rowbell.db.replaced-" + stamp +
			" … rowbell serve"},
		{"--discard-old", 0, "checked"},
	})
	if _, err := os.Stat(db + ".replaced-" + stamp + "-2"); err == nil {
		t.Error("the replaced file was kept in spite of --discard-old")
	}
	for _, broken := range []string{night, db} {
		b, err := os.ReadFile(broken)
		must(t, err)
		must(t, os.WriteFile(broken, append([]byte(strings.Repeat("x", 4096)), b[4096:]...), 0o600))
		if broken == night {
			runSteps(t, restore, []shellStep{
				{"", 1, "nothing was restored … " + night + " … damaged … Name another backup with --from"}})
			must(t, os.WriteFile(night, b, 0o600))
		}
	}
	runSteps(t, restore, []shellStep{
		{"--discard-old", 0, "are damaged … may be texted again … rowbell.db.replaced-" + stamp + "-2"}})
	must(t, os.Remove(db))
	runSteps(t, "", []shellStep{
		{restore, 0, "nothing to replace … may be texted again"},
		{"restore --db " + db + " --from " + at("nowhere.db"), 1, at("nowhere.db") + " … --from"},
	})
}
