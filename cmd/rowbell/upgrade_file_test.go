package main

import (
	"fmt"
	"net/http"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"rowbell/store"
)

// in runs a command of a release in the folder of the process. It returns what the command printed, and whether it
// succeeded.
func (p *process) in(release string, args ...string) (out string, ok bool) {
	p.t.Helper()
	cmd := exec.Command(release, args...)
	cmd.Dir = p.dir
	b, err := cmd.CombinedOutput()
	return string(b), err == nil
}

// An upgrade of records in a file, and the way back, as the page "upgrade" has them: the next release finds the old
// records fit and migrates them at its start; this release refuses them from then on and takes the backup of before.
func TestUpgradeOfAFileAndTheWayBack(t *testing.T) {
	next, this := nextRelease(t), binary(t)
	p := startProcess(t, aDay)
	grower := registering(1)
	if !grower.run(p, len(grower.steps)) {
		t.Fatal("no answer")
	}
	p.stop()
	want := func(release, says string, succeeds bool, args ...string) {
		t.Helper()
		out, ok := p.in(release, args...)
		if ok != succeeds || !strings.Contains(out, says) {
			t.Errorf("%q: succeeded %v, says\n%s", args, ok, out)
		}
	}
	want(next, "of an older version of this program", true, "doctor", "--offline")
	want(this, "Backup written and checked", true, "backup", "--to", "before.db")
	p.program = next
	p.start(aDay)
	p.dial(2, http.StatusOK)
	p.stop()
	want(this, "written by a newer version of this program", false, "serve", "--listen", "127.0.0.1:0")
	want(this, "written by a newer version of this program", false, "sending")
	want(this, "Restored and checked", true, "restore", "--from", "before.db", "--discard-newer")
	p.program = ""
	p.start(aDay)
	p.dial(3, http.StatusOK)
	p.stop()
	s, err := store.Open(t.Context(), filepath.Join(p.dir, "rowbell.db"), store.Options{Existing: true})
	must(t, err)
	defer s.Close()
	read(t, s, func(tx *store.Tx) error {
		got, err := found(tx, grower.phone, aDay.Unix())
		if got != grower.want() {
			t.Errorf("after the way back: %+v, want %+v", got, grower.want())
		}
		return err
	})
}

// The page "upgrade" names the schema of this version.
func TestUpgradePageNamesTheSchema(t *testing.T) {
	rows := regexp.MustCompile(`(?m)^\| (\d+\.\d+\.\d+)(?:, not released yet)? \| (\d+) \|`).FindAllSubmatch(
		houseRead(t, "cmd/rowbell/manual/upgrade.md"), -1)
	if len(rows) == 0 || string(rows[0][2]) != fmt.Sprint(store.Schema()) {
		t.Errorf("the first of the versions %q must have schema %d: say there what an upgrade must mind",
			rows, store.Schema())
	}
}
