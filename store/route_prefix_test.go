package store

import (
	"fmt"
	"testing"
)

// The longest matching route prefix is used. A network claims only the texts whose prefixes it serves.
func TestRoutePrefixes(t *testing.T) {
	s := openNew(t, Options{RoutePrefixes: []string{"+44", tens, ""}})
	enqueue(t, s, text("far", "+447700900011", noon))
	enqueue(t, s, text("near", "+447700900002", noon))
	wantPrefix := func(key, want string) {
		t.Helper()
		wantNumber(t, s, 1, "SELECT count(*) FROM message WHERE key = $1 AND lane = $2", key, want)
	}
	wantPrefix("far", tens)
	wantPrefix("near", "+44")
	wantClaim(t, s, noon, network("heron", ""))
	// A command passes no route prefixes. The stored prefixes must not change.
	s = openAgain(t, s, Options{})
	withPlot(t, s, ana)
	m := text("moving", ana, noon)
	m.GrowerID = 1
	enqueue(t, s, m)
	move(t, s, 1, "+447700900013", noon)
	wantPrefix("moving", tens)
	// The service starts with other prefixes. Waiting texts must get their new prefix.
	s = openAgain(t, s, Options{RoutePrefixes: []string{twos}})
	wantPrefix("far", "")
	wantPrefix("near", twos)
	s = openAgain(t, s, Options{RoutePrefixes: []string{}})
	got, _ := handOver(t, s, noon, network("heron", ""))
	equal(t, len(got), 3, "texts claimed with no routes left")
}

// tens is a route prefix that matches ten of the numbers reserved for examples; twos matches one of them.
var tens, twos = fmt.Sprintf("+44%d", 770090001), fmt.Sprintf("+44%d", 7700900002)
