package main

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/store"
)

// BenchmarkStart starts the binary with the records of 20,000 growers. It measures the time until /readyz answers 200,
// and the memory of the process at that time.
//
//	go test ./cmd/rowbell -run xxx -bench Start -benchtime 20x
func BenchmarkStart(b *testing.B) {
	at := aDay
	p := startProcess(b, at)
	p.stop()
	manyGrowers(b, filepath.Join(p.dir, config.DefaultDB), 20_000, at)
	var ms, mb []float64
	for b.Loop() {
		began := time.Now()
		p.start(at)
		status, _ := p.get("/readyz")
		ms = append(ms, float64(time.Since(began))/float64(time.Millisecond))
		if status != http.StatusOK {
			b.Fatalf("/readyz: %d", status)
		}
		mb = append(mb, resident(b, p.cmd.Process.Pid))
		p.http.CloseIdleConnections()
		p.stop()
	}
	slices.Sort(ms)
	slices.Sort(mb)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(ms[len(ms)/2], "ready-ms")
	b.ReportMetric(mb[len(mb)/2], "resident-MB")
}

func resident(b *testing.B, pid int) float64 {
	b.Helper()
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	must(b, err)
	_, rest, _ := strings.Cut(string(status), "VmRSS:")
	var kb float64
	if _, err := fmt.Sscan(rest, &kb); err != nil {
		b.Fatal(err)
	}
	return kb / 1000
}

// manyGrowers adds n growers with one plot each. Their phone numbers have too many digits to belong to anybody.
func manyGrowers(b *testing.B, db string, n int, at time.Time) {
	b.Helper()
	s := openRecords(b, db)
	for from := 0; from < n; from += 1000 {
		write(b, s, func(tx *store.Tx) error {
			for i := from; i < min(from+1000, n); i++ {
				l, err := tx.Ledger(store.Phone(fmt.Sprintf("+44%d%06d", 7700900, i)), at.Unix())
				if err != nil {
					return err
				}
				if err := l.Consent("en", "1", "ussd"); err != nil {
					return err
				}
				p := engine.Plot{Method: engine.Transplanted, Planted: l.Today() - 10, RowSpacingCM: 20,
					HillSpacingCM: 20, AreaM2: 600}
				if _, err := l.AddPlot(p, engine.Tool{WidthCM: 15}); err != nil {
					return err
				}
			}
			return nil
		})
	}
	must(b, s.Close())
}
