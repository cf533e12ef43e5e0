package store

import (
	"context"
	"fmt"
	"reflect"
	"testing"
)

func TestSessions(t *testing.T) {
	s := open(t)
	one := Session{Phone: ana, Channel: "ussd", Network: "n-1", State: []byte{1, 0, 255}, SavedAt: noon, ExpiresAt: noon + 600}
	two := Session{Phone: ana, Channel: "sms", State: []byte{}, SavedAt: noon, ExpiresAt: noon + 86400}
	next := one
	next.Network, next.State, next.SavedAt = "n-2", []byte("later"), noon+5
	get := func(channel string) (Session, bool) {
		var got Session
		var ok bool
		write(t, s, func(tx *Tx) (err error) { got, ok, err = tx.Session(ana, channel); return err })
		return got, ok
	}
	if _, ok := get("ussd"); ok {
		t.Error("a session before there is one")
	}
	for _, c := range []struct{ save, ussd Session }{{one, one}, {two, one}, {next, next}} {
		write(t, s, func(tx *Tx) error { return tx.SaveSession(c.save) })
		if got, ok := get("ussd"); !ok || !reflect.DeepEqual(got, c.ussd) {
			t.Errorf("session %+v, want %+v", got, c.ussd)
		}
	}
	write(t, s, func(tx *Tx) error { return tx.DropSession(ana, "ussd") })
	write(t, s, func(tx *Tx) error { return tx.DropSession(ana, "ussd") })
	if _, ok := get("ussd"); ok {
		t.Error("a dropped session is still there")
	}
	if got, ok := get("sms"); !ok || !reflect.DeepEqual(got, two) {
		t.Errorf("the other channel's session: %+v", got)
	}
}

func TestPrompts(t *testing.T) {
	s := open(t)
	one := Prompt{Phone: ana, Body: []byte("window 1"), AskedAt: noon, Until: noon + 60}
	two := Prompt{Phone: ana, Body: []byte{}, AskedAt: noon + 1, Until: noon + 70}
	for _, p := range []Prompt{one, two} {
		write(t, s, func(tx *Tx) error {
			if err := tx.SavePrompt(p); err != nil {
				return err
			}
			got, ok, err := tx.Prompt(ana)
			if !ok || !reflect.DeepEqual(got, p) {
				t.Errorf("prompt %+v, want %+v", got, p)
			}
			return err
		})
	}
	write(t, s, func(tx *Tx) error { return tx.DropPrompt(ana) })
	write(t, s, func(tx *Tx) error {
		if _, ok, err := tx.Prompt(ana); ok || err != nil {
			t.Errorf("after DropPrompt: %v, %v", ok, err)
		}
		return nil
	})
}

func TestRepeatsGetTheFirstReply(t *testing.T) {
	s := open(t)
	for i, c := range []struct {
		at                        int64
		gateway, key, reply, want string
		seen                      bool
	}{
		{0, "local", "a", "one", "", false},
		{0, "local", "a", "", "one", true},
		{0, "local", "b", "", "", false},
		{0, "local", "b", "", "", true},
		{0, "other", "a", "three", "", false},
		{0, "other", "a", "", "three", true},
		{60, "local", "a", "", "one", true},
		{61, "local", "a", "anew", "", false}, // too old to be a repeat
		{121, "local", "a", "", "anew", true},
	} {
		write(t, s, func(tx *Tx) error {
			got, seen, err := tx.StoredReply(c.gateway, c.key, noon+c.at-60)
			if seen != c.seen || string(got) != c.want || err != nil {
				t.Errorf("%d: %q, %v, %v", i, got, seen, err)
			}
			if seen {
				return nil
			}
			var reply []byte // an empty reply may come as nil
			if c.reply != "" {
				reply = []byte(c.reply)
			}
			return tx.StoreReply(c.gateway, c.key, ana, reply, noon+c.at)
		})
	}
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
			until := noon - 1 + int64(i) // ana's has been over long enough, ben's has not
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
		if got != want || err != nil {
			t.Errorf("pruned %+v (%v), want %+v", got, err, want)
		}
	}
	if n := number(t, s, `SELECT (SELECT count(*) FROM callback WHERE key = 'new') * 100
		+ (SELECT count(*) FROM session WHERE phone = $1) * 10 + (SELECT count(*) FROM prompt WHERE phone = $1)`, ben.E164()); n != 111 {
		t.Errorf("what was still good is gone: %d", n)
	}
}

// Texts of phones without records are kept a week, those of growers past the
// next season, and what may still be sent is never pruned.
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
		{"loose", ben, 0, loose, true}, {"loose, waits", ben, 0, loose, false}, {"loose, of this week", ben, 0, loose + 1, true},
	} {
		msg := text(m.key, m.to, m.at)
		msg.GrowerID, msg.UsefulUntil = m.grower, noon+1
		ids[m.key] = enqueue(t, s, msg)
		if !m.end {
			continue
		}
		list := claim(t, s, m.at)
		took := list[len(list)-1]
		if took.ID != ids[m.key] {
			t.Fatalf("claimed %s for %s", took.Key, m.key)
		}
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
	// All are old: there is no young one that ends the search.
	if got, err := s.Prune(context.Background(), noon+2*TextRetention); got.Messages != 2 || err != nil {
		t.Errorf("pruned %+v (%v), want 2 texts", got, err)
	}
}

func TestStats(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	ledger(t, s, ben, noon, (*Ledger).Stop)
	enqueue(t, s, text("a", ana, noon))
	claim(t, s, noon)
	enqueue(t, s, text("b", ana, noon))
	enqueue(t, s, text("c", ana, noon-60))
	write(t, s, func(tx *Tx) error {
		for i, p := range []Phone{ana, ben} {
			if err := tx.SaveSession(Session{Phone: p, Channel: "ussd", ExpiresAt: noon - 1 + int64(i)}); err != nil {
				return err
			}
		}
		got, err := tx.Stats(noon)
		want := Stats{Growers: 2, Stopped: 1, OpenPlots: 2, DuePlots: 1, Sessions: 1, Outbox: map[State]int64{Queued: 2, Claimed: 1},
			Oldest: map[State]int64{Queued: noon - 60, Claimed: noon}}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("stats %+v, want %+v", got, want)
		}
		return err
	})
}

func TestIntegrityCheck(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	intact(t, s)
	other := openPool(s.path, "_foreign_keys=0", hardening, 1)
	defer other.Close()
	if _, err := other.Exec("DELETE FROM grower"); err != nil {
		t.Fatal(err)
	}
	if err := s.IntegrityCheck(context.Background()); err == nil {
		t.Error("a plot without its grower was not found")
	}
}

func TestTokenHashes(t *testing.T) {
	s := open(t)
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("one")) })
	write(t, s, func(tx *Tx) error { return tx.SetTokenHash("local", []byte("two")) })
	write(t, s, func(tx *Tx) error {
		if h, ok, err := tx.TokenHash("local"); string(h) != "two" || !ok || err != nil {
			t.Errorf("hash %s, %v, %v", h, ok, err)
		}
		if _, ok, err := tx.TokenHash("other"); ok || err != nil {
			t.Errorf("another gateway's hash: %v, %v", ok, err)
		}
		return nil
	})
}
