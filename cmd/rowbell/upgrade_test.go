package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"rowbell/store"
	"rowbell/store/testrun"
)

// nextRelease builds a release that has one more migration than this one, which adds a table and a column.
func nextRelease(t *testing.T) (path string) {
	t.Helper()
	dir, err := os.MkdirTemp(testrun.Disk, "rowbell-next-")
	must(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	root, err := filepath.Abs("../..")
	must(t, err)
	overlay := map[string]map[string]string{"Replace": {}}
	for database, types := range map[string][2]string{
		"sqlite": {"INTEGER", " STRICT"}, "postgres": {"BIGINT", ""},
	} {
		name := fmt.Sprintf("%05d_next.sql", store.Schema()+1)
		text := fmt.Sprintf("-- oldest: %d\n-- +goose Up\nCREATE TABLE next (id %[2]s NOT NULL PRIMARY KEY)%[3]s;\n"+
			"ALTER TABLE plot ADD COLUMN next %[2]s NOT NULL DEFAULT 0;\n-- +goose Down\nDROP TABLE next;\n",
			store.Schema(), types[0], types[1])
		file := filepath.Join(dir, database+".sql")
		must(t, os.WriteFile(file, []byte(text), 0o600))
		overlay["Replace"][filepath.Join(root, "store/migrations", database, name)] = file
	}
	b, err := json.Marshal(overlay)
	must(t, err)
	must(t, os.WriteFile(filepath.Join(dir, "overlay.json"), b, 0o600))
	path = filepath.Join(dir, "rowbell")
	out, err := exec.Command("go", "build", "-overlay", filepath.Join(dir, "overlay.json"), "-ldflags", "-s -w",
		"-o", path, ".").CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return path
}

// Two processes are upgraded one after the other while growers use them. Each dialogue goes on at the other process,
// whichever release that is; a process of this release also starts on the newer schema.
func TestRollingUpgradeOfProcesses(t *testing.T) {
	f := startProcesses(t, 2, aDay)
	next := nextRelease(t)
	var growers []*scripted
	for i := range 3 {
		growers = append(growers, registering(i))
	}
	turn := 0
	// steps sends n steps of each grower, each at another process than the one before.
	steps := func(n int) {
		t.Helper()
		for range n {
			for _, g := range growers {
				turn++
				if !g.run(f.slots[turn%2].Load(), 1) {
					t.Fatalf("no answer to step %d of %v", g.answered(), g.phone)
				}
			}
		}
	}
	steps(7)
	f.program = next
	f.replace(1, aDay)
	s := f.open() // a command of this release
	read(t, s, func(tx *store.Tx) error {
		list, err := tx.Processes(aDay.Unix())
		if len(list) != 2 || list[0].Schema != store.Schema() || list[1].Schema != store.Schema()+1 {
			t.Errorf("the processes are %+v", list)
		}
		return err
	})
	steps(9)
	f.program = ""
	f.replace(0, aDay)
	steps(9)
	f.program = next
	f.replace(0, aDay)
	steps(len(growers[0].steps))
	f.settle()
	v := &victims{p: f.first, now: aDay, growers: growers}
	read(t, s, func(tx *store.Tx) error {
		for _, g := range growers {
			got, err := found(tx, g.phone, aDay.Unix())
			if err != nil || got != g.want() || len(g.steps) != g.answered() {
				t.Errorf("%v: %+v after %d answers, want %+v (%v)", g.phone, got, g.answered(), g.want(), err)
			}
		}
		return v.checkTexts(t, tx, 0)
	})
	for i, g := range growers {
		v.p = f.slots[i%2].Load()
		for n := range g.answered() {
			v.again(t, g, n)
		}
	}
}
