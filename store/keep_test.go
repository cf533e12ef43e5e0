package store

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"rowbell/engine"
)

// openKeeping opens records that are kept as long as k says.
func openKeeping(t *testing.T, k Retention) *Store {
	t.Helper()
	s, err := Open(context.Background(), filepath.Join(t.TempDir(), "rowbell.db"), Options{Retention: &k})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func prune(t *testing.T, s *Store, at int64) Pruned {
	t.Helper()
	p, err := s.Prune(context.Background(), at)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A closed plot goes with its passes and the texts about it, and no other; its
// grower and what the place learned stay.
func TestPruneSeasons(t *testing.T) {
	k := DefaultRetention()
	k.Seasons, k.Texts, k.Growers = 400, 3660, 0
	s := openKeeping(t, k)
	withPlot(t, s, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error { return second(l.AddPlot(aPlot(), aTool())) })
	old, young := text("old", ana, noon), text("young", ana, noon)
	ledger(t, s, ana, noon, func(l *Ledger) error {
		for i, m := range []*Message{&old, &young} {
			id, err := l.PlotID(i + 1)
			if err != nil {
				return err
			}
			m.GrowerID, m.PlotIDs = l.GrowerID(), []int64{id}
		}
		return nil
	})
	enqueue(t, s, old)
	enqueue(t, s, young)
	for _, m := range claim(t, s, noon) {
		settle(t, s, noon, m.Took(""))
	}
	execSQL(t, s, "UPDATE place SET weed_rate = 1.2, learned_n = 9")
	ledger(t, s, ana, noon, func(l *Ledger) error {
		for no := 1; no <= 2; no++ {
			if err := l.LogPass(no, engine.Pass{On: day0, With: engine.ByTool}); err != nil {
				return err
			}
		}
		return l.ClosePlot(1)
	})
	if p := prune(t, s, noon+400*day); p.Seasons != 0 {
		t.Errorf("a day too early: %+v", p)
	}
	if p := prune(t, s, noon+401*day); p.Seasons != 1 || p.Growers != 0 {
		t.Errorf("pruned %+v, want one season", p)
	}
	for query, want := range map[string]int64{"plot": 1, "pass": 1, "message": 1, "message WHERE key = 'young'": 1, "grower": 1, "consent": 1,
		"place WHERE weed_rate = 1.2 AND learned_n = 9": 1} {
		wantNumber(t, s, want, "SELECT count(*) FROM "+query)
	}
	intact(t, s)
}

// Growers nobody heard of go with all that they have, linked or not. Whether
// their number wants texts is as it was before.
func TestPruneGrowers(t *testing.T) {
	k := DefaultRetention()
	k.Growers = 500
	s := openKeeping(t, k)
	const carl, dora, emma Phone = "+447700900003", "+447700900004", "+447700900005"
	for _, p := range []Phone{ana, ben, carl, dora, emma} {
		withPlot(t, s, p)
		enqueue(t, s, text("to "+string(p[10:]), p, noon))
	}
	ledger(t, s, ben, noon, (*Ledger).Stop)
	ledger(t, s, carl, noon, (*Ledger).Unlink)
	ledger(t, s, dora, noon+day, (*Ledger).Visit)    // heard of a day later
	ledger(t, s, emma, noon, func(l *Ledger) error { // planted later than this number was heard of: it is not over
		p := aPlot()
		p.Planted = day0 + 3
		return l.ChangePlot(1, p, aTool())
	})
	if p := prune(t, s, noon+500*day); p.Growers != 0 {
		t.Errorf("a day too early: %+v", p)
	}
	if p := prune(t, s, noon+500*day+1); p.Growers != 3 {
		t.Errorf("pruned %+v, want three growers", p)
	}
	for table, want := range map[string]int64{"grower": 2, "plot": 2, "consent": 2, "opt_out": 1} {
		wantNumber(t, s, want, "SELECT count(*) FROM "+table)
	}
	wantNumber(t, s, 0, "SELECT count(*) FROM message WHERE phone NOT IN ($1, $2)", dora.E164(), emma.E164())
	for p, want := range map[Phone]bool{ana: false, ben: true} {
		if got := read(t, s, p, noon, func(l *Ledger) (bool, error) { return l.Stopped(), nil }); got != want {
			t.Errorf("%v: stopped %v", p, got)
		}
	}
	if p := prune(t, s, noon+600*day); p.Growers != 2 {
		t.Errorf("later: %+v, want the others", p)
	}
}

func TestKeptForEver(t *testing.T) {
	k := DefaultRetention()
	k.Seasons, k.Growers = 0, 0
	s := openKeeping(t, k)
	withPlot(t, s, ana)
	ledger(t, s, ana, noon, func(l *Ledger) error { return l.ClosePlot(1) })
	if p := prune(t, s, noon+100_000*day); p != (Pruned{}) {
		t.Errorf("pruned %+v", p)
	}
}

func TestKeepValidate(t *testing.T) {
	if err := DefaultRetention().Validate(); err != nil {
		t.Error(err)
	}
	for _, c := range []struct {
		set  func(*Retention)
		says string
	}{
		{func(k *Retention) { k.Callbacks = 0 }, "callbacks_days: 0 is not from 1 to 7 days"},
		{func(k *Retention) { k.Callbacks = 8 }, "callbacks_days: 8"},
		{func(k *Retention) { k.LooseTexts = 31 }, "loose_texts_days: 31"},
		{func(k *Retention) { k.Texts = 13 }, "texts_days: 13"},
		{func(k *Retention) { k.Texts = 0 }, "texts_days: 0"},
		{func(k *Retention) { k.Seasons = -1 }, "seasons_days: -1 is not from 366 to 36600 days, or 0 for ever"},
		{func(k *Retention) { k.Growers = 365 }, "growers_days: 365"},
		{func(k *Retention) { k.Seasons, k.Growers = 0, 0 }, ""},
	} {
		k := DefaultRetention()
		c.set(&k)
		err := k.Validate()
		if (err == nil) != (c.says == "") || err != nil && !strings.HasPrefix(err.Error(), c.says) {
			t.Errorf("%+v: %v, want %q", k, err, c.says)
		}
	}
}

// Every kind that can be set is listed with what is set.
func TestKindsOfWhatIsKept(t *testing.T) {
	k := Retention{Callbacks: 1, LooseTexts: 2, Texts: 30, Seasons: 0, Growers: 500}
	got := map[string]RetentionKind{}
	for _, kept := range k.Kinds() {
		if kept.What == "" || kept.Days == 0 && kept.Until == "" {
			t.Errorf("%+v says too little", kept)
		}
		if kept.Name != "" {
			got[kept.Name] = kept
		}
	}
	for _, b := range k.bounds() {
		if kept, ok := got[b.name]; !ok || kept.Days != b.days || (b.days == 0) != (kept.Until == "for ever") {
			t.Errorf("%s: %+v", b.name, kept)
		}
	}
}

// A text that was written while the clock was ahead lies before older ones:
// they go all the same.
func TestPruneBehindATextOfTheFuture(t *testing.T) {
	s := openKeeping(t, DefaultRetention())
	withPlot(t, s, ana)
	enqueue(t, s, text("ahead", ana, noon+3000*day))
	enqueue(t, s, text("old", ana, noon))
	execSQL(t, s, "UPDATE message SET state = 'withdrawn', claim_at = NULL, ended_at = 1, grower_id = (SELECT id FROM grower)")
	prune(t, s, noon+401*day)
	wantNumber(t, s, 0, "SELECT count(*) FROM message WHERE key = 'old'")
	wantNumber(t, s, 1, "SELECT count(*) FROM message")
}
