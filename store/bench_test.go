package store

import (
	"context"
	"database/sql"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/engine"
)

// herd fills a database with growers of one plot each.
func herd(b *testing.B, s *Store, growers int) {
	b.Helper()
	for from := 0; from < growers; from += 5000 {
		write(b, s, func(tx *Tx) error {
			for i := from; i < min(from+5000, growers); i++ {
				l, err := tx.Ledger(herdPhone(i), noon)
				if err != nil {
					return err
				}
				if err := consent(l); err != nil {
					return err
				}
				if _, err := l.AddPlot(aPlot(), aTool()); err != nil {
					return err
				}
				if i%2 == 0 {
					if err := l.LogPass(1, engine.Pass{On: day0 - 4, With: engine.ByTool, Left: engine.Few}); err != nil {
						return err
					}
				}
				if i%3 == 0 {
					if err := l.See(1, engine.Sighting{On: day0 - 1, Amount: engine.Some}); err != nil {
						return err
					}
				}
			}
			return nil
		})
	}
}

// herdPhone is the i-th phone of a herd: more than the thousand numbers kept
// for examples, so they carry on past their length and can be nobody's.
func herdPhone(i int) Phone { return Phone(fmt.Sprintf("+44%d%09d", 7700900, i)) }

const herdSize = 20_000

// A USSD step: was it seen, session, grower and season, session saved, reply
// remembered; one in five also logs a pass. The bare one is the same
// statements, prepared, in a loop of their own that commits in groups.
func BenchmarkStep(b *testing.B) {
	b.Run("store", func(b *testing.B) {
		s := open(b)
		herd(b, s, herdSize)
		benchStep(b, func(i int) error {
			return s.InTx(context.Background(), func(tx *Tx) error { return step(tx, i) })
		})
	})
	b.Run("bare", func(b *testing.B) {
		s := open(b)
		herd(b, s, herdSize)
		bare := newBareStep(b, s)
		defer bare.stop()
		benchStep(b, bare.step)
	})
}

