package gateway_test

import (
	"encoding/json"
	"errors"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

const newPhone = store.Phone("+447700900124")

// withMenu is a house with the menu itself, and a grower with a plot in it.
func withMenu(t *testing.T) *house {
	t.Helper()
	cat, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	if cat, err = cat.Only("en"); err != nil {
		t.Fatal(err)
	}
	m, err := menu.New(cat, menu.Options{})
	if err != nil {
		t.Fatal(err)
	}
	h := open(t, func(o *gateway.Options) { o.Menu = m })
	h.write(func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, morning.Unix())
		if err != nil {
			return err
		}
		if err := l.Consent("en", "1", "ussd"); err != nil {
			return err
		}
		_, err = l.AddPlot(engine.Plot{Label: "wellside", Method: engine.Transplanted, Planted: engine.DayOf(morning, time.UTC) - 20,
			RowSpacingCM: 25, HillSpacingCM: 25}, engine.Tool{WidthCM: 15})
		return err
	})
	return h
}

func (h *house) write(fn func(*store.Tx) error) {
	h.t.Helper()
	if err := h.store.InTx(h.t.Context(), fn); err != nil {
		h.t.Fatal(err)
	}
}

// handset is one phone's USSD session.
type handset struct {
	h       *house
	phone   store.Phone
	session string
	step    int
	last    m // the callback made last
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
	w := u.h.post("/in/local/ussd", u.last)
	var got struct{ Text string }
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != http.StatusOK {
		u.h.t.Fatalf("%v: %d %s", u.last, w.Code, w.Body)
	}
	return got.Text
}

func (h *house) says(shown string, parts ...string) {
	h.t.Helper()
	for _, p := range parts {
		if !strings.Contains(shown, p) {
			h.t.Fatalf("%q is not in\n%s", p, shown)
		}
	}
}

// hides wants nothing of the records in what is shown.
func (h *house) hides(shown string) {
	h.t.Helper()
	for _, secret := range []string{"wellside", "Plot 1", "What now"} {
		if strings.Contains(shown, secret) {
			h.t.Fatalf("%q is told:\n%s", secret, shown)
		}
	}
}

func (h *house) known(p store.Phone) (plots int, silent bool) {
	h.t.Helper()
	err := h.store.View(h.t.Context(), func(tx *store.Tx) error {
		l, err := tx.Ledger(p, h.clock.Now().Unix())
		if err != nil {
			return err
		}
		nos, err := l.Plots()
		plots, silent = len(nos), l.Silent()
		return err
	})
	if err != nil {
		h.t.Fatal(err)
	}
	return plots, silent
}

func TestSilentNumberIsAsked(t *testing.T) {
	h := withMenu(t)
	h.clock.Advance(90 * 24 * time.Hour)
	u := &handset{h: h, phone: phone, session: "a"}
	shown := u.dial()
	h.says(shown, "Is it still the phone")
	h.hides(shown)
	// That the question was seen is not an answer, however often it is seen.
	for _, session := range []string{"b", "c"} {
		h.clock.Advance(25 * time.Hour)
		u = &handset{h: h, phone: phone, session: session}
		h.hides(u.dial())
		h.hides(u.enter("5", "0", "00"))
	}
	if _, silent := h.known(phone); !silent {
		t.Fatal("to look was enough")
	}
	h.says(u.enter("1"), "wellside")
	h.clock.Advance(89 * 24 * time.Hour)
	v := &handset{h: h, phone: phone, session: "d"}
	h.says(v.dial(), "wellside")
}

// asked puts the question of a missed window to the phone, a minute ago.
func (h *house) asked() {
	h.t.Helper()
	h.write(func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, h.clock.Now().Unix())
		if err != nil {
			return err
		}
		s, err := l.Season(1)
		if err != nil {
			return err
		}
		cat, err := text.Default()
		if err != nil {
			return err
		}
		m, err := menu.New(cat, menu.Options{})
		if err != nil {
			return err
		}
		asked, err := m.Ring("en", menu.Bell{No: 1, Season: s, Reminder: engine.Reminder{Kind: engine.KindMissed, Window: engine.Window{Number: 1}, LastUseful: l.Today() + 3}})
		if err == nil && asked.Prompt == nil {
			err = errors.New("this text asks for nothing")
		}
		return errors.Join(err, tx.SavePrompt(store.Prompt{Phone: phone, Body: asked.Prompt, AskedAt: h.clock.Now().Unix() - 60, Until: h.clock.Now().Unix() + 3600}))
	})
}

