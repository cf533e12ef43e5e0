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

	"rowbell/gateway"
	"rowbell/gateway/problem"
	"rowbell/store"
)

func TestUSSDWalk(t *testing.T) {
	h := open(t)
	h.ussd(m{"event": "begin", "entry": "", "dialled": "*123#"}, "Home *123#", true)
	h.ussd(m{"entry": "2"}, "You said 2", true)
	h.ussd(m{"entry": "2"}, "You said 2", true) // not a repeat, because the network sends no step
	h.ussd(m{"entry": "end"}, "Bye", false)
	h.ussd(m{"session": "s2", "event": "begin", "entry": nil, "dialled": "*123#"}, "Home *123#", true)
	h.steps(
		`dial ussd "" "*123#"`, `enter ussd "home" "2"`, `enter ussd "home/2" "2"`, `enter ussd "home/2/2" "end"`,
		`dial ussd "" "*123#"`,
	)
	if h.queued != 0 {
		t.Errorf("the sender was called %d times without a text", h.queued)
	}
}

func TestUSSDForm(t *testing.T) {
	h := open(t)
	for _, body := range []m{
		{"phone": "07700 900123", "session": "s1", "event": "begin", "dialled": "*123#", "entry": "", "step": "0"},
		{"phone": "+44 7700-900123", "session": "s1", "event": "entry", "entry": "é & 1+1", "step": 1, "unknown": "x"},
	} {
		h.wants(http.StatusOK, h.post("/in/local/ussd", form(body), asForm))
	}
	h.steps(`dial ussd "" "*123#"`, `enter ussd "home" "é & 1+1"`)
}

func TestUSSDResume(t *testing.T) {
	t.Parallel()
	begin := m{"session": "s2", "event": "begin", "entry": "", "dialled": "*123#"}
	entry := m{"entry": "4"}
	end := func(session string) func(*fixture) {
		return func(h *fixture) { h.ussd(m{"session": session, "event": "end", "entry": nil}, "", false) }
	}
	wait := func(d time.Duration) func(*fixture) { return func(h *fixture) { h.clock.Advance(d) } }
	for _, tt := range []struct {
		name  string
		after func(*fixture)
		then  m
		want  string
	}{
		{"dialled again", wait(0), begin, `dial ussd "home/2" "*123#"`},
		{"dropped, then dialled again", end("s1"), begin, `dial ussd "home/2" "*123#"`},
		{"an entry after the end begins anew", end("s1"), entry, `dial ussd "home/2" ""`},
		{"an entry of an unknown session", wait(0), m{"session": "s9", "entry": "4"}, `dial ussd "home/2" ""`},
		{"the end of an unknown session", end("s9"), entry, `enter ussd "home/2" "4"`},
		{"a second before the day is over", wait(24*time.Hour - time.Second), begin, `dial ussd "home/2" "*123#"`},
		{"a day later", wait(24 * time.Hour), begin, `dial ussd "" "*123#"`},
		{"an entry a day later", wait(24 * time.Hour), entry, `dial ussd "" ""`},
		{"by another phone", wait(0), m{"phone": "+447700900124", "entry": "4"}, `dial ussd "" ""`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := open(t)
			h.ussd(m{"event": "begin", "entry": ""}, "Home ", true)
			h.ussd(m{"entry": "2"}, "You said 2", true)
			tt.after(h)
			h.steps(`dial ussd "" ""`, `enter ussd "home" "2"`)
			h.wants(http.StatusOK, h.post("/in/local/ussd", call(tt.then)))
			h.steps(tt.want)
		})
	}
}

// A step of the menu that fails or panics changes nothing in the records. So the same call, sent again, does not count
// as a repeat, and the menu is asked again.
func TestUSSDFailsWhole(t *testing.T) {
	for _, tt := range []struct {
		entry  string
		status int
		retry  string
	}{
		{"fail", http.StatusServiceUnavailable, "5"}, {"unknown", http.StatusServiceUnavailable, "1"},
		{"panic", http.StatusInternalServerError, ""},
	} {
		t.Run(tt.entry, func(t *testing.T) {
			h := open(t)
			h.ussd(m{"event": "begin", "entry": "", "step": 0}, "Home ", true)
			w := h.post("/in/local/ussd", call(m{"entry": tt.entry, "step": 1}))
			var p problem.Problem
			ok(t, json.Unmarshal(w.Body.Bytes(), &p))
			retry := w.Header().Get("Retry-After")
			if w.Code != tt.status || p.Status != tt.status || retry != tt.retry || p.Text != "Sorry, try again." {
				t.Errorf("%d, Retry-After %q, %s", w.Code, retry, w.Body)
			}
			if got := w.Header().Get("Content-Type"); got != problem.MediaType {
				t.Errorf("content type %q", got)
			}
			log, id := h.log.String(), w.Header().Get("X-Request-Id")
			if strings.Contains(log, "a screen with the words") {
				t.Errorf("the panic's message is in the log: %s", log)
			}
			if n := strings.Count(log, `"request":"`+id+`"`); p.Instance != "urn:rowbell:request:"+id || n != 2 {
				t.Errorf("instance %q, request %s in %d lines of the log, want 2: %s", p.Instance, id, n, log)
			}
			// The same step succeeds now, because the failed step was not stored as handled.
			h.ussd(m{"entry": "2", "step": 1}, "You said 2", true)
			h.steps(`dial ussd "" ""`, `enter ussd "home" "`+tt.entry+`"`, `enter ussd "home" "2"`)
		})
	}
}

