package main

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/testrun"
)

// damagedCase is what lies on the disk after a fault.
type damagedCase struct {
	name     string
	file     []byte
	log      []byte // the write-ahead log; nil: there is none
	garbled  bool   // pages are garbled, which may be those of an index
	told     bool   // doctor and backup must say that the file is damaged
	lost     bool   // the service must log that acknowledged calls are lost
	restored int    // without told: how many growers must be there at least
}

// damageable are records that a test damages.
type damageable struct {
	growers []*scripted // the first half of them is in the backup and in the file, the others are in the log
	whole   []byte      // the file without a log
	file    []byte      // the file with the log
	log     []byte
	seen    []byte // rowbell.db-seen
	night   []byte // a backup
}

func newDamageable(t *testing.T) (d damageable) {
	t.Helper()
	p := startProcess(t, aDay)
	content := func(name string) []byte {
		b, err := os.ReadFile(filepath.Join(p.dir, name))
		must(t, err)
		return b
	}
	for i := range 6 {
		d.growers = append(d.growers, registering(i))
	}
	for _, g := range d.growers[:3] {
		g.run(p, len(g.steps))
	}
	p.stop()
	if out, err := p.also("backup", "--to", "night.db"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	d.whole, d.night = content(config.DefaultDB), content("night.db")
	p.start(aDay)
	for _, g := range d.growers[3:] {
		g.run(p, len(g.steps))
	}
	p.kill()
	d.file, d.log = content(config.DefaultDB), content(config.DefaultDB+"-wal")
	d.seen = content(config.DefaultDB + "-seen")
	return d
}

const (
	pageSize = 4096
	frame    = pageSize + 24 // of a write-ahead log
)

// garbled returns b with random octets in some of its blocks, but not in the first after octets.
func garbled(b []byte, after, block, blocks int, seed uint64) []byte {
	b, rnd := slices.Clone(b), rand.New(rand.NewPCG(seed, 0))
	for range blocks {
		at := after + rnd.IntN((len(b)-after)/block)*block
		for i := range block {
			b[at+i] = byte(rnd.Uint32())
		}
	}
	return b
}

func (d damageable) cases() (list []damagedCase) {
	for seed := range uint64(4) {
		list = append(list,
			damagedCase{name: fmt.Sprint("one page garbled, seed ", seed), garbled: true, told: true,
				file: garbled(d.whole, 0, pageSize, 1, seed)},
			damagedCase{name: fmt.Sprint("pages garbled, seed ", seed), garbled: true, told: true,
				file: garbled(d.whole, 0, pageSize, 6, seed)},
			damagedCase{name: fmt.Sprint("a frame of the log garbled, seed ", seed), restored: 3, lost: true,
				file: d.file, log: garbled(d.log, 32, frame, 1, seed)})
	}
	half := len(d.whole) / 2 / pageSize * pageSize
	for _, n := range []int{0, 1, 15, 99, 100, pageSize - 1, pageSize, half, half + 17, len(d.whole) - pageSize} {
		list = append(list, damagedCase{name: fmt.Sprint("cut to ", n), told: true, file: d.whole[:n]})
	}
	list = append(list,
		damagedCase{name: "cut, with the log", told: true, file: d.file[:half], log: d.log},
		damagedCase{name: "of zeros", told: true, file: make([]byte, len(d.whole))},
		damagedCase{name: "the head garbled", told: true,
			file: slices.Concat(garbled(d.whole[:100], 0, 100, 1, 1), d.whole[100:])},
		damagedCase{name: "the log is garbage", restored: 3, lost: true,
			file: d.file, log: garbled(d.log, 0, len(d.log), 1, 1)})
	for _, n := range []int{0, 10, 32, 5000, len(d.log) / 2, len(d.log) - 1} {
		list = append(list, damagedCase{name: fmt.Sprint("the log cut to ", n), restored: 3,
			file: d.file, log: d.log[:n]})
	}
	return list
}

// The file of the records, or its write-ahead log, is damaged in many ways. No command ends with a stack, begins empty
// records or changes the file: doctor and backup say that it is damaged, and the service says so or answers only what
// it stores. A restore brings back the backup.
func TestDamagedFiles(t *testing.T) {
	t.Parallel()
	if testrun.OnServer() {
		t.Skip("about a file")
	}
	d := newDamageable(t)
	for _, c := range d.cases() {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := newProcess(t)
			db, night := filepath.Join(p.dir, config.DefaultDB), filepath.Join(p.dir, "night.db")
			must(t, os.WriteFile(night, d.night, 0o600))
			c.lay(t, d, db)
			c.checkCommands(t, db)
			c.lay(t, d, db)
			p.serveDamaged(c, d)
			c.lay(t, d, db)
			c.checkRestore(t, d, db, night)
		})
	}
}

// lay puts the damaged files at their paths.
func (c damagedCase) lay(t *testing.T, d damageable, db string) {
	t.Helper()
	for _, suffix := range []string{"-shm", "-wal"} {
		_ = os.Remove(db + suffix)
	}
	must(t, os.WriteFile(db, c.file, 0o600))
	must(t, os.WriteFile(db+"-seen", d.seen, 0o600))
	if c.log != nil {
		must(t, os.WriteFile(db+"-wal", c.log, 0o600))
	}
}

