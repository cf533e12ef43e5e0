package gateway_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway"
	"rowbell/gateway/limit"
	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
)

// refused checks for a response with status 429 and this Retry-After. It returns the problem document.
func (h *fixture) refused(w *httptest.ResponseRecorder, retry string) problem.Problem {
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
		o.Limits.Number = limit.Set{CallsAMinute: calls, OpenSessions: sessions}
		o.Limits.Pause = 10 * time.Minute
	}
}

// A number over its limit is paused. During the pause its calls cause no transaction and no text, and its phone shows
// an apology.
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
	text := m{"id": "t1", "phone": phone.E164(), "text": "menu"}
	if p := h.refused(h.post("/in/local/sms", text), "60"); p.Text != "" {
		t.Errorf("a screen in the answer to a text: %q", p.Text)
	}
	h.steps()
	if len(h.outbox()) != 0 {
		t.Error("a text goes out to a number over its limit")
	}
	log := h.log.String()
	masked := strings.Contains(log, "+4477…123") && !strings.Contains(log, phone.E164())
	if strings.Count(log, "a limit is reached") != 1 || !masked {
		t.Errorf("the log:\n%s", log)
	}
	// A call of another number is answered.
	w := h.post("/in/local/ussd", call(m{"phone": "+447700900124", "event": "begin"}))
	if w.Code != 200 {
		t.Errorf("another number: %d", w.Code)
	}
	h.clock.Advance(time.Minute)
	h.ussd(m{"event": "begin"}, "Home ", true)
	h.sms("t1", "menu") // the text with this id was refused before, so this text is not a repeat
	h.steps(`dial ussd "" ""`, `dial ussd "home" ""`, `text "menu" state "" at 0 prompt "" at 0 until 0`)
}

// A STOP that is over the limit is applied once in each pause, and gets no answer.
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
		t.Errorf("a STOP over the limit is answered: %v", h.outbox())
	}
}

// If a STOP that is over the limit cannot be written to the records, it must not count as applied: a later STOP in the
// same pause is tried again.
func TestStopInAFloodFails(t *testing.T) {
	h := open(t, numberLimit(1, 0))
	h.sms("t1", "silent")
	h.store.Close()
	for _, id := range []string{"t2", "t3"} {
		h.wants(503, h.post("/in/local/sms", m{"id": id, "phone": phone.E164(), "text": "stop"}))
	}
}

// The limits of one network do not affect other networks. A STOP, the end of a session and a receipt are
// handled even if their network is over its limit.
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
	h.wants(204, h.post("/in/local/receipt", m{"id": "k1", "state": "delivered"}))
	h.wants(200, h.post("/in/other/ussd", call(nil)))
	if strings.Count(h.log.String(), "a limit is reached") != 1 {
		t.Errorf("the log:\n%s", h.log)
	}
	h.clock.Advance(45 * time.Second)
	h.ussd(m{"entry": "2"}, "Home ", true)
}

// A session counts as open until the network or the menu ends the session, or until the session times out.
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

// No more than MaxInFlight callbacks are handled at the same time. If a callback misses its deadline, its transaction
// goes on and counts towards MaxInFlight until the transaction ends.
func TestMaxInFlight(t *testing.T) {
	// Under synctest the clock jumps ahead when every goroutine waits. So the test does not really wait for the
	// deadline.
	synctest.Test(t, func(t *testing.T) {
		h := open(t, func(o *gateway.Options) { o.MaxInFlight = 1 })
		hold := make(chan struct{})
		h.menu.hold = hold
		first := make(chan *httptest.ResponseRecorder)
		go func() { first <- h.post("/in/local/ussd", call(m{"event": "begin"})) }()
		<-h.menu.begun
		another := call(m{"phone": "+447700900124", "event": "begin", "step": 0})
		full := func() {
			t.Helper()
			w := h.post("/in/local/ussd", another)
			retry := w.Header().Get("Retry-After")
			if w.Code != 503 || retry != "1" || !strings.Contains(w.Body.String(), "Sorry, try again.") {
				t.Errorf("%d, Retry-After %q: %s", w.Code, retry, w.Body)
			}
		}
		full()
		h.wants(503, <-first) // the first call has missed its deadline, but its transaction still runs
		full()
		h.wants(200, h.get("/healthz"))
		h.menu.mu.Lock()
		h.menu.hold = nil
		h.menu.mu.Unlock()
		close(hold)
		synctest.Wait() // the test waits until the first call's transaction has ended
		h.wants(200, h.post("/in/local/ussd", another))
		h.steps(`dial ussd "" ""`, `dial ussd "" ""`)
	})
}

// arriving is a request body whose reading blocks until the channel comes is closed.
type arriving struct{ asked, comes chan struct{} }

func (a arriving) Read([]byte) (int, error) {
	close(a.asked)
	<-a.comes
	return 0, io.EOF
}

