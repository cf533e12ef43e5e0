package store

import (
	"errors"
	"fmt"
	"testing"
)

func prune(t *testing.T, s *Store, at int64) Pruned {
	t.Helper()
	p, err := s.Prune(ctx, at)
	ok(t, err)
	return p
}

// A plot that was closed longer ago than the retention period is deleted with its passes and the texts about it. The
// grower and the learned weed rate of the place stay.
func TestPruneSeasons(t *testing.T) {
	k := DefaultRetention()
	k.Seasons, k.Texts, k.Growers = 400, 3660, 0
	s := openNew(t, Options{Retention: &k})
	withTwoPlots(t, s, ana)
	for i, key := range []string{"old", "young"} {
		m := text(key, ana, noon)
		m.GrowerID, m.PlotIDs = 1, []int64{int64(i + 1)}
		enqueue(t, s, m)
	}
	for _, m := range claim(t, s, noon) {
		settle(t, s, noon, m.Took(""))
	}
	execSQL(t, s, "UPDATE place SET weed_rate = 1.2, learned_n = 9")
	ledger(t, s, ana, noon, func(l *Ledger) error {
		return errors.Join(l.LogPass(1, aPass), l.LogPass(2, aPass), l.ClosePlot(1))
	})
	equal(t, prune(t, s, noon+400*day).Seasons, 0, "seasons pruned a day too early")
	p := prune(t, s, noon+401*day)
	errorIf(t, p.Seasons != 1 || p.Growers != 0, "pruned %+v, want one season", p)
	wantRows(t, s, map[string]int64{"plot": 1, "pass": 1, "message": 1, "message WHERE key = 'young'": 1,
		"grower": 1, "consent": 1, "place WHERE weed_rate = 1.2 AND learned_n = 9": 1})
	intact(t, s)
}

// Growers who were not heard of for the retention period are deleted with all their records. A stored STOP must stay,
// and no STOP must be added.
func TestPruneGrowers(t *testing.T) {
	k := DefaultRetention()
	k.Growers = 500
	s := openNew(t, Options{Retention: &k})
	const carl, dora, emma Phone = "+447700900003", "+447700900004", "+447700900005"
	for _, p := range []Phone{ana, ben, carl, dora, emma} {
		withPlot(t, s, p)
		enqueue(t, s, text("to "+string(p[10:]), p, noon))
	}
	ledger(t, s, ben, noon, (*Ledger).Stop)
	ledger(t, s, carl, noon, (*Ledger).Unlink)
	ledger(t, s, dora, noon+day, (*Ledger).Visit) // dora used the phone a day later than the others
	// This plot was planted after its grower was last heard of. Its season may not be over, so the grower is not
	// deleted.
	ledger(t, s, emma, noon, func(l *Ledger) error {
		p := aPlot()
		p.Planted = day0 + 3
		return l.ChangePlot(1, p, aTool())
	})
	equal(t, prune(t, s, noon+500*day).Growers, 0, "growers pruned a day too early")
	equal(t, prune(t, s, noon+500*day+1).Growers, 3, "growers pruned")
	wantRows(t, s, map[string]int64{"grower": 2, "plot": 2, "consent": 2, "opt_out": 1})
	wantNumber(t, s, 0, "SELECT count(*) FROM message WHERE phone NOT IN ($1, $2)", dora.E164(), emma.E164())
	for p, want := range map[Phone]bool{ana: false, ben: true} {
		equal(t, stopped(t, s, p), want, "%v: stopped", p)
	}
	equal(t, prune(t, s, noon+600*day).Growers, 2, "growers pruned later: the others")
}

