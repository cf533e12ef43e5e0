package main

import (
	"net/url"
	"strings"
	"testing"

	"rowbell/store"
	"rowbell/store/testrun"
)

// A command that is about a file refuses the address of a server and says why. Commands about records work there. No
// output contains the password.
func TestCommandsOnAServer(t *testing.T) {
	if !testrun.OnServer() {
		t.Skip("about a server: .ci/postgres go test ./cmd/rowbell -run Server")
	}
	u, err := url.Parse(newRecords(t))
	must(t, err)
	u.User = url.UserPassword(u.User.Username(), "black-feather")
	db, name := u.String(), strings.TrimPrefix(u.Path, "/")
	dir := t.TempDir()
	runSteps(t, "", []shellStep{
		{"backup --to " + dir + "/a.records --db " + db, 0, "Backup written and checked … 0 growers"},
		{"restore --from " + dir + "/none.records --db " + db, 1, "nothing was restored"},
		{"restore --from " + dir + "/a.records --db " + db, 1,
			"nothing was restored … there are records in it already … Name an empty database with --db"},
		{"restore --from " + dir + "/a.records --db " + dir + "/a.db", 0, "Restored and checked"},
		{"compact --db " + db, 1, "rowbell compact is for records in a file … autovacuum"},
		{"practice --listen 127.0.0.1:0 --db " + db, 1, "practice keeps its invented growers in a file"},
		{"doctor --offline --db " + db, 0, "ok records postgres:// … /" + name + " answers"},
		{"sending --db " + db, 0, "Sending: on"},
		{"place --db " + db, 0, "default"},
		{"move --unlinked --db " + db, 0, ""},
		{"reload --db " + strings.Replace(db, name, "postgres", 1), 1, "there are no records at postgres://"},
		{"person --phone +447700900001 --db " + strings.Replace(db, "postgres://", "postgres:///x?", 1), 1, "address"},
		{"morning --db " + strings.Replace(db, name, name+"_none", 1), 1, "CREATE DATABASE"},
	})
	restoresReplacing(t, dir+"/a.records", db)
	for _, command := range []string{"doctor --offline", "compact", "morning", "backup --to " + dir, "place"} {
		for _, address := range []string{db, strings.Replace(db, name, name+"_none", 1), db + "?x=%zz"} {
			out, errs, _ := runCommand(append(strings.Fields(command), "--db", address)...)
			if strings.Contains(out+errs, "feather") {
				t.Errorf("%s shows the password:\n%s%s", command, out, errs)
			}
		}
	}
}

// restoresReplacing restores a backup into empty databases, with what has happened since in the records at db.
func restoresReplacing(t *testing.T, backup, db string) {
	t.Helper()
	restore := "restore --from " + backup + " --db "
	empty, other := testrun.EmptyDatabase(t), testrun.EmptyDatabase(t)
	none := t.TempDir() + "/none.db"
	runSteps(t, restore, []shellStep{
		{none + " --replaces " + db, 2, "--replaces is for a restore to a server"},
		{empty + " --replaces " + none, 1, "nothing was restored … there are no records"},
		{empty + " --replaces " + db, 0, "Taken over from the replaced records: no STOP"},
	})
	s := openRecords(t, db)
	write(t, s, func(tx *store.Tx) error {
		l, err := tx.Ledger(fictional(1), aDay.Unix())
		if err == nil {
			err = l.Stop()
		}
		return err
	})
	must(t, s.Close())
	runSteps(t, restore, []shellStep{
		{other + " --replaces " + db, 1, "nothing was restored: the newest entry of " + store.DisplayName(db) +
			" is of 2026-11-25 09:00:00 UTC"},
		{other + " --discard-newer --replaces " + db, 0, "1 numbers without records that want no texts"},
	})
}
