package gateway_test

import (
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// The tests in this file hold dialogues with the real menu, on two channels, in two calls of one phone, or while
// records move to another phone. They check that the menu gets the right stored state and that a call gets the right
// stored reply.

const newPhone = store.Phone("+447700900124")

// realMenu returns the real menu in the given languages; without an argument, in all languages.
func realMenu(t testing.TB, o menu.Options, languages ...string) *menu.Menu {
	t.Helper()
	cat := must(text.Default())
	if len(languages) > 0 {
		cat = must(cat.Only(languages...))
	}
	return must(menu.New(cat, o))
}

// realGateway returns a gateway with the real menu, for the benchmarks and the tests that count statements. They call
// it by the network local with the token of the tests.
func realGateway(t testing.TB, s *store.Store, at clock.Clock, languages ...string) *gateway.Gateway {
	t.Helper()
	local := profile.Default("local")
	local.Token = profile.HashToken(token)
	return must(gateway.New(gateway.Options{
		Store: s, Menu: realMenu(t, menu.Options{}, languages...), Clock: at, Log: zerolog.New(io.Discard),
		Networks: []profile.Profile{local}, Health: gateway.Health{QuietHour: 20},
	}))
}

// withMenu returns a fixture with the real menu, and with one grower who has one plot.
func withMenu(t *testing.T) *fixture {
	t.Helper()
	h := open(t, func(o *gateway.Options) { o.Menu = realMenu(t, menu.Options{}, "en") })
	h.ledger(phone, func(l *store.Ledger) error { return register(l, "wellside", 20) })
	return h
}

// handset is a phone in a USSD session.
type handset struct {
	h       *fixture
	phone   store.Phone
	session string
	step    int
	last    m // the last callback that was sent
}

func (u *handset) dial() string { return u.call("begin", "") }

func (u *handset) enter(entries ...string) (shown string) {
	for _, e := range entries {
		u.step++
		shown = u.call("entry", e)
	}
	return shown
}

func (u *handset) call(event, entry string) string {
	u.last = m{"phone": u.phone.E164(), "session": u.session, "event": event, "entry": entry, "step": u.step}
	return u.again()
}

// again repeats the last callback.
func (u *handset) again() string {
	u.h.t.Helper()
	return u.h.screen(u.h.post("/in/local/ussd", u.last)).Text
}

func (h *fixture) shows(shown string, parts ...string) {
	h.t.Helper()
	for _, p := range parts {
		if !strings.Contains(shown, p) {
			h.t.Fatalf("%q is not in\n%s", p, shown)
		}
	}
}

// hides checks that a screen shows nothing from the records.
func (h *fixture) hides(shown string) {
	h.t.Helper()
	for _, secret := range []string{"wellside", "Plot 1", "What now"} {
		if strings.Contains(shown, secret) {
			h.t.Fatalf("%q is in\n%s", secret, shown)
		}
	}
}

// texted sends a text to the gateway and returns the answer to the text.
func (h *fixture) texted(body string) string {
	h.t.Helper()
	h.sms(fmt.Sprintf("text-%d", len(h.outbox())), body)
	list := h.outbox()
	if len(list) == 0 {
		h.t.Fatalf("%q is not answered", body)
	}
	return list[len(list)-1].Text
}

// After 90 silent days the menu asks whether the grower still has the number. Only the entry for yes answers the
// question; a call that merely shows the question does not.
func TestSilentNumberIsAsked(t *testing.T) {
	h := withMenu(t)
	h.clock.Advance(90 * 24 * time.Hour)
	u := &handset{h: h, phone: phone}
	for _, session := range []string{"a", "b", "c"} {
		u = &handset{h: h, phone: phone, session: session}
		shown := u.dial()
		h.shows(shown, "Is it still the phone")
		h.hides(shown)
		h.hides(u.enter("5", "0", "00"))
		h.clock.Advance(10 * time.Minute)
	}
	h.shows(u.enter("1"), "wellside")
	h.clock.Advance(89 * 24 * time.Hour)
	u = &handset{h: h, phone: phone, session: "d"}
	h.shows(u.dial(), "wellside")
}

// After the entry "not me" the records no longer belong to the number. A repeat of the call with that entry gets the
// same reply again. Repeats of earlier calls no longer show anything from the records.
func TestRepeatsAfterNotMe(t *testing.T) {
	h := withMenu(t)
	h.clock.Advance(90 * 24 * time.Hour)
	u := &handset{h: h, phone: phone, session: "a"}
	u.dial()
	shown := u.enter("2", "1")
	h.shows(shown, "May we keep your number and plots?")
	if again := u.again(); again != shown {
		t.Errorf("the repeat gets\n%s", again)
	}
	for step, entry := range []string{"", "2"} {
		u.last = m{"phone": phone.E164(), "session": "a", "event": "entry", "entry": entry, "step": step}
		h.hides(u.again())
	}
}

var sixDigits = regexp.MustCompile(`\b\d{6}\b`)

// When records move to a new phone by a code, repeats of the old phone's calls show nothing from the records any more.
// The old phone gets one warning, stored without a grower; if the grower has sent STOP, it gets none.
func TestRecordsGoToANewPhone(t *testing.T) {
	for _, stopped := range []bool{false, true} {
		t.Run(fmt.Sprint("stopped ", stopped), func(t *testing.T) {
			h := withMenu(t)
			old := &handset{h: h, phone: phone, session: "old"}
			old.dial()
			code := sixDigits.FindString(old.enter("6", "2", "1"))
			open := &handset{h: h, phone: phone, session: "open"} // this dialogue stays open while the records move
			open.dial()
			h.shows(open.enter("2"), "wellside")
			if stopped {
				h.ledger(phone, (*store.Ledger).Stop)
			}
			fresh := &handset{h: h, phone: newPhone, session: "new"}
			fresh.dial()
			shown := fresh.enter("3", code)
			h.shows(shown, "Your plots are on this number now.")
			if again := fresh.again(); again != shown {
				t.Errorf("the repeat gets\n%s", again)
			}
			home := map[bool]string{false: "wellside", true: "Texts are stopped"}[stopped]
			h.shows(fresh.enter("00"), home, "What now?")
			h.hides(open.again())
			warnings := 0
			for _, m := range h.outbox() {
				h.shows(m.Text, "moved to another phone number", "If it was not you")
				h.hides(m.Text)
				if warnings++; m.To != phone || m.GrowerID != 0 {
					t.Errorf("the warning goes to %v, of grower %d", m.To, m.GrowerID)
				}
			}
			if want := map[bool]int{false: 1, true: 0}[stopped]; warnings != want {
				t.Errorf("%d warnings, want %d", warnings, want)
			}
		})
	}
}

// A text does not disturb an open USSD session. After the session has ended, reported by the network or not, a text
// resumes its dialogue on SMS. The dialogue is then stored for SMS only.
func TestDialogueMovesToSMS(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		drop    func(*fixture, *handset)
		resumed bool
	}{
		{"it goes on", func(*fixture, *handset) {}, false},
		{"a minute's silence", func(h *fixture, _ *handset) { h.clock.Advance(time.Minute) }, false},
		{"the network reports its end", func(_ *fixture, u *handset) { u.call("end", "") }, true},
		{"the network reports nothing", func(h *fixture, _ *handset) { h.clock.Advance(11 * time.Minute) }, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			h := withMenu(t)
			u := &handset{h: h, phone: phone, session: "s1"}
			u.dial()
			h.shows(u.enter("1", "1"), "When was it planted?")
			c.drop(h, u)
			answer := h.texted("MENU")
			if !c.resumed {
				h.shows(answer, "What now?")
				h.shows(u.enter("1"), "Does water stand on the field?")
				return
			}
			h.shows(answer, "You were adding a plot.", "1 go on: When was it planted?")
			h.shows(h.texted("1"), "When was it planted?")
			h.shows(h.texted("1"), "Does water stand on the field?")
			again := &handset{h: h, phone: phone, session: "s2"}
			h.shows(again.dial(), "You were adding a plot.", "1 go on: Does water stand on the field?")
			h.shows(again.enter("1", "1", "25"), "also 25 cm apart?")
			h.shows(h.texted("MENU"), "What now?")
		})
	}
}

// An SMS dialogue that an older version of rowbell stored cannot be resumed. The answer to the next text says so once.
// A USSD call says nothing about it.
func TestDialogueOfAnOlderVersion(t *testing.T) {
	const told = "The menu is new, so we begin again."
	h := withMenu(t)
	now := h.clock.Now().Unix()
	h.write(func(tx *store.Tx) error {
		return tx.SaveSession(store.Session{
			Phone: phone, Channel: "sms", State: []byte("\x01" + `{"l":"en","s":"new.rows","t":["home"]}`),
			SavedAt: now, ExpiresAt: now + 3600,
		})
	})
	for _, session := range []string{"s1", "s2"} {
		u := &handset{h: h, phone: phone, session: session}
		shown := u.dial()
		h.shows(shown, "What now?")
		if strings.Contains(shown, told) {
			t.Errorf("the call %s is told\n%s", session, shown)
		}
		u.call("end", "")
	}
	h.shows(h.texted("hello"), told, "What now?")
	h.clock.Advance(time.Second)
	if again := h.texted("1"); strings.Contains(again, told) {
		t.Errorf("told again:\n%s", again)
	}
}
