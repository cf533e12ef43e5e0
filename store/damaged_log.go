package store

import (
	"bufio"
	"cmp"
	"encoding/binary"
	"errors"
	"io"
	"os"
)

// The write-ahead log is a header and frames, each with a page. Both have a checksum, and frames of an earlier use of
// the log have other salts (SQLite, Database File Format, section 4: sqlite.org/fileformat2.html).
const (
	usualPage = 4096
	logMagic  = 0x377f0682 // the last bit says that checksums are of big-endian words
)

// logSum is a checksum of a log, which goes on from frame to frame.
type logSum struct {
	order binary.ByteOrder
	a, b  uint32
}

func (s *logSum) add(octets []byte) {
	for ; len(octets) >= 8; octets = octets[8:] {
		s.a += s.order.Uint32(octets) + s.b
		s.b += s.order.Uint32(octets[4:]) + s.a
	}
}

// is reports whether the checksum is the one that stands at the beginning of these octets.
func (s *logSum) is(octets []byte) bool {
	return s.a == binary.BigEndian.Uint32(octets) && s.b == binary.BigEndian.Uint32(octets[4:])
}

// lostWrites returns how many transactions of a write-ahead log were acknowledged and are lost: those after its first
// damaged frame. SQLite opens such a log without an error and leaves them out. After a power cut there may be one more
// that was never acknowledged, because the next one is begun only when it is on the disk.
func lostWrites(log string) (lost int, err error) {
	f, err := os.Open(log)
	if errors.Is(err, os.ErrNotExist) {
		return 0, nil
	} else if err != nil {
		return 0, err
	}
	defer f.Close()
	r := bufio.NewReaderSize(f, 1<<16)
	header := make([]byte, logHeader)
	if _, err := io.ReadFull(r, header); err != nil {
		return 0, nil // nothing was written
	}
	sum := logSum{order: binary.LittleEndian}
	magic, size := binary.BigEndian.Uint32(header), binary.BigEndian.Uint32(header[8:])
	if magic&1 == 1 {
		sum.order = binary.BigEndian
	}
	sum.add(header[:24])
	whole, salts := magic&^1 == logMagic && sum.is(header[24:]), string(header[16:24])
	headless := !whole
	if headless {
		size, salts = usualPage, "" // those of the first frame
	}
	frame := make([]byte, frameHeader+size)
	for frames := 0; ; frames++ {
		if _, err := io.ReadFull(r, frame); err != nil {
			if headless && frames > 1 { // then nothing of the log is read
				return max(lost-1, 1), nil
			}
			return max(lost-1, 0), nil
		}
		salts = cmp.Or(salts, string(frame[8:16]))
		thisUse := string(frame[8:16]) == salts
		if whole {
			sum.add(frame[:8])
			sum.add(frame[frameHeader:])
			whole = thisUse && sum.is(frame[16:])
		}
		if commits := binary.BigEndian.Uint32(frame[4:]) > 0; !whole && thisUse && commits {
			lost++
		}
	}
}
