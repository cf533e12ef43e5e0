package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/sys/unix"

	"rowbell/store/testrun"
)

// changedPages returns how many pages of a file are not yet on the disk (cachestat(2), Linux 6.5).
func changedPages(t *testing.T, f *os.File) uint64 {
	t.Helper()
	var pages unix.Cachestat_t
	if err := unix.Cachestat(uint(f.Fd()), &unix.CachestatRange{}, &pages, 0); err != nil { // the whole file
		t.Skipf("the system does not count changed pages: %v", err)
	}
	return pages.Dirty + pages.Writeback
}

func TestWriteOutLeavesNothing(t *testing.T) {
	f, err := os.CreateTemp(testrun.Disk, "rowbell-write-out-")
	ok(t, err)
	defer os.Remove(f.Name())
	defer f.Close()
	for _, size := range []int64{1, 1 << 20, 100<<20 + 1} { // less than a part, one, and more than 64
		for at := int64(0); at < size; at += 7 << 20 {
			_, err := f.WriteAt([]byte("x"), at)
			ok(t, err)
		}
		_, err := f.WriteAt([]byte("x"), size-1)
		ok(t, err)
		if changedPages(t, f) == 0 {
			t.Skip("this file is on no disk")
		}
		ok(t, writeOut(f))
		if left := changedPages(t, f); left > 0 {
			t.Errorf("%d octets: %d pages are left", size, left)
		}
	}
}

func TestWriteOutOfAClosedFile(t *testing.T) {
	f, err := os.Create(filepath.Join(t.TempDir(), "file"))
	ok(t, err)
	ok(t, f.Close())
	if err := writeOut(f); !errors.Is(err, os.ErrClosed) {
		t.Errorf("a closed file: %v", err)
	}
}
