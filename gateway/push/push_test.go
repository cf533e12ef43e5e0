package push_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
)

var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

const phone = store.Phone("+447700900123")

// outbox is a store with a hand-moved clock and a log.
type outbox struct {
	t     *testing.T
	store *store.Store
	clock *clock.Manual
	log   *bytes.Buffer
}

func newOutbox(t *testing.T) *outbox {
	t.Helper()
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "rowbell.db"), store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return &outbox{t, s, clock.New(noon), new(bytes.Buffer)}
}

func (o *outbox) queue(key string, useful time.Duration) {
	o.t.Helper()
	now := o.clock.Now()
	err := o.store.InTx(o.t.Context(), func(tx *store.Tx) error {
		_, err := tx.Enqueue(store.Message{Key: key, To: phone, Kind: "open", Text: "Weed plot 1 now.",
			CreatedAt: now.Unix(), DueAt: now.Unix(), UsefulUntil: now.Add(useful).Unix()})
		return err
	})
	if err != nil {
		o.t.Fatal(err)
	}
}

// message is the one in the outbox with this key.
func (o *outbox) message(key string) store.Message {
	o.t.Helper()
	var found store.Message
	err := o.store.View(o.t.Context(), func(tx *store.Tx) error {
		list, err := tx.Inbox(phone, 0)
		for _, m := range list {
			if m.Key == key {
				found = m
			}
		}
		return err
	})
	if err != nil || found.ID == 0 {
		o.t.Fatalf("message %s: %v", key, err)
	}
	return found
}

func (o *outbox) worker(n push.Network) *push.Worker {
	return push.New(push.Options{Store: o.store, Network: n, Clock: o.clock, Log: zerolog.New(o.log), Jitter: func() float64 { return 0 }})
}

func (o *outbox) send(w *push.Worker) int {
	o.t.Helper()
	n, err := w.Send(o.t.Context())
	if err != nil {
		o.t.Fatal(err)
	}
	return n
}

// network answers pushes as a test tells it to and keeps what it got.
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

// listen makes a network that answers so, and the push network that talks to it.
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
	if err := json.Unmarshal([]byte(n.bodies[0]), &body); err != nil {
		t.Fatal(err)
	}
	want := map[string]string{"id": "k1", "to": "+447700900123", "from": "12345", "text": "Weed plot 1 now.", "valid_until": "2026-06-01T13:00:00Z"}
	if fmt.Sprint(body) != fmt.Sprint(want) {
		t.Errorf("pushed %v\nwant %v", body, want)
	}
	if m := o.message("k1"); m.State != store.Accepted || m.NetworkID != "n-1" || m.AcceptedAt != noon.Unix() || m.Tries != 1 {
		t.Errorf("message %+v", m)
	}
	if o.send(o.worker(h)) != 0 || len(n.keys) != 1 {
		t.Error("a text that was taken went out again")
	}
}

// What the network answers to the first try decides what becomes of the text
// by the second look, a wait later.
func TestAnswers(t *testing.T) {
	status := func(code int, headers ...string) func(http.ResponseWriter) {
		return func(w http.ResponseWriter) {
			for i := 0; i < len(headers); i += 2 {
				w.Header().Set(headers[i], headers[i+1])
			}
			w.WriteHeader(code)
		}
	}
	reset := func(w http.ResponseWriter) {
		conn, _, err := http.NewResponseController(w).Hijack()
		if err != nil {
			panic(err)
		}
		conn.Close()
	}
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
		{"503 with seconds, before", status(503, "Retry-After", "60"), 59 * time.Second, 1, store.Queued, "the network answered 503"},
		{"503 with seconds, after", status(503, "Retry-After", "60"), 60 * time.Second, 2, store.Accepted, "the network answered 503"},
		{"429 with a date, before", status(429, "Retry-After", "Mon, 01 Jun 2026 12:10:00 GMT"), 599 * time.Second, 1, store.Queued, "the network answered 429"},
		{"429 with a date, after", status(429, "Retry-After", "Mon, 01 Jun 2026 12:10:00 GMT"), 600 * time.Second, 2, store.Accepted, "the network answered 429"},
		{"408", status(408), short, 2, store.Accepted, "the network answered 408"},
		{"reset", reset, short, 2, store.Accepted, "not reached"},
		{"moved", status(308, "Location", "/elsewhere"), short, 2, store.Accepted, "the network answered 308"},
		{"400", status(400), short, 1, store.Refused, "the network answered 400"},
		{"401", status(401), short, 1, store.Refused, "the network answered 401"},
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
			if got := o.send(w); got != 0 || len(n.keys) != 1 {
				t.Errorf("tried again without a wait: %d texts taken, %d tries", got, len(n.keys))
			}
			if m := o.message("k1"); m.Reason != tt.reason {
				t.Errorf("reason %q, want %q", m.Reason, tt.reason)
			}
			o.clock.Advance(tt.wait)
			o.send(w)
			m := o.message("k1")
			if len(n.keys) != tt.tries || m.Tries != tt.tries || m.State != tt.state {
				t.Errorf("tries %d, message %d tries, %s; want %d, %s", len(n.keys), m.Tries, m.State, tt.tries, tt.state)
			}
			for _, key := range n.keys {
				if key != "k1" {
					t.Errorf("idempotency keys %v", n.keys)
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
		o := newOutbox(t)
		_, h := o.listen(func(_ int, w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, tt.answer) })
		o.queue("k1", time.Hour)
		o.send(o.worker(h))
		if m := o.message("k1"); m.State != store.Accepted || m.NetworkID != tt.want {
			t.Errorf("answer %q: %s, id %q; want accepted, %q", tt.answer, m.State, m.NetworkID, tt.want)
		}
	}
}