// A digit to an old text logs nothing before it is known who sent it.
func TestSilentNumberAnswersAPrompt(t *testing.T) {
	h := withMenu(t)
	h.clock.Advance(90 * 24 * time.Hour)
	h.asked()
	h.sms("1", "1")
	box := h.outbox()
	h.says(box[len(box)-1].Text, "Is it still the phone")
	h.hides(box[len(box)-1].Text)
	passes := func() (n int) {
		err := h.store.View(t.Context(), func(tx *store.Tx) error {
			l, err := tx.Ledger(phone, h.clock.Now().Unix())
			if err != nil {
				return err
			}
			s, err := l.Season(1)
			n = len(s.Passes)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if n := passes(); n != 0 {
		t.Fatalf("%d weedings logged", n)
	}
	h.sms("2", "1")
	box = h.outbox()
	h.says(box[len(box)-1].Text, "What now?")
	if n := passes(); n != 0 {
		t.Errorf("the yes logged %d weedings", n)
	}
}

func TestNotMe(t *testing.T) {
	h := withMenu(t)
	h.clock.Advance(90 * 24 * time.Hour)
	h.write(func(tx *store.Tx) error {
		now := h.clock.Now().Unix()
		_, err := tx.Enqueue(store.Message{Key: "ring", GrowerID: 1, PlotIDs: []int64{1}, To: phone, Reminder: engine.KindOpen, Text: "wellside: weed now",
			CreatedAt: now, DueAt: now, UsefulUntil: now + 86400})
		return err
	})
	u := &handset{h: h, phone: phone, session: "a"}
	u.dial()
	shown := u.enter("2", "1")
	h.says(shown, "May we keep your number and plots?")
	if again := u.again(); again != shown {
		t.Errorf("the repeat is told\n%s", again)
	}
	// Repeats of what came before the unlinking have nothing to tell either.
	for step, entry := range []string{"", "2"} {
		u.last = m{"phone": phone.E164(), "session": "a", "event": "entry", "entry": entry, "step": step}
		h.hides(u.again())
	}
	if box := h.outbox(); len(box) != 0 {
		t.Errorf("texts under the number: %+v", box)
	}
	h.write(func(tx *store.Tx) error {
		due, err := tx.DueGrowers(h.clock.Now().Unix()+1e8, 9)
		if len(due) != 0 {
			t.Errorf("the bell still has %+v", due)
		}
		if claimed, err := tx.Claim(h.clock.Now().Unix(), store.Claimant{Gateway: "local", RoutePrefixes: []string{""}, Max: 9, Lease: time.Minute}); err != nil || len(claimed.Texts) != 0 {
			t.Errorf("still to be sent: %+v, %v", claimed, err)
		}
		list, err2 := tx.Unlinked()
		if len(list) != 1 || list[0].ID != 1 || list[0].Plots != 1 {
			t.Errorf("unlinked %+v", list)
		}
		return errors.Join(err, err2)
	})
}

var sixDigits = regexp.MustCompile(`\b\d{6}\b`)

func TestRecordsGoToANewPhone(t *testing.T) {
	h := withMenu(t)
	old := &handset{h: h, phone: phone, session: "old"}
	old.dial()
	code := sixDigits.FindString(old.enter("6", "6", "1"))
	if code == "" {
		t.Fatal("no code is shown")
	}
	// A dialogue is open on the old phone when the new one types the code.
	busy := &handset{h: h, phone: phone, session: "busy"}
	busy.dial()
	h.says(busy.enter("2"), "wellside")
	h.sms("m", "MENU")

	fresh := &handset{h: h, phone: newPhone, session: "new"}
	fresh.dial()
	shown := fresh.enter("4", code)
	h.says(shown, "Your plots are on this number now.")
	if again := fresh.again(); again != shown {
		t.Errorf("the repeat is told\n%s", again)
	}
	h.says(fresh.enter("00"), "wellside", "What now?")
	// The old phone learns of it, once. The text is no part of the records: it
	// does not move on with them.
	warned := func() (n int) {
		for _, m := range h.outbox() {
			if m.Note == "moved-away" {
				h.says(m.Text, "moved to another phone number", "Was it not you?")
				h.hides(m.Text)
				n++
				if m.To != phone || m.GrowerID != 0 {
					t.Errorf("the warning goes to %v, of grower %d", m.To, m.GrowerID)
				}
			}
		}
		return n
	}
	if n := warned(); n != 1 {
		t.Errorf("%d warnings", n)
	}
	h.write(func(tx *store.Tx) error {
		_, err := tx.Move(1, "+447700900126", h.clock.Now().Unix())
		if err == nil {
			_, err = tx.Move(1, newPhone, h.clock.Now().Unix())
		}
		return err
	})
	if n := warned(); n != 1 {
		t.Errorf("%d warnings after the records moved on", n)
	}
	if n, _ := h.known(newPhone); n != 1 {
		t.Errorf("%d plots on the new number", n)
	}
	h.hides(busy.again()) // its reply went with the records
	if n, _ := h.known(phone); n != 0 {
		t.Errorf("%d plots on the old number", n)
	}
	h.sms("n", "1")
	box := h.outbox()
	h.says(box[len(box)-1].Text, "with another number now", "May we keep your number")
	h.hides(box[len(box)-1].Text)

	again := &handset{h: h, phone: "+447700900125", session: "third"}
	again.dial()
	h.says(again.enter("4", code), "wrong or over 2 hours old")
}

// A phone that said STOP as a stranger keeps it when its owner types a code by
// text, and one that said STOP with the records is not even warned.
func TestCodeUndoesNoStop(t *testing.T) {
	for _, by := range []store.Phone{phone, newPhone} {
		h := withMenu(t)
		old := &handset{h: h, phone: phone, session: "old"}
		old.dial()
		code := sixDigits.FindString(old.enter("6", "6", "1"))
		h.write(func(tx *store.Tx) error {
			l, err := tx.Ledger(by, h.clock.Now().Unix())
			return errors.Join(err, l.Stop())
		})
		fresh := &handset{h: h, phone: newPhone, session: "new"}
		fresh.dial()
		h.says(fresh.enter("4", code), "Your plots are on this number now.", "Texts are stopped.")
		h.says(fresh.enter("00"), "Texts are stopped (6 to start).")
		warned := false
		for _, m := range h.outbox() {
			warned = warned || m.Note == "moved-away"
		}
		if warned != (by == newPhone) {
			t.Errorf("%v stopped, the old phone is warned: %v", by, warned)
		}
		h.write(func(tx *store.Tx) error {
			due, err := tx.DueGrowers(h.clock.Now().Unix()+1e8, 9)
			if len(due) != 0 {
				t.Errorf("the bell rings %+v", due)
			}
			return err
		})
	}
}

// A question that the bell put to the old phone is answered on the new one.
func TestPromptGoesToANewPhone(t *testing.T) {
	h := withMenu(t)
	h.asked()
	old := &handset{h: h, phone: phone, session: "old"}
	old.dial()
	code := sixDigits.FindString(old.enter("6", "6", "1"))
	fresh := &handset{h: h, phone: newPhone, session: "new"}
	fresh.dial()
	h.says(fresh.enter("4", code), "Your plots are on this number now.")
	h.post("/in/local/sms", m{"id": "a", "phone": newPhone.E164(), "to": "12345", "text": "1"})
	h.write(func(tx *store.Tx) error {
		box, err := tx.Inbox(newPhone, 0)
		if err == nil && len(box) == 0 {
			err = errors.New("no answer")
		}
		if err == nil {
			if last := box[len(box)-1].Text; !strings.Contains(last, "wellside") || !strings.Contains(last, "logged") {
				t.Errorf("answered %q", last)
			}
		}
		return err
	})
}

// The next entry, and no repeat before it, is told kindly.
func TestOldPhoneIsTold(t *testing.T) {
	h := withMenu(t)
	busy := &handset{h: h, phone: phone, session: "busy"}
	busy.dial()
	busy.enter("2")
	h.write(func(tx *store.Tx) error {
		_, err := tx.Move(1, newPhone, h.clock.Now().Unix())
		return err
	})
	shown := busy.enter("1")
	h.says(shown, "with another number now", "May we keep your number")
	h.hides(shown)
	if n, _ := h.known(phone); n != 0 {
		t.Error("the entry was taken for a consent")
	}
}

// Five wrong codes, and the right one is not listened to until tomorrow, on
// whatever channel and in however many sessions they were typed.
func TestWrongCodesAreCounted(t *testing.T) {
	h := withMenu(t)
	old := &handset{h: h, phone: phone, session: "old"}
	old.dial()
	code := sixDigits.FindString(old.enter("6", "6", "1"))
	wrong := "111111"
	if code == wrong {
		wrong = "222222"
	}
	for i := range 5 {
		u := &handset{h: h, phone: newPhone, session: "try" + string(rune('a'+i))}
		u.dial()
		u.enter("4", wrong)
		u.again() // a repeat is not another try
	}
	u := &handset{h: h, phone: newPhone, session: "last"}
	u.dial()
	h.says(u.enter("4", code), "Try again tomorrow.")
	if n, _ := h.known(newPhone); n != 0 {
		t.Error("the records went to who guessed")
	}
}
