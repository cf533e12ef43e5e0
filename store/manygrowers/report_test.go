package manygrowers

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/engine/report"
	"rowbell/store"
)

// BenchmarkReport counts the sums of the season report, for the first time and once more, and then reads what a page
// of it reads. ROWBELL_TEST_SIZES is the number of growers, ROWBELL_TEST_FOLDER where the files are.
// ROWBELL_TEST_SERVER is the address of an empty database to which the records are copied first; without it they are
// in a file.
//
//	ROWBELL_TEST_SIZES=1000000 go test ./store/manygrowers -run xxx -bench Report -benchtime 1x
func BenchmarkReport(b *testing.B) {
	growers, err := strconv.Atoi(os.Getenv("ROWBELL_TEST_SIZES"))
	if err != nil {
		growers = 5000
	}
	folder := os.Getenv("ROWBELL_TEST_FOLDER")
	if folder == "" {
		folder = b.TempDir()
	}
	dir, err := os.MkdirTemp(folder, "report-")
	ok(b, err)
	defer os.RemoveAll(dir)
	day := engine.Date(2026, time.June, 1)
	from, err := File(b.Context(), folder, growers, day)
	ok(b, err)
	records := filepath.Join(dir, "rowbell.db")
	ok(b, CopyFile(from, records))
	if to := os.Getenv("ROWBELL_TEST_SERVER"); to != "" {
		_, err := store.Copy(b.Context(), store.CopyOptions{From: records, To: to, Now: At(day)})
		ok(b, err)
		records = to
	}
	s, err := store.Open(b.Context(), records, store.Options{Existing: true})
	ok(b, err)
	defer s.Close()
	for b.Loop() {
		for _, name := range []string{"first", "again"} {
			began := time.Now()
			counted, err := s.CountReport(b.Context(), At(day), nil)
			ok(b, err)
			b.ReportMetric(time.Since(began).Seconds(), "s-"+name)
			b.ReportMetric(float64(counted.Rows), "rows-"+name)
		}
		began := time.Now()
		readReport(b, s, day)
		b.ReportMetric(float64(time.Since(began).Microseconds())/1000, "ms-read")
	}
}

// readReport reads what the page of the report reads for all places.
func readReport(b *testing.B, s *store.Store, day engine.Day) {
	b.Helper()
	ok(b, s.View(b.Context(), func(tx *store.Tx) error {
		places, err := tx.Places()
		ok(b, err)
		scope := store.Scope{0}
		for _, p := range places {
			scope = append(scope, p.ID)
		}
		planted, err := tx.PlantedByMonth(scope)
		ok(b, err)
		season := report.Seasons(planted)[0]
		fields, err := tx.FieldSums(scope, season)
		ok(b, err)
		texts, err := tx.TextSums(scope, report.WeekOf(season.From.First()), report.WeekOf(day))
		b.ReportMetric(float64(len(fields.ByWeek)), "weeks")
		b.ReportMetric(float64(len(texts.ByKind)), "kinds")
		return err
	}))
}
