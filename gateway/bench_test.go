package gateway_test

import (
	"context"
	"encoding/binary"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway/bench"
	"rowbell/store"
	"rowbell/store/manygrowers"
)

const (
	benchGrowers = 20_000
	benchRounds  = 7
	benchRound   = time.Second
)

// BenchmarkUSSD measures a whole USSD step over HTTP on 64 connections, from the route to a durable commit and the log
// line. It measures the gateway and the bare handlers of package bench in turn on one machine, because the ratios of
// the figures are stable and the figures are not.
//
//	go test ./gateway -run xxx -bench USSD -benchtime 1x
func BenchmarkUSSD(b *testing.B) {
	db := seeded(b)
	ours := copied(b, db)
	var statements atomic.Int64
	serve := func(h http.Handler) *bench.Target {
		return bench.Serve(b, h, bench.Growers{N: benchGrowers, Token: token})
	}
	bare := func(batch int) http.Handler {
		h, end, err := bench.Records(copied(b, db), batch, bench.NewClock(morning))
		ok(b, err)
		b.Cleanup(end)
		return h
	}
	servers := map[string]*bench.Target{
		"ours": serve(ourHandler(b, ours, &statements)), "chi": serve(bench.Chi()),
		"group":  serve(bare(512)),
		"one-tx": serve(bare(1)),
	}
	servers["ours"].Check = true
	names := slices.Sorted(maps.Keys(servers))
	figures := map[string][]float64{} // one value for each round
	frames := countFrames(b, ours)
	for b.Loop() {
		for _, name := range names {
			servers[name].ClosedLoop(benchRound / 2) // warms the server up, so its result is not used
		}
		for range benchRounds {
			rates, p99s := map[string]float64{}, map[string]float64{}
			for _, name := range names {
				took := servers[name].ClosedLoop(benchRound)
				rates[name], p99s[name] = took.Rate, took.Percentile(0.99)
				figures[name+"-req/s"] = append(figures[name+"-req/s"], rates[name])
			}
			for _, name := range []string{"chi", "group", "one-tx"} {
				figures["ours/"+name] = append(figures["ours/"+name], rates["ours"]/rates[name])
			}
			figures["ours-p99-ms"] = append(figures["ours-p99-ms"], p99s["ours"])
			figures["p99-ours/chi"] = append(figures["p99-ours/chi"], p99s["ours"]/p99s["chi"])
		}
	}
	steps := servers["ours"].Answered()
	figures["ours-log-KB/step"] = []float64{float64(frames()) * (4096 + 24) / 1000 / float64(steps)}
	figures["ours-statements/step"] = []float64{float64(statements.Load()) / float64(steps)}
	b.ReportMetric(0, "ns/op")
	for name, values := range figures {
		slices.Sort(values)
		median := values[len(values)/2]
		b.ReportMetric(median, name)
		b.Logf("%-13s %9.2f [%.2f-%.2f]", name, median, values[0], values[len(values)-1])
	}
}

// BenchmarkUSSDArrivals sends a thousand steps a second at random instants, whether or not earlier steps were
// answered. The time of a step is measured from the instant at which the step was due.
//
//	go test ./gateway -run xxx -bench Arrivals -benchtime 1x
func BenchmarkUSSDArrivals(b *testing.B) {
	db := seeded(b)
	ours := ourHandler(b, copied(b, db), new(atomic.Int64))
	for name, h := range map[string]http.Handler{"chi": bench.Chi(), "ours": ours} {
		b.Run(name, func(b *testing.B) {
			s := bench.Serve(b, h, bench.Growers{N: benchGrowers, Token: token})
			for b.Loop() {
				took := s.OpenLoop(1000, 5*time.Second)
				b.ReportMetric(0, "ns/op")
				b.ReportMetric(took.Rate, "req/s")
				b.ReportMetric(took.Percentile(0.5), "p50-ms")
				b.ReportMetric(took.Percentile(0.99), "p99-ms")
				b.ReportMetric(took.Percentile(1), "max-ms")
			}
		})
	}
}

// seeded creates a database of growers with one plot each. Half of the growers have logged a pass, and a third
// have logged a sighting.
func seeded(b *testing.B) (path string) {
	b.Helper()
	path = filepath.Join(b.TempDir(), "seeded.db")
	s := must(store.Open(context.Background(), path, store.Options{}))
	now := morning.Add(-24 * time.Hour).Unix()
	for from := 0; from < benchGrowers; from += 2000 {
		err := s.InTx(context.Background(), func(tx *store.Tx) error {
			for i := from; i < from+2000; i++ {
				if err := seedOne(tx, i, now); err != nil {
					return err
				}
			}
			return nil
		})
		ok(b, err)
	}
	ok(b, s.Close())
	return path
}

func seedOne(tx *store.Tx, i int, now int64) error {
	l, err := tx.Ledger(manygrowers.Phone(i), now)
	if err != nil {
		return err
	}
	if err = register(l, "", engine.Day(5+i%40)); err == nil && i%2 == 0 {
		err = l.LogPass(1, engine.Pass{On: l.Today() - 3, With: engine.ByTool, Left: engine.Few})
	}
	if err == nil && i%3 == 0 {
		err = l.See(1, engine.Sighting{On: l.Today() - 1, Leaves: engine.TwoThree, Amount: engine.Some})
	}
	return err
}

func copied(b *testing.B, path string) string {
	b.Helper()
	to := filepath.Join(b.TempDir(), "rowbell.db")
	ok(b, os.WriteFile(to, must(os.ReadFile(path)), 0o600))
	return to
}

// ourHandler returns a gateway that uses the database at path. It counts the statements of its transactions.
func ourHandler(b *testing.B, path string, statements *atomic.Int64) http.Handler {
	b.Helper()
	s := must(store.Open(context.Background(), path, store.Options{OnStatement: func(string) { statements.Add(1) }}))
	b.Cleanup(func() { s.Close() })
	return realGateway(b, s, bench.NewClock(morning))
}

// countFrames counts the pages that are written to the write-ahead log of a database, until the function that it
// returns is called. It looks at the number of frames in the header of the log's index, which begins again at 0 when
// the log is used again (sqlite.org/walformat.html, section 2.1).
func countFrames(b *testing.B, path string) (stop func() int64) {
	b.Helper()
	index := must(os.Open(path + "-shm"))
	end, total := make(chan struct{}), make(chan int64)
	go func() {
		defer index.Close()
		var n, last int64
		var header [4]byte
		for tick := time.NewTicker(time.Millisecond); ; {
			if _, err := index.ReadAt(header[:], 16); err == nil {
				now := int64(binary.NativeEndian.Uint32(header[:]))
				n += now
				if now >= last {
					n -= last
				}
				last = now
			}
			select {
			case <-end:
				tick.Stop()
				total <- n
				return
			case <-tick.C:
			}
		}
	}()
	return func() int64 { close(end); return <-total }
}
