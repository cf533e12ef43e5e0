package push_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
)

// network is an HTTP server that records its requests and answers them as the test says.
type network struct {
	mu     sync.Mutex
	answer func(n int, w http.ResponseWriter, r *http.Request) // n is the number of the request, from 1
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

// listen starts a network that gives these answers, and returns the network and a client for it.
func (o *outbox) listen(answer func(n int, w http.ResponseWriter, r *http.Request)) (*network, *push.HTTP) {
	n := &network{answer: answer}
	server := httptest.NewServer(n)
	o.t.Cleanup(server.Close)
	p := profile.Default("local")
	p.Push.URL, p.Sender = server.URL, "12345"
	h := must(push.NewHTTP(p, o.clock, zerolog.Nop()))
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

// The network answers the first try of a text as the row says, and takes the text on any later try. After the row's
// wait the test calls Send a second time, and then checks the text's state, its reason and the number of tries.
//
//revive:disable-next-line:function-length the rows of one table
func TestAnswers(t *testing.T) {
	status := func(code int, headers ...string) func(http.ResponseWriter) { return says(code, "", headers...) }
	busyFor := status(503, "Retry-After", "60")
	busyUntil := status(429, "Retry-After", "Mon, 01 Jun 2026 12:10:00 GMT")
	const short = 8 * time.Second // longer than the shortest first wait: half of 15 s
	for _, tt := range []struct {
		name   string
		first  func(http.ResponseWriter)
		wait   time.Duration
		tries  int // number of tries after the second Send
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
		{"too long a wait", status(503, "Retry-After", "7200"), short, 1, store.Expired,
			"the network answered 503; it asks to wait for 2h0m0s, and the text is of no use by then"},
		{"429, too long a wait", status(429, "Retry-After", "7200"), short, 1, store.Expired,
			"the network answered 429; it asks to wait for 2h0m0s, and the text is of no use by then"},
		{"a wait that nobody means", status(503, "Retry-After", "315360000"), short, 2, store.Accepted,
			"the network answered 503; its Retry-After is ignored"},
		{"a wait that is over", status(503, "Retry-After", "Mon, 01 Jun 2026 11:00:00 GMT"), short, 2, store.Accepted,
			"the network answered 503"},
	} {
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

// described returns a client for a network at this URL that s describes.
func described(t *testing.T, url string, s profile.PushSpec) *push.HTTP {
	t.Helper()
	s.URL = url + s.URL
	p := must(profile.Spec{Push: &s}.Build("heron", func(string) (string, error) { return "reed", nil }))
	h := must(push.NewHTTP(p, clock.New(noon), zerolog.Nop()))
	t.Cleanup(h.Close)
	return h
}

// jsonPush describes a network whose JSON answers say in one word what became of the text.
var jsonPush = profile.PushSpec{
	Type: "application/json", Body: `{"for":"{{.To}}","words":"{{.Text}}"}`,
	Headers: map[string]string{"Authorization": "Bearer {{.Secret}}"}, Secrets: []string{"KEY"},
	ID: "/ref", Outcomes: []profile.OutcomeSpec{
		{Status: "200-299", At: "/fate", Is: []string{"afloat"}, Then: "taken"},
		{At: "/fate", Is: []string{"full"}, Then: "again"},
		{At: "/fate", Is: []string{"nobody"}, Then: "no-such-number"},
		{At: "/fate", Is: []string{"barred"}, Then: "never"},
		{Status: "200-299", Then: "unsure"},
	},
}

func outgoing(words string) store.Message {
	return store.Message{
		ID: 1, Key: "k1", To: phone, Note: "due", Text: words, UsefulUntil: noon.Add(time.Hour).Unix(), Tries: 1,
	}
}

// outcome formats the result of a push.
func outcome(id string, err error) string {
	var no *push.Refusal
	if errors.As(err, &no) {
		return fmt.Sprintf("again %v maybe %v number %v after %s", no.Again, no.MaybeSent, no.UnknownNumber, no.After)
	}
	if err != nil {
		return "not sent"
	}
	return "taken " + id
}

func TestDescribedAnswers(t *testing.T) {
	const no, open = "again false maybe false number false after 0s", "again false maybe true number false after 0s"
	const openAgain, again = "again true maybe true number false after 0s", "again true maybe false number false after "
	for _, tt := range []struct {
		name       string
		answer     func(w http.ResponseWriter)
		want       string
		idempotent string // what an idempotent network must get instead; "" = the same as want
	}{
		{"taken", says(202, `{"fate":"afloat","ref":"r-1"}`), "taken r-1", ""},
		{"full", says(200, `{"fate":"full"}`, "Retry-After", "60"), again + "1m0s", ""},
		{"nobody", says(404, `{"fate":"nobody"}`), "again false maybe false number true after 0s", ""},
		{"barred", says(200, `{"fate":"barred"}`), no, ""},
		{"another word", says(200, `{"fate":"sunk"}`), open, openAgain},
		{"a page", says(200, `<html>`), open, openAgain},
		{"cut off", func(w http.ResponseWriter) {
			w.Header().Set("Content-Length", "100")
			fmt.Fprint(w, `{"fate":"afloat"}`)
		}, open, openAgain},
		{"hung up", hangUp, open, openAgain},
		{"a proxy without an answer", says(502, `<html>`), open, openAgain},
		{"broken", says(503, ``, "Retry-After", "5"), again + "5s", ""},
		{"refused", says(400, `what?`), no, ""},
		{"moved", says(307, ``, "Location", "/elsewhere"), again + "0s", ""},
	} {
		for _, idempotent := range []bool{false, true} {
			var body, authorization string
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				b, _ := io.ReadAll(r.Body)
				body, authorization = string(b), r.Header.Get("Authorization")
				tt.answer(w)
			}))
			spec := jsonPush
			spec.Idempotent = &idempotent
			id, err := described(t, server.URL, spec).Push(t.Context(), outgoing(`Weed "now"`))
			server.Close()
			want := tt.want
			if idempotent && tt.idempotent != "" {
				want = tt.idempotent
			}
			if got := outcome(id, err); got != want {
				t.Errorf("%s, idempotent %v: %s (%v), want %s", tt.name, idempotent, got, err, want)
			}
			if body != `{"for":"+447700900123","words":"Weed \"now\""}` || authorization != "Bearer reed" {
				t.Errorf("%s: got %s with %s", tt.name, body, authorization)
			}
			if err != nil && strings.Contains(err.Error(), "7700900123") {
				t.Errorf("%s: the number is in %v", tt.name, err)
			}
		}
	}
}

func says(status int, body string, headers ...string) func(http.ResponseWriter) {
	return func(w http.ResponseWriter) {
		for i := 0; i < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		w.WriteHeader(status)
		fmt.Fprint(w, body)
	}
}

func hangUp(w http.ResponseWriter) {
	conn, _, err := http.NewResponseController(w).Hijack()
	if err != nil {
		panic(err)
	}
	conn.Close()
}

// Without a connection nothing was sent, so the text can be tried through another network.
func TestNobodyListens(t *testing.T) {
	l := must(net.Listen("tcp", "127.0.0.1:0"))
	l.Close()
	id, err := described(t, "http://"+l.Addr().String(), jsonPush).Push(t.Context(), outgoing("x"))
	var no *push.Refusal
	if !errors.As(err, &no) || !no.Again || no.MaybeSent || no.Reason != "not reached" {
		t.Errorf("%q, %v", id, err)
	}
}

// A request whose connection breaks is sent only once. Go's transport would send a GET, or a request with a repeatable
// body, again. The second result would hide that the network may have taken the first.
func TestTransportDoesNotRepeat(t *testing.T) {
	idempotent := jsonPush
	idempotent.Idempotent, idempotent.ID, idempotent.Outcomes = new(bool), "", nil
	*idempotent.Idempotent = true
	for name, tt := range map[string]struct {
		spec profile.PushSpec
		want string
	}{
		"GET": {profile.PushSpec{Method: "GET", URL: "/?to={{.ToDigits}}&t={{.Text}}"},
			"again false maybe true number false after 0s"},
		"POST": {idempotent, "again true maybe true number false after 0s"},
	} {
		var calls atomic.Int64
		server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if calls.Add(1) > 1 { // this request came on the reused connection
				hangUp(w)
			}
		}))
		t.Cleanup(server.Close)
		h := described(t, server.URL, tt.spec)
		must(h.Push(t.Context(), outgoing("one")))
		id, err := h.Push(t.Context(), outgoing("two"))
		if got := outcome(id, err); got != tt.want || calls.Load() != 2 {
			t.Errorf("%s: %s after %d calls", name, got, calls.Load())
		}
	}
}

