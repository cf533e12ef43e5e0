package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"rowbell/store/testrun"
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

// Two processes get new routes one after the other. A text that the second writes in between, with the old routes, gets
// its new prefix when the second gets the new routes too.
func TestRoutePrefixesOfTwoProcesses(t *testing.T) {
	serverOnly(t)
	a := openNew(t, Options{Process: "a", RoutePrefixes: []string{twos}})
	b := openWith(t, addressOf(a), Options{Process: "b", RoutePrefixes: []string{twos}})
	none := func(*Tx) error { return nil }
	ok(t, a.Reconfigure(ctx, []string{tens}, none))
	enqueue(t, b, text("between", ben, noon))
	wantNumber(t, a, 1, "SELECT count(*) FROM message WHERE lane = $1", twos)
	ok(t, b.Reconfigure(ctx, []string{tens}, none))
	wantNumber(t, a, 1, "SELECT count(*) FROM message WHERE lane = ''")
	wantClaim(t, a, noon, network("heron", ""), "between")
}

// tens is a route prefix that matches ten of the numbers reserved for examples; twos matches one of them.
var tens, twos = fmt.Sprintf("+44%s", "770090001"), fmt.Sprintf("+44%s", "7700900002")

// The prefixes change while the store is open, for texts that wait and for later ones, or not at all if the transaction
// fails.
func TestReconfigure(t *testing.T) {
	s := openNew(t, Options{RoutePrefixes: []string{tens}})
	enqueue(t, s, text("before", "+447700900011", 100))
	wrong := errors.New("wrong")
	fails := s.Reconfigure(ctx, []string{"+44"}, func(tx *Tx) error {
		return errors.Join(tx.SetTokenHash("heron", []byte("hash")), wrong)
	})
	wantErr(t, fails, wrong, "a function that fails")
	enqueue(t, s, text("after", "+447700900012", 100))
	wantNumber(t, s, 2, "SELECT count(*) FROM message WHERE lane = $1", tens)
	wantNumber(t, s, 0, "SELECT count(*) FROM meta WHERE key LIKE '%heron'")
	ok(t, s.Reconfigure(ctx, []string{"+44", ""}, func(*Tx) error { return nil }))
	enqueue(t, s, text("last", "+447700900013", 100))
	wantNumber(t, s, 3, "SELECT count(*) FROM message WHERE lane = '+44'")
}

// If the transaction fails after the prefixes were changed, the earlier prefixes are used again, also if there were
// none.
func TestReconfigureFailsLate(t *testing.T) {
	refuseMeta := "CREATE TRIGGER refuse BEFORE INSERT ON meta BEGIN SELECT RAISE(ABORT, 'refused'); END"
	if testrun.OnServer() {
		refuseMeta = "ALTER TABLE meta ADD CONSTRAINT refuse CHECK (key = 'refused') NOT VALID"
	}
	for name, fn := range map[string]func(*Tx) error{
		"last statement": func(tx *Tx) error { return tx.do(refuseMeta) },
		"commit":         orphan,
	} {
		for _, before := range [][]string{nil, {tens}} {
			t.Run(fmt.Sprint(name, before), func(t *testing.T) {
				s := openNew(t, Options{RoutePrefixes: before})
				withPlot(t, s, ana)
				err := s.Reconfigure(ctx, []string{"+44"}, fn)
				errorIf(t, err == nil || strings.Contains(err.Error(), "syntax"), "error %v", err)
				enqueue(t, s, text("after", "+447700900012", 100))
				wantNumber(t, s, 0, "SELECT count(*) FROM message WHERE lane = '+44'")
				wantRows(t, s, map[string]int64{"message_plot": 0})
			})
		}
	}
}
