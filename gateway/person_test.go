package gateway_test

import (
	"strconv"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/menu"
	"rowbell/store"
)

// The tests in this file check the texts that a callback of one person of a circle sends to another person.

// withKeeper returns a fixture with the real menu, and with a circle whose keeper has the phone newPhone. The grower of
// phone is in no circle.
func withKeeper(t *testing.T) (h *fixture, number string) {
	t.Helper()
	h = open(t, func(o *gateway.Options) { o.Menu = realMenu(t, menu.Options{}, "en") })
	h.clock.Set(morning.Add(6 * time.Hour))
	for _, p := range []store.Phone{phone, newPhone} {
		h.ledger(p, func(l *store.Ledger) error { return register(l, "wellside", 20) })
	}
	h.ledger(newPhone, func(l *store.Ledger) error {
		n, err := l.MakeCircle("Ana", "1")
		number = strconv.Itoa(n)
		return err
	})
	return h, number
}

// inbox returns the texts to a phone.
func (h *fixture) inbox(to store.Phone) (list []store.Message) {
	h.t.Helper()
	h.write(func(tx *store.Tx) (err error) {
		list, err = tx.Inbox(to, 0)
		return err
	})
	return list
}

// prompt reports whether a phone has a prompt.
func (h *fixture) prompt(of store.Phone) (asked bool) {
	h.t.Helper()
	h.write(func(tx *store.Tx) (err error) {
		_, asked, err = tx.Prompt(of)
		return err
	})
	return asked
}

// joins asks to join the circle by dial.
func (h *fixture) joins(session, number string) {
	h.t.Helper()
	u := &handset{h: h, phone: phone, session: session}
	u.dial()
	h.shows(u.enter("5"), "6 ")
	h.shows(u.enter("6"), "2 join one by its number")
	h.shows(u.enter("2", number, "Ben", "1"), "Ana")
}

// A question goes to the other person's phone in the same transaction, and a digit from there answers it. The answer
// goes back to the person who asked.
func TestQuestionToAnotherPerson(t *testing.T) {
	h, number := withKeeper(t)
	h.joins("s1", number)
	got := h.inbox(newPhone)
	if len(got) != 1 || got[0].DueAt != h.clock.Now().Unix() || got[0].GrowerID == 0 || !h.prompt(newPhone) {
		t.Fatalf("%+v, prompt %t", got, h.prompt(newPhone))
	}
	h.shows(got[0].Text, "Ben", "1 yes, 2 no")
	h.clock.Advance(time.Minute)
	h.wants(202, h.post("/in/local/sms", m{"id": "a1", "phone": newPhone.E164(), "text": "1"}))
	answered := h.inbox(phone)
	if len(answered) != 1 {
		t.Fatalf("%d texts to the one who asked", len(answered))
	}
	h.shows(answered[0].Text, "circle "+number)
	h.ledger(phone, func(l *store.Ledger) error {
		c, in, err := l.Circle()
		if !in || len(c.Members) != 2 || !c.Members[1].Joined {
			t.Errorf("%+v", c.Members)
		}
		return err
	})
}

// In quiet hours the text waits until the morning, asks for no digit, and leaves no prompt.
func TestQuestionAtNight(t *testing.T) {
	h, number := withKeeper(t)
	h.clock.Set(morning.Add(15 * time.Hour)) // nine in the evening
	h.joins("s1", number)
	got := h.inbox(newPhone)
	tomorrow := engine.DayOf(h.clock.Now(), time.UTC) + 1
	if len(got) != 1 || h.prompt(newPhone) {
		t.Fatalf("%+v, prompt %t", got, h.prompt(newPhone))
	}
	if at := time.Unix(got[0].DueAt, 0).UTC(); !at.Equal(tomorrow.At(7, time.UTC)) {
		t.Errorf("due at %s", at)
	}
	h.shows(got[0].Text, "Ben", "dial *123#")
}

// A person who wants no texts gets none, and a STOP withdraws one that waits.
func TestQuestionToAStoppedPerson(t *testing.T) {
	h, number := withKeeper(t)
	h.clock.Set(morning.Add(15 * time.Hour))
	h.joins("s1", number)
	h.wants(202, h.post("/in/local/sms", m{"id": "a1", "phone": newPhone.E164(), "text": "STOP"}))
	got := h.inbox(newPhone)
	if len(got) != 2 || got[0].State != store.Withdrawn {
		t.Fatalf("%+v", got)
	}
	h.ledger(phone, (*store.Ledger).LeaveCircle)
	h.joins("s2", number)
	if got := h.inbox(newPhone); len(got) != 2 {
		t.Errorf("after STOP: %+v", got[2:])
	}
}
