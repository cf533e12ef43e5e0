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
			errorIf(t, !ok || !reflect.DeepEqual(got, p), "prompt %+v, want %+v", got, p)
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
