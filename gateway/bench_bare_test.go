package gateway_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
)

// The handlers that a step is compared with. bareChi is the router alone: it reads a form and writes a
// screen. bareRecords makes, in hand-written SQL, only the reads and writes that any service with dialogues
// needs: it reads grower, plots and session, saves the session, stores the callback, and for one call in five
// a text, on disk before the answer. It commits up to batch requests in one transaction.

// bareScreen has the length of most screens.
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

func bareChi() http.Handler {
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

// bareJob is a request that waits for the writer.
type bareJob struct {
	phone, session, step string
	done                 chan error
}

type bareWriter struct {
	conn  *sql.Conn
	stmts map[string]*sql.Stmt
	jobs  chan *bareJob
	batch int
	n     int
	clock since
}

// bareRecords is a handler on a database that nobody else has open.
func bareRecords(b *testing.B, path string, batch int) http.Handler {
	b.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000"+
		"&_foreign_keys=1&_cache_size=-32000")
	if err != nil {
		b.Fatal(err)
	}
	conn, err := db.Conn(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	w := &bareWriter{
		conn: conn, stmts: map[string]*sql.Stmt{}, jobs: make(chan *bareJob, 512), batch: batch,
		clock: since(time.Now()),
	}
	for _, q := range []string{
		bareBegin, bareCommit, bareSave, bareRelease, bareSeen, bareSession, bareGrower, barePlots, bareKeep, bareText,
	} {
		if w.stmts[q], err = conn.PrepareContext(context.Background(), q); err != nil {
			b.Fatal(err)
		}
	}
	ended := make(chan struct{})
	go func() { defer close(ended); w.run() }()
	b.Cleanup(func() { close(w.jobs); <-ended; conn.Close(); db.Close() })

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
	return r
}

const (
	bareBegin   = `BEGIN IMMEDIATE`
	bareCommit  = `COMMIT`
	bareSave    = `SAVEPOINT j`
	bareRelease = `RELEASE j`
	bareSeen    = `INSERT INTO callback (gateway, key, reply, at) VALUES ('local', $1, $2, $3) ON CONFLICT DO NOTHING`
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
	var waiting []*bareJob
	for first := range w.jobs {
		waiting = append(waiting[:0], first)
		_, err := w.stmts[bareBegin].Exec()
		for i := 0; err == nil && i < len(waiting); i++ {
			err = w.one(waiting[i])
			if i == len(waiting)-1 && len(waiting) < w.batch {
				select {
				case j, ok := <-w.jobs:
					if ok {
						waiting = append(waiting, j)
					}
				default:
				}
			}
		}
		if err == nil {
			_, err = w.stmts[bareCommit].Exec()
		}
		for _, j := range waiting {
			j.done <- err
		}
	}
}

func (w *bareWriter) one(j *bareJob) error {
	if w.batch > 1 {
		if _, err := w.stmts[bareSave].Exec(); err != nil {
			return err
		}
	}
	now := w.clock.Now().Unix()
	w.n++
	if _, err := w.stmts[bareSeen].Exec("ussd:"+j.session+":"+j.step, []byte(bareScreen), now); err != nil {
		return err
	}
	var network, language string
	state := make([]byte, 120)
	var saved, expires, id, seen int64
	err := w.stmts[bareSession].QueryRow(j.phone).Scan(&network, &state, &saved, &expires)
	if err != nil && err != sql.ErrNoRows {
		return err
	}
	if err := w.stmts[bareGrower].QueryRow(j.phone).Scan(&id, &language, &seen); err != nil {
		return err
	}
	if err := w.plots(id); err != nil {
		return err
	}
	if _, err := w.stmts[bareKeep].Exec(j.phone, j.session, state, now, now+600); err != nil {
		return err
	}
	if w.n%5 == 0 {
		if _, err := w.stmts[bareText].Exec("reply:"+j.session+":"+j.step, id, j.phone, bareScreen, now); err != nil {
			return err
		}
	}
	if w.batch > 1 {
		_, err := w.stmts[bareRelease].Exec()
		return err
	}
	return nil
}

func (w *bareWriter) plots(grower int64) error {
	rows, err := w.stmts[barePlots].Query(grower)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id, no, method, planted int64
		var label string
		var row, hill, area, tool float64
		if err := rows.Scan(&id, &no, &label, &method, &planted, &row, &hill, &area, &tool); err != nil {
			return err
		}
	}
	return rows.Err()
}
