package store

import (
	"reflect"
	"testing"
)

func TestSessions(t *testing.T) {
	s := open(t)
	one := Session{Phone: ana, Channel: "ussd", Network: "n-1", State: []byte{1, 0, 255}, SavedAt: noon,
		ExpiresAt: noon + 600}
	two := Session{Phone: ana, Channel: "sms", State: []byte{}, SavedAt: noon, ExpiresAt: noon + 86400}
	next := one
	next.Network, next.State, next.SavedAt = "n-2", []byte("later"), noon+5
	want := func(want *Session, channel, when string) {
		t.Helper()
		got, there := lookUp(t, s, func(tx *Tx) (Session, bool, error) { return tx.Session(ana, channel) })
		equal(t, there, want != nil, "%s: a session on %s", when, channel)
		if want != nil {
			equal(t, got, *want, "%s: session on %s", when, channel)
		}
	}
	want(nil, "ussd", "before there is one")
	for _, c := range []struct{ save, ussd Session }{{one, one}, {two, one}, {next, next}} {
		write(t, s, func(tx *Tx) error { return tx.SaveSession(c.save) })
		want(&c.ussd, "ussd", "saved")
	}
	for range 2 { // the second time, there is nothing to delete
		write(t, s, func(tx *Tx) error { return tx.DropSession(ana, "ussd") })
	}
	want(nil, "ussd", "dropped")
	want(&two, "sms", "dropped on the other channel")
}

func TestPrompts(t *testing.T) {
	s := open(t)
	one := Prompt{Phone: ana, Body: []byte("window 1"), AskedAt: noon, Until: noon + 60}
	two := Prompt{Phone: ana, Body: []byte{}, AskedAt: noon + 1, Until: noon + 70}
	for _, p := range []*Prompt{&one, &two, nil} {
		write(t, s, func(tx *Tx) error {
			if p == nil {
				return tx.DropPrompt(ana)
			}
			return tx.SavePrompt(*p)
		})
		got, there := lookUp(t, s, func(tx *Tx) (Prompt, bool, error) { return tx.Prompt(ana) })
		errorIf(t, there != (p != nil) || there && !reflect.DeepEqual(got, *p), "prompt %+v, want %+v", got, p)
	}
}
