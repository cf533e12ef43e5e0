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
		gateway, key, reply, want string
		seen                      bool
	}{
		{"local", "a", "one", "", false},
		{"local", "a", "two", "one", true},
		{"local", "b", "", "", false},
		{"local", "b", "x", "", true},
		{"other", "a", "three", "", false},
		{"other", "a", "four", "three", true},
	} {
		write(t, s, func(tx *Tx) error {
			got, seen, err := tx.Seen(c.gateway, c.key)
			if seen != c.seen || string(got) != c.want || err != nil {
				t.Errorf("%d: %q, %v, %v", i, got, seen, err)
			}
			var reply []byte // an empty reply may come as nil
			if c.reply != "" {
				reply = []byte(c.reply)
			}
			return tx.Remember(c.gateway, c.key, reply, noon)
		})
	}
}

func TestPrune(t *testing.T) {
	s := open(t)
	const many = 2*pruneBatch + 7
	write(t, s, func(tx *Tx) error {
		for i := range many {
			if err := tx.Remember("local", fmt.Sprint("old", i), nil, noon-KeepCallbacks-1); err != nil {
				return err
			}
		}
		for i, p := range []Phone{ana, ben} {
			until := noon - 1 + int64(i) // ana's has been over long enough, ben's has not
			if err := tx.SaveSession(Session{Phone: p, Channel: "ussd", ExpiresAt: until}); err != nil {
				return err
			}
			if err := tx.SavePrompt(Prompt{Phone: p, Until: until - KeepPrompts}); err != nil {
				return err
			}
		}
		return tx.Remember("local", "new", nil, noon-KeepCallbacks)
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

func TestStats(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	withPlot(t, s, ben)
	keep(t, s, ben, noon, (*Ledger).Stop)
	enqueue(t, s, text("a", ana, noon))
	claim(t, s, noon)
	enqueue(t, s, text("b", ana, noon))
	enqueue(t, s, text("c", ana, noon))
	write(t, s, func(tx *Tx) error {
		for i, p := range []Phone{ana, ben} {
			if err := tx.SaveSession(Session{Phone: p, Channel: "ussd", ExpiresAt: noon - 1 + int64(i)}); err != nil {
				return err
			}
		}
		got, err := tx.Stats(noon)
		want := Stats{Growers: 2, Stopped: 1, OpenPlots: 2, DuePlots: 1, Sessions: 1, Outbox: map[State]int64{Queued: 2, Claimed: 1}}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("stats %+v, want %+v", got, want)
		}
		return err
	})
}

func TestIntegrityCheck(t *testing.T) {
	s := open(t)
	withPlot(t, s, ana)
	if err := s.IntegrityCheck(context.Background()); err != nil {
		t.Error(err)
	}
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
