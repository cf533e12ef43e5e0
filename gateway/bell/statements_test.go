package bell

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/store"
	"rowbell/store/testrun"
)

// A step of the bell needs the same statements for one grower as for many. The largest number was counted and has no
// source: whoever makes a step cheaper lowers it.
func TestStatementsOfAStep(t *testing.T) {
	// With BEGIN and COMMIT, reading what is planned, asking for due circles, and marking who changed; on a server also
	// comparing what was planned.
	most := 21
	if testrun.OnServer() {
		most = 26
	}
	writes := map[string]int{
		"INSERT INTO told": 1, "INSERT INTO message ": 1, "INSERT INTO message_plot": 1, "INSERT INTO prompt": 1,
		"UPDATE plot": 2, // the next look and the announced window
	}
	growers := []int{1, 0}
	var counts [2]int
	for i := range growers {
		v := newValley(t)
		if growers[i] == 0 {
			growers[i] = v.s.RoundsAtOnce()
		}
		for n := range growers[i] {
			v.grower(n, 14)
		}
		v.clock.Set(dawn.Add(time.Hour))
		statements := v.statementsOf(func(s *store.Store) {
			b := New(Options{Store: s, QuietHour: 20, Menu: v.b.o.Menu, Clock: v.clock, Log: zerolog.Nop()})
			if n, err := b.Ring(context.Background(), v.clock.Now()); err != nil || n != growers[i] {
				t.Errorf("%d texts, %v; want %d", n, err, growers[i])
			}
		})
		for begin, want := range writes {
			n := 0
			for _, s := range statements {
				if strings.HasPrefix(s, begin) {
					n++
				}
			}
			if n != want {
				t.Errorf("%d growers: %d statements %s, want %d", growers[i], n, begin, want)
			}
		}
		counts[i] = len(statements)
	}
	if counts[0] != counts[1] || counts[1] > most {
		t.Errorf("%d statements for one grower, %d for %d; at most %d are allowed", counts[0], counts[1], growers[1],
			most)
	}
}

// While nobody else writes, a file reads no grower again before it writes. On a server each step does.
func TestStepsThatReadAgain(t *testing.T) {
	const steps = 4
	v := newValley(t)
	growers := steps * v.s.RoundsAtOnce()
	for n := range growers {
		v.grower(n, 14)
	}
	v.clock.Set(dawn.Add(time.Hour))
	again := 0
	for _, s := range v.statementsOf(func(s *store.Store) {
		b := New(Options{Store: s, QuietHour: 20, Menu: v.b.o.Menu, Clock: v.clock, Log: zerolog.Nop()})
		if n, err := b.Ring(context.Background(), v.clock.Now()); err != nil || n != growers {
			t.Errorf("%d texts, %v; want %d", n, err, growers)
		}
	}) {
		if strings.Contains(s, "FROM grower g\n\tWHERE g.id IN ") {
			again++
		}
	}
	if want := map[bool]int{true: steps}[testrun.OnServer()]; again != want {
		t.Errorf("%d of %d steps read their growers again, want %d", again, steps, want)
	}
}

// statementsOf returns the statements of do with another store that has the same records open.
func (v *valley) statementsOf(do func(s *store.Store)) (list []string) {
	v.t.Helper()
	if err := v.s.Close(); err != nil {
		v.t.Fatal(err)
	}
	var mu sync.Mutex // the bell reads the next growers while it writes the last ones
	s := must(store.Open(context.Background(), v.path, store.Options{OnStatement: func(query string) {
		mu.Lock()
		defer mu.Unlock()
		list = append(list, query)
	}}))
	list = nil
	do(s)
	if err := s.Close(); err != nil {
		v.t.Error(err)
	}
	return list
}
