package service

import (
	"net/url"
	"path/filepath"
	"testing"

	"rowbell/engine"
	"rowbell/store/manygrowers"
)

// What BenchmarkGrowing measures is what it says, seen on few growers: dialogues end where they should, the bell writes
// one text about each due plot, and a year without upkeep leaves what the retention says. It measures no time.
func TestGrowing(t *testing.T) {
	const growers, today = 400, engine.Day(20605) // 1 June 2026
	folder := t.TempDir()
	from, err := manygrowers.File(t.Context(), folder, growers, today)
	ok(t, err)
	p := serveOwn(t, "service", folder, from, growers, today)
	g := growing{folder: folder}
	control := func(path string, values url.Values) int64 {
		t.Helper()
		n, err := p.do(path, values)
		ok(t, err)
		return n
	}
	for group := range manygrowers.Groups {
		w := g.ring(t, p, group, growers)
		did, _, err := w.do()
		ok(t, err)
		if did != "40 texts about 40 due plots" {
			t.Errorf("group %d: %s", group, did)
		}
	}
	p.Check = true
	for i := 1; i <= 30; i++ {
		p.Play(i)
	}
	if n, first := p.failures(); n > 0 {
		t.Errorf("%d calls failed: %v", n, first)
	}
	g.binary = "true"
	if mb := g.command(t); mb <= 0 {
		t.Errorf("a command had %g MB", mb)
	}
	control("/learn", nil)
	ok(t, manygrowers.Unlearn(t.Context(), p.db))
	control("/learn", nil)
	if octets := control("/backup", url.Values{"to": {filepath.Join(folder, "backup.db")}}); octets == 0 {
		t.Error("the backup is empty")
	}
	// Of 390 days of texts those of the first 355 are older than 400 days a year later; four growers were not heard of
	// for two years, and no reply and session is left.
	if got := control("/prune", url.Values{"seconds": {"600"}}); got < growers*5 {
		t.Errorf("%d rows were pruned", got)
	}
	control("/upkeep", nil)
}
