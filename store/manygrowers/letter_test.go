package manygrowers

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// BenchmarkLetter counts for whom a letter to all growers would be. ROWBELL_TEST_SIZES is the number of growers,
// ROWBELL_TEST_FOLDER where the files are.
//
//	ROWBELL_TEST_SIZES=100000 go test ./store/manygrowers -run xxx -bench Letter -benchtime 3x
func BenchmarkLetter(b *testing.B) {
	growers, err := strconv.Atoi(os.Getenv("ROWBELL_TEST_SIZES"))
	if err != nil {
		growers = 5000
	}
	folder := os.Getenv("ROWBELL_TEST_FOLDER")
	if folder == "" {
		folder = b.TempDir()
	}
	day := engine.Date(2026, time.June, 1)
	from, err := File(b.Context(), folder, growers, day)
	ok(b, err)
	records := filepath.Join(b.TempDir(), "rowbell.db")
	ok(b, CopyFile(from, records))
	s, err := store.Open(b.Context(), records, store.Options{Existing: true})
	ok(b, err)
	defer s.Close()
	var f store.LetterFilter
	ok(b, s.View(b.Context(), func(tx *store.Tx) error {
		places, err := tx.Places()
		for _, p := range places {
			f.Places = append(f.Places, p.ID)
		}
		return err
	}))
	for b.Loop() {
		var count store.LetterCount
		steps, longest := 0, time.Duration(0)
		for !count.Done {
			began := time.Now()
			ok(b, s.View(b.Context(), func(tx *store.Tx) (err error) {
				count, err = tx.CountLetter(count, f, At(day))
				return err
			}))
			steps, longest = steps+1, max(longest, time.Since(began))
		}
		if count.Looked() != int64(growers) {
			b.Fatalf("%d growers were looked at", count.Looked())
		}
		b.ReportMetric(float64(steps), "steps")
		b.ReportMetric(float64(longest.Microseconds())/1000, "ms-longest-step")
	}
}
