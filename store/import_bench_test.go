package store

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"rowbell/store/growercsv"
)

// BenchmarkImport measures how long a file with as many rows as there may be takes: to check, and to write in the one
// transaction for which phone calls wait. Each row is a new grower with a plot; then the same file comes again.
//
//	TMPDIR=/var/tmp go test ./store -run xxx -bench Import -benchtime 1x
func BenchmarkImport(b *testing.B) {
	var file strings.Builder
	file.WriteString(importHead)
	for i := range growercsv.MaxRows {
		fmt.Fprintf(&file, "+4477009%06d,en,I want texts,Field 3,2026-05-30,1,Bund,transplanted,2026-05-20,25,1200\n",
			i)
	}
	took := map[string]time.Duration{}
	for b.Loop() {
		s := openNew(b, Options{})
		begun := time.Now()
		step := func(name string) {
			took[name] += time.Since(begun)
			begun = time.Now()
		}
		im := anImport(b, s, file.String())
		step("parse-ms")
		plans, _, err := s.planImport(ctx, im, noon)
		ok(b, err)
		step("check-ms")
		write(b, s, func(tx *Tx) error { return tx.takeImport(im, plans, noon) })
		step("write-ms")
		list, err := s.TakeImport(ctx, im, "", noon)
		ok(b, err)
		step("again-ms")
		equal(b, list.Count(FateSame), growercsv.MaxRows, "same")
	}
	b.ReportMetric(0, "ns/op")
	for name, d := range took {
		b.ReportMetric(d.Seconds()*1000/float64(b.N), name)
	}
}
