package main

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/go-chi/chi/v5"
	_ "github.com/mattn/go-sqlite3"
	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
)

const (
	benchGrowers = 10_000
	benchCallers = 64
	benchRounds  = 5
	benchCalls   = 6_400 // a round and server
)

// BenchmarkUSSDStep is a USSD step through the whole stack over HTTP, durable,
// 64 connections, beside three bare handlers in interleaved rounds: chi alone,
// one transaction a request, group commit with like reads and writes. Run it
// with -benchtime 1x.
func BenchmarkUSSDStep(b *testing.B) {
	servers := []struct {
		name string
		h    http.Handler
	}{{"ours", ourStep(b)}, {"chi", bareChi(func(int) error { return nil })}, {"one-tx", bareChi(bareStore(b, false))}, {"group", bareChi(bareStore(b, true))}}
	for b.Loop() {
		rate, p99 := map[string][]float64{}, map[string][]float64{}
		for round := range benchRounds {
			for _, s := range servers {
				ts := httptest.NewServer(s.h)
				r, p := benchLoad(b, ts.URL, round)
				ts.Close()
				rate[s.name], p99[s.name] = append(rate[s.name], r), append(p99[s.name], p)
			}
		}
		for _, s := range servers {
			b.ReportMetric(benchMedian(rate[s.name]), s.name+"-req/s")
			b.ReportMetric(benchMedian(p99[s.name]), s.name+"-p99-ms")
			if s.name != "ours" {
				ratios := make([]float64, benchRounds)
				for i := range ratios {
					ratios[i] = rate["ours"][i] / rate[s.name][i]
				}
				b.ReportMetric(benchMedian(ratios), "ours/"+s.name)
			}
		}
	}
}

func benchMedian(x []float64) float64 {
	x = slices.Clone(x)
	slices.Sort(x)
	return x[len(x)/2]
}

func benchPhone(i int) string { return fmt.Sprintf("+44%d%05d", 7700900, i) }

// benchLoad has every caller walk growers through dial, plot, dates, back.
func benchLoad(b *testing.B, url string, round int) (rate, p99 float64) {
	client := &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: benchCallers, MaxConnsPerHost: benchCallers}}
	defer client.CloseIdleConnections()
	entries := []string{"", "2", "3", "0", "00"}
	took := make([][]float64, benchCallers)
	var callers sync.WaitGroup
	start := time.Now()
	for c := range benchCallers {
		callers.Go(func() {
			for i := range benchCalls / benchCallers {
				grower := (c*benchCalls + i/len(entries)) % benchGrowers
				step := i % len(entries)
				call := map[string]any{"phone": benchPhone(grower), "session": fmt.Sprintf("%d-%d-%d", round, c, i/len(entries)), "step": step, "event": "entry", "entry": entries[step]}
				if step == 0 {
					call["event"], call["dialled"] = "begin", "*123#"
				}
				body, _ := json.Marshal(call)
				req, _ := http.NewRequest(http.MethodPost, url+"/in/local/ussd", bytes.NewReader(body))
				req.Header.Set("Content-Type", "application/json")
				req.Header.Set("Authorization", "Bearer bench")
				sent := time.Now()
				resp, err := client.Do(req)
				if err != nil {
					b.Error(err)
					return
				}
				io.Copy(io.Discard, resp.Body)
				resp.Body.Close()
				if resp.StatusCode != http.StatusOK {
					b.Errorf("answered %s", resp.Status)
					return
				}
				took[c] = append(took[c], float64(time.Since(sent).Microseconds())/1000)
			}
		})
	}
	callers.Wait()
	all := slices.Concat(took...)
	slices.Sort(all)
	return float64(len(all)) / time.Since(start).Seconds(), all[len(all)*99/100]
}

func ourStep(b *testing.B) http.Handler {
	c := config{DB: filepath.Join(b.TempDir(), "rowbell.db"), DialCode: defaultDialCode, QuietHour: defaultQuietHour}
	network := c.network("")
	network.Token = profile.HashToken("bench")
	at := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	s, err := startService(context.Background(), c, network, clock.New(at), zerolog.New(io.Discard))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.close() })
	for from := 0; from < benchGrowers; from += 1000 {
		if err := s.store.InTx(context.Background(), func(tx *store.Tx) error {
			for i := from; i < from+1000; i++ {
				l, err := tx.Ledger(store.Phone(benchPhone(i)), at.Unix())
				if err != nil {
					return err
				}
				if err := l.Consent("en", "1", "ussd"); err != nil {
					return err
				}
				if _, err := l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: l.Today() - 18, RowSpacingCM: 20, HillSpacingCM: 20, AreaM2: 600}, engine.Tool{WidthCM: 15}); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			b.Fatal(err)
		}
	}
	return s.handler
}

