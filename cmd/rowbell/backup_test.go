package main

import (
	"bytes"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// also runs another command of the binary in the process's folder.
func (p *process) also(args ...string) (out string, err error) {
	p.t.Helper()
	cmd := exec.Command(binary(p.t), args...)
	cmd.Dir = p.dir
	b, err := cmd.CombinedOutput()
	if found := phoneNumbers.Find(b); found != nil {
		p.t.Errorf("rowbell %s prints the number %s", args[0], found)
	}
	return string(b), err
}

// A backup is made while growers talk; the service is killed, its records are
// replaced by the backup: whatever was answered before the backup began is
// there, once, and nothing that waited is sent.
func TestBackupKillRestore(t *testing.T) {
	day := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	p := startProcess(t, day)
	v := &victims{p: p, now: day}
	for i := range 12 {
		v.growers = append(v.growers, registering(i))
	}
	// Half of what each has to say comes before, the rest meanwhile.
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
	for _, want := range []string{"12 growers", "1 growers stopped", "Withdrawn", "kept as rowbell.db.replaced-2026-11-25-090000"} {
		if !strings.Contains(out, want) {
			t.Errorf("the restore does not say %q:\n%s", want, out)
		}
	}
	s, err := store.Open(t.Context(), filepath.Join(p.dir, config.DefaultDB), store.Options{ReadConns: 1})
	if err != nil {
		t.Fatal(err)
	}
	err = s.View(t.Context(), func(tx *store.Tx) error {
		for i, g := range v.growers {
			got, err := found(tx, g.phone, day.Unix())
			if err != nil {
				return err
			}
			if least, most := g.after(before[i]), g.want(); got.plots < least.plots || got.plots > most.plots || got.passes[1] < least.passes[1] {
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
			for _, m := range texts {
				if m.State == store.Queued || m.State == store.Claimed {
					t.Errorf("%v: a text still waits to be sent", g.phone)
				}
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
	if err := s.IntegrityCheck(t.Context()); err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	// A repeat of what was answered before the backup gets that very answer,
	// and the service goes on.
	p.start(day.Add(time.Hour))
	for i, g := range v.growers {
		if before[i] > 0 {
			v.again(t, g, 0)
		}
	}
	p.settle()
	if texts := p.inbox.take(stopped.phone.E164()); len(texts) > 3 { // at registration, to a text, to STOP
		t.Errorf("%d texts to who texted STOP", len(texts))
	}
}

// Killed at any moment, a restore leaves the old records or the new ones,
// whole; done again it succeeds.
func TestKilledRestoreCommand(t *testing.T) {
	day := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	p := startProcess(t, day)
	a, b := registering(1), registering(2)
	a.run(p, len(a.steps))
	if out, err := p.also("backup", "--to", "night.db"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b.run(p, len(b.steps))
	p.stop()
	live, err := os.ReadFile(filepath.Join(p.dir, config.DefaultDB))
	if err != nil {
		t.Fatal(err)
	}
	args := []string{"restore", "--from", "night.db", "--db", "rowbell.db", "--discard-newer", "--test-clock", day.Format(time.RFC3339)}
	seen := map[int64]int{}
	for changes := 1; ; changes++ {
		for _, name := range []string{"rowbell.db-wal", "rowbell.db-shm"} {
			_ = os.Remove(filepath.Join(p.dir, name))
		}
		if err := os.WriteFile(filepath.Join(p.dir, config.DefaultDB), live, 0o600); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(binary(t), args...)
		cmd.Dir = p.dir
		killed := killAfter(t, cmd, p.dir, changes)
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
		if !killed {
			break
		}
	}
	t.Logf("%d times the old records were there, %d times the new ones", seen[2], seen[1])
	if seen[2] < 3 || seen[1] == 0 {
		t.Errorf("not killed at work: %v", seen)
	}
}

// Killed at any moment, a backup leaves none under its name, or a whole one.
func TestKilledBackupCommand(t *testing.T) {
	p := startProcess(t, time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC))
	g := registering(1)
	g.run(p, len(g.steps))
	folder := filepath.Join(p.dir, "nights")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	none, whole := 0, 0
	for changes, running := 1, true; running; changes++ {
		cmd := exec.Command(binary(t), "backup", "--to", "nights/night.db")
		cmd.Dir = p.dir
		running = killAfter(t, cmd, folder, changes)
		night := filepath.Join(folder, "night.db")
		if _, err := os.Stat(night); err != nil {
			none++
			continue
		}
		whole++
		if c, err := store.Inspect(t.Context(), night); err != nil || c.Growers != 1 {
			t.Fatalf("killed after %d changes: %+v %v", changes, c, err)
		}
		if err := os.Remove(night); err != nil {
			t.Fatal(err)
		}
	}
	if none == 0 || whole == 0 {
		t.Errorf("not killed at work: %d times there was none, %d times a whole one", none, whole)
	}
}

// killAfter runs a command and kills it when what the folder shows has changed
// so many times. It is false where the command ended first.
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
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	for n := 0; n < changes; {
		select {
		case err := <-ended:
			if err != nil {
				t.Fatal(err)
			}
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

// nights runs the upkeep of a service with nightly backups.
type nights struct {
	*testing.T
	folder string
	clock  *clock.Manual
	log    *bytes.Buffer
	conf   config.Config
	s      *service
}

func (n *nights) start() {
	n.Helper()
	var err error
	network := n.conf.Local("")
	if n.s, err = startService(n.Context(), n.conf, []profile.Profile{network}, n.clock, zerolog.New(n.log)); err != nil {
		n.Fatal(err)
	}
}

func (n *nights) upkeep(at time.Time) {
	n.Helper()
	n.clock.Set(at)
	if err := n.s.upkeep(n.Context()); err != nil {
		n.Error(err)
	}
}

func (n *nights) files() string {
	var names []string
	entries, _ := os.ReadDir(n.folder)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return strings.Join(names, " ")
}

func TestNightlyBackups(t *testing.T) {
	keep, zone := 2, "Asia/Kolkata" // five and a half hours ahead
	dir := t.TempDir()
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 11, day, hour, minute, 0, 0, time.UTC) }
	n := &nights{T: t, folder: filepath.Join(dir, "nights"), clock: clock.New(at(24, 20, 0)), log: &bytes.Buffer{}}
	n.conf = config.Default()
	n.conf.DB = filepath.Join(dir, "rowbell.db")
	n.conf.Place, n.conf.Backup = &config.Place{Zone: &zone}, &config.Backup{Folder: n.folder, Keep: &keep}
	n.start()
	t.Cleanup(func() { _ = n.s.close() })

	n.upkeep(at(24, 22, 0)) // the folder is not there
	if _, err := n.s.nightly.state(); err == nil || !strings.Contains(n.log.String(), "backup") {
		t.Errorf("no backup could be made, and nobody is told: %v\n%s", err, n.log)
	}
	if err := os.Mkdir(n.folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"rowbell-2026-11-25-120000.db", "rowbell-2026-11-2x.db", "letter.txt", "other-2026-11-01.db"} {
		if err := os.WriteFile(filepath.Join(n.folder, name), []byte("mine"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	expect := func(when string, want ...string) {
		t.Helper()
		got := n.files()
		for _, mine := range []string{"letter.txt", "other-2026-11-01.db", "rowbell-2026-11-25-120000.db", "rowbell-2026-11-2x.db"} {
			if !strings.Contains(got, mine) {
				t.Errorf("%s: %s is gone", when, mine)
			}
		}
		found := regexp.MustCompile(`rowbell-\d{4}-\d\d-\d\d\.db`).FindAllString(got, -1)
		if strings.Join(found, " ") != strings.Join(want, " ") || strings.Contains(got, "part") {
			t.Errorf("%s: %s, want %v", when, got, want)
		}
	}
	n.upkeep(at(24, 21, 29)) // 02:59 there
	expect("before the hour")
	n.upkeep(at(24, 21, 30))
	expect("at the hour", "rowbell-2026-11-25.db")
	if newest, err := n.s.nightly.state(); err != nil || !newest.Equal(at(24, 21, 30)) {
		t.Errorf("state: %v %v", newest, err)
	}
	was, err := os.Stat(filepath.Join(n.folder, "rowbell-2026-11-25.db"))
	if err != nil {
		t.Fatal(err)
	}
	n.upkeep(at(25, 10, 0))
	if err := n.s.close(); err != nil {
		t.Fatal(err)
	}
	n.start()
	n.upkeep(at(25, 11, 0)) // after a restart, the same day
	if is, err := os.Stat(filepath.Join(n.folder, "rowbell-2026-11-25.db")); err != nil || !os.SameFile(is, was) {
		t.Errorf("the day's backup was made twice: %v", err)
	}
	if newest, err := n.s.nightly.state(); err != nil || !newest.Equal(at(24, 21, 30)) {
		t.Errorf("state after a restart: %v %v", newest, err)
	}
	n.upkeep(at(26, 9, 0)) // late: it was not running at three
	n.upkeep(at(27, 9, 0))
	expect("two are kept", "rowbell-2026-11-26.db", "rowbell-2026-11-27.db")

	// A night that fails removes nothing, and is made up for an hour later.
	if err := os.Rename(n.folder, n.folder+".away"); err != nil {
		t.Fatal(err)
	}
	n.upkeep(at(28, 9, 0))
	if newest, err := n.s.nightly.state(); err == nil || !newest.Equal(at(27, 9, 0)) {
		t.Errorf("state after a failure: %v %v", newest, err)
	}
	if err := os.Rename(n.folder+".away", n.folder); err != nil {
		t.Fatal(err)
	}
	expect("after a failure", "rowbell-2026-11-26.db", "rowbell-2026-11-27.db")
	n.upkeep(at(28, 10, 0))
	expect("an hour later", "rowbell-2026-11-27.db", "rowbell-2026-11-28.db")
	if _, err := n.s.nightly.state(); err != nil {
		t.Error(err)
	}
	if _, err := store.Inspect(t.Context(), filepath.Join(n.folder, "rowbell-2026-11-28.db")); err != nil {
		t.Error(err)
	}
}