// A text that is too long for the network, or too late for its validity period, is not sent. The reason is recorded.
func TestNotSent(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("it was sent") }))
	t.Cleanup(server.Close)
	short := described(t, server.URL,
		profile.PushSpec{Segments: 1, Method: "GET", URL: "/?to={{.To}}&t={{.Text}}&v={{.ValidOctet}}"})
	long, late := outgoing(strings.Repeat("x", 161)), outgoing("x")
	late.UsefulUntil = noon.Add(time.Minute).Unix()
	for reason, m := range map[string]store.Message{
		"longer than the 1 segments": long, "cannot be told to give it up in time": late,
	} {
		_, err := short.Push(t.Context(), m)
		var no *push.Refusal
		if !errors.As(err, &no) || no.Again || no.MaybeSent || !strings.Contains(no.Reason, reason) {
			t.Errorf("%v, want %q", err, reason)
		}
	}
}

// BenchmarkOutbox measures sending with records on disk, from the claim of a text until its outcome is stored. The
// network takes 20 ms for a text. It gets as many texts at once as a profile can allow, or the default number.
func BenchmarkOutbox(b *testing.B) {
	for _, concurrency := range []int{256, profile.DefaultConcurrency} {
		for _, idempotent := range []bool{true, false} {
			b.Run(fmt.Sprintf("concurrency=%d/idempotent=%v", concurrency, idempotent), func(b *testing.B) {
				benchmarkOutbox(b, push.Gateway{Concurrency: concurrency, Idempotent: idempotent})
			})
		}
	}
}

