package store

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"
)

const (
	backgroundGrowers = 50_000
	backgroundRows    = 50_000 // callbacks that are pruned
	backgroundRate    = 500    // writes a second
	backgroundRounds  = 5
)

// BenchmarkBackground makes 500 writes a second at random instants, each like a step of a dialogue, during background
// work in slices, and during the same work in one transaction or in batches of a thousand. It measures all of them in
// turn, because only the ratios are stable. Run it on a disk:
//
//	TMPDIR=/var/tmp go test ./store -run xxx -bench Background -benchtime 1x
func BenchmarkBackground(b *testing.B) {
	begun := time.Now()
	s := openNew(b, Options{Serving: true, Stopwatch: func() time.Duration { return time.Since(begun) }})
	addGrowers(b, s, backgroundGrowers)
	works := map[string]struct{ before, during func(b *testing.B, s *Store) }{
		"none":          {during: func(*testing.B, *Store) { <-time.After(2 * time.Second) }},
		"prune-slices":  {oldReplies, func(b *testing.B, s *Store) { ok(b, second(s.Prune(ctx, noon))) }},
		"prune-batches": {oldReplies, pruneInBatches},
		"place-slices": {notDue, func(b *testing.B, s *Store) {
			write(b, s, func(tx *Tx) error { return tx.LookAtPlace(1, noon) })
			ok(b, s.LookAtPlaces(ctx, noon))
		}},
		"place-at-once": {notDue, func(b *testing.B, s *Store) { execSQL(b, s, sqlLookAtAll, noon, 1) }},
	}
	figures := map[string][]float64{}
	add := func(name string, v float64) { figures[name] = append(figures[name], v) }
	for b.Loop() {
		for range backgroundRounds {
			p99s := map[string]float64{}
			for _, name := range slices.Sorted(maps.Keys(works)) {
				if works[name].before != nil {
					works[name].before(b, s)
				}
				took, lasted := arrivals(b, s, func() { works[name].during(b, s) })
				p99s[name] = took[len(took)*99/100]
				add(name+"-p50-ms", took[len(took)/2])
				add(name+"-p99-ms", p99s[name])
				add(name+"-max-ms", took[len(took)-1])
				add(name+"-s", lasted.Seconds())
			}
			for name, p99 := range p99s {
				add(name+"-p99/none", p99/p99s["none"])
			}
		}
	}
	b.ReportMetric(0, "ns/op")
	for name, values := range figures {
		slices.Sort(values)
		b.ReportMetric(values[len(values)/2], name)
	}
}

// sqlLookAtAll is the work of LookAtPlaces in one statement.
const sqlLookAtAll = `UPDATE plot SET look_at = $1 WHERE look_at > $1 AND grower_id IN
	(SELECT g.id FROM grower g WHERE g.place_id = $2)`

func notDue(b *testing.B, s *Store) { execSQL(b, s, "UPDATE plot SET look_at = $1", noon+7*day) }

// oldReplies stores replies whose retention is over.
func oldReplies(b *testing.B, s *Store) {
	for from := 0; from < backgroundRows; from += 5000 {
		write(b, s, func(tx *Tx) (err error) {
			for i := from; i < from+5000; i++ {
				key := fmt.Sprintf("old %d %d", i, s.marks.Add(1))
				err = errors.Join(err, tx.StoreReply("local", key, "", make([]byte, 200), noon-CallbackRetention-1))
			}
			return err
		})
	}
}

func pruneInBatches(b *testing.B, s *Store) {
	for n := int64(1000); n == 1000; {
		write(b, s, func(tx *Tx) (err error) {
			n, err = tx.exec(sqlPruneCallbacks, noon-CallbackRetention, 1000)
			return err
		})
	}
}

// arrivals makes writes at random instants until during has ended. It returns the sorted times that they took from the
// instant at which they were due, in milliseconds, and how long during took.
func arrivals(b *testing.B, s *Store, during func()) (took []float64, lasted time.Duration) {
	rnd := rand.New(rand.NewPCG(1, 1))
	var mu sync.Mutex
	var writes sync.WaitGroup
	done := make(chan struct{})
	begun := time.Now()
	go func() { during(); lasted = time.Since(begun); close(done) }()
	for due := time.Duration(0); ; due += time.Duration(rnd.ExpFloat64() / backgroundRate * float64(time.Second)) {
		select {
		case <-done:
			writes.Wait()
			slices.Sort(took)
			return took, lasted
		case <-time.After(due - time.Since(begun)):
		}
		p, key := phoneOf(rnd.IntN(backgroundGrowers)), fmt.Sprint("step ", s.marks.Add(1))
		writes.Go(func() {
			err := try(s, p, noon, func(l *Ledger) error {
				_, err := l.Season(1)
				return errors.Join(err, l.tx.SaveSession(Session{Phone: p, Channel: "ussd", ExpiresAt: noon + 60}),
					l.tx.StoreReply("local", key, p, make([]byte, 200), noon))
			})
			t := (time.Since(begun) - due).Seconds() * 1000
			mu.Lock()
			defer mu.Unlock()
			took = append(took, t)
			if err != nil {
				b.Error(err)
			}
		})
	}
}
