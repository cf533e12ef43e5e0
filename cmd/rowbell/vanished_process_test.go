package main

import (
	"bufio"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// refuses runs the service, which must not start, and must say each of these.
func (p *process) refuses(says ...string) {
	p.t.Helper()
	cmd := exec.Command(binary(p.t), "serve", "--listen", "127.0.0.1:0", "--config", "rowbell.toml", "--test-clock",
		aDay.Format(time.RFC3339))
	cmd.Dir = p.dir
	said, err := cmd.StderrPipe()
	must(p.t, err)
	must(p.t, cmd.Start())
	var out strings.Builder
	for lines := bufio.NewScanner(said); lines.Scan(); {
		fmt.Fprintln(&out, lines.Text())
		if strings.Contains(lines.Text(), "is listening") {
			_ = cmd.Process.Kill()
		}
	}
	if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != 1 {
		p.t.Fatalf("the service started, or ended with %v:\n%s", err, out.String())
	}
	for _, part := range says {
		if !strings.Contains(out.String(), part) {
			p.t.Errorf("it does not say %q:\n%s", part, out.String())
		}
	}
	assertNoNumbers(p.t, out.String())
}

// The service does not begin with empty records where there were growers, whatever is left of them. It begins if the
// operator says so, and on a machine where it never ran.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestNoRecordsAtTheStart(t *testing.T) {
	t.Parallel()
	p := startProcess(t, aDay) // a first start needs no flag
	g := registering(1)
	g.run(p, 2) // the second step is the consent
	p.stop()
	if _, err := p.also("backup", "--to", "."); err != nil {
		t.Fatal(err)
	}
	backups, err := filepath.Glob(filepath.Join(p.dir, "rowbell-2*.db"))
	if err != nil || len(backups) != 1 {
		t.Fatalf("%v %v", backups, err)
	}
	backup := filepath.Base(backups[0])
	restore := "rowbell restore --from " + backup + " --db " + filepath.Join(p.dir, config.DefaultDB)
	shell(t, p.dir, "mv rowbell.db kept.db")

	p.refuses("they are gone", restore, "rowbell serve --new") // no file
	if _, err := os.Stat(filepath.Join(p.dir, config.DefaultDB)); err == nil {
		t.Error("an empty file was made")
	}
	if out, err := p.also("doctor", "--offline"); err == nil || !strings.Contains(out, "they are gone") {
		t.Errorf("doctor: %v\n%s", err, out)
	}
	shell(t, p.dir, ": > rowbell.db") // an empty file
	p.refuses(restore)
	for _, command := range []string{"morning", "sending", "place"} {
		out, err := p.also(command)
		if err == nil || !strings.Contains(out, "there are no records at rowbell.db any more: rowbell doctor") {
			t.Errorf("%s with an empty file: %v\n%s", command, err, out)
		}
	}
	shell(t, p.dir, "test ! -s rowbell.db && rm rowbell.db && ln -s nowhere.db rowbell.db") // a link to no file
	p.refuses(restore)
	shell(t, p.dir, "rm rowbell.db*")
	p.refuses(restore) // only a backup is left
	shell(t, p.dir, "mkdir aside; mv rowbell-2*.db aside")
	p.start(aDay) // nothing is left
	p.stop()
	shell(t, p.dir, "mv rowbell.db empty.db; rm rowbell.db-*; cp kept.db rowbell.db")
	p.start(aDay)
	p.stop()
	shell(t, p.dir, "cp empty.db rowbell.db") // records of another day, without growers
	p.refuses("had 1 growers", "rowbell serve --new")
	shell(t, p.dir, "rm rowbell.db-*; mv aside/*.db .")
	p.refuses("has 1 growers", restore) // only the backup says so
	p.run("serve", "--new", "--listen", "127.0.0.1:0", "--config", "rowbell.toml", "--test-clock",
		aDay.Format(time.RFC3339))
	p.stop()

	// Growers who were erased have not vanished.
	shell(t, p.dir, "cp kept.db rowbell.db; rm -f rowbell.db-wal rowbell.db-shm")
	p.start(aDay)
	p.stop()
	if out, err := p.also("person", "--phone", fictional(1).E164(), "--erase", "--yes"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	p.start(aDay)
	p.ready(http.StatusOK, "records: ok")
	p.stop()
}

// A write-ahead log that a killed service left is kept when the operator begins without growers: the database file that
// was moved away has not got its last calls yet.
func TestNewRecordsKeepAnOldLog(t *testing.T) {
	t.Parallel()
	p := startProcess(t, aDay)
	p.text(1, http.StatusAccepted)
	p.kill()
	shell(t, p.dir, "mv rowbell.db away.db")
	p.run("serve", "--new", "--listen", "127.0.0.1:0", "--config", "rowbell.toml", "--test-clock",
		aDay.Format(time.RFC3339))
	p.stop()
	shell(t, p.dir, "mv away.db rowbell.db; mv rowbell.db-wal-left-1 rowbell.db-wal")
	p.start(aDay)
	p.stop()
	if got := p.answersTo(fictional(1))[0]; got != 1 {
		t.Errorf("%d answers to the text, want 1", got)
	}
}
