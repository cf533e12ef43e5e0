package gateway_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/problem"
	"rowbell/store"
)

func TestUSSDWalk(t *testing.T) {
	h := open(t)
	h.ussd(m{"event": "begin", "entry": "", "dialled": "*123#"}, "Home *123#", true)
	h.ussd(m{"entry": "2"}, "You said 2", true)
	h.ussd(m{"entry": "7"}, "You said 7", true)
	h.ussd(m{"entry": "end"}, "Bye", false)
	h.ussd(m{"session": "s2", "event": "begin", "entry": nil, "dialled": "*123#"}, "Home *123#", true)
	h.steps(
		`dial ussd "" "*123#"`, `enter ussd "home" "2"`, `enter ussd "home/2" "7"`, `enter ussd "home/2/7" "end"`,
		`dial ussd "" "*123#"`,
	)
}

func TestUSSDForm(t *testing.T) {
	h := open(t)
	for _, body := range []m{
		{"phone": "07700 900123", "session": "s1", "event": "begin", "dialled": "*123#", "entry": "", "step": "0"},
		{"phone": "+44 7700-900123", "session": "s1", "event": "entry", "entry": "é & 1+1", "step": 1, "unknown": "x"},
	} {
		if w := h.post("/in/local/ussd", form(body), asForm); w.Code != http.StatusOK {
			t.Errorf("%v: %d %s", body, w.Code, w.Body)
		}
	}
	h.steps(`dial ussd "" "*123#"`, `enter ussd "home" "é & 1+1"`)
}

// Two equal entries without a step are two entries.
func TestUSSDNoRepeatWithoutStep(t *testing.T) {
	h := open(t)
	h.ussd(m{"event": "begin", "entry": ""}, "Home ", true)
	h.ussd(nil, "You said 1", true)
	h.ussd(nil, "You said 1", true)
	h.steps(`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "1"`)
}

func TestUSSDResume(t *testing.T) {
	t.Parallel()
	begin := m{"session": "s2", "event": "begin", "entry": "", "dialled": "*123#"}
	tests := []struct {
		name  string
		after func(*house)
		then  m
		want  string
	}{
		{"dialled again", func(*house) {}, begin, `dial ussd "home/2" "*123#"`},
		{"dropped, then dialled again", func(h *house) { h.ussd(m{"event": "end", "entry": nil}, "", false) }, begin, `dial ussd "home/2" "*123#"`},
		{"an entry after the end begins anew", func(h *house) { h.ussd(m{"event": "end", "entry": nil}, "", false) }, m{"entry": "4"}, `dial ussd "home/2" ""`},
		{"an entry of a session nobody knows", func(*house) {}, m{"session": "s9", "entry": "4"}, `dial ussd "home/2" ""`},
		{"the end of a session nobody knows", func(h *house) { h.ussd(m{"session": "s9", "event": "end", "entry": nil}, "", false) }, m{"entry": "4"}, `enter ussd "home/2" "4"`},
		{"a second before the day is over", func(h *house) { h.clock.Advance(24*time.Hour - time.Second) }, begin, `dial ussd "home/2" "*123#"`},
		{"a day later", func(h *house) { h.clock.Advance(24 * time.Hour) }, begin, `dial ussd "" "*123#"`},
		{"an entry a day later", func(h *house) { h.clock.Advance(24 * time.Hour) }, m{"entry": "4"}, `dial ussd "" ""`},
		{"by another phone", func(*house) {}, m{"phone": "+447700900124", "entry": "4"}, `dial ussd "" ""`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h := open(t)
			h.ussd(m{"event": "begin", "entry": ""}, "Home ", true)
			h.ussd(m{"entry": "2"}, "You said 2", true)
			tt.after(h)
			h.steps(`dial ussd "" ""`, `enter ussd "home" "2"`)
			if w := h.post("/in/local/ussd", call(tt.then)); w.Code != http.StatusOK {
				t.Fatalf("%d %s", w.Code, w.Body)
			}
			h.steps(tt.want)
		})
	}
}

// What the menu writes stands with the reply or not at all.
func TestUSSDFailsWhole(t *testing.T) {
	for _, tt := range []struct {
		entry  string
		status int
		retry  string
	}{{"fail", http.StatusServiceUnavailable, "5"}, {"panic", http.StatusInternalServerError, ""}} {
		t.Run(tt.entry, func(t *testing.T) {
			h := open(t)
			h.ussd(m{"event": "begin", "entry": "", "step": 0}, "Home ", true)
			w := h.post("/in/local/ussd", call(m{"entry": tt.entry, "step": 1}))
			var p problem.Problem
			if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
				t.Fatal(err)
			}
			if w.Code != tt.status || p.Status != tt.status || w.Header().Get("Retry-After") != tt.retry || p.Text != "Sorry, try again." {
				t.Errorf("%d, Retry-After %q, %s", w.Code, w.Header().Get("Retry-After"), w.Body)
			}
			if got := w.Header().Get("Content-Type"); got != problem.MediaType {
				t.Errorf("content type %q", got)
			}
			if strings.Contains(h.log.String(), "a screen with the words") {
				t.Errorf("the panic's words are in the log: %s", h.log)
			}
			// The step can be taken after all: nothing of the failed one was kept.
			h.ussd(m{"entry": "2", "step": 1}, "You said 2", true)
			h.steps(`dial ussd "" ""`, `enter ussd "home" "`+tt.entry+`"`, `enter ussd "home" "2"`)
		})
	}
}