// A call counts towards MaxInFlight only after authentication. Otherwise strangers could use up MaxInFlight by slow
// bodies, because a signature can be checked only after the whole body has arrived.
func TestStrangersAreNotInFlight(t *testing.T) {
	spec := profile.Spec{Trust: &profile.TrustSpec{By: "signature", Secrets: []string{"KEY"}}}
	signs := must(spec.Build("heron", func(string) (string, error) { return signingSecret, nil }))
	h := open(t, func(o *gateway.Options) { o.MaxInFlight, o.Networks = 1, append(o.Networks, signs) })
	slow := arriving{make(chan struct{}), make(chan struct{})}
	over := make(chan *httptest.ResponseRecorder)
	go func() {
		over <- h.post("/in/heron/ussd", "", func(r *http.Request) { r.Body, r.ContentLength = io.NopCloser(slow), -1 })
	}()
	<-slow.asked
	h.wants(200, h.post("/in/local/ussd", call(m{"event": "begin"})))
	close(slow.comes)
	if w := <-over; w.Code != 401 {
		t.Errorf("the stranger: %d", w.Code)
	}
}

// In one minute, refused calls cause at most maxRefusalsLogged log lines and one summary.
func TestRefusalsDoNotFillTheLog(t *testing.T) {
	h := open(t, func(o *gateway.Options) { o.Log = o.Log.Level(zerolog.InfoLevel) })
	lines := func(after time.Duration, paths ...string) int {
		h.clock.Advance(after)
		h.log.Reset()
		for i := range 300 {
			h.post(paths[i%len(paths)], "{}", header("Authorization", ""))
		}
		h.post("/in/local/ussd", call(m{"event": "begin"})) // this call is accepted, so it is always logged
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

// wire is a listener of in-memory connections, because the fake time of synctest works with them but not with
// real connections.
type wire struct {
	conns chan net.Conn
	done  chan struct{}
}

func (w *wire) Accept() (net.Conn, error) {
	select {
	case c := <-w.conns:
		return c, nil
	case <-w.done:
		return nil, net.ErrClosed
	}
}

func (w *wire) Close() error   { close(w.done); return nil }
func (w *wire) Addr() net.Addr { return &net.TCPAddr{} }

// dribble sends s, one byte a second, until the server closes the connection. It returns what the server sent, and the
// seconds until the server closed the connection.
func dribble(t *testing.T, conn net.Conn, s string) (said string, seconds int) {
	t.Helper()
	var heard strings.Builder
	b := make([]byte, 4096)
	for began := time.Now(); ; {
		if s != "" {
			// The error is ignored here, because Read reports it if the server has closed the connection.
			_ = conn.SetWriteDeadline(time.Now().Add(time.Second))
			if _, err := conn.Write([]byte(s[:1])); err == nil {
				s = s[1:]
			}
		}
		_ = conn.SetReadDeadline(time.Now().Add(time.Second))
		n, err := conn.Read(b)
		heard.Write(b[:n])
		switch {
		case errors.Is(err, io.EOF) || errors.Is(err, io.ErrClosedPipe):
			return heard.String(), int(time.Since(began) / time.Second)
		case err != nil && !errors.Is(err, os.ErrDeadlineExceeded):
			t.Fatal(err)
		case time.Since(began) > 5*time.Minute:
			t.Fatalf("the connection is still open; the server sent %q", heard.String())
		}
	}
}

// The server's timeouts disconnect a slow caller, whichever part of a request is slow.
func TestSlowCallers(t *testing.T) {
	const start = "POST /in/local/ussd HTTP/1.1\r\nHost: x\r\n"
	const head = start + "Authorization: Bearer " + token + "\r\nContent-Type: application/json\r\n"
	const slow = "HTTP/1.1 408 Request Timeout"
	for _, tt := range []struct {
		name         string
		whole, drops string // whole is sent at once, then drops is sent one byte a second
		said         string
		// most is the longest allowed time in seconds: the server's timeout, and one second more because bytes come
		// once a second.
		most int
	}{
		{"says nothing", "", "", "", 7},
		{"a slow request line", "", "POST /in/local/ussd HTTP/1.1\r\n", "HTTP/1.1 400 Bad Request", 7},
		{"a slow header", start, "X-Slow: " + strings.Repeat("x", 99), "HTTP/1.1 400 Bad Request", 7},
		{"a slow body", head + "Content-Length: 200\r\n\r\n", strings.Repeat("x", 200), slow, 12},
		{"slow chunks", head + "Transfer-Encoding: chunked\r\n\r\n", strings.Repeat("1\r\nx\r\n", 50), slow, 12},
		{"nothing after a request", "GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n", "", "HTTP/1.1 200 OK", 62},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				h := open(t)
				w := &wire{make(chan net.Conn), make(chan struct{})}
				serve(t, h.g, w)
				mine, theirs := net.Pipe()
				w.conns <- theirs
				if _, err := io.WriteString(mine, tt.whole); err != nil {
					t.Fatal(err)
				}
				said, seconds := dribble(t, mine, tt.drops)
				status, _, _ := strings.Cut(said, "\r\n")
				if status != tt.said || seconds > tt.most {
					t.Errorf("%q after %d s; want %q within %d s", status, seconds, tt.said, tt.most)
				}
				h.steps()
				mine.Close()
			})
		})
	}
}
