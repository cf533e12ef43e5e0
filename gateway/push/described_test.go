package push_test

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
)

// described is a network with its own description, at this URL.
func described(t *testing.T, url string, s profile.PushSpec) *push.HTTP {
	t.Helper()
	s.URL = url + s.URL
	p := must(profile.Spec{Push: &s}.Build("heron", func(string) (string, error) { return "reed", nil }))
	h := push.NewHTTP(p, clock.New(noon))
	t.Cleanup(h.Close)
	return h
}

// jsonPush is a network whose answers say by a word what became of the text.
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
	const openAgain = "again true maybe true number false after 0s"
	tests := []struct {
		name       string
		answer     func(w http.ResponseWriter)
		want       string
		idempotent string // for an idempotent network; "" = the same
	}{
		{"taken", says(202, `{"fate":"afloat","ref":"r-1"}`), "taken r-1", ""},
		{"full", says(200, `{"fate":"full"}`, "Retry-After", "60"),
			"again true maybe false number false after 1m0s", ""},
		{"nobody", says(404, `{"fate":"nobody"}`), "again false maybe false number true after 0s", ""},
		{"barred", says(200, `{"fate":"barred"}`), no, ""},
		{"another word", says(200, `{"fate":"sunk"}`), open, openAgain},
		{"a page", says(200, `<html>`), open, openAgain},
		{"cut off", func(w http.ResponseWriter) {
			w.Header().Set("Content-Length", "100")
			fmt.Fprint(w, `{"fate":"afloat"}`)
		}, open, openAgain},
		{"hung up", hangUp, open, openAgain},
		{"broken", says(503, ``, "Retry-After", "5"), "again true maybe false number false after 5s", ""},
		{"refused", says(400, `what?`), no, ""},
		{"moved", says(307, ``, "Location", "/elsewhere"), "again true maybe false number false after 0s", ""},
	}
	for _, tt := range tests {
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

// Without a connection nothing was sent, so the text can be tried elsewhere.
func TestNobodyListens(t *testing.T) {
	l := must(net.Listen("tcp", "127.0.0.1:0"))
	l.Close()
	id, err := described(t, "http://"+l.Addr().String(), jsonPush).Push(t.Context(), outgoing("x"))
	var no *push.Refusal
	if !errors.As(err, &no) || !no.Again || no.MaybeSent || no.Reason != "not reached" {
		t.Errorf("%q, %v", id, err)
	}
}

// A request whose connection breaks is sent once. Go's transport by itself would send a GET, or a body that it
// can read again, a second time on a reused connection, which would hide that the first may have been taken.
func TestTransportDoesNotRepeat(t *testing.T) {
	idempotent := jsonPush
	idempotent.Idempotent, idempotent.Outcomes = new(bool), nil
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
			if calls.Add(1) > 1 { // on the reused connection
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

// A text that is too long for the network, or too late for its validity period, is not sent, with a reason.
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