func benchStep(b *testing.B, step func(i int) error) {
	var n atomic.Int64
	b.SetParallelism(32) // callers a core
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			if err := step(int(n.Add(1))); err != nil {
				b.Error(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "steps/s")
}

var stateBlob = make([]byte, 120)

func step(tx *Tx, i int) error {
	phone, key := herdPhone(i%herdSize), fmt.Sprint("key-", i)
	if _, seen, err := tx.StoredReply("local", key, 0); seen || err != nil {
		return err
	}
	if _, _, err := tx.Session(phone, "ussd"); err != nil {
		return err
	}
	l, err := tx.Ledger(phone, noon)
	if err != nil {
		return err
	}
	if _, err := l.Season(1); err != nil {
		return err
	}
	if i%5 == 0 {
		if err := l.LogPass(1, engine.Pass{On: day0, With: engine.ByTool}); err != nil {
			return err
		}
	}
	if err := tx.SaveSession(Session{Phone: phone, Channel: "ussd", Network: "n", State: stateBlob, SavedAt: noon, ExpiresAt: noon + 600}); err != nil {
		return err
	}
	return tx.StoreReply("local", key, phone, stateBlob, noon)
}

type bareJob struct {
	i    int
	done chan error
}

type bareStep struct {
	jobs chan bareJob
	end  chan struct{}
	db   *sql.DB
}

func newBareStep(b *testing.B, s *Store) *bareStep {
	w := &bareStep{jobs: make(chan bareJob, maxBatch), end: make(chan struct{}), db: openPool(s.path, writerDSN, hardening+"; "+writerTune, 1)}
	stmts := map[string]*sql.Stmt{}
	conn, err := w.db.Conn(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	for _, q := range []string{"BEGIN IMMEDIATE", "COMMIT", "SAVEPOINT j", "RELEASE j", sqlStoredReply, sqlSession, sqlGrower, sqlOpenPlots,
		sqlPassesOfGrower, sqlSightingsOfGrower, sqlLogPass, sqlPendingOfPlot, sqlLook, sqlSaveSession, sqlStoreReply} {
		if stmts[q], err = conn.PrepareContext(context.Background(), q); err != nil {
			b.Fatal(err)
		}
	}
	go func() {
		defer close(w.end)
		defer conn.Close()
		w.run(stmts)
	}()
	return w
}

func (w *bareStep) step(i int) error {
	j := bareJob{i, make(chan error, 1)}
	w.jobs <- j
	return <-j.done
}

func (w *bareStep) stop() {
	close(w.jobs)
	<-w.end
	w.db.Close()
}

func (w *bareStep) run(st map[string]*sql.Stmt) {
	var batch []bareJob
	for first := range w.jobs {
		batch = append(batch[:0], first)
		st["BEGIN IMMEDIATE"].Exec()
		var failed error
		for n := 0; n < len(batch); n++ {
			st["SAVEPOINT j"].Exec()
			if err := bareRun(st, batch[n].i); err != nil {
				failed = err
			}
			st["RELEASE j"].Exec()
			if n == len(batch)-1 && n < maxBatch {
				select {
				case j, ok := <-w.jobs:
					if ok {
						batch = append(batch, j)
					}
				default:
				}
			}
		}
		if _, err := st["COMMIT"].Exec(); err != nil {
			failed = err
		}
		for _, j := range batch {
			j.done <- failed
		}
	}
}

func bareRun(st map[string]*sql.Stmt, i int) error {
	phone, key := herdPhone(i%herdSize).E164(), fmt.Sprint("key-", i)
	drain := func(query string, columns int, a ...any) (first []any, err error) {
		rows, err := st[query].Query(a...)
		if err != nil {
			return nil, err
		}
		defer rows.Close()
		for rows.Next() {
			values, into := make([]any, columns), make([]any, columns)
			for c := range into {
				into[c] = &values[c]
			}
			if err := rows.Scan(into...); err != nil {
				return nil, err
			}
			if first == nil {
				first = values
			}
		}
		return first, rows.Err()
	}
	if _, err := drain(sqlStoredReply, 1, "local", key, 0); err != nil {
		return err
	}
	if _, err := drain(sqlSession, 4, phone, "ussd"); err != nil {
		return err
	}
	g, err := drain(sqlGrower, 20, phone)
	if err != nil {
		return err
	}
	p, err := drain(sqlOpenPlots, 26, g[0])
	if err != nil {
		return err
	}
	if _, err := drain(sqlPassesOfGrower, 7, g[0]); err != nil {
		return err
	}
	if _, err := drain(sqlSightingsOfGrower, 6, g[0]); err != nil {
		return err
	}
	if i%5 == 0 {
		if _, err := st[sqlLogPass].Exec(p[0], int64(day0), 1, 0, 0.0, 0, 0); err != nil {
			return err
		}
		if _, err := drain(sqlPendingOfPlot, 3, p[0]); err != nil {
			return err
		}
		if _, err := st[sqlLook].Exec(noon, p[0]); err != nil {
			return err
		}
	}
	if _, err := st[sqlSaveSession].Exec(phone, "ussd", "n", stateBlob, noon, noon+600); err != nil {
		return err
	}
	_, err = st[sqlStoreReply].Exec("local", key, phone, stateBlob, noon)
	return err
}

// One small write each, from many callers.
func BenchmarkInTx(b *testing.B) {
	s := open(b)
	var n atomic.Int64
	b.SetParallelism(32)
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			if err := s.InTx(context.Background(), remember(fmt.Sprint(n.Add(1)))); err != nil {
				b.Error(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "writes/s")
}

// Texts claimed a hundred at a time and settled.
func BenchmarkClaimSettle(b *testing.B) {
	s := open(b)
	for from := 0; from < b.N; from += 5000 {
		write(b, s, func(tx *Tx) error {
			for i := from; i < min(from+5000, b.N); i++ {
				if _, err := tx.Enqueue(text(fmt.Sprint(i), Phone(fmt.Sprintf("+44%d", 7700900000+i)), noon)); err != nil {
					return err
				}
			}
			return nil
		})
	}
	b.ResetTimer()
	for left := b.N; left > 0; {
		var list []Message
		write(b, s, func(tx *Tx) (err error) {
			claims, err := tx.Claim(noon, local(100))
			list = claims.Texts
			return err
		})
		write(b, s, func(tx *Tx) error {
			done := make([]Settlement, len(list))
			for i, m := range list {
				done[i] = m.Took(m.Key)
			}
			return tx.Settle(noon, done...)
		})
		if left -= len(list); len(list) == 0 {
			b.Fatalf("%d cannot be claimed", left)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "texts/s")
}

// The store's part of a bell over 100,000 due plots: read, tell, queue, ask,
// look later.
func BenchmarkDue(b *testing.B) {
	const plots = 100_000
	s := open(b)
	herd(b, s, plots)
	b.ResetTimer()
	for round := range b.N {
		now := noon + int64(round)*86400
		var looked int
		var reading time.Duration
		for {
			var due []DueGrower
			write(b, s, func(tx *Tx) (err error) {
				began := b.Elapsed()
				due, err = tx.DueGrowers(now, 500)
				reading += b.Elapsed() - began
				if err != nil {
					return err
				}
				for _, g := range due {
					for _, p := range g.Plots {
						told := engine.Told{Kind: engine.KindOpen, Window: round + 1, On: day0 + engine.Day(round)}
						if _, err := tx.Tell(p.ID, told); err != nil {
							return err
						}
						m := text(fmt.Sprint("plot ", p.ID, " open ", round), g.Phone, now)
						m.GrowerID, m.PlotIDs, m.Reminder, m.Note = g.ID, []int64{p.ID}, engine.KindOpen, ""
						if _, err := tx.Enqueue(m); err != nil {
							return err
						}
						if err := tx.SavePrompt(Prompt{Phone: g.Phone, Body: stateBlob[:20], AskedAt: now, Until: now + 86400}); err != nil {
							return err
						}
						if err := tx.SetLook(p.ID, now+86400); err != nil {
							return err
						}
						looked++
					}
				}
				return nil
			})
			if len(due) == 0 {
				break
			}
		}
		if looked != plots {
			b.Fatalf("looked at %d plots", looked)
		}
		b.ReportMetric(reading.Seconds(), "reading-s/round")
	}
	b.ReportMetric(float64(b.N)*plots/b.Elapsed().Seconds(), "plots/s")
}
