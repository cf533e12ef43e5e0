package main

import (
	"database/sql"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// also runs another command of the binary in the folder of the process.
func (p *process) also(args ...string) (out string, err error) {
	p.t.Helper()
	cmd := exec.Command(binary(p.t), args...)
	cmd.Dir = p.dir
	b, err := cmd.CombinedOutput()
	assertNoNumbers(p.t, string(b))
	return string(b), err
}

// A backup is made while the service answers callbacks; then the service is killed and the backup is restored. Each
// callback that was answered before the backup is recorded exactly once. The restore withdraws every text that was
// waiting.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestBackupKillRestore(t *testing.T) {
	t.Parallel()
	day := aDay
	p := startProcess(t, day)
	v := &victims{p: p, now: day}
	for i := range 12 {
		v.growers = append(v.growers, registering(i))
	}
	var talking sync.WaitGroup
	for _, g := range v.growers {
		talking.Go(func() { g.run(p, len(g.steps)/2) })
	}
	talking.Wait()
	before := make([]int, len(v.growers))
	for i, g := range v.growers {
		before[i] = g.answered()
	}
	started := make(chan struct{}, len(v.growers))
	for _, g := range v.growers {
		talking.Go(func() {
			g.run(p, 1)
			started <- struct{}{}
			g.run(p, len(g.steps))
		})
	}
	<-started
	at := day.Format(time.RFC3339)
	out, err := p.also("backup", "--to", "night.db", "--test-clock", at)
	if err != nil || !strings.Contains(out, "12 growers") {
		t.Errorf("%v\n%s", err, out)
	}
	if out, err := p.also("restore", "--from", "night.db"); err == nil || !strings.Contains(out, "Stop the service") {
		t.Errorf("restored under a running service: %v\n%s", err, out)
	}
	talking.Wait()
	stopped := v.growers[3]
	p.post("sms", map[string]any{"id": "stop", "phone": stopped.phone.E164(), "text": "STOP"}, http.StatusAccepted)
	p.kill()

	out, err = p.also("restore", "--from", "night.db", "--discard-newer", "--test-clock", at)
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, want := range []string{"12 growers", "1 growers stopped", "Withdrawn",
		"kept as rowbell.db.replaced-2026-11-25-090000"} {
		if !strings.Contains(out, want) {
			t.Errorf("the restore does not say %q:\n%s", want, out)
		}
	}
	s := openRecords(t, filepath.Join(p.dir, config.DefaultDB))
	read(t, s, func(tx *store.Tx) error {
		for i, g := range v.growers {
			got, err := found(tx, g.phone, day.Unix())
			if err != nil {
				return err
			}
			if least, most := g.after(before[i]), g.want(); got.plots < least.plots || got.plots > most.plots ||
				got.passes[1] < least.passes[1] {
				t.Errorf("%v: %+v, want from %+v to %+v", g.phone, got, least, most)
			}
			l, err := tx.Ledger(g.phone, day.Unix())
			if err != nil {
				return err
			}
			if l.Stopped() != (g == stopped) {
				t.Errorf("%v stopped: %t", g.phone, l.Stopped())
			}
			texts, err := tx.Inbox(g.phone, 0)
			if err != nil {
				return err
			}
			for _, m := range texts {
				if m.State == store.Queued || m.State == store.Claimed {
					t.Errorf("%v: a text still waits to be sent", g.phone)
				}
			}
		}
		return nil
	})
	must(t, s.Close())

	// After the restore, a callback that was answered before the backup is sent again and gets the same answer.
	p.start(day.Add(time.Hour))
	for i, g := range v.growers {
		if before[i] > 0 {
			v.again(t, g, 0)
		}
	}
	p.settle()
	// The grower got at most three texts: at registration, in reply to a text, and in reply to STOP.
	if texts := p.inbox.take(stopped.phone.E164()); len(texts) > 3 {
		t.Errorf("%d texts to a number that texted STOP", len(texts))
	}
}