// networkFunc is a Network in one function.
type networkFunc func(ctx context.Context, m store.Message) (string, error)

func (f networkFunc) Push(ctx context.Context, m store.Message) (string, error) { return f(ctx, m) }

func TestExpired(t *testing.T) {
	o := newOutbox(t)
	o.queue("k1", time.Hour)
	o.clock.Advance(time.Hour + time.Second)
	tried := false
	o.send(o.worker(networkFunc(func(context.Context, store.Message) (string, error) { tried = true; return "", nil })))
	if m := o.message("k1"); tried || m.State != store.Expired {
		t.Errorf("tried %v, %s; want not tried, expired", tried, m.State)
	}
}

// A network that never answers costs one try its timeout, not the worker.
func TestHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOutbox(t)
		o.queue("k1", time.Hour)
		began := time.Now()
		w := o.worker(networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
			<-ctx.Done()
			return "", ctx.Err()
		}))
		if got := o.send(w); got != 0 {
			t.Errorf("%d texts taken", got)
		}
		if took := time.Since(began); took != profile.DefaultTimeout {
			t.Errorf("gave up after %v, want %v", took, profile.DefaultTimeout)
		}
		if m := o.message("k1"); m.State != store.Queued || m.Reason != "no answer in time" {
			t.Errorf("message %s, %q", m.State, m.Reason)
		}
	})
}

// Stopped in the middle, a text goes back into the outbox with its key.
func TestStopped(t *testing.T) {
	o := newOutbox(t)
	ctx, cancel := context.WithCancel(t.Context())
	for i := range 6 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	w := push.New(push.Options{Store: o.store, Clock: o.clock, Log: zerolog.New(o.log), Concurrency: 1,
		Network: networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
			cancel()
			<-ctx.Done()
			return "", ctx.Err()
		})})
	if _, err := w.Send(ctx); err != context.Canceled {
		t.Errorf("Send returned %v", err)
	}
	for i := range 6 {
		if m := o.message(fmt.Sprint("k", i)); m.State != store.Queued {
			t.Errorf("message %s is %s, want queued", m.Key, m.State)
		}
	}
	o.clock.Advance(time.Minute)
	if got := o.send(o.worker(push.Log{})); got != 6 {
		t.Errorf("after the stop %d texts went out, want 6", got)
	}
}

