package gateway_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway"
	"rowbell/gateway/limit"
	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
)

// refused wants 429 with these seconds to wait; it returns the problem.
func (h *house) refused(w *httptest.ResponseRecorder, retry string) problem.Problem {
	h.t.Helper()
	var p problem.Problem
	if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
		h.t.Fatalf("%d %s: %v", w.Code, w.Body, err)
	}
	if w.Code != http.StatusTooManyRequests || w.Header().Get("Retry-After") != retry || p.Detail == "" {
		h.t.Errorf("%d, Retry-After %q, %s; want 429 and %s", w.Code, w.Header().Get("Retry-After"), w.Body, retry)
	}
	return p
}

func numberLimit(calls, sessions int) func(*gateway.Options) {
	return func(o *gateway.Options) {
		o.Limits = limit.Incoming{Number: limit.Set{CallsAMinute: calls, OpenSessions: sessions}, Pause: 10 * time.Minute}
	}
}

// A number that floods costs nothing for a while, and is told so kindly.
func TestNumberThatFloods(t *testing.T) {
	h := open(t, numberLimit(3, 0))
	for i := range 3 {
		h.ussd(m{"event": "begin", "session": fmt.Sprint(i)}, "Home ", true)
	}
	h.menu.steps = nil
	if p := h.refused(h.post("/in/local/ussd", call(nil)), "600"); p.Text != "Sorry, try again." {
		t.Errorf("the phone shows %q", p.Text)
	}
	for i := range 50 {
		h.refused(h.post("/in/local/ussd", call(m{"session": fmt.Sprint(i)})), "600")
	}
	h.clock.Advance(9 * time.Minute)
	if p := h.refused(h.post("/in/local/sms", m{"id": "t1", "phone": phone.E164(), "text": "menu"}), "60"); p.Text != "" {
		t.Errorf("nobody waits for the screen %q", p.Text)
	}
	h.steps()
	if len(h.outbox()) != 0 {
		t.Error("a text goes out to a number that floods")
	}
	if log := h.log.String(); strings.Count(log, "a limit is reached") != 1 || !strings.Contains(log, "+4477…123") || strings.Contains(log, phone.E164()) {
		t.Errorf("the log:\n%s", log)
	}
	w := h.post("/in/local/ussd", call(m{"phone": "+447700900124", "event": "begin"})) // others go on
	if w.Code != 200 {
		t.Errorf("another number: %d", w.Code)
	}
	h.clock.Advance(time.Minute)
	h.ussd(m{"event": "begin"}, "Home ", true)
	h.sms("t1", "menu") // what was held back was not taken for done
	h.steps(`dial ussd "" ""`, `dial ussd "home" ""`, `text "menu" state "" at 0 prompt "" at 0 until 0`)
}

// STOP works whatever the limit, once in a pause, and says nothing.
func TestStopInAFlood(t *testing.T) {
	h := open(t, numberLimit(1, 0))
	text := func(id, text string, want int) {
		t.Helper()
		w := h.post("/in/local/sms", m{"id": id, "phone": phone.E164(), "text": text})
		if w.Code != want {
			t.Errorf("%s %s: %d, want %d", id, text, w.Code, want)
		}
	}
	const stop = `text "stop" state "" at 0 prompt "" at 0 until 0`
	text("t1", "silent", 202)
	h.menu.steps = nil
	text("t2", "hello", 429)
	text("t3", "stop", 202)
	h.steps(stop)
	for i := range 20 {
		text(fmt.Sprint("more", i), "stop", 202)
	}
	text("t4", "start", 429)
	h.steps()
	h.clock.Advance(10 * time.Minute)
	text("t5", "silent", 202)
	text("t6", "hello", 429)
	h.menu.steps = nil
	text("t7", "stop", 202)
	h.steps(stop)
	if len(h.outbox()) != 0 || h.queued != 0 {
		t.Errorf("a STOP of a flood is confirmed: %v", h.outbox())
	}
}

// A STOP that could not be written is not taken for done.
func TestStopInAFloodOfNoRecords(t *testing.T) {
	h := open(t, numberLimit(1, 0))
	h.sms("t1", "silent")
	h.store.Close()
	for _, id := range []string{"t2", "t3"} {
		if w := h.post("/in/local/sms", m{"id": id, "phone": phone.E164(), "text": "stop"}); w.Code != 503 {
			t.Errorf("%s: %d, want 503", id, w.Code)
		}
	}
}

// The limits of one network leave the others alone; STOP and the end of a
// session come through, receipts too.
func TestLimitsOfANetwork(t *testing.T) {
	h := open(t, func(o *gateway.Options) {
		o.Networks[0].Limits = limit.Set{CallsAMinute: 2}
		other := profile.Default("other")
		other.Token = profile.HashToken(token)
		o.Networks = append(o.Networks, other)
	})
	h.ussd(m{"event": "begin"}, "Home ", true)
	h.ussd(m{"entry": "1"}, "You said 1", true)
	h.clock.Advance(15 * time.Second)
	h.refused(h.post("/in/local/ussd", call(m{"entry": "2"})), "45")
	h.refused(h.post("/in/local/ussd", call(m{"phone": "+447700900124"})), "45")
	h.refused(h.post("/in/local/sms", m{"id": "t1", "phone": phone.E164(), "text": "menu"}), "45")
	h.ussd(m{"event": "end"}, "", false)
	h.sms("t2", "stop")
	if w := h.post("/in/local/receipt", m{"id": "k1", "state": "delivered"}); w.Code != 204 {
		t.Errorf("receipt: %d", w.Code)
	}
	if w := h.post("/in/other/ussd", call(nil)); w.Code != 200 {
		t.Errorf("the other network: %d %s", w.Code, w.Body)
	}
	if strings.Count(h.log.String(), "a limit is reached") != 1 {
		t.Errorf("the log:\n%s", h.log)
	}
	h.clock.Advance(45 * time.Second)
	h.ussd(m{"entry": "2"}, "Home ", true)
}