// A wrong clock gave the text "ahead" a date in the future and the lowest id. The older text must still be pruned.
func TestPruneBehindATextOfTheFuture(t *testing.T) {
	s := openWithPlot(t, ana)
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
	const many = 20*pruneStep + 7
	write(t, s, func(tx *Tx) error {
		err := tx.StoreReply("local", "new", "", nil, noon-CallbackRetention)
		for i := range many {
			old := tx.StoreReply("local", fmt.Sprint("old", i), "", nil, noon-CallbackRetention-1)
			err = errors.Join(err, old)
		}
		for i, p := range []Phone{ana, ben} {
			until := noon - 1 + int64(i) // ana's session has expired, ben's has not
			err = errors.Join(err, tx.SaveSession(Session{Phone: p, Channel: "ussd", ExpiresAt: until}),
				tx.SavePrompt(Prompt{Phone: p, Until: until - PromptRetention}))
		}
		return err
	})
	for _, want := range []Pruned{{Callbacks: many, Sessions: 1, Prompts: 1}, {}} {
		equal(t, prune(t, s, noon), want, "pruned")
	}
	of := " WHERE phone = '" + ben.E164() + "'"
	wantRows(t, s, map[string]int64{"callback WHERE key = 'new'": 1, "session" + of: 1, "prompt" + of: 1})
}

// Sessions are looked at in pages in the order of their keys; a page may end between the two sessions of a phone.
func TestPruneSessionsOfManyPages(t *testing.T) {
	s := open(t)
	const phones = pruneList + 1
	write(t, s, func(tx *Tx) (err error) {
		for i := range phones {
			for j, channel := range []string{"sms", "ussd"} {
				if i == 0 && channel == "sms" {
					continue // so that a page of an even size ends with the first session of a phone
				}
				x := Session{Phone: phoneOf(i), Channel: channel}
				x.ExpiresAt = noon - int64((i+j)%2) // one of the two sessions of each phone has expired
				err = errors.Join(err, tx.SaveSession(x))
			}
		}
		return err
	})
	for _, want := range []Pruned{{Sessions: phones}, {}} {
		equal(t, prune(t, s, noon), want, "pruned")
	}
	wantRows(t, s, map[string]int64{"session": phones - 1})
}

// Growers are looked at in ranges of their ids, which may have gaps.
func TestPruneGrowersOfManyRanges(t *testing.T) {
	sqliteOnly(t) // the ids are set by hand
	s := openWithPlot(t, ana)
	for i, p := range []Phone{ben, phoneOf(1), phoneOf(2)} {
		execSQL(t, s, "UPDATE sqlite_sequence SET seq = $1 WHERE name = 'grower'", (i+1)*pruneWalk-1)
		withPlot(t, s, p)
	}
	equal(t, prune(t, s, noon+days(DefaultRetention().Growers)+1).Growers, 4, "growers pruned")
	wantRows(t, s, map[string]int64{"grower": 0})
}

// Texts to phones without records are stored for a week. Texts to growers are stored until the next season has
// begun. Texts that may still be sent are never pruned.
func TestPruneMessages(t *testing.T) {
	s := openWithPlot(t, ana)
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
		{"loose", ben, 0, loose, true}, {"loose, waits", ben, 0, loose, false},
		{"loose, of this week", ben, 0, loose + 1, true},
	} {
		msg := text(m.key, m.to, m.at)
		msg.GrowerID, msg.UsefulUntil = m.grower, noon+1
		ids[m.key] = enqueue(t, s, msg)
		if m.end {
			execSQL(t, s, "UPDATE message SET state = 'withdrawn', claim_at = NULL, ended_at = 1 WHERE key = $1", m.key)
		}
	}
	for _, want := range []int64{2, 0} {
		equal(t, prune(t, s, noon).Messages, want, "texts pruned")
	}
	for key, id := range ids {
		want := int64(1)
		if key == "old" || key == "loose" {
			want = 0
		}
		wantNumber(t, s, want, "SELECT count(*) FROM message WHERE id = $1", id)
	}
	// If all texts are old, all of them are pruned.
	equal(t, prune(t, s, noon+2*TextRetention).Messages, 2, "texts pruned")
}