func benchmarkOutbox(b *testing.B, g push.Gateway) {
	s := must(store.Open(b.Context(), filepath.Join(b.TempDir(), "rowbell.db"), store.Options{}))
	defer s.Close()
	now := noon.Unix()
	for from := 0; from < b.N; from += 5000 {
		err := s.InTx(b.Context(), func(tx *store.Tx) error {
			for i := from; i < min(from+5000, b.N); i++ {
				if _, err := tx.Enqueue(store.Message{
					Key: fmt.Sprint("k", i), To: number(i), Reminder: engine.KindOpen, Text: "Weed plot 1 now.",
					CreatedAt: now, DueAt: now, UsefulUntil: now + 86400,
				}); err != nil {
					return err
				}
			}
			return nil
		})
		ok(b, err)
	}
	g.Name, g.SegmentPrice = "local", 1
	g.Network = networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
		select {
		case <-time.After(20 * time.Millisecond):
			return "", nil
		case <-ctx.Done():
			return "", ctx.Err()
		}
	})
	sender := push.New(push.Options{Store: s, QuietHour: 20, Clock: clock.New(noon), Log: zerolog.Nop(),
		Gateways: []push.Gateway{g}})
	b.ResetTimer()
	n, err := sender.Send(b.Context())
	if err != nil || n != b.N {
		b.Fatalf("%d texts, %v", n, err)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "texts/s")
}