// damageSaid matches how the operator is told that records are damaged or gone.
var damageSaid = regexp.MustCompile(`damaged|there were records here, and they are gone|` +
	`there are no records at .* any more`)

var stack = regexp.MustCompile(`goroutine|panic|\.go:[0-9]`)

func (c damagedCase) checkCommands(t *testing.T, db string) {
	t.Helper()
	out, errs, code := runCommand("doctor", "--offline", "--db", db, "--test-clock", aDay.Format(time.RFC3339))
	said := ""
	for line := range strings.Lines(out) {
		if strings.Contains(line, "records") {
			said += line
		}
	}
	if stack.MatchString(out+errs) || c.told && (code != 1 || !damageSaid.MatchString(said)) ||
		!c.told && !strings.Contains(said, "whole") {
		t.Errorf("doctor: %d\n%s%s", code, out, errs)
	}
	copied := filepath.Join(filepath.Dir(db), "copied.db")
	out, errs, code = runCommand("backup", "--db", db, "--to", copied)
	// A backup is made anew from the rows. So it is whole if only an index was damaged.
	holds, err := store.Inspect(t.Context(), copied)
	made := code == 0 && err == nil && holds.Growers >= 3
	refused := code == 1 && errors.Is(err, os.ErrNotExist) && damageSaid.MatchString(errs)
	if stack.MatchString(out+errs) || !made && (!refused || !c.told) || made && c.told && !c.garbled {
		t.Errorf("backup: %d, %v\n%s%s", code, err, out, errs)
	}
	c.checkUnchanged(t, db, "a command")
}

// checkUnchanged checks that what is left of a damaged file is still there. An opened file has a new count of changes
// in its head. A log is copied into its file when the last program closes that.
func (c damagedCase) checkUnchanged(t testing.TB, db, what string) {
	t.Helper()
	is, err := os.ReadFile(db)
	must(t, err)
	changed := max(len(is), len(c.file)) - min(len(is), len(c.file))
	for i := range min(len(is), len(c.file)) {
		if is[i] != c.file[i] {
			changed++
		}
	}
	if c.told && c.log == nil && changed > 8 {
		t.Errorf("%s changed %d octets of the file", what, changed)
	}
}

// serveDamaged starts the service on damaged records. If it starts, callbacks are stored before they are acknowledged,
// and others get 503.
func (p *process) serveDamaged(c damagedCase, d damageable) {
	p.t.Helper()
	running, up := p.startInside(aDay, nil)
	if !up {
		err := running.stopped(p)
		fmt.Fprintln(p.log, err)
		if said := withAdvice(err); !damageSaid.MatchString(said) || !strings.Contains(said, "put back") &&
			!strings.Contains(said, "Put back") || stack.MatchString(said) {
			p.t.Errorf("serve: %s", said)
		}
		c.checkUnchanged(p.t, filepath.Join(p.dir, config.DefaultDB), "the refused start")
		return
	}
	if said := p.log.count("although it was acknowledged") > 0; said != c.lost {
		p.t.Errorf("the log says that acknowledged calls are lost: %t, want %t", said, c.lost)
	}
	for _, g := range d.growers[:max(c.restored, 3)] {
		call := map[string]any{"phone": g.phone.E164(), "session": "again", "step": 0, "event": "begin",
			"dialled": "*123#"}
		first, status, err := p.try("ussd", call)
		must(p.t, err)
		switch {
		case status == http.StatusOK:
			if second := p.post("ussd", call, status); !bytes.Equal(first, second) {
				p.t.Errorf("answered %s, then %s", first, second)
			}
			if bytes.Contains(first, []byte("May we keep your number")) {
				p.t.Errorf("a grower is not known any more: %s", first)
			}
		case status != http.StatusServiceUnavailable || !c.told || !damageSaid.MatchString(p.log.String()):
			p.t.Errorf("a call: %d %s\n%s", status, first, p.log.String())
		}
	}
	_ = running.stopped(p) // it may be unable to close damaged records
	if log := p.log.String(); stack.MatchString(log) {
		p.t.Errorf("the log has a stack:\n%s", log)
	}
}

// checkRestore restores the backup. All that was in it is there.
func (c damagedCase) checkRestore(t *testing.T, d damageable, db, night string) {
	t.Helper()
	out, errs, code := runCommand("restore", "--db", db, "--from", night, "--discard-newer", "--test-clock",
		aDay.Format(time.RFC3339))
	if code != 0 || strings.Contains(out, "damaged") != (c.told && len(c.file) > 0) || stack.MatchString(out+errs) {
		t.Fatalf("restore: %d\n%s%s", code, out, errs)
	}
	s := openRecords(t, db)
	read(t, s, func(tx *store.Tx) error {
		for _, g := range d.growers[:3] {
			if got, err := found(tx, g.phone, aDay.Unix()); err != nil || got != g.want() {
				t.Errorf("%v: %+v, want %+v (%v)", g.phone, got, g.want(), err)
			}
		}
		return nil
	})
}
