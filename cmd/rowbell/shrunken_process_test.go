package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The running service makes a backup of records that have lost their growers. The name of the backup says that it is
// shrunken, and no other backup is removed because of it. /readyz, /metrics, the log and rowbell doctor report it until
// the operator accepts it.
func TestShrunkenBackupOfTheService(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.settings = "\n[backup]\nfolder = \"nights\"\nkeep = 2\nhour = 0\n"
	must(t, os.Mkdir(filepath.Join(p.dir, "nights"), 0o700))
	p.start(aDay)
	registering(1).run(p, 2) // the second step is the consent
	p.stop()
	if out, err := p.also("backup", "--to", "nights/rowbell-2020-01-01.db"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	shell(t, p.dir, "cd nights && cp rowbell-2020-01-01.db rowbell-2020-01-02.db && "+
		"cp rowbell-2020-01-01.db rowbell-2020-01-03.db")
	if out, err := p.also("person", "--phone", fictional(1).E164(), "--erase", "--yes"); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}

	serve := []string{"serve", "--listen", "127.0.0.1:0", "--config", "rowbell.toml"} // the loops need the real clock
	p.run(serve...)
	metric := func(value string) bool {
		_, page := p.get("/metrics")
		return strings.Contains(page, "\nrowbell_backup_shrunken "+value+"\n")
	}
	for !metric("1") { // until the upkeep of the start has made the backup
	}
	if _, page := p.get("/readyz"); !strings.Contains(page, "note: since ") ||
		!strings.Contains(page, "rowbell backup --accept-shrunken") {
		t.Errorf("/readyz: %s", page)
	}
	if out, err := p.also("doctor", "--offline"); err == nil || !strings.Contains(out, "--accept-shrunken") {
		t.Errorf("doctor: %v\n%s", err, out)
	}
	old := filepath.Join(p.dir, "nights", "rowbell-2020-01-01.db")
	must(t, errOf(os.Stat(old)))
	if out, err := p.also("backup", "--accept-shrunken"); err != nil || !strings.Contains(out, "Accepted: rowbell-") {
		t.Errorf("%v\n%s", err, out)
	}
	if !metric("0") {
		t.Error("/metrics still says that the backup is a shrunken one")
	}
	if _, page := p.get("/readyz"); strings.Contains(page, "shrunken") {
		t.Errorf("/readyz: %s", page)
	}
	p.stop()
	if !strings.Contains(p.log.String(), "fewer than half of the growers of the last one") {
		t.Error("the log does not say it")
	}
	p.run(serve...)
	for errOf(os.Stat(old)) == nil { // until the upkeep of the start has removed it
	}
	p.stop()
	left, err := filepath.Glob(filepath.Join(p.dir, "nights", "*"))
	if err != nil || len(left) != 2 {
		t.Errorf("%v %v", left, err)
	}
	for _, other := range []string{"--replace", "--to=x", "--plain", "--recipient=" + publicKey} {
		if _, errs, code := runCommand("backup", "--accept-shrunken", other); code != 2 {
			t.Errorf("%s: %d %s", other, code, errs)
		}
	}
}

func errOf(_ os.FileInfo, err error) error { return err }
