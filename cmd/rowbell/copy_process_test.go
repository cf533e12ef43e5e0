package main

import (
	"database/sql"
	"errors"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/testrun"
)

// The records move to another database, although the copy is killed again and again, and back to a new file. The
// service goes on there, and refuses the place where they were.
func TestRecordsMoveToAnotherDatabase(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.start(aDay)
	p.text(1, http.StatusAccepted)
	other := filepath.Join(p.dir, "other.db")
	if testrun.OnServer() {
		other = testrun.EmptyDatabase(t)
	}
	if out, err := p.also("copy", "--from", config.DefaultDB, "--to", other); err == nil ||
		!strings.Contains(out, "another program works on it. Stop the service") {
		t.Errorf("under the service: %v\n%s", err, out)
	}
	p.stop()
	manyOptOuts(t, filepath.Join(p.dir, config.DefaultDB))
	before := exported(t, p, config.DefaultDB)
	killed := 0
	for _, rows := range []int{1, 4000, 9000} {
		killed += killCopy(t, p, other, rows)
	}
	if killed == 0 {
		t.Error("no copy was killed before it had ended")
	}
	if out, err := p.also("doctor", "--offline", "--db", other); err == nil ||
		!strings.Contains(out, "a copy into these records has not finished") {
		t.Errorf("doctor: %v\n%s", err, out)
	}
	for _, move := range [][2]string{{config.DefaultDB, other}, {other, filepath.Join(p.dir, "back.db")}} {
		out, err := p.also("copy", "--from", move[0], "--to", move[1])
		if err != nil || !strings.Contains(out, "checksums of all tables are the same on both sides") ||
			strings.Contains(out, "went on") != (move[1] == other) {
			t.Fatalf("%v\n%s", err, out)
		}
		if after := exported(t, p, move[1]); after != before {
			t.Errorf("%s\nwant\n%s", after, before)
		}
		for _, args := range [][]string{{"serve", "--listen", "127.0.0.1:0"}, {"sending", "hold", "--why", "x"}} {
			out, err := p.also(append(args, "--db", move[0])...)
			if err == nil || !strings.Contains(out, "these records were moved to "+store.DisplayName(move[1])) {
				t.Errorf("%s: %v\n%s", args[0], err, out)
			}
		}
	}
	p.db = filepath.Join(p.dir, "back.db")
	p.start(aDay)
	p.text(2, http.StatusAccepted)
	p.ready(http.StatusOK, "records: ok")
	p.stop()
}

// exported returns what is stored about the person who has texted.
func exported(t *testing.T, p *process, db string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "person.json")
	if out, err := p.also("--test-clock", aDay.Format(time.RFC3339), "person", "--phone", "+447700900001",
		"--export", file, "--db", db); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b, err := os.ReadFile(file)
	must(t, err)
	return string(b)
}

// manyOptOuts makes the records so large that a copy takes a while.
func manyOptOuts(t *testing.T, file string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+file)
	must(t, err)
	_, err = db.ExecContext(t.Context(), `WITH RECURSIVE
		n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < 16000)
		INSERT INTO opt_out (hash, at) SELECT randomblob(32), i FROM n`)
	must(t, errors.Join(err, db.Close()))
}

// killCopy starts a copy, and kills it when so many rows of opt_out are in the target, or some more. It returns 0 if
// the copy had ended before.
func killCopy(t *testing.T, p *process, to string, rows int) int {
	t.Helper()
	cmd := exec.Command(binary(t), "copy", "--from", config.DefaultDB, "--to", to)
	cmd.Dir = p.dir
	must(t, cmd.Start())
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	driver, source := "sqlite3", "file:"+to+"?mode=ro&_busy_timeout=5000"
	if store.OnServer(to) {
		driver, source = "pgx", to
	}
	for {
		select {
		case err := <-ended:
			must(t, err)
			return 0
		default:
		}
		if _, err := os.Stat(to); err == nil || store.OnServer(to) {
			db, err := sql.Open(driver, source)
			must(t, err)
			n := 0
			// An error means that the table is not there yet.
			_ = db.QueryRowContext(t.Context(), "SELECT count(*) FROM opt_out").Scan(&n)
			must(t, db.Close())
			if n >= rows {
				must(t, cmd.Process.Kill())
				<-ended
				return 1
			}
		}
		runtime.Gosched()
	}
}
