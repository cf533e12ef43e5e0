package gateway_test

import (
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway/bell"
	"rowbell/gateway/bench"
	"rowbell/gateway/clock"
	"rowbell/menu"
	"rowbell/store"
	"rowbell/store/manygrowers"
)

// Dialogues, and the bell for the same number of due plots, need the same statements over twenty times as many growers.
func TestStatementsDoNotGrow(t *testing.T) {
	const few, many, due = 200, 4000, 20
	steps, ring := statementsOver(t, few, due)
	moreSteps, moreRing := statementsOver(t, many, due)
	if len(steps) < 100 || len(ring) < due {
		t.Fatalf("only %d and %d statements: they are not counted", len(steps), len(ring))
	}
	for _, tt := range []struct {
		what      string
		few, many []string
	}{{"dialogues", steps, moreSteps}, {"the bell", ring, moreRing}} {
		if !slices.Equal(tt.few, tt.many) {
			t.Errorf("%s: %d statements over %d growers, %d over %d", tt.what, len(tt.few), few, len(tt.many), many)
		}
	}
}

// statementsOver returns the statements of the dialogues of ten growers, and of a round of the bell.
func statementsOver(t *testing.T, growers, due int) (steps, ring []string) {
	t.Helper()
	day := engine.DayOf(morning, time.UTC)
	at := clock.New(time.Unix(manygrowers.At(day), 0).UTC())
	db := filepath.Join(t.TempDir(), "rowbell.db")
	ok(t, manygrowers.Fill(t.Context(), db, growers, day))
	var statements []string
	var mu sync.Mutex // the bell reads the next growers while it writes the last ones
	s := must(store.Open(t.Context(), db, store.Options{OnStatement: func(query string) {
		switch word, _, _ := strings.Cut(query, " "); word {
		case "BEGIN", "COMMIT", "SAVEPOINT", "RELEASE": // how many of them share a transaction depends on what waits
		default:
			mu.Lock()
			defer mu.Unlock()
			statements = append(statements, query)
		}
	}}))
	t.Cleanup(func() { s.Close() })
	p := bench.Serve(t, realGateway(t, s, at, "en"), bench.Growers{N: growers, Token: token})
	p.Check = true
	statements = nil
	for i := range 10 {
		p.Play(i)
	}
	steps = statements

	made := must(manygrowers.MakeDue(t.Context(), db, 1, due, at.Now().Unix()-24*60*60))
	statements = nil
	b := bell.New(bell.Options{Store: s, Menu: realMenu(t, menu.Options{}, "en"), Clock: at, QuietHour: 20})
	if texts := must(b.Ring(t.Context(), at.Now())); texts != due || made != int64(due) {
		t.Errorf("%d texts about %d plots", texts, made)
	}
	slices.Sort(statements) // reading and writing are at the same time
	return steps, statements
}
