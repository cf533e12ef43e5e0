package main

import (
	"errors"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// stopFailing ends the process with SIGTERM and returns its log. The exit code must be 1.
func (p *process) stopFailing() string {
	p.t.Helper()
	must(p.t, p.cmd.Process.Signal(syscall.SIGTERM))
	<-p.drained
	var exit *exec.ExitError
	if err := p.cmd.Wait(); !errors.As(err, &exit) || exit.ExitCode() != 1 {
		p.t.Errorf("the service stopped with %v, want the exit code 1", err)
	}
	p.cmd = nil
	return p.log.String()
}

// detachedCases are ways to remove the database file under a running service.
var detachedCases = []struct {
	name, script string // the script runs in the folder of the process
	rescued      string // where the open records must be; "" if the database file has everything
	settings     string // more of [backup]
	later        string // runs before the service is stopped
	again        bool   // the service starts again and gets the calls again
}{
	{name: "rm", script: "rm data/rowbell.db", rescued: "data/rowbell-rescued.db"},
	{name: "rm of all", script: "rm data/rowbell.db*", rescued: "data/rowbell-rescued.db"},
	{name: "mv over it", script: "mv other.db data/rowbell.db", rescued: "data/rowbell-rescued.db", again: true},
	{name: "a link", script: "mv data/rowbell.db away.db && ln -s ../away.db data/rowbell.db",
		rescued: "data/rowbell-rescued.db"},
	{name: "the folder", script: "mv data away", rescued: "nights/rowbell-rescued.db"},
	{name: "the folder, and backups are encrypted", script: "mv data away", rescued: "data/rowbell-rescued.db",
		settings: `recipients = ["` + publicKey + `"]` + "\n", later: "mkdir data; test -z \"$(ls nights)\""},
	{name: "rm of the log", script: "rm data/rowbell.db-wal", again: true},
	{name: "rm of the lock", script: "rm data/rowbell.db-lock", again: true},
}

// The database file is removed or replaced under the running service: calls get 503, callers see the error
// screen, /readyz, /metrics and the log say why, the exit code is 1, and no answered call is lost.
func TestRecordsVanish(t *testing.T) {
	t.Parallel()
	for _, c := range detachedCases {
		t.Run(c.name, func(t *testing.T) {
			p := newProcess(t)
			p.db = filepath.Join("data", config.DefaultDB)
			must(t, errors.Join(os.Mkdir(filepath.Join(p.dir, "data"), 0o700),
				os.Mkdir(filepath.Join(p.dir, "nights"), 0o700)))
			p.settings = "\n[backup]\nfolder = \"nights\"\n" + c.settings
			other, err := store.Open(t.Context(), filepath.Join(p.dir, "other.db"), store.Options{})
			must(t, err)
			must(t, other.Close())
			p.start(aDay)
			p.text(1, http.StatusAccepted)
			p.dial(1, http.StatusOK)
			p.ready(http.StatusOK, "records: ok")
			shell(t, p.dir, c.script)
			p.text(2, http.StatusServiceUnavailable)
			if screen := p.dial(2, http.StatusServiceUnavailable); !strings.Contains(string(screen), "Sorry") {
				t.Errorf("the caller sees %s", screen)
			}
			p.text(1, http.StatusServiceUnavailable)
			p.ready(http.StatusServiceUnavailable,
				"records: they cannot be written: their file was removed or replaced")
			if _, metrics := p.get("/metrics"); !strings.Contains(metrics, "\nrowbell_records_detached 1\n") {
				t.Error("/metrics does not say it")
			}
			shell(t, p.dir, c.later)
			log := p.stopFailing()
			if strings.Contains(log, "everything that was answered is stored") ||
				!strings.Contains(log, "was removed or replaced") || !strings.Contains(log, c.rescued) {
				t.Errorf("the log does not say it:\n%s", log)
			}
			if c.rescued != "" {
				shell(t, p.dir, "mkdir -p data")
				out, err := p.also("restore", "--from", c.rescued, "--db", "data/rowbell.db", "--discard-newer")
				if err != nil {
					t.Fatalf("restore: %v\n%s", err, out)
				}
			}
			stored := []int{0, 1, 0} // answers by the number of the phone
			if c.again {
				p.start(aDay)
				p.ready(http.StatusOK, "records: ok")
				p.text(1, http.StatusAccepted) // the repeat of an answered text is stored once
				p.text(2, http.StatusAccepted)
				p.stop()
				stored[2] = 1
			}
			if got := p.answersTo(fictional(0), fictional(1), fictional(2)); !slices.Equal(got, stored) {
				t.Errorf("%d answers are stored, want %d", got, stored)
			}
		})
	}
}

// A backup is copied over the file of the running service, or its write-ahead log is emptied: calls get 503, the exit
// code is 1, and the next start serves the backup, or what stood in the file, and nothing of the log that was in use.
func TestRecordsOverwritten(t *testing.T) {
	t.Parallel()
	for name, script := range map[string]string{"a backup": "cp night.db rowbell.db", "the log": ": > rowbell.db-wal"} {
		t.Run(name, func(t *testing.T) {
			p := startProcess(t, aDay)
			p.text(1, http.StatusAccepted)
			for _, command := range [][]string{{"backup", "--to", "night.db"}, {"compact"}} { // compact empties the log
				if out, err := p.also(command...); err != nil {
					t.Fatalf("%v\n%s", err, out)
				}
			}
			p.text(2, http.StatusAccepted)
			shell(t, p.dir, script)
			p.text(3, http.StatusServiceUnavailable)
			p.ready(http.StatusServiceUnavailable, "records: they cannot be")
			if log := p.stopFailing(); !strings.Contains(log, "was overwritten while it was open") {
				t.Errorf("the log does not say it:\n%s", log)
			}
			p.start(aDay)
			p.ready(http.StatusOK, "records: ok")
			p.stop()
			got := p.answersTo(fictional(0), fictional(1), fictional(2), fictional(3))
			if want := []int{0, 1, 0, 0}; !slices.Equal(got, want) {
				t.Errorf("%d answers are stored, want %d", got, want)
			}
		})
	}
}

func shell(t *testing.T, dir, script string) {
	t.Helper()
	cmd := exec.Command("sh", "-c", script)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v %s", script, err, out)
	}
}