// A restore may be killed at any moment: the database file then has all old records or all new records, and a second
// restore succeeds.
func TestKilledRestoreCommand(t *testing.T) {
	t.Parallel()
	p := startProcess(t, aDay)
	a, b := registering(1), registering(2)
	a.run(p, len(a.steps))
	if out, err := p.also("backup", "--to", "night.db"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b.run(p, len(b.steps))
	p.stop()
	live, err := os.ReadFile(filepath.Join(p.dir, config.DefaultDB))
	must(t, err)
	args := []string{"restore", "--from", "night.db", "--db", "rowbell.db", "--discard-newer", "--test-clock",
		aDay.Format(time.RFC3339)}
	seen := map[int64]int{} // by number of growers (2: old records, 1: the backup): number of kills
	killed := func(changes int) bool {
		for _, name := range []string{"rowbell.db-wal", "rowbell.db-shm"} {
			_ = os.Remove(filepath.Join(p.dir, name))
		}
		must(t, os.WriteFile(filepath.Join(p.dir, config.DefaultDB), live, 0o600))
		cmd := exec.Command(binary(t), args...)
		cmd.Dir = p.dir
		running := killAfter(t, cmd, p.dir, changes)
		c, err := store.Inspect(t.Context(), filepath.Join(p.dir, config.DefaultDB))
		if err != nil {
			t.Fatalf("killed after %d changes: %v", changes, err)
		}
		if seen[c.Growers]++; c.Growers != 1 && c.Growers != 2 {
			t.Fatalf("killed after %d changes: %d growers", changes, c.Growers)
		}
		if out, err := p.also(args...); err != nil {
			t.Fatalf("a second try after %d changes: %v\n%s", changes, err, out)
		}
		if c, err := store.Inspect(t.Context(), filepath.Join(p.dir, config.DefaultDB)); err != nil || c.Growers != 1 {
			t.Fatalf("a second try after %d changes: %+v %v", changes, c, err)
		}
		return running
	}
	for changes := 1; killed(changes); changes++ {
	}
	// The restore of a small backup may end before this test can kill it. So the test enlarges the backup until a kill
	// interrupts a restore.
	for bytes := 16 << 20; seen[2] == 0 && bytes <= 256<<20; bytes *= 2 {
		enlarge(t, filepath.Join(p.dir, "night.db"), bytes)
		killed(1)
	}
	t.Logf("%d times the old records were there, %d times the new ones", seen[2], seen[1])
	// One kill before the replacement is enough here: TestKilledRestore of package store tests a kill at every step.
	if seen[2] == 0 {
		t.Error("no restore was killed before the records were replaced")
	}
}

// A backup may be killed at any moment: then there is no backup file, or the file is a complete backup.
func TestKilledBackupCommand(t *testing.T) {
	t.Parallel()
	p := startProcess(t, aDay)
	g := registering(1)
	g.run(p, len(g.steps))
	folder := filepath.Join(p.dir, "nights")
	must(t, os.Mkdir(folder, 0o700))
	none := 0
	killed := func(changes int) bool {
		cmd := exec.Command(binary(t), "backup", "--to", "nights/night.db")
		cmd.Dir = p.dir
		running := killAfter(t, cmd, folder, changes)
		night := filepath.Join(folder, "night.db")
		if _, err := os.Stat(night); err != nil {
			none++
			return running
		}
		if c, err := store.Inspect(t.Context(), night); err != nil || c.Growers != 1 {
			t.Fatalf("killed after %d changes: %+v %v", changes, c, err)
		}
		must(t, os.Remove(night))
		return running
	}
	for changes, running := 1, true; running; changes++ {
		running = killed(changes)
	}
	// The backup of a small database may end before this test can kill it. So the test enlarges the database until a
	// kill interrupts a backup.
	for bytes := 16 << 20; none == 0 && bytes <= 256<<20; bytes *= 2 {
		enlarge(t, filepath.Join(p.dir, config.DefaultDB), bytes)
		killed(1)
	}
	if none == 0 {
		t.Error("no backup was killed before its file had its name")
	}
}

// enlarge adds the given number of random bytes to a database file, in a table of its own.
func enlarge(t *testing.T, file string, bytes int) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+file)
	must(t, err)
	_, err = db.ExecContext(t.Context(),
		"CREATE TABLE IF NOT EXISTS filler (b); INSERT INTO filler VALUES (randomblob(?))", bytes)
	must(t, errors.Join(err, db.Close()))
}

// killAfter runs a command and kills it when the list of files in the folder has changed the given number of times. It
// returns false if the command ended earlier.
func killAfter(t *testing.T, cmd *exec.Cmd, dir string, changes int) bool {
	t.Helper()
	look := func() string {
		var all strings.Builder
		entries, _ := os.ReadDir(dir)
		for _, e := range entries {
			if info, err := e.Info(); err == nil {
				fmt.Fprintln(&all, e.Name(), info.Size(), info.ModTime())
			}
		}
		return all.String()
	}
	was := look()
	must(t, cmd.Start())
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	for n := 0; n < changes; {
		select {
		case err := <-ended:
			must(t, err)
			return false
		default:
		}
		if is := look(); is != was {
			was = is
			n++
		}
	}
	_ = cmd.Process.Kill()
	return <-ended != nil
}
