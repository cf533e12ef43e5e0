package main

import (
	"cmp"
	"database/sql"
	"fmt"
	"net/http"
	"path/filepath"
	"sync"
	"testing"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/testrun"
)

// holdRecords has another program hold the records, so that nobody else can write, until the returned function is
// called.
func (p *process) holdRecords() (release func()) {
	p.t.Helper()
	driver, address := "sqlite3", "file:"+filepath.Join(p.dir, config.DefaultDB)
	statements := []string{"BEGIN IMMEDIATE"}
	if testrun.OnServer() {
		driver, address = "pgx", p.db
		statements = []string{"BEGIN", "LOCK TABLE callback, message, session IN ACCESS EXCLUSIVE MODE"}
	}
	db, err := sql.Open(driver, address)
	must(p.t, err)
	conn, err := db.Conn(p.t.Context())
	must(p.t, err)
	do := func(statement string) {
		_, err := conn.ExecContext(p.t.Context(), statement)
		must(p.t, err)
	}
	for _, s := range statements {
		do(s)
	}
	return func() { do("ROLLBACK"); conn.Close(); db.Close() }
}

// Another program holds the records for longer than a write waits. Callbacks get 503 with Retry-After, and /readyz says
// why. When the program lets go, the service works without a restart, and each repeated callback is recorded once.
func TestRecordsAreHeld(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes as long as a write waits: five seconds")
	}
	p := newProcess(t)
	if testrun.OnServer() {
		p.db = testrun.Database(t, makeRecords)
	} else {
		p.makeRecords()
	}
	p.start(aDay)
	p.text(1, http.StatusAccepted)
	p.dial(1, http.StatusOK)
	const growers = 4
	call := func(n int) (kind string, body map[string]any) {
		if n%2 == 0 {
			return "sms", map[string]any{"id": fmt.Sprint("held-", n), "phone": fictional(n).E164(), "text": "menu"}
		}
		return "ussd", map[string]any{"phone": fictional(n).E164(), "session": "held", "step": 0, "event": "begin",
			"dialled": "*123#"}
	}

	release := p.holdRecords()
	var calls sync.WaitGroup
	for n := range growers {
		calls.Go(func() {
			kind, body := call(10 + n)
			answer, resp, err := p.send(kind, body)
			if err != nil || resp.StatusCode != http.StatusServiceUnavailable || resp.Header.Get("Retry-After") == "" {
				t.Errorf("%s while the records are held: %v, %v %s", kind, err, resp, answer)
			}
		})
	}
	calls.Go(func() { p.ready(http.StatusServiceUnavailable) })
	calls.Wait()
	release()

	p.ready(http.StatusOK)
	for n := range growers {
		kind, body := call(10 + n)
		first, second := p.post(kind, body, statusOf(kind)), p.post(kind, body, statusOf(kind))
		if string(first) != string(second) {
			t.Errorf("%s was answered %s, then %s", kind, first, second)
		}
	}
	p.settle()
	p.stop()
	s := openRecords(t, cmp.Or(p.db, filepath.Join(p.dir, config.DefaultDB)))
	read(t, s, func(tx *store.Tx) error {
		for n := range growers {
			texts, err := tx.Inbox(fictional(10+n), 0)
			if err != nil {
				return err
			}
			if want := (n + 1) % 2; len(texts) != want || len(p.inbox.take(fictional(10+n).E164())) != want {
				t.Errorf("grower %d has %d texts, want %d, once", n, len(texts), want)
			}
		}
		return nil
	})
}
