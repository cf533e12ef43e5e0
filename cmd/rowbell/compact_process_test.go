package main

import (
	"database/sql"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/cmd/rowbell/config"
)

// rowbell compact makes the file smaller under the running service, which goes on answering.
func TestCompactUnderTheService(t *testing.T) {
	t.Parallel()
	p := startProcess(t, aDay)
	p.text(1, http.StatusAccepted)
	file := filepath.Join(p.dir, config.DefaultDB)
	enlarge(t, file, 16<<20)
	db, err := sql.Open("sqlite3", "file:"+file)
	must(t, err)
	_, err = db.ExecContext(t.Context(), "DROP TABLE filler; PRAGMA wal_checkpoint(TRUNCATE)")
	must(t, errors.Join(err, db.Close()))
	if info, err := os.Stat(file); err != nil || info.Size() < 16<<20 {
		t.Fatalf("%v %v", info, err)
	}
	if out, _ := p.also("doctor", "--offline"); !strings.Contains(out, "Do: rowbell compact") {
		t.Errorf("doctor does not say it:\n%s", out)
	}
	if out, err := p.also("compact"); err != nil || !strings.Contains(out, "Compacted: rowbell.db had 17.") {
		t.Errorf("%v\n%s", err, out)
	}
	if info, err := os.Stat(file); err != nil || info.Size() > 2<<20 {
		t.Errorf("%v %v", info, err)
	}
	p.text(1, http.StatusAccepted)
	p.text(2, http.StatusAccepted)
	p.ready(http.StatusOK, "records: ok")
	out, err := p.also("compact", "--db", "rowbel.db")
	if err == nil || !strings.Contains(out, "there are no records at") {
		t.Errorf("%v\n%s", err, out)
	}
	if _, err := os.Stat(filepath.Join(p.dir, "rowbel.db")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file was made: %v", err)
	}
	p.stop()
	openRecords(t, file)
}
