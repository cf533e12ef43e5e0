package store

import (
	"os"

	"golang.org/x/sys/unix"
)

// writeOutParts is in how many parts a file is written to the disk. With 64 the disk takes a part of a copied log in a
// fraction of a millisecond (measured).
const writeOutParts = 64

// writeOut has the system write what was changed in a file to the disk, one part after the other. Sync would give all
// of it to the disk at once, and the commits of the writer would wait behind that: the slowest of 100 callbacks took 5
// ms, not 4 (measured). It does not replace Sync, which also tells of an error.
func writeOut(f *os.File) {
	info, err := f.Stat()
	if err != nil {
		return
	}
	const write = unix.SYNC_FILE_RANGE_WAIT_BEFORE | unix.SYNC_FILE_RANGE_WRITE | unix.SYNC_FILE_RANGE_WAIT_AFTER
	part := max(info.Size()/writeOutParts, 1<<20)
	for at := int64(0); at < info.Size() && err == nil; at += part {
		err = unix.SyncFileRange(int(f.Fd()), at, part, write)
	}
}
