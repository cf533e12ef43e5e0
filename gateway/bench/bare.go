package bench

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"net/http"

	"github.com/go-chi/chi/v5"
)

// Benchmarks compare the gateway with the two handlers in this file. Chi is the router alone: it reads a form
// and writes a screen. Records makes, in hand-written SQL, only the reads and writes that any service with
// dialogues needs, and commits them to disk before it answers. Up to batch requests share one transaction.

// bareScreen is the reply of both handlers. It is as long as a typical screen, because the length costs time.
const bareScreen = "Plot 1: Weed now, best Mon 14 Dec, by Sat 19 Dec at the latest.\n" +
	"What now?\n1 new plot\n2 my plots\n3 I weeded\n4 what I see\n5 row and tool check"

func answerBare(w http.ResponseWriter) {
	b, err := json.Marshal(map[string]any{"text": bareScreen, "more": true})
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(b)
}

// Chi returns the router alone.
func Chi() http.Handler {
	r := chi.NewRouter()
	r.Post("/in/{gateway}/ussd", func(w http.ResponseWriter, r *http.Request) {
		if err := r.ParseForm(); err != nil || r.PostForm.Get("phone") == "" {
			http.Error(w, "form", http.StatusBadRequest)
			return
		}
		answerBare(w)
	})
	return r
}

// bareJob is a request that waits for the bareWriter.
type bareJob struct {
	phone, session, step string
	done                 chan error
}

// bareWriter does the work of the waiting requests, up to batch of them in one transaction.
type bareWriter struct {
	stmts    map[string]*sql.Stmt
	jobs     chan *bareJob
	batch, n int // n counts the requests
	clock    Clock
	err      error // first error of the present transaction
}

// Records returns a handler on a database that nothing else uses. Up to batch requests share one transaction. end must
// be called when nobody calls the handler any more.
func Records(path string, batch int, at Clock) (h http.Handler, end func(), err error) {
	db, err := sql.Open("sqlite3", "file:"+path+"?_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000"+
		"&_foreign_keys=1&_cache_size=-32000")
	if err != nil {
		return nil, nil, err
	}
	conn, err := db.Conn(context.Background())
	if err != nil {
		return nil, nil, err
	}
	w := &bareWriter{
		stmts: map[string]*sql.Stmt{}, jobs: make(chan *bareJob, 512), batch: batch, clock: at,
	}
	for _, q := range []string{
		bareBegin, bareCommit, bareSave, bareRelease, bareSeen, bareSession, bareGrower, barePlots, bareKeep, bareText,
	} {
		if w.stmts[q], err = conn.PrepareContext(context.Background(), q); err != nil {
			return nil, nil, err
		}
	}
	ended := make(chan struct{})
	go func() { defer close(ended); w.run() }()
	end = func() { close(w.jobs); <-ended; conn.Close(); db.Close() }

	r := chi.NewRouter()
	r.Post("/in/{gateway}/ussd", func(rw http.ResponseWriter, r *http.Request) {
		if err := r.ParseForm(); err != nil {
			http.Error(rw, "form", http.StatusBadRequest)
			return
		}
		j := &bareJob{r.PostForm.Get("phone"), r.PostForm.Get("session"), r.PostForm.Get("step"), make(chan error, 1)}
		w.jobs <- j
		if err := <-j.done; err != nil {
			http.Error(rw, err.Error(), http.StatusInternalServerError)
			return
		}
		answerBare(rw)
	})
	return r, end, nil
}

const (
	bareBegin   = `BEGIN IMMEDIATE`
	bareCommit  = `COMMIT`
	bareSave    = `SAVEPOINT j`
	bareRelease = `RELEASE j`
	bareSeen    = `INSERT INTO callback (phone, gateway, key, reply, at) VALUES ($1, 'local', $2, $3, $4)
	ON CONFLICT DO NOTHING`
	bareSession = `SELECT network, state, saved_at, expires_at FROM session WHERE phone = $1 AND channel = 'ussd'`
	bareGrower  = `SELECT id, language, seen_at FROM grower WHERE phone = CAST($1 AS TEXT)`
	barePlots   = `SELECT id, no, label, method, planted, row_spacing_cm, hill_spacing_cm, area_m2, tool_width_cm
	FROM plot WHERE grower_id = CAST($1 AS BIGINT) AND closed_day IS NULL ORDER BY no`
	bareKeep = `INSERT INTO session (phone, channel, network, state, saved_at, expires_at)
	VALUES ($1, 'ussd', $2, $3, $4, $5) ON CONFLICT (phone, channel)
	DO UPDATE SET network = excluded.network, state = excluded.state,
		saved_at = excluded.saved_at, expires_at = excluded.expires_at`
	bareText = `INSERT INTO message (key, grower_id, phone, kind, body, created_at, due_at, useful_until, claim_at)
	VALUES ($1, $2, $3, 'reply', $4, $5, $5, $5, $5) ON CONFLICT (key) DO NOTHING`
)

func (w *bareWriter) run() {
	for first := range w.jobs {
		w.err = nil
		w.do(bareBegin)
		waiting := []*bareJob{first}
		for i := 0; i < len(waiting); i++ {
			w.one(waiting[i])
			if len(waiting) < w.batch && len(w.jobs) > 0 {
				waiting = append(waiting, <-w.jobs)
			}
		}
		w.do(bareCommit)
		for _, j := range waiting {
			j.done <- w.err
		}
	}
}

func (w *bareWriter) one(j *bareJob) {
	if w.batch > 1 {
		w.do(bareSave)
	}
	now := w.clock.Now().Unix()
	w.n++
	w.do(bareSeen, j.phone, "ussd:"+j.session+":"+j.step, []byte(bareScreen), now)
	var network, language, label string
	var saved, expires, grower, seen, plot, no, method, planted int64
	var row, hill, area, tool float64
	state := make([]byte, 120)
	w.read(bareSession, j.phone, &network, &state, &saved, &expires)
	w.read(bareGrower, j.phone, &grower, &language, &seen)
	w.read(barePlots, grower, &plot, &no, &label, &method, &planted, &row, &hill, &area, &tool)
	w.do(bareKeep, j.phone, j.session, state, now, now+600)
	if w.n%5 == 0 {
		w.do(bareText, "reply:"+j.session+":"+j.step, grower, j.phone, bareScreen, now)
	}
	if w.batch > 1 {
		w.do(bareRelease)
	}
}

// do runs a statement, unless an earlier statement of the transaction failed.
func (w *bareWriter) do(q string, args ...any) {
	if w.err == nil {
		_, w.err = w.stmts[q].Exec(args...)
	}
}

// read runs a query and scans each of its rows, unless an earlier statement of the transaction failed.
func (w *bareWriter) read(q string, arg any, to ...any) {
	if w.err != nil {
		return
	}
	rows, err := w.stmts[q].Query(arg)
	if err != nil {
		w.err = err
		return
	}
	defer rows.Close()
	for w.err == nil && rows.Next() {
		w.err = rows.Scan(to...)
	}
	w.err = cmp.Or(w.err, rows.Err())
}