// A caller that hangs up in the middle finds the step done when it asks again.
func TestUSSDCallerGone(t *testing.T) {
	h := open(t)
	h.ussd(m{"event": "begin", "entry": "", "step": 0}, "Home ", true)
	h.menu.mu.Lock()
	h.menu.hold = make(chan struct{})
	h.menu.mu.Unlock()
	ctx, hangUp := context.WithCancel(t.Context())
	over := make(chan *httptest.ResponseRecorder)
	go func() {
		w := httptest.NewRecorder()
		h.g.ServeHTTP(w, h.request("/in/local/ussd", call(m{"entry": "yes", "step": 1})).WithContext(ctx))
		over <- w
	}()
	<-h.menu.begun
	hangUp()
	if w := <-over; w.Code != http.StatusServiceUnavailable {
		t.Errorf("the caller who left is answered %d", w.Code)
	}
	h.menu.mu.Lock()
	close(h.menu.hold)
	h.menu.hold = nil
	h.menu.mu.Unlock()
	h.ussd(m{"entry": "yes", "step": 1}, "You said yes", true)
	h.steps(`dial ussd "" ""`, `enter ussd "home" "yes"`)
	err := h.store.View(t.Context(), func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, morning.Unix())
		if err == nil && !l.Known() {
			t.Error("the consent of the step was lost")
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

// A step that takes too long is answered in time, and done all the same.
func TestUSSDDeadline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := open(t)
		hold := make(chan struct{})
		h.menu.hold = hold
		began := time.Now()
		w := h.post("/in/local/ussd", call(m{"event": "begin", "entry": "", "step": 0}))
		if took := time.Since(began); w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") != "1" || took != gateway.DefaultDeadline {
			t.Errorf("%d after %v, Retry-After %q", w.Code, took, w.Header().Get("Retry-After"))
		}
		close(hold)
		h.ussd(m{"event": "begin", "entry": "", "step": 0}, "Home ", true)
		h.steps(`dial ussd "" ""`)
	})
}

func TestSMS(t *testing.T) {
	h := open(t)
	h.sms("t1", "hello")
	h.clock.Advance(time.Second)
	h.sms("t1", "hello") // a repeat
	h.sms("t1", "other words")
	h.sms("t2", "silent")
	h.steps(`text "hello" state "" at 0 prompt "" at 0 until 0`, `text "silent" state "" at 0 prompt "" at 0 until 0`)
	out := h.outbox()
	if len(out) != 1 || h.queued != 1 {
		t.Fatalf("%d texts in the outbox, kicked %d times; want 1 and 1", len(out), h.queued)
	}
	got := out[0]
	if got.Text != "Heard hello" || got.Note != "reply" || got.DueAt != morning.Unix() || got.UsefulUntil != morning.Add(24*time.Hour).Unix() {
		t.Errorf("message %+v", got)
	}
	if strings.Contains(got.Key, "7700900123") || strings.Contains(got.Key, "hello") {
		t.Errorf("the key %q holds the number or the text", got.Key)
	}
}

// The dialogue and the prompt are what the menu left of them, with the instant
// at which each last spoke.
func TestSMSState(t *testing.T) {
	h := open(t)
	at := func(d time.Duration) int64 { return morning.Add(d).Unix() }
	endOfDay := time.Date(2026, 6, 3, 0, 0, 0, 0, time.UTC).Unix() - 1
	h.sms("t1", "menu")
	h.clock.Advance(time.Minute)
	h.sms("t2", "ask")
	h.clock.Advance(time.Minute)
	h.sms("t3", "hello")
	h.sms("t4", "stop")
	h.sms("t5", "hello")
	h.sms("t6", "menu")
	h.clock.Advance(72*time.Hour - time.Second)
	h.sms("t7", "hello") // leaves the dialogue alone: it does not last longer for it
	h.clock.Advance(time.Second)
	h.sms("t8", "hello")
	if t.Failed() {
		return
	}
	h.steps(
		`text "menu" state "" at 0 prompt "" at 0 until 0`,
		textStep("ask", "sms-home", at(0), "", 0, 0),
		textStep("hello", "sms-home", at(0), "prompt", at(time.Minute), endOfDay),
		textStep("stop", "sms-home", at(0), "prompt", at(time.Minute), endOfDay),
		`text "hello" state "" at 0 prompt "" at 0 until 0`,
		`text "menu" state "" at 0 prompt "" at 0 until 0`,
		textStep("hello", "sms-home", at(2*time.Minute), "", 0, 0),
		`text "hello" state "" at 0 prompt "" at 0 until 0`,
	)
}

