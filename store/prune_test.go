package store

import (
	"context"
	"fmt"
	"testing"

	"rowbell/engine"
)

func prune(t *testing.T, s *Store, at int64) Pruned {
	t.Helper()
	p, err := s.Prune(context.Background(), at)
	ok(t, err)
	return p
}

// A closed plot is deleted with its passes and the texts about it, and nothing else; its grower and
// what the place learned stay.
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
	wantRows(t, s, map[string]int64{"plot": 1, "pass": 1, "message": 1, "message WHERE key = 'young'": 1,
		"grower": 1, "consent": 1,
		"place WHERE weed_rate = 1.2 AND learned_n = 9": 1})
	intact(t, s)
}

// Silent growers are deleted with everything, with or without a number. Whether the number wants texts
// does not change.
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
	ledger(t, s, dora, noon+day, (*Ledger).Visit) // heard of a day later
	// planted after this number was last heard of: the season is not over
	ledger(t, s, emma, noon, func(l *Ledger) error {
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
	wantRows(t, s, map[string]int64{"grower": 2, "plot": 2, "consent": 2, "opt_out": 1})
	wantNumber(t, s, 0, "SELECT count(*) FROM message WHERE phone NOT IN ($1, $2)", dora.E164(), emma.E164())
	for p, want := range map[Phone]bool{ana: false, ben: true} {
		equal(t, stopped(t, s, p), want, "%v: stopped", p)
	}
	if p := prune(t, s, noon+600*day); p.Growers != 2 {
		t.Errorf("later: %+v, want the others", p)
	}
}

// A text with a date in the future (a clock that was ahead) does not protect older texts from being
// pruned.
func TestPruneBehindATextOfTheFuture(t *testing.T) {
	s := openKeeping(t, DefaultRetention())
	withPlot(t, s, ana)
	enqueue(t, s, text("ahead", ana, noon+3000*day))
	enqueue(t, s, text("old", ana, noon))
	execSQL(t, s, `UPDATE message SET state = 'withdrawn', claim_at = NULL, ended_at = 1,
		grower_id = (SELECT id FROM grower)`)
	prune(t, s, noon+401*day)
	wantNumber(t, s, 0, "SELECT count(*) FROM message WHERE key = 'old'")
	wantNumber(t, s, 1, "SELECT count(*) FROM message")
}

func TestPrune(t *testing.T) {
	s := open(t)
	const many = 2*pruneBatch + 7
	write(t, s, func(tx *Tx) error {
		for i := range many {
			if err := tx.StoreReply("local", fmt.Sprint("old", i), "", nil, noon-CallbackRetention-1); err != nil {
				return err
			}
		}
		for i, p := range []Phone{ana, ben} {
			until := noon - 1 + int64(i) // ana's is old enough, ben's is not
			if err := tx.SaveSession(Session{Phone: p, Channel: "ussd", ExpiresAt: until}); err != nil {
				return err
			}
			if err := tx.SavePrompt(Prompt{Phone: p, Until: until - PromptRetention}); err != nil {
				return err
			}
		}
		return tx.StoreReply("local", "new", "", nil, noon-CallbackRetention)
	})
	for _, want := range []Pruned{{Callbacks: many, Sessions: 1, Prompts: 1}, {}} {
		got, err := s.Prune(context.Background(), noon)
		errorIf(t, got != want || err != nil, "pruned %+v (%v), want %+v", got, err, want)
	}
	if n := number(t, s, `SELECT (SELECT count(*) FROM callback WHERE key = 'new') * 100
		+ (SELECT count(*) FROM session WHERE phone = $1) * 10 + (SELECT count(*) FROM prompt
			WHERE phone = $1)`, ben.E164()); n != 111 {
		t.Errorf("what was still good is gone: %d", n)
	}
}

// Texts to phones without records are stored for a week, texts to growers past the next season. Texts
// that may still be sent are never pruned.
func TestPruneMessages(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	old, loose := noon-TextRetention-1, noon-LooseTextRetention-1
	ids := map[string]int64{}
	for _, m := range []struct {
		key    string
		to     Phone
		grower int64
		at     int64
		end    bool
	}{
		{"old", ana, 1, old, true}, {"old, waits", ana, 1, old, false},
		{"a year", ana, 1, old + 1, true},
		{"loose", ben, 0, loose, true}, {"loose, waits", ben, 0, loose, false}, {"loose, of this week", ben, 0,
			loose + 1, true},
	} {
		msg := text(m.key, m.to, m.at)
		msg.GrowerID, msg.UsefulUntil = m.grower, noon+1
		ids[m.key] = enqueue(t, s, msg)
		if !m.end {
			continue
		}
		list := claim(t, s, m.at)
		took := list[len(list)-1]
		fatalIf(t, took.ID != ids[m.key], "claimed %s for %s", took.Key, m.key)
		settle(t, s, m.at, took.Took(""))
	}
	for _, want := range []int64{2, 0} {
		if got, err := s.Prune(context.Background(), noon); got.Messages != want || err != nil {
			t.Errorf("pruned %+v (%v), want %d texts", got, err, want)
		}
	}
	for key, id := range ids {
		want := int64(1)
		if key == "old" || key == "loose" {
			want = 0
		}
		wantNumber(t, s, want, "SELECT count(*) FROM message WHERE id = $1", id)
	}
	// All are old: no young one ends the search.
	if got, err := s.Prune(context.Background(), noon+2*TextRetention); got.Messages != 2 || err != nil {
		t.Errorf("pruned %+v (%v), want 2 texts", got, err)
	}
}
