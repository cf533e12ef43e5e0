package store

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"rowbell/engine"
)

// addGrowers fills a database with growers who have one plot each.
func addGrowers(b testing.TB, s *Store, growers int) {
	b.Helper()
	for from := 0; from < growers; from += 5000 {
		write(b, s, func(tx *Tx) error {
			for i := from; i < min(from+5000, growers); i++ {
				l, err := tx.Ledger(phoneOf(i), noon)
				if err != nil {
					return err
				}
				err = errors.Join(consent(l), addPlot(l))
				if i%2 == 0 {
					pass := engine.Pass{On: day0 - 4, With: engine.ByTool, Left: engine.Few}
					err = errors.Join(err, l.LogPass(1, pass))
				}
				if i%3 == 0 {
					err = errors.Join(err, l.See(1, engine.Sighting{On: day0 - 1, Amount: engine.Some}))
				}
				if err != nil {
					return err
				}
			}
			return nil
		})
	}
}

// phoneOf returns the phone number of the i-th of many growers. It has too many digits to be real, because too few
// numbers are reserved for examples.
func phoneOf(i int) Phone { return Phone(fmt.Sprintf("+44%d%09d", 7700900, i)) }

// BenchmarkClaimSettle claims texts in groups of a hundred, and settles them (stores the results of sending them).
func BenchmarkClaimSettle(b *testing.B) {
	s := open(b)
	for from := 0; from < b.N; from += 5000 {
		write(b, s, func(tx *Tx) (err error) {
			for i := from; i < min(from+5000, b.N); i++ {
				err = errors.Join(err, second(tx.Enqueue(text(fmt.Sprint(i), phoneOf(i), noon))))
			}
			return err
		})
	}
	b.ResetTimer()
	for left := b.N; left > 0; {
		_, list := handOver(b, s, noon, local(100))
		done := make([]Settlement, len(list))
		for i, m := range list {
			done[i] = m.Took(m.Key)
		}
		settle(b, s, noon, done...)
		left -= len(list)
		fatalIf(b, len(list) == 0, "%d cannot be claimed", left)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "texts/s")
}

// BenchmarkBackup counts the durable writes of 8 writers during a backup of 20,000 growers, and for the same time
// without a backup.
func BenchmarkBackup(b *testing.B) {
	s := open(b)
	addGrowers(b, s, 20_000)
	round := 0
	during := func(work func()) (writes []time.Duration, took time.Duration) {
		round++
		var mu sync.Mutex
		var wg sync.WaitGroup
		done := make(chan struct{})
		for g := range 8 {
			wg.Go(func() {
				for i := 0; ; i++ {
					select {
					case <-done:
						return
					default:
					}
					begun := time.Now()
					if err := s.InTx(ctx, remember(fmt.Sprintf("%d-%d-%d", round, g, i))); err != nil {
						b.Error(err)
						return
					}
					mu.Lock()
					writes = append(writes, time.Since(begun))
					mu.Unlock()
				}
			})
		}
		begun := time.Now()
		work()
		took = time.Since(begun)
		close(done)
		wg.Wait()
		slices.Sort(writes)
		return writes, took
	}
	for i := range b.N {
		to := filepath.Join(b.TempDir(), fmt.Sprintf("%d.db", i))
		writes, took := during(func() { ok(b, second(Backup(ctx, s.path, to, BackupOptions{}))) })
		quiet, _ := during(func() { <-time.After(took) })
		info, err := os.Stat(to)
		ok(b, err)
		ms := func(list []time.Duration, part float64) float64 {
			return float64(list[int(part*float64(len(list)-1))].Microseconds()) / 1000
		}
		b.ReportMetric(float64(info.Size())/1e6, "MB")
		b.ReportMetric(float64(took.Milliseconds()), "ms")
		b.ReportMetric(float64(len(writes))/took.Seconds(), "writes/s")
		b.ReportMetric(float64(len(quiet))/took.Seconds(), "quiet-writes/s")
		b.ReportMetric(ms(writes, 0.99), "p99-ms")
		b.ReportMetric(ms(quiet, 0.99), "quiet-p99-ms")
		b.ReportMetric(ms(writes, 1), "slowest-ms")
		b.ReportMetric(ms(quiet, 1), "quiet-slowest-ms")
	}
}

// BenchmarkCheckFile compares the files of an open store with their paths, as the writer does twice in each group.
func BenchmarkCheckFile(b *testing.B) {
	s := open(b)
	for b.Loop() {
		ok(b, s.CheckFile())
	}
}