// Which of dialogue and prompt spoke last can be told from their instants,
// also where the dialogue is where it was, and within one second.
func TestSMSLastToSpeak(t *testing.T) {
	t.Parallel()
	at := func(d time.Duration) int64 { return morning.Add(d).Unix() }
	endOfDay := time.Date(2026, 6, 3, 0, 0, 0, 0, time.UTC).Unix() - 1
	tests := []struct {
		name  string
		first []string      // texts at the start
		wait  time.Duration // before the rest
		then  []string
		want  string // what a digit is handed
	}{
		{"prompt after dialogue", []string{"menu"}, time.Minute, []string{"ask"}, textStep("1", "sms-home", at(0), "prompt", at(time.Minute), endOfDay)},
		{"dialogue after prompt", []string{"ask"}, time.Minute, []string{"menu"}, textStep("1", "sms-home", at(time.Minute), "prompt", at(0), endOfDay)},
		{"dialogue again after prompt", []string{"menu", "ask"}, time.Minute, []string{"again"}, textStep("1", "sms-home", at(time.Minute), "prompt", at(0), endOfDay)},
		{"neither speaks", []string{"menu", "ask"}, time.Minute, []string{"hello"}, textStep("1", "sms-home", at(0), "prompt", at(0), endOfDay)},
		{"dialogue after prompt, at once", []string{"menu", "ask", "again"}, 0, nil, textStep("1", "sms-home", at(time.Second), "prompt", at(0), endOfDay)},
		{"and the prompt once more", []string{"menu", "ask", "again", "ask"}, 0, nil, textStep("1", "sms-home", at(time.Second), "prompt", at(time.Second), endOfDay)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h := open(t)
			for i, text := range tt.first {
				h.sms("first"+string(rune('a'+i)), text)
			}
			h.clock.Advance(tt.wait)
			for i, text := range tt.then {
				h.sms("then"+string(rune('a'+i)), text)
			}
			h.sms("last", "1")
			asked := h.menu.asked()
			if got := asked[len(asked)-1]; got != tt.want {
				t.Errorf("the menu was asked\n%s\nwant\n%s", got, tt.want)
			}
		})
	}
}

func TestSMSFails(t *testing.T) {
	h := open(t)
	w := h.post("/in/local/sms", m{"id": "t1", "phone": phone.E164(), "text": "fail"})
	if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" {
		t.Errorf("%d, %v", w.Code, w.Header())
	}
	if strings.Contains(w.Body.String(), "Sorry") {
		t.Errorf("a text's caller shows no screen: %s", w.Body)
	}
	h.sms("t1", "hello") // the same id again: it was not taken
	if out := h.outbox(); len(out) != 1 {
		t.Errorf("%d texts in the outbox, want 1", len(out))
	}
}

func TestReceipt(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name  string
		body  m
		state store.State
		ended int64
	}{
		{"delivered, by our key", m{"id": "k1", "state": "delivered", "at": "2026-06-01T05:59:00Z"}, store.Delivered, morning.Add(-time.Minute).Unix()},
		{"delivered, by the network's id", m{"id": "n-1", "state": "delivered"}, store.Delivered, morning.Unix()},
		{"failed", m{"id": "k1", "state": "failed", "reason": "absent"}, store.Refused, morning.Unix()},
		{"expired", m{"id": "k1", "state": "expired"}, store.Expired, morning.Unix()},
		{"from the future", m{"id": "k1", "state": "delivered", "at": "2027-01-01T00:00:00+07:00"}, store.Delivered, morning.Unix()},
		{"not ours", m{"id": "nobody", "state": "delivered"}, store.Accepted, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h := open(t)
			err := h.store.InTx(t.Context(), func(tx *store.Tx) error {
				now := morning.Unix() - 600
				if _, err := tx.Enqueue(store.Message{Key: "k1", To: phone, Reminder: engine.KindOpen, Text: "Weed.", CreatedAt: now, DueAt: now, UsefulUntil: now + 9000}); err != nil {
					return err
				}
				claims, err := tx.Claim(now, store.Claimant{Gateway: "local", RoutePrefixes: []string{""}, Max: 1, Lease: time.Minute})
				if err != nil {
					return err
				}
				return tx.Settle(now, claims.Texts[0].Took("n-1"))
			})
			if err != nil {
				t.Fatal(err)
			}
			for range 2 { // a receipt that comes twice says nothing new
				if w := h.post("/in/local/receipt", tt.body); w.Code != http.StatusNoContent || w.Body.Len() != 0 {
					t.Errorf("%d %s, want 204", w.Code, w.Body)
				}
			}
			if got := h.outbox()[0]; got.State != tt.state || got.EndedAt != tt.ended {
				t.Errorf("%s, ended %d; want %s, %d", got.State, got.EndedAt, tt.state, tt.ended)
			}
		})
	}
}
