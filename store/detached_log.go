package store

import (
	"bytes"
	"encoding/binary"
	"os"
)

// The index of the write-ahead log begins with two copies of a header, in the byte order of the machine
// (sqlite.org/walformat.html, section 2.1): the page size is at octet 14, the number of the last valid frame at 16. The
// log has a header of 32 octets and, before each page, one of 24 (sqlite.org/fileformat2.html, section 4.1).
const (
	indexHeader = 48
	logHeader   = 32
	frameHeader = 24
)

// logCut reports whether the write-ahead log is shorter than its index says, because it was emptied or cut off in
// place. SQLite itself would not notice, and would go on writing after the gap. When SQLite empties the log, it first
// writes an index without frames. So the index is read before and after the size of the log.
func (f *openFiles) logCut() bool {
	before, _, ok := f.readIndex()
	if !ok {
		return false
	}
	log, err := os.Stat(f.real + "-wal")
	if err != nil {
		return false // check has found that already, or finds it at the next write
	}
	page := int64(binary.NativeEndian.Uint16(before[14:]))
	if page == 1 { // the number 65,536 does not fit into two octets
		page = 1 << 16
	}
	frames := int64(binary.NativeEndian.Uint32(before[16:]))
	if frames == 0 || log.Size() >= logHeader+frames*(frameHeader+page) {
		return false
	}
	after, _, ok := f.readIndex()
	return ok && bytes.Equal(before, after)
}

// readIndex returns the header of the index, and how many pages of the log are copied into the database file; ok is
// false if there is none, or SQLite is writing it.
func (f *openFiles) readIndex() (header []byte, copied uint32, ok bool) {
	if f.index == nil {
		return nil, 0, false
	}
	b := make([]byte, 2*indexHeader+4)
	if _, err := f.index.ReadAt(b, 0); err != nil {
		return nil, 0, false
	}
	header = b[:indexHeader]
	return header, binary.NativeEndian.Uint32(b[2*indexHeader:]), bytes.Equal(header, b[indexHeader:2*indexHeader])
}
