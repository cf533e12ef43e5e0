package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// counted counts all pages of a count with pages of this size.
func counted(t tester, s *Store, c *Count, size int64) {
	t.Helper()
	c.size = size
	ok(t, s.countAll(ctx, c))
}

func TestWaitsCount(t *testing.T) {
	s := openWithPlot(t, ana, ben, cleo)
	ledger(t, s, ben, noon, (*Ledger).Stop)
	enqueue(t, s, text("a", ana, noon))
	claim(t, s, noon)
	enqueue(t, s, text("b", ana, noon))
	enqueue(t, s, text("c", ana, noon-60))
	enqueue(t, s, text("d", cleo, noon+60))
	write(t, s, func(tx *Tx) error {
		return errors.Join(tx.SaveSession(Session{Phone: ana, Channel: "ussd", ExpiresAt: noon - 1}),
			tx.SaveSession(Session{Phone: ben, Channel: "ussd", ExpiresAt: noon}),
			tx.SaveSession(Session{Phone: cleo, Channel: "ussd", ExpiresAt: noon}),
			tx.SaveSession(Session{Phone: ana, Channel: "sms", ExpiresAt: noon + 7}))
	})
	until := noon + 3600
	want := Waits{At: noon, DuePlots: 2, Sessions: 3, Texts: []WaitingTexts{
		{Queued, "due", 2, noon - 60, noon - 60, until - 60},
		{Claimed, "sending", 1, noon, noon, until},
		{Queued, "later", 1, noon + 60, noon + 60, until + 60}}}
	got, err := s.CountWaits(ctx, noon)
	ok(t, err)
	equal(t, got, want, "waits")
	late, err := s.CountDuePlots(ctx, noon-1)
	errorIf(t, late != 0 || err != nil, "%d plots were due a second ago, %v", late, err)
}

func TestTotalsCount(t *testing.T) {
	s := openWithPlot(t, ana, ben)
	ledger(t, s, ben, noon, (*Ledger).Stop)
	ledger(t, s, ben, noon, closePlot(1))
	for i := range 3 {
		enqueue(t, s, text(fmt.Sprint(i), ana, noon-int64(i)))
	}
	list := claim(t, s, noon)
	settle(t, s, noon, list[0].Took(""), list[1].Took(""), list[2].Refuse("no"))
	enqueue(t, s, text("waits", ana, noon))
	c := NewTotalsCount(noon)
	counted(t, s, &c.Count, 2)
	oldest := min(list[0].DueAt, list[1].DueAt)
	want := Totals{At: noon, Rows: 8, Growers: 2, Stopped: 1, OpenPlots: 1, OldestAccepted: oldest,
		Texts: map[State]int64{Accepted: 2, Refused: 1}, Places: map[int64]PlaceTotals{1: {2, 1}}}
	equal(t, c.Totals, want, "totals")
	counts := func() (c PlaceCount, at int64) {
		t.Helper()
		view(t, s, func(tx *Tx) error {
			counts, when, err := tx.PlaceTotals(Scope{1})
			c, at = counts[1], when
			return err
		})
		return c, at
	}
	want21 := PlaceCount{PlaceTotals{2, 1}, false}
	now, at := counts()
	errorIf(t, now != want21 || at != 0, "totals of the place, counted now: %+v at %d", now, at)
	_, known := lookUp(t, s, (*Tx).KeptTotals)
	errorIf(t, known, "totals are kept that nobody kept")
	write(t, s, func(tx *Tx) error { return tx.KeepTotals(want) })
	kept, known := lookUp(t, s, (*Tx).KeptTotals)
	errorIf(t, !known, "no totals are kept")
	equal(t, kept, want, "kept")
	ledger(t, s, ana, noon, closePlot(1))
	now, at = counts()
	errorIf(t, now != want21 || at != noon, "totals of the place, kept: %+v at %d", now, at)
	ended, err := s.CountEnded(ctx, noon, func(int) {})
	ok(t, err)
	equal(t, ended, []Ended{{Accepted, 2}, {Refused, 1}}, "ended")
	ended, err = s.CountEnded(ctx, noon+1, func(int) {})
	errorIf(t, len(ended) != 0 || err != nil, "ended later: %v %v", ended, err)
}

// The counts do not depend on the size of a page, also where many rows have the same instant or phone number.
func TestCountsDoNotDependOnPages(t *testing.T) {
	s := open(t)
	const growers = 40
	for i := range growers {
		p := Phone(fmt.Sprintf("+%d", 447700900100+int64(i)))
		withPlot(t, s, p)
		setLook(t, s, p, 1, noon-int64(i/15)) // 15 plots are due at one instant
		for j := range i % 4 {
			enqueue(t, s, text(fmt.Sprint(i, "/", j), p, noon+int64(j)))
		}
		write(t, s, func(tx *Tx) error {
			return tx.SaveSession(Session{Phone: p, Channel: "sms", ExpiresAt: noon + int64(i/11)})
		})
		saveExchange(t, s, p, Exchange{At: noon, Until: noon + int64(i/9)})
	}
	settle(t, s, noon, claim(t, s, noon)[0].Took(""))
	waits, totals := NewWaitsCount(noon), NewTotalsCount(noon)
	counted(t, s, &waits.Count, 1000)
	counted(t, s, &totals.Count, 1000)
	errorIf(t, waits.DuePlots != growers || waits.Sessions != growers || waits.LeftAlone != growers-9,
		"waits %+v", waits.Waits)
	wantNumber(t, s, totals.Texts[Accepted], "SELECT count(*) FROM message WHERE state = 'accepted'")
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.Int64Range(1, 50).Draw(t, "size")
		w, c := NewWaitsCount(noon), NewTotalsCount(noon)
		counted(t, s, &w.Count, size)
		counted(t, s, &c.Count, size)
		equal(t, w.Waits, waits.Waits, "waits in pages of %d", size)
		equal(t, c.Totals, totals.Totals, "totals in pages of %d", size)
	})
}

// A page looks at few rows: each query finds its first row through an index, reads on in the order of that index, and
// stops at its limit. A sort before the limit would read everything first.
func TestAPageLooksAtFewRows(t *testing.T) {
	sqliteOnly(t)
	s := open(t)
	queries, _ := readSource(t)
	for name, query := range queries {
		counts := strings.HasPrefix(name, "sqlCount") && name != "sqlCountOfAll" // that one counts wrong codes
		if !counts && !strings.HasSuffix(name, "Until") && name != "sqlOverduePlaces" && name != "sqlSpentToOne" {
			continue
		}
		plan := queryPlan(t, s, query)
		inner, _, _ := strings.Cut(plan, "SCAN x")
		errorIf(t, strings.Contains(inner, "SCAN") || strings.Contains(inner, "TEMP B-TREE FOR ORDER BY"),
			"%s reads more than its page:\n%s", name, plan)
		errorIf(t, !strings.Contains(query, "LIMIT") && !strings.Contains(query, "< $2") &&
			!strings.Contains(query, "<= $3") && name != "sqlCountUnlinked", "%s has no limit", name)
	}
}
