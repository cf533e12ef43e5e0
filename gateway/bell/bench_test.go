package bell

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"rowbell/store"
)

// BenchmarkRing measures one run of the bell for 100,000 due plots, from planning to the texts in the outbox.
func BenchmarkRing(b *testing.B) {
	const growers = 100_000
	for b.Loop() {
		b.StopTimer()
		begun := time.Now()
		v := watchedValley(b, func() time.Duration { return time.Since(begun) })
		v.fill(growers)
		v.clock.Set(dawn.Add(25 * time.Hour))
		b.StartTimer()
		v.ring(growers)
	}
	b.ReportMetric(growers*float64(b.N)/b.Elapsed().Seconds(), "plots/s")
}

// BenchmarkRingDuringWrites rings 20,000 growers while other growers make 500 writes a second at random instants, and
// makes the same writes without the bell. Run it on a disk:
//
//	TMPDIR=/var/tmp go test ./gateway/bell -run xxx -bench RingDuringWrites -benchtime 1x
func BenchmarkRingDuringWrites(b *testing.B) {
	const growers, rate = 20_000, 500
	begun := time.Now()
	v := watchedValley(b, func() time.Duration { return time.Since(begun) })
	v.fill(growers)
	other := phone(999)
	v.tx(func(tx *store.Tx) error { return v.register(tx, other, 600) })
	rnd, calls := rand.New(rand.NewPCG(1, 1)), 0
	during := func(work func()) (took []float64, lasted time.Duration) {
		var mu sync.Mutex
		var writes sync.WaitGroup
		done := make(chan struct{})
		start := time.Now()
		go func() { work(); lasted = time.Since(start); close(done) }()
		for due := time.Duration(0); ; due += time.Duration(rnd.ExpFloat64() / rate * float64(time.Second)) {
			select {
			case <-done:
				writes.Wait()
				slices.Sort(took)
				return took, lasted
			case <-time.After(due - time.Since(start)):
			}
			calls++
			key := fmt.Sprint(calls)
			writes.Go(func() {
				err := v.s.InTx(context.Background(), func(tx *store.Tx) error {
					l, err := tx.Ledger(other, v.clock.Now().Unix())
					if err == nil {
						_, err = l.Plots()
					}
					return errors.Join(err, tx.StoreReply("local", key, other, []byte("screen"), v.clock.Now().Unix()))
				})
				t := (time.Since(start) - due).Seconds() * 1000
				mu.Lock()
				defer mu.Unlock()
				took = append(took, t)
				if err != nil {
					b.Error(err)
				}
			})
		}
	}
	v.clock.Set(dawn.Add(25 * time.Hour))
	for b.Loop() {
		quiet, _ := during(func() { <-time.After(3 * time.Second) })
		rung, lasted := during(func() { v.ring(-1) })
		for name, took := range map[string][]float64{"quiet-": quiet, "bell-": rung} {
			b.ReportMetric(took[len(took)/2], name+"p50-ms")
			b.ReportMetric(took[len(took)*99/100], name+"p99-ms")
			b.ReportMetric(took[len(took)-1], name+"max-ms")
		}
		b.ReportMetric(growers/lasted.Seconds(), "plots/s")
	}
	b.ReportMetric(0, "ns/op")
}
