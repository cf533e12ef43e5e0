package main

import (
	"net/url"
	"strings"
	"testing"

	"rowbell/store/testrun"
)

// What is about a file says so for records on a server, and what is about records works there. The password stands in
// no output.
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
		{"restore --from " + dir + "/a.records --db " + db, 1, "there are records in it already"},
		{"restore --from " + dir + "/a.records --db " + dir + "/a.db", 0, "Restored and checked"},
		{"compact --db " + db, 1, "rowbell compact is for records in a file … autovacuum"},
		{"practice --listen 127.0.0.1:0 --db " + db, 1, "practice keeps its invented growers in a file"},
		{"doctor --offline --db " + db, 0, "ok records postgres:// … /" + name + " answers"},
		{"sending --db " + db, 0, "Sending: on"},
		{"place --db " + db, 0, "default"},
		{"move --unlinked --db " + db, 0, ""},
		{"reload --db " + strings.Replace(db, name, "postgres", 1), 1, "there are no records at postgres://"},
		{"person --phone +447700900001 --db " + strings.Replace(db, "postgres://", "postgres:///x?", 1), 1, "address"},
		{"rank --db " + strings.Replace(db, name, name+"_none", 1), 1, "CREATE DATABASE"},
	})
	for _, command := range []string{"doctor --offline", "compact", "rank", "backup --to " + dir, "place"} {
		for _, address := range []string{db, strings.Replace(db, name, name+"_none", 1), db + "?x=%zz"} {
			out, errs, _ := runCommand(append(strings.Fields(command), "--db", address)...)
			if strings.Contains(out+errs, "feather") {
				t.Errorf("%s shows the password:\n%s%s", command, out, errs)
			}
		}
	}
}
