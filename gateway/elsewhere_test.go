package gateway_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"rowbell/store"
)

// A call that goes on is left alone by a text; once the network has let it go,
// told or not, the text goes on with it, and there is one dialogue of it only.
func TestCallIsGoneOnWithByText(t *testing.T) {
	for _, c := range []struct {
		name  string
		drop  func(*house, *handset)
		taken bool
	}{
		{"it goes on", func(*house, *handset) {}, false},
		{"a minute's silence", func(h *house, _ *handset) { h.clock.Advance(time.Minute) }, false},
		{"the network tells of its end", func(_ *house, u *handset) { u.call("end", "") }, true},
		{"the network tells nothing", func(h *house, _ *handset) { h.clock.Advance(11 * time.Minute) }, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := withMenu(t)
			u := &handset{h: h, phone: phone, session: "s1"}
			u.dial()
			h.says(u.enter("1", "1"), "When was it planted?")
			c.drop(h, u)
			answer := h.texted("MENU")
			if !c.taken {
				h.says(answer, "What now?")
				h.says(u.enter("1"), "How far apart are the rows?")
				return
			}
			h.says(answer, "You stopped here:", "When was it planted?")
			h.says(h.texted("1"), "When was it planted?")
			h.says(h.texted("1"), "How far apart are the rows?")
			again := &handset{h: h, phone: phone, session: "s2"}
			h.says(again.dial(), "You stopped here:", "How far apart are the rows?")
			h.says(again.enter("1", "2"), "also 25 cm apart?")
			h.says(h.texted("MENU"), "What now?")
		})
	}
}

// Two calls at once with one number, as from two networks: the one that was
// begun last goes on; the other offers what is left and logs nothing by itself.
func TestTwoCallsOfOneNumber(t *testing.T) {
	h := withMenu(t)
	a, b := &handset{h: h, phone: phone, session: "a"}, &handset{h: h, phone: phone, session: "b"}
	a.dial()
	h.says(a.enter("3"), "when did you weed it?")
	h.says(b.dial(), "You stopped here:", "when did you weed it?")
	h.says(b.enter("1", "1"), "How?")
	h.says(a.enter("1"), "You stopped here:", "How?") // not taken for an answer
	h.says(b.enter("1"), "You stopped here:", "How?")
	h.says(b.enter("1", "1", "3"), "Logged:")
	h.write(func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, h.clock.Now().Unix())
		if err != nil {
			return err
		}
		s, err := l.Season(1)
		if err == nil && len(s.Passes) != 1 {
			t.Errorf("%d weedings are logged", len(s.Passes))
		}
		return err
	})
}

// Two phones have nothing of each other.
func TestTwoPhonesStayApart(t *testing.T) {
	h := withMenu(t)
	a, b := &handset{h: h, phone: phone, session: "same"}, &handset{h: h, phone: newPhone, session: "same"}
	a.dial()
	a.enter("3")
	h.hides(b.dial())
	h.says(b.enter("2"), "nothing is kept")
	h.says(a.enter("1"), "How?")
}

// texted sends a text and gives back the answer to it.
func (h *house) texted(body string) string {
	h.t.Helper()
	h.sms(fmt.Sprintf("text-%d", len(h.outbox())), body)
	list := h.outbox()
	if len(list) == 0 {
		h.t.Fatalf("%q is not answered", body)
	}
	latest := list[0]
	for _, m := range list {
		if m.ID > latest.ID {
			latest = m
		}
	}
	return latest.Text
}

// A dialogue that an older version of the program left on the other channel is
// told of once, where it was held, and by no call.
func TestOlderDialogueIsToldOnce(t *testing.T) {
	const told = "The menu is new, so we begin again."
	h := withMenu(t)
	now := h.clock.Now().Unix()
	h.write(func(tx *store.Tx) error {
		return tx.SaveSession(store.Session{Phone: phone, Channel: "sms", State: []byte("\x01" + `{"l":"en","s":"new.rows","t":["home"]}`), SavedAt: now, ExpiresAt: now + 3600})
	})
	for _, session := range []string{"s1", "s2"} {
		u := &handset{h: h, phone: phone, session: session}
		shown := u.dial()
		h.says(shown, "What now?")
		if strings.Contains(shown, told) {
			t.Errorf("the call %s is told\n%s", session, shown)
		}
		u.call("end", "")
	}
	h.says(h.texted("hello"), told, "What now?")
	h.clock.Advance(time.Second)
	if again := h.texted("1"); strings.Contains(again, told) {
		t.Errorf("told again:\n%s", again)
	}
}
