package manygrowers

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/store"
)

// BenchmarkRestore compares a backup and a restore with a copy of the same file that is synced, in interleaved rounds,
// and measures the most memory that the process had meanwhile. ROWBELL_TEST_SIZES is the number of growers,
// ROWBELL_TEST_FOLDER where the files are.
//
//	ROWBELL_TEST_SIZES=300000 go test ./store/manygrowers -run xxx -bench Restore -benchtime 3x
func BenchmarkRestore(b *testing.B) {
	growers, err := strconv.Atoi(os.Getenv("ROWBELL_TEST_SIZES"))
	if err != nil {
		growers = 5000
	}
	folder := os.Getenv("ROWBELL_TEST_FOLDER")
	if folder == "" {
		folder = b.TempDir()
	}
	dir, err := os.MkdirTemp(folder, "restore-")
	ok(b, err)
	defer os.RemoveAll(dir)
	day := engine.Date(2026, time.June, 1)
	from, err := File(b.Context(), folder, growers, day)
	ok(b, err)
	records, backup := filepath.Join(dir, "rowbell.db"), filepath.Join(dir, "backup.db")
	ok(b, CopyFile(from, records))
	now := At(day)
	steps := []struct {
		name string
		do   func() error
	}{
		{"copy", func() error { return CopyFile(from, filepath.Join(dir, "copy.db")) }},
		{"backup", func() error {
			return second(store.Backup(b.Context(), records, backup, store.BackupOptions{Replace: true}))
		}},
		{"restore", func() error {
			r, err := store.Restore(b.Context(), store.RestoreOptions{From: backup, To: records, Now: now,
				DiscardNewer: true, DiscardOld: true})
			return errors.Join(err, r.Damaged)
		}},
	}
	took, most := make([][]time.Duration, len(steps)), make([]int, len(steps))
	for b.Loop() {
		for i, s := range steps {
			ok(b, os.WriteFile("/proc/self/clear_refs", []byte("5"), 0)) // man proc: resets the peak resident set
			began := time.Now()
			ok(b, s.do())
			took[i] = append(took[i], time.Since(began))
			most[i] = max(most[i], peakMB(b))
		}
	}
	info, err := os.Stat(from)
	ok(b, err)
	b.ReportMetric(float64(info.Size())/1e6, "MB-file")
	copied := median(took[0])
	for i, s := range steps {
		b.ReportMetric(median(took[i]).Seconds(), "s-"+s.name)
		b.ReportMetric(float64(most[i]), "MB-memory-"+s.name)
		if i > 0 {
			b.ReportMetric(float64(median(took[i]))/float64(copied), "copies-"+s.name)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func median(list []time.Duration) time.Duration {
	return slices.Sorted(slices.Values(list))[len(list)/2]
}

// peakMB returns the most resident memory of this process since it was reset.
func peakMB(b *testing.B) (mb int) {
	b.Helper()
	status, err := os.ReadFile("/proc/self/status")
	ok(b, err)
	_, rest, _ := strings.Cut(string(status), "VmHWM:")
	_, err = fmt.Sscanf(rest, "%d kB", &mb)
	ok(b, err)
	return mb / 1024
}