// Sessions are counted until they end: by the network, by the menu, by silence.
func TestOpenSessions(t *testing.T) {
	h := open(t, numberLimit(0, 2))
	h.ussd(m{"event": "begin", "session": "a"}, "Home ", true)
	h.ussd(m{"event": "begin", "session": "b"}, "Home ", true)
	if p := h.refused(h.post("/in/local/ussd", call(m{"event": "begin", "session": "c"})), "60"); p.Text == "" {
		t.Error("the phone shows nothing")
	}
	h.ussd(m{"event": "end", "session": "a"}, "", false)
	h.ussd(m{"event": "begin", "session": "c"}, "Home ", true)
	h.refused(h.post("/in/local/ussd", call(m{"event": "begin", "session": "d"})), "60")
	h.ussd(m{"entry": "end", "session": "c"}, "Bye", false)
	h.ussd(m{"event": "begin", "session": "d"}, "Home ", true)
	h.refused(h.post("/in/local/ussd", call(m{"event": "begin", "session": "e"})), "60")
	h.clock.Advance(11 * time.Minute)
	h.ussd(m{"event": "begin", "session": "e"}, "Home ", true)
}

// No more is worked on at once than was said: the rest may come again, and
// what waits for the disk counts also when its network has gone.
func TestMaxInFlight(t *testing.T) {
	h := open(t, func(o *gateway.Options) { o.MaxInFlight, o.Deadline = 1, 20*time.Millisecond })
	h.menu.hold = make(chan struct{})
	first := make(chan *httptest.ResponseRecorder)
	go func() { first <- h.post("/in/local/ussd", call(m{"event": "begin"})) }()
	<-h.menu.begun
	full := func() {
		t.Helper()
		w := h.post("/in/local/ussd", call(m{"phone": "+447700900124", "event": "begin"}))
		if w.Code != 503 || w.Header().Get("Retry-After") != "1" || !strings.Contains(w.Body.String(), "Sorry, try again.") {
			t.Errorf("%d, Retry-After %q: %s", w.Code, w.Header().Get("Retry-After"), w.Body)
		}
	}
	full()
	if w := <-first; w.Code != 503 { // it waited as long as it may; the work is not over
		t.Errorf("the first: %d", w.Code)
	}
	full()
	w := httptest.NewRecorder()
	if h.g.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/healthz", nil)); w.Code != 200 {
		t.Errorf("a busy service is healthy: %d", w.Code)
	}
	hold := h.menu.hold
	h.menu.mu.Lock()
	h.menu.hold = nil
	h.menu.mu.Unlock()
	close(hold)
	for h.post("/in/local/ussd", call(m{"phone": "+447700900124", "event": "begin", "step": 0})).Code == 503 {
		// until the first one's work is over
	}
	h.steps(`dial ussd "" ""`, `dial ussd "" ""`)
}

// arriving is a body of which nothing has come yet.
type arriving struct{ asked, comes chan struct{} }

func (a arriving) Read([]byte) (int, error) {
	close(a.asked)
	<-a.comes
	return 0, io.EOF
}

// Who was not let in has no place: whoever signs is known by the body, and a
// stranger may send one slowly.
func TestStrangersTakeNoPlace(t *testing.T) {
	signs, err := profile.Spec{Trust: &profile.TrustSpec{By: "signature", Secrets: []string{"KEY"}}}.Build("heron", func(string) (string, error) { return signingSecret, nil })
	if err != nil {
		t.Fatal(err)
	}
	h := open(t, func(o *gateway.Options) { o.MaxInFlight, o.Networks = 1, append(o.Networks, signs) })
	slow := arriving{make(chan struct{}), make(chan struct{})}
	over := make(chan *httptest.ResponseRecorder)
	go func() {
		over <- h.post("/in/heron/ussd", "", func(r *http.Request) { r.Body, r.ContentLength = io.NopCloser(slow), -1 })
	}()
	<-slow.asked
	if w := h.post("/in/local/ussd", call(m{"event": "begin"})); w.Code != 200 {
		t.Errorf("a grower's call: %d %s", w.Code, w.Body)
	}
	close(slow.comes)
	if w := <-over; w.Code != 401 {
		t.Errorf("the stranger: %d", w.Code)
	}
}

// Whoever is refused can write no more than so many lines into the log.
func TestRefusalsDoNotFillTheLog(t *testing.T) {
	h := open(t, func(o *gateway.Options) { o.Log = o.Log.Level(zerolog.InfoLevel) })
	lines := func(after time.Duration, paths ...string) int {
		h.clock.Advance(after)
		h.log.Reset()
		for i := range 300 {
			h.post(paths[i%len(paths)], "{}", header("Authorization", "Bearer wrong"))
		}
		h.post("/in/local/ussd", call(m{"event": "begin"})) // is told of all the same
		return strings.Count(h.log.String(), "\n")
	}
	for i, paths := range [][]string{{"/in/local/ussd"}, {"/in/nobody/ussd", "/", "/in/local/sms"}} {
		if n := lines(time.Minute, paths...); n != 102 || !strings.Contains(h.log.String(), "too many refused calls") {
			t.Errorf("%d: %d lines", i, n)
		}
	}
	if n := lines(time.Second, "/"); n != 1 {
		t.Errorf("in the same minute: %d lines", n)
	}
}
