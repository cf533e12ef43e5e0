package store

import (
	"os"
	"path/filepath"
	"testing"
)

// A whole log has lost nothing, also if it is used again from its beginning and has frames of the use before. Of a
// damaged one all transactions after the damage count, but the last.
func TestLostWrites(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	lost := func(log string) int {
		t.Helper()
		n, err := lostWrites(log)
		ok(t, err)
		return n
	}
	other := openPool(s.path, writerDSN, hardening, 1)
	defer other.Close()
	log := s.path + "-wal"
	equal(t, lost(log+"-none"), 0, "no log")
	for n := range 12 {
		write(t, s, remember(string(rune('a'+n))))
		equal(t, lost(log), 0, "after write %d", n)
		if n == 5 {
			ok(t, second(other.Exec("PRAGMA wal_checkpoint")))
		}
	}
	whole, err := os.ReadFile(log)
	ok(t, err)
	cut := filepath.Join(t.TempDir(), "log")
	at := func(n int, changed ...byte) int {
		t.Helper()
		b := append([]byte(nil), whole...)
		copy(b[n:], changed)
		ok(t, os.WriteFile(cut, b, 0o600))
		return lost(cut)
	}
	equal(t, at(0), 0, "the copy")
	first, second := at(logHeader+frameHeader+100, 1, 2, 3), at(logHeader+2*(frameHeader+usualPage)+100, 1, 2, 3)
	errorIf(t, first < 3 || second > first, "lost after the first frame %d, after the third %d", first, second)
	errorIf(t, at(16, 1, 2, 3) < 1, "nothing is lost with the header")
	ok(t, os.WriteFile(cut, whole[:logHeader+frameHeader+usualPage/2], 0o600))
	equal(t, lost(cut), 0, "a log that was cut in its first frame")
}

// The service says at its start how many writes are lost, and says nothing about a log that is whole.
func TestLostWritesAreTold(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	for n := range 8 {
		write(t, s, remember(string(rune('a'+n))))
	}
	for _, damaged := range []bool{false, true} {
		path := filepath.Join(t.TempDir(), "rowbell.db")
		log, err := os.ReadFile(s.path + "-wal")
		ok(t, err)
		if damaged {
			copy(log[logHeader+frameHeader+100:], "scratched")
		}
		ok(t, copyFile(s.path, path))
		ok(t, os.WriteFile(path+"-wal", log, 0o600))
		told := 0
		again, err := Open(ctx, path, Options{Serving: true, OnLostWrites: func(n int) { told = n }})
		ok(t, err)
		ok(t, again.Close())
		errorIf(t, (told > 0) != damaged, "damaged %t: %d writes are told", damaged, told)
	}
}

// Whatever the write-ahead log holds, it is read to its end, and no more writes are lost than have room in it.
func FuzzLostWrites(f *testing.F) {
	header := []byte{0x37, 0x7f, 0x06, 0x82, 0, 0x2d, 0xe2, 0x18, 0, 0, 16, 0}
	f.Add([]byte{})
	f.Add(header)
	f.Add(append(header, make([]byte, 3*(usualPage+frameHeader))...))
	f.Fuzz(func(t *testing.T, octets []byte) {
		log := filepath.Join(t.TempDir(), "log")
		ok(t, os.WriteFile(log, octets, 0o600))
		lost, err := lostWrites(log)
		ok(t, err)
		if lost < 0 || lost > len(octets)/frameHeader {
			t.Errorf("%d writes are lost of %d octets", lost, len(octets))
		}
	})
}
