package store

import (
	"context"
	"fmt"
	"path/filepath"
	"testing"
)

// A number's route prefix is the longest that it begins with. A network claims texts with the prefixes
// that it serves.
func TestRoutePrefixes(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rowbell.db")
	open := func(prefixes []string) *Store {
		s, err := Open(context.Background(), path, Options{RoutePrefixes: prefixes})
		ok(t, err)
		return s
	}
	s := open([]string{"+44", tens, ""})
	enqueue(t, s, text("far", "+447700900011", noon))
	enqueue(t, s, text("near", "+447700900002", noon))
	prefixOf := func(key string) (prefix string) {
		t.Helper()
		view(t, s, func(tx *Tx) error {
			return second(tx.one("SELECT lane FROM message WHERE key = $1", args(key), &prefix))
		})
		return prefix
	}
	equal(t, prefixOf("far"), tens, "prefix of far")
	equal(t, prefixOf("near"), "+44", "prefix of near")
	wantClaim(t, s, noon, network("heron", ""))
	s.Close()
	// Opened by a command without routes: prefixes stay.
	s = open(nil)
	withPlot(t, s, ana)
	m := text("moving", ana, noon)
	m.GrowerID = 1
	enqueue(t, s, m)
	write(t, s, func(tx *Tx) error { return second(tx.Move(1, "+447700900013", noon)) })
	equal(t, prefixOf("moving"), tens, "moved to another number it is under prefix")
	s.Close()
	// Routes changed: waiting texts get their new prefix.
	s = open([]string{twos})
	equal(t, prefixOf("far"), "", "prefix of far after the change")
	equal(t, prefixOf("near"), twos, "prefix of near after the change")
	s.Close()
	s = open([]string{})
	defer s.Close()
	got, _ := handOver(t, s, noon, network("heron", ""))
	errorIf(t, len(got) != 3, "with no routes left: %q", got)
}

// Route prefixes: of ten invented numbers, and of one.
var tens, twos = fmt.Sprintf("+44%d", 770090001), fmt.Sprintf("+44%d", 7700900002)
