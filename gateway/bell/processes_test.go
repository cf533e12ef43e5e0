package bell

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
	"rowbell/store/testrun"
)

// processes returns the bells of several processes that share the records of the valley on a server.
func (v *valley) processes(n int) (bells []*Bell) {
	v.t.Helper()
	m := must(menu.New(must(text.Default()), menu.Options{}))
	var stores []*store.Store
	for i := range n {
		s := must(store.Open(context.Background(), v.path, store.Options{Process: fmt.Sprint("process-", i)}))
		v.t.Cleanup(func() { s.Close() })
		if err := s.InTx(context.Background(), func(tx *store.Tx) error {
			_, err := tx.StartProcess("", v.clock.Now().Unix())
			return err
		}); err != nil {
			v.t.Fatal(err)
		}
		stores = append(stores, s)
		bells = append(bells, New(Options{Store: s, QuietHour: 20, Menu: m, Clock: v.clock, Log: zerolog.Nop()}))
	}
	for _, s := range stores { // so that each knows of the others
		if err := s.InTx(context.Background(), func(tx *store.Tx) error {
			_, err := tx.RenewProcess(1, v.clock.Now().Unix())
			return err
		}); err != nil {
			v.t.Fatal(err)
		}
	}
	return bells
}

// ringAll runs all bells at the same time and returns how many texts they wrote.
func (v *valley) ringAll(ctx context.Context, bells []*Bell) (texts int) {
	var all sync.WaitGroup
	var n atomic.Int64
	for _, b := range bells {
		all.Go(func() {
			texts, err := b.Ring(ctx, v.clock.Now())
			if err != nil && ctx.Err() == nil {
				v.t.Error(err)
			}
			n.Add(int64(texts))
		})
	}
	all.Wait()
	return int(n.Load())
}

// Three processes write reminders at the same time, and one of them ends meanwhile. Each grower gets one text.
func TestProcessesRingEachGrowerOnce(t *testing.T) {
	if !testrun.OnServer() {
		t.Skip("about a server: .ci/postgres go test ./gateway/bell")
	}
	const growers = 300
	v := newValley(t)
	v.tx(func(tx *store.Tx) (err error) {
		for n := range growers {
			err = errors.Join(err, v.register(tx, phone(n), 600, 13))
		}
		return err
	})
	v.clock.Set(dawn.Add(25 * time.Hour))
	bells := v.processes(3)
	dies, kill := context.WithCancel(context.Background())
	bells[0].o.Queued = kill // ends after its first texts
	var all sync.WaitGroup
	all.Go(func() { v.ringAll(dies, bells[:1]) })
	all.Go(func() { v.ringAll(context.Background(), bells[1:]) })
	all.Wait()
	v.ringAll(context.Background(), bells[1:]) // growers whose phones another process had locked
	for n := range growers {
		if got := v.inbox(n); len(got) != 1 {
			t.Errorf("grower %d got %d texts", n, len(got))
		}
	}
}

// BenchmarkRingOfProcesses rings 600 growers on a server, by one process and by three, in turns:
//
//	.ci/postgres go test ./gateway/bell -run xxx -bench RingOfProcesses -benchtime 3x
func BenchmarkRingOfProcesses(b *testing.B) {
	if !testrun.OnServer() {
		b.Skip("about a server")
	}
	const growers = 600
	took := map[int][]float64{}
	for b.Loop() {
		for _, n := range []int{1, 3} {
			v := newValley(b)
			v.fill(growers)
			v.clock.Set(dawn.Add(25 * time.Hour))
			bells := v.processes(n)
			begun := time.Now()
			if got := v.ringAll(context.Background(), bells); got != growers {
				b.Errorf("%d processes wrote %d texts", n, got)
			}
			took[n] = append(took[n], growers/time.Since(begun).Seconds())
		}
	}
	for n, list := range took {
		slices.Sort(list)
		b.ReportMetric(list[len(list)/2], fmt.Sprintf("plots/s-by-%d", n))
	}
	b.ReportMetric(0, "ns/op")
}
