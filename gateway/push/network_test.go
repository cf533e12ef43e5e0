package push_test

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
)

// network is an HTTP server that answers as a test says and records what it got.
type network struct {
	mu     sync.Mutex
	answer func(n int, w http.ResponseWriter, r *http.Request) // n counts from 1
	keys   []string
	bodies []string
}

func (n *network) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	body, _ := io.ReadAll(r.Body)
	n.mu.Lock()
	n.keys = append(n.keys, r.Header.Get("Idempotency-Key"))
	n.bodies = append(n.bodies, string(body))
	count := len(n.keys)
	n.mu.Unlock()
	n.answer(count, w, r)
}

// tried returns the idempotency keys of the tries so far.
func (n *network) tried() []string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return append([]string(nil), n.keys...)
}

// listen starts a network with these answers, and returns it with its client.
func (o *outbox) listen(answer func(n int, w http.ResponseWriter, r *http.Request)) (*network, *push.HTTP) {
	n := &network{answer: answer}
	server := httptest.NewServer(n)
	o.t.Cleanup(server.Close)
	p := profile.Default("local")
	p.Push.URL, p.Sender = server.URL, "12345"
	h := push.NewHTTP(p, o.clock)
	o.t.Cleanup(h.Close)
	return n, h
}

func TestSendAccepted(t *testing.T) {
	o := newOutbox(t)
	n, h := o.listen(func(_ int, w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(http.StatusAccepted)
		fmt.Fprint(w, `{"id":"n-1"}`)
	})
	o.queue("k1", time.Hour)
	if got := o.send(o.worker(h)); got != 1 {
		t.Fatalf("%d texts taken, want 1", got)
	}
	var body map[string]string
	ok(t, json.Unmarshal([]byte(n.bodies[0]), &body))
	want := map[string]string{
		"id": "k1", "to": "+447700900123", "from": "12345", "text": "Weed plot 1 now.",
		"valid_until": "2026-06-01T13:00:00Z",
	}
	if fmt.Sprint(body) != fmt.Sprint(want) {
		t.Errorf("pushed %v\nwant %v", body, want)
	}
	m := o.message("k1")
	if m.State != store.Accepted || m.NetworkID != "n-1" || m.AcceptedAt != noon.Unix() || m.Tries != 1 {
		t.Errorf("message %+v", m)
	}
	if o.send(o.worker(h)) != 0 || len(n.tried()) != 1 {
		t.Error("a text that was taken went out again")
	}
}

// The answer to the first try decides what has become of the text after the second look, a wait later.
func TestAnswers(t *testing.T) {
	status := func(code int, headers ...string) func(http.ResponseWriter) { return says(code, "", headers...) }
	busyFor := status(503, "Retry-After", "60")
	busyUntil := status(429, "Retry-After", "Mon, 01 Jun 2026 12:10:00 GMT")
	const short = 8 * time.Second // the least first wait is 7.5 s
	tests := []struct {
		name   string
		first  func(http.ResponseWriter)
		wait   time.Duration
		tries  int // in all, after the wait
		state  store.State
		reason string
	}{
		{"500", status(500), short, 2, store.Accepted, "the network answered 500"},
		{"503 with seconds, before", busyFor, 59 * time.Second, 1, store.Queued, "the network answered 503"},
		{"503 with seconds, after", busyFor, 60 * time.Second, 2, store.Accepted, "the network answered 503"},
		{"429 with a date, before", busyUntil, 599 * time.Second, 1, store.Queued, "the network answered 429"},
		{"429 with a date, after", busyUntil, 600 * time.Second, 2, store.Accepted, "the network answered 429"},
		{"408", status(408), short, 2, store.Accepted, "the network answered 408"},
		{"reset", hangUp, short, 2, store.Accepted, "no answer"},
		{"moved", status(308, "Location", "/elsewhere"), short, 2, store.Accepted, "the network answered 308"},
		{"400", status(400), short, 1, store.Refused, "the network answered 400"},
		{"401, a password to be corrected", status(401), short, 2, store.Accepted, "the network answered 401"},
		{"410", status(410), short, 1, store.Refused, "the network answered 410"},
		{"too long a wait", status(503, "Retry-After", "7200"), short, 1, store.Expired, "the network answered 503"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			o := newOutbox(t)
			n, h := o.listen(func(n int, w http.ResponseWriter, _ *http.Request) {
				if n == 1 {
					tt.first(w)
				}
			})
			o.queue("k1", time.Hour)
			w := o.worker(h)
			o.send(w)
			if got := o.send(w); got != 0 || len(n.tried()) != 1 {
				t.Errorf("tried again without a wait: %d texts taken, tries %v", got, n.tried())
			}
			if m := o.message("k1"); m.Reason != tt.reason {
				t.Errorf("reason %q, want %q", m.Reason, tt.reason)
			}
			o.clock.Advance(tt.wait)
			o.send(w)
			m := o.message("k1")
			keys := n.tried()
			if len(keys) != tt.tries || m.Tries != tt.tries || m.State != tt.state {
				t.Errorf("tries %d, message %d tries, %s; want %d, %s", len(keys), m.Tries, m.State, tt.tries, tt.state)
			}
			for _, key := range keys {
				if key != "k1" {
					t.Errorf("idempotency keys %v", keys)
				}
			}
		})
	}
}

func TestNetworkID(t *testing.T) {
	tests := []struct{ answer, want string }{
		{`{"id":"n-1"}`, "n-1"},
		{`{"id":9007199254740993}`, "9007199254740993"},
		{`{"id":{"n":1}}`, ""},
		{`{"other":"n-1"}`, ""},
		{`["n-1"]`, ""},
		{`ok`, ""},
		{``, ""},
		{`{"id":"a\u0000b"}`, ""},
		{`{"id":"` + strings.Repeat("x", 129) + `"}`, ""},
		{`{"id":"n-1"`, ""},
	}
	for _, tt := range tests {
		o := &outbox{t: t, clock: clock.New(noon)}
		_, h := o.listen(func(_ int, w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, tt.answer) })
		if id, err := h.Push(t.Context(), outgoing("x")); err != nil || id != tt.want {
			t.Errorf("answer %q: id %q, %v; want %q", tt.answer, id, err, tt.want)
		}
	}
}
