package store

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// A compacted file is smaller and has the same records, also while the service writes. A second time changes nothing.
func TestCompact(t *testing.T) {
	sqliteOnly(t)
	s := openWithPlot(t, ana)
	write(t, s, func(tx *Tx) error {
		for i := range 3000 {
			if err := remember(fmt.Sprint(i))(tx); err != nil {
				return err
			}
		}
		return nil
	})
	write(t, s, func(tx *Tx) error { return tx.do("DELETE FROM callback WHERE key <> '7'") })
	ok(t, s.Checkpoint(ctx))
	var wg sync.WaitGroup
	begun, done := make(chan struct{}), make(chan struct{})
	wg.Go(func() {
		for first := true; ; first = false {
			err := s.InTx(ctx, remember("8"))
			if first {
				close(begun)
			}
			if err != nil {
				t.Error(err)
				return
			}
			select {
			case <-done:
				return
			default:
			}
		}
	})
	<-begun
	c, err := Compact(ctx, s.path)
	close(done)
	wg.Wait()
	ok(t, err)
	ok(t, s.Checkpoint(ctx))
	after, err := os.Stat(s.path)
	ok(t, err)
	errorIf(t, after.Size() > c.Before/4*3, "%d bytes before, %d after", c.Before, after.Size())
	equal(t, remembered(t, s), "7 8", "kept")
	ok(t, s.IntegrityCheck(ctx))
	ok(t, s.CheckFile())
	c, err = Compact(ctx, s.path)
	errorIf(t, err != nil || c.Before != c.After || c.LogLeft, "%+v %v", c, err)
}

func TestCompactRefusals(t *testing.T) {
	sqliteOnly(t)
	path := filepath.Join(t.TempDir(), "rowbell.db")
	errorIf(t, second(Compact(ctx, path)) == nil, "no file")
	ok(t, os.WriteFile(path, nil, 0o600))
	wantErr(t, second(Compact(ctx, path)), ErrNoRecords, "an empty file")
	ok(t, os.WriteFile(path, []byte("not a database, but long enough to look at"), 0o600))
	wantErr(t, second(Compact(ctx, path)), ErrNotDatabase, "a text")
}

// BenchmarkCompact compacts the records of 20,000 growers, of whom half were erased, and measures for how long a write
// waits meanwhile.
func BenchmarkCompact(b *testing.B) {
	s := open(b)
	addGrowers(b, s, 20_000)
	write(b, s, func(tx *Tx) error { return tx.do("DELETE FROM grower WHERE id % 2 = 0") })
	ok(b, s.Checkpoint(ctx))
	var slowest atomic.Int64
	done := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := 0; ; i++ {
			select {
			case <-done:
				return
			default:
			}
			begun := time.Now()
			if err := s.InTx(ctx, remember(fmt.Sprint(i))); err != nil {
				b.Error(err)
			}
			slowest.Store(max(slowest.Load(), int64(time.Since(begun))))
		}
	})
	begun := time.Now()
	c, err := Compact(ctx, s.path)
	took := time.Since(begun)
	close(done)
	wg.Wait()
	ok(b, err)
	b.ReportMetric(float64(c.Before)/1e6, "MB-before")
	b.ReportMetric(float64(c.After)/1e6, "MB-after")
	b.ReportMetric(float64(took.Milliseconds()), "ms")
	b.ReportMetric(float64(slowest.Load())/1e6, "slowest-write-ms")
}
