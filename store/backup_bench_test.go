package store

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"
)

// BenchmarkBackup counts the durable writes of 8 writers during a backup of 20,000 growers, and for the same time
// without a backup.
func BenchmarkBackup(b *testing.B) {
	s := open(b)
	herd(b, s, 20_000)
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
		writes, took := during(func() { ok(b, second(Backup(ctx, s.path, to, false))) })
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