// bareChi reads the call, does work and answers a menu's length of text.
func bareChi(work func(grower int) error) http.Handler {
	r := chi.NewRouter()
	r.Post("/in/{gateway}/ussd", func(w http.ResponseWriter, req *http.Request) {
		var call struct{ Phone, Session, Entry string }
		if err := json.NewDecoder(req.Body).Decode(&call); err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		var grower int
		fmt.Sscanf(call.Phone[len(call.Phone)-5:], "%d", &grower)
		if err := work(grower); err != nil {
			http.Error(w, err.Error(), http.StatusServiceUnavailable)
			return
		}
		json.NewEncoder(w).Encode(map[string]any{"text": "Plot 1, day 18. Weed now.\n1 I weeded\n2 what I see\n3 dates\n4 change\n5 tell more\n6 close it\n0 back 00 home", "more": true})
	})
	return r
}

// bareStore reads session, grower and three plots, then writes session and
// callback, and a text in one call of five: in a transaction of its own, or in
// one that a group shares.
func bareStore(b *testing.B, group bool) func(int) error {
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(b.TempDir(), "bare.db")+"?_journal_mode=WAL&_synchronous=FULL&_busy_timeout=5000&_foreign_keys=1&_txlock=immediate")
	if err != nil {
		b.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	b.Cleanup(func() { db.Close() })
	exec := func(q string, a ...any) {
		if _, err := db.Exec(q, a...); err != nil {
			b.Fatal(err)
		}
	}
	exec(`CREATE TABLE grower (id INTEGER PRIMARY KEY, phone TEXT NOT NULL UNIQUE, name TEXT) STRICT;
	CREATE TABLE plot (id INTEGER PRIMARY KEY, grower_id INTEGER NOT NULL, day INTEGER, area REAL) STRICT;
	CREATE INDEX plot_grower ON plot (grower_id);
	CREATE TABLE session (phone TEXT PRIMARY KEY, state BLOB, at INTEGER) STRICT;
	CREATE TABLE seen (key TEXT PRIMARY KEY, reply BLOB, at INTEGER) STRICT;
	CREATE TABLE outbox (id INTEGER PRIMARY KEY, phone TEXT, body TEXT, due INTEGER) STRICT;
	WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i+1 FROM n WHERE i < 9999) INSERT INTO grower SELECT i+1, 'p'||i, 'name' FROM n;
	INSERT INTO plot (grower_id, day, area) SELECT g.id, k.column1, 600.0 FROM grower g, (VALUES (1),(2),(3)) k`)
	var stmts []*sql.Stmt
	for _, q := range []string{"SELECT state FROM session WHERE phone = ?", "SELECT id FROM grower WHERE phone = ?", "SELECT id, day, area FROM plot WHERE grower_id = ?",
		"INSERT INTO seen VALUES (?, ?, 1)", "INSERT INTO session VALUES (?, ?, 1) ON CONFLICT (phone) DO UPDATE SET state = excluded.state", "INSERT INTO outbox (phone, body, due) VALUES (?, 'weed now', 1)"} {
		st, err := db.Prepare(q)
		if err != nil {
			b.Fatal(err)
		}
		stmts = append(stmts, st)
	}
	blob := make([]byte, 150)
	n := 0 // only the one writer touches it
	step := func(tx *sql.Tx, grower int) error {
		n++
		phone := fmt.Sprint("p", grower)
		var state []byte
		if err := tx.Stmt(stmts[0]).QueryRow(phone).Scan(&state); err != nil && err != sql.ErrNoRows {
			return err
		}
		var id int64
		if err := tx.Stmt(stmts[1]).QueryRow(phone).Scan(&id); err != nil {
			return err
		}
		rows, err := tx.Stmt(stmts[2]).Query(id)
		if err != nil {
			return err
		}
		for rows.Next() {
			var a, d int64
			var m float64
			if err := rows.Scan(&a, &d, &m); err != nil {
				return err
			}
		}
		if err := rows.Close(); err != nil {
			return err
		}
		if _, err := tx.Stmt(stmts[3]).Exec(fmt.Sprint("key", n), blob); err != nil {
			return err
		}
		if n%5 == 0 {
			if _, err := tx.Stmt(stmts[5]).Exec(phone); err != nil {
				return err
			}
		}
		_, err = tx.Stmt(stmts[4]).Exec(phone, blob)
		return err
	}
	type job struct {
		grower int
		done   chan error
	}
	jobs := make(chan job, 512)
	b.Cleanup(func() { close(jobs) })
	go func() {
		for first := range jobs {
			batch := []job{first}
			tx, err := db.Begin()
			if err == nil {
				for i := 0; i < len(batch) && err == nil; i++ {
					err = step(tx, batch[i].grower)
					if group && i == len(batch)-1 && i < 511 {
						select {
						case j, ok := <-jobs:
							if ok {
								batch = append(batch, j)
							}
						default:
						}
					}
				}
				if err == nil {
					err = tx.Commit()
				} else {
					tx.Rollback()
				}
			}
			for _, j := range batch {
				j.done <- err
			}
		}
	}()
	return func(grower int) error {
		j := job{grower, make(chan error, 1)}
		jobs <- j
		return <-j.done
	}
}