// Who claimed a text and died loses it to the next when the lease ends.
func TestLease(t *testing.T) {
	o := newOutbox(t)
	o.queue("k1", 24*time.Hour)
	err := o.store.InTx(t.Context(), func(tx *store.Tx) error {
		_, err := tx.Claim(noon.Unix(), 10, 2*time.Minute)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	var keys []string
	w := o.worker(networkFunc(func(_ context.Context, m store.Message) (string, error) {
		keys = append(keys, m.Key)
		return "", nil
	}))
	if got := o.send(w); got != 0 {
		t.Error("a text that another has claimed went out")
	}
	o.clock.Advance(2 * time.Minute)
	if got := o.send(w); got != 1 || len(keys) != 1 || keys[0] != "k1" {
		t.Errorf("after the lease %d texts went out, keys %v", got, keys)
	}
}

func TestRate(t *testing.T) {
	o := newOutbox(t)
	for i := range 25 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	w := push.New(push.Options{Store: o.store, Network: push.Log{}, Clock: o.clock, Rate: 10})
	for i, want := range []int{10, 10, 5, 0} {
		if got := o.send(w); got != want {
			t.Errorf("second %d: %d texts, want %d", i, got, want)
		}
		if got := o.send(w); got != 0 {
			t.Errorf("second %d: %d more in the same second", i, got)
		}
		o.clock.Advance(time.Second)
	}
	slow := push.New(push.Options{Store: o.store, Network: push.Log{}, Clock: o.clock, Rate: 0.1})
	o.queue("s1", time.Hour)
	o.queue("s2", time.Hour)
	if first, second := o.send(slow), o.send(slow); first != 1 || second != 0 {
		t.Errorf("one in ten seconds: %d, then %d at once", first, second)
	}
	o.clock.Advance(10 * time.Second)
	if got := o.send(slow); got != 1 {
		t.Errorf("after ten seconds %d texts, want 1", got)
	}
}

func TestConcurrency(t *testing.T) {
	o := newOutbox(t)
	for i := range 20 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	var mu sync.Mutex
	at, most := 0, 0
	three := make(chan struct{})
	w := push.New(push.Options{Store: o.store, Clock: o.clock, Concurrency: 3,
		Network: networkFunc(func(context.Context, store.Message) (string, error) {
			mu.Lock()
			if at++; at > most {
				if most = at; most == 3 {
					close(three)
				}
			}
			mu.Unlock()
			<-three // all three senders are here
			mu.Lock()
			at--
			mu.Unlock()
			return "", nil
		})})
	if got := o.send(w); got != 20 || most != 3 {
		t.Errorf("%d texts, at most %d at once; want 20 and 3", got, most)
	}
}

func TestLogNetwork(t *testing.T) {
	o := newOutbox(t)
	o.queue("k1", time.Hour)
	o.send(o.worker(push.Log{Log: zerolog.New(o.log)}))
	if m := o.message("k1"); m.State != store.Accepted {
		t.Errorf("message is %s", m.State)
	}
	log := o.log.String()
	if want := `{"level":"info","to":"+4477…123","kind":"open","message":"text"}` + "\n"; log != want {
		t.Errorf("log %q\nwant %q", log, want)
	}
}

// Trouble is said once for each reason, and once that it is over.
func TestSaysOnce(t *testing.T) {
	o := newOutbox(t)
	var fail error = &push.Refusal{Again: true, Reason: "the network answered 503"}
	w := o.worker(networkFunc(func(context.Context, store.Message) (string, error) { return "", fail }))
	o.queue("k1", 24*time.Hour)
	for range 3 {
		o.send(w)
		o.clock.Advance(time.Hour)
	}
	fail = nil
	o.send(w)
	o.queue("k2", time.Hour)
	o.send(w)
	got := strings.Count(o.log.String(), "\n")
	if got != 2 || !strings.Contains(o.log.String(), "do not go out") || !strings.Contains(o.log.String(), "go out again") {
		t.Errorf("log has %d lines:\n%s", got, o.log)
	}
	if strings.Contains(o.log.String(), "+447700900123") || strings.Contains(o.log.String(), "Weed") {
		t.Errorf("log holds a number or a text:\n%s", o.log)
	}
}

// Run sends at the start, on ticks and on kicks, and ends with its context.
func TestRun(t *testing.T) {
	o := newOutbox(t)
	sent := make(chan string)
	w := o.worker(networkFunc(func(_ context.Context, m store.Message) (string, error) {
		sent <- m.Key
		return "", nil
	}))
	o.queue("start", time.Hour)
	ctx, cancel := context.WithCancel(t.Context())
	over := make(chan struct{})
	go func() { defer close(over); w.Run(ctx) }()
	if got := <-sent; got != "start" {
		t.Errorf("sent %s", got)
	}
	o.queue("kick", time.Hour)
	w.Kick()
	w.Kick() // never waits
	if got := <-sent; got != "kick" {
		t.Errorf("sent %s", got)
	}
	o.queue("tick", time.Hour)
	o.clock.Advance(time.Second)
	if got := <-sent; got != "tick" {
		t.Errorf("sent %s", got)
	}
	cancel()
	<-over
}