// A network that disconnects during a step gets the reply when it sends the call again.
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
	h.ledger(phone, func(l *store.Ledger) error {
		if !l.Known() {
			t.Error("the consent of the step was lost")
		}
		return nil
	})
}

// A call whose step misses the deadline gets status 503 at the deadline. The step continues.
func TestUSSDDeadline(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := open(t)
		hold := make(chan struct{})
		h.menu.hold = hold
		began := time.Now()
		w := h.post("/in/local/ussd", call(m{"event": "begin", "entry": "", "step": 0}))
		took, retry := time.Since(began), w.Header().Get("Retry-After")
		if w.Code != http.StatusServiceUnavailable || retry != "1" || took != gateway.Deadline {
			t.Errorf("%d after %v, Retry-After %q", w.Code, took, retry)
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
	h.sms("t1", "hello") // a repeat, because the id is the same
	h.sms("t1", "other words")
	h.sms("t2", "silent")
	h.steps(`text "hello" state "" at 0 prompt "" at 0 until 0`, `text "silent" state "" at 0 prompt "" at 0 until 0`)
	out := h.outbox()
	if len(out) != 1 || h.queued != 1 {
		t.Fatalf("%d texts in the outbox, kicked %d times; want 1 and 1", len(out), h.queued)
	}
	got := out[0]
	if got.Text != "Heard hello" || got.Note != "reply" || got.DueAt != morning.Unix() ||
		got.UsefulUntil != morning.Add(24*time.Hour).Unix() {
		t.Errorf("message %+v", got)
	}
	if strings.Contains(got.Key, "7700900123") || strings.Contains(got.Key, "hello") {
		t.Errorf("the key %q holds the number or the text", got.Key)
	}
}

// With each text the menu gets the dialogue and the prompt that it returned for an earlier text, and the instants at
// which the dialogue and the prompt were last shown to the grower.
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
	h.sms("t7", "hello") // the answer shows no screen, so the dialogue does not expire later
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

// With each text the menu gets the instants at which the dialogue and the prompt were last shown, so that it can tell
// which of the two a digit answers. The instants are right even if the dialogue shows the same screen again, and if
// dialogue and prompt are shown within one second.
func TestSMSLastToSpeak(t *testing.T) {
	t.Parallel()
	endOfDay := time.Date(2026, 6, 3, 0, 0, 0, 0, time.UTC).Unix() - 1
	for _, tt := range []struct {
		name  string
		first []string      // the texts that are sent first
		wait  time.Duration // time between the first texts and the rest
		then  []string
		// The instants of the dialogue and of the prompt that the menu must get with the last text, "1". They are
		// durations after morning.
		dialogue, prompt time.Duration
	}{
		{"prompt after dialogue", []string{"menu"}, time.Minute, []string{"ask"}, 0, time.Minute},
		{"dialogue after prompt", []string{"ask"}, time.Minute, []string{"menu"}, time.Minute, 0},
		{"dialogue again after prompt", []string{"menu", "ask"}, time.Minute, []string{"again"}, time.Minute, 0},
		{"neither speaks", []string{"menu", "ask"}, time.Minute, []string{"hello"}, 0, 0},
		{"dialogue after prompt, at once", []string{"menu", "ask", "again"}, 0, nil, time.Second, 0},
		{"and the prompt once more", []string{"menu", "ask", "again", "ask"}, 0, nil, time.Second, time.Second},
	} {
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
			want := textStep("1", "sms-home", morning.Add(tt.dialogue).Unix(),
				"prompt", morning.Add(tt.prompt).Unix(), endOfDay)
			if got := asked[len(asked)-1]; got != want {
				t.Errorf("the menu was asked\n%s\nwant\n%s", got, want)
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
		t.Errorf("a screen in the answer to a text: %s", w.Body)
	}
	h.sms("t1", "hello") // the text with this id failed before, so this text is not a repeat
	if out := h.outbox(); len(out) != 1 {
		t.Errorf("%d texts in the outbox, want 1", len(out))
	}
}

func TestReceipt(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name  string
		body  m
		state store.State
		ended int64
	}{
		{"delivered, by our key", m{"id": "k1", "state": "delivered", "at": "2026-06-01T05:59:00Z"},
			store.Delivered, morning.Add(-time.Minute).Unix()},
		{"delivered, by the network's id", m{"id": "n-1", "state": "delivered"}, store.Delivered, morning.Unix()},
		{"failed", m{"id": "k1", "state": "failed", "reason": "absent"}, store.Refused, morning.Unix()},
		{"expired", m{"id": "k1", "state": "expired"}, store.Expired, morning.Unix()},
		{"from the future", m{"id": "k1", "state": "delivered", "at": "2027-01-01T00:00:00+07:00"},
			store.Delivered, morning.Unix()},
		{"from 1970", m{"id": "k1", "state": "delivered", "at": "1970-01-21T14:38:00Z"},
			store.Delivered, morning.Unix()},
		{"not ours", m{"id": "nobody", "state": "delivered"}, store.Accepted, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := open(t)
			h.clock.Set(morning.Add(-10 * time.Minute))
			h.enqueue("k1", h.clock.Now())
			h.sent("local", "n-1")
			h.clock.Set(morning)
			for range 2 { // the second receipt repeats the first and changes nothing
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
