package main

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// answerer is a network that answers the first try of a text as a test says for its phone number, and takes all others.
type answerer struct {
	mu    sync.Mutex
	t     testing.TB
	first map[string]func(http.ResponseWriter) // by phone number
	tries map[string]int                       // by phone number
	id    map[string]string                    // of the text, by phone number
}

func (a *answerer) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var in struct{ ID, To string }
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		a.t.Error(err)
	}
	a.mu.Lock()
	a.tries[in.To]++
	if id := a.id[in.To]; id != "" && id != in.ID {
		a.t.Errorf("a second try has another id")
	}
	a.id[in.To] = in.ID
	answer := a.first[in.To]
	if answer == nil || a.tries[in.To] > 1 {
		answer = says(202, rightAnswer)
	}
	a.mu.Unlock()
	answer(w)
}

// answers sets the answer to the first try of a text to this phone.
func (a *answerer) answers(phone store.Phone, answer func(http.ResponseWriter)) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.first[phone.E164()] = answer
}

// tried returns how often the network got a text to this phone.
func (a *answerer) tried(phone store.Phone) int {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.tries[phone.E164()]
}

const rightAnswer = `{"ticket":"n-1","fate":"glazed","id":"n-1"}`

// says returns an answer with this status, body and headers.
func says(status int, body string, headers ...string) func(http.ResponseWriter) {
	return func(w http.ResponseWriter) {
		for i := 0; i < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		w.WriteHeader(status)
		_, _ = io.WriteString(w, body)
	}
}

func saysZipped(w http.ResponseWriter) {
	w.Header().Set("Content-Encoding", "gzip")
	z := gzip.NewWriter(w)
	_, _ = io.WriteString(z, rightAnswer)
	z.Close()
}

// saysMore sends a right answer and, behind its end, words that nobody asked for, with a phone number.
func saysMore(w http.ResponseWriter) {
	conn, _, err := http.NewResponseController(w).Hijack()
	if err != nil {
		panic(err)
	}
	fmt.Fprintf(conn, "HTTP/1.1 202 Accepted\r\nContent-Length: %d\r\n\r\n%sfor %s", len(rightAnswer), rightAnswer,
		fictional(1).E164())
	conn.Close()
}

const pageOfAProxy = "<!DOCTYPE html><html><body>Please log in to go on.</body></html>"

// answerCases are answers to the first try, each with the state of the text on three networks: one whose answer is
// described and that is not idempotent, one that is, and one that speaks the project's own format. A second try, which
// is taken, follows after a minute; "twice" stands for a text that was accepted then.
var answerCases = []struct {
	name            string
	answer          func(http.ResponseWriter)
	once, same, own string
	why             string // part of the reason in the records of the first network
}{
	{"right", says(202, rightAnswer), "accepted", "accepted", "accepted", ""},
	{"a number as id", says(200, `{"ticket":17,"fate":"glazed","id":17}`), "accepted", "accepted", "accepted", ""},
	{"a byte order mark", says(200, "\ufeff"+rightAnswer), "accepted", "accepted", "accepted", ""},
	{"another content type", says(200, rightAnswer, "Content-Type", "text/html"), "accepted", "accepted", "accepted",
		""},
	{"gzip", saysZipped, "accepted", "accepted", "accepted", ""},
	{"204, as described", says(204, ""), "accepted", "accepted", "accepted", ""},
	{"no body", says(200, ""), "unknown", "twice", "accepted", "/fate cannot be read; the answer has no body"},
	{"a page", says(200, pageOfAProxy), "unknown", "twice", "twice", "the answer is an HTML page"},
	{"JSON that ends early", says(200, rightAnswer[:30]), "unknown", "twice", "twice", "the answer is not JSON"},
	{"an answer that ends early", says(200, rightAnswer, "Content-Length", "100"), "unknown", "twice", "twice",
		"the answer breaks off"},
	{"an error that is not listed", says(200, `{"error":{"code":"C-18"}}`), "unknown", "twice", "twice",
		"/fate is not there; the answer is a JSON object with error"},
	{"an error that is listed", says(200, `{"error":{"code":"C-17"}}`), "refused", "refused", "twice", `is "C-17"`},
	{"a word that is not listed", says(200, `{"ticket":"n-cold","fate":"cold"}`), "unknown", "twice", "twice",
		`/fate is "cold"`},
	{"a name twice", says(200, `{"fate":"glazed","fate":"glazed","id":"1","id":"2"}`), "unknown", "twice", "twice",
		"a name twice"},
	{"a list", says(200, "["+rightAnswer+"]"), "unknown", "twice", "twice", "a JSON list of 1"},
	{"a long answer", says(200, rightAnswer+strings.Repeat(" ", 70<<10)), "unknown", "twice", "twice",
		"longer than 64 KiB"},
	{"a long head", says(200, rightAnswer, "X-Long", strings.Repeat("x", 100<<10)), "unknown", "twice", "twice",
		"no answer"},
	{"more than the answer", saysMore, "accepted", "accepted", "accepted", ""},
	{"a proxy without an answer", says(502, pageOfAProxy), "unknown", "twice", "twice", "answered 502"},
	{"not for now", says(503, pageOfAProxy), "twice", "twice", "twice", ""},

	{"wait for days", says(429, "", "Retry-After", "172800"), "expired", "expired", "expired",
		"it asks to wait for 48h0m0s"},
	{"wait for a week", says(429, "", "Retry-After", "Wed, 02 Dec 2026 09:00:00 GMT"), "expired", "expired",
		"expired", "it asks to wait for 168h0m0s"},
	{"wait for ten years", says(429, "", "Retry-After", "315360000"), "twice", "twice", "twice", ""},
	{"wait for less than nothing", says(429, "", "Retry-After", "-60"), "twice", "twice", "twice", ""},
	{"wait until yesterday", says(429, "", "Retry-After", "Tue, 24 Nov 2026 09:00:00 GMT"), "twice", "twice",
		"twice", ""},
	{"wait for 50 seconds", says(307, "", "Retry-After", "50", "Location", "/other"), "twice", "twice", "twice", ""},
	{"wait for two minutes", says(429, "", "Retry-After", "120"), "queued", "queued", "queued", "answered 429"},
}

const describedAnswers = `
[gateways.%[1]s.trust]
by = "bearer"
secrets = ["OWN_FORMAT_SECRET"]
[gateways.%[1]s.push]
url = %[2]q
type = "application/json"
body = '{"id":"{{.ID}}","to":"{{.To}}","text":"{{.Text}}"}'
answer = "json"
id = "/ticket"
success = { at = "/fate", is = ["glazed"] }
idempotent = %[3]t
[[gateways.%[1]s.push.outcomes]]
at = "/error/code"
is = ["C-17"]
then = "never"
[[gateways.%[1]s.push.outcomes]]
status = "204"
then = "taken"
`

// A text is accepted only if the answer of its network has what the description asks for. The HTTP status and the
// idempotency of the network decide on all other answers: no text goes a second time to a network that may have it and
// is not idempotent.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestAnswersOfNetworks(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.env = []string{"OWN_FORMAT_SECRET=" + testToken}
	a := &answerer{t: t, first: map[string]func(http.ResponseWriter){}, tries: map[string]int{},
		id: map[string]string{}}
	network := httptest.NewServer(a)
	defer network.Close()
	tables := "[texts]\nlanguages = [\"en\"]\n" +
		ownFormat(map[string]string{"local": p.push.URL, "tern": network.URL}) +
		fmt.Sprintf(describedAnswers, "kiln", network.URL, false) +
		fmt.Sprintf(describedAnswers, "heron", network.URL, true)
	for i, name := range []string{"kiln", "heron", "tern"} {
		tables += fmt.Sprintf("[[routes]]\nprefix = \"+44%d\"\nthrough = [%q]\n", 77009001+i, name)
	}
	p.startConfigured(aDay, "", tables)
	phone := func(network, n int) store.Phone { return fictional(100 + 100*network + n) }
	asks := func(phone store.Phone) {
		p.post("sms", map[string]any{"id": phone.E164(), "phone": phone.E164(), "text": "help"}, http.StatusAccepted)
	}
	for i, c := range answerCases {
		for n := range 3 {
			a.answers(phone(n, i), c.answer)
			asks(phone(n, i))
			asks(phone(n, 50+i)) // a text that is taken, so that no network is paused
		}
		p.settle()
	}
	p.clock(map[string]any{"advance": "1m"})
	s, err := store.Open(t.Context(), filepath.Join(p.dir, config.DefaultDB), store.Options{})
	must(t, err)
	for i, c := range answerCases {
		for n, want := range []string{c.once, c.same, c.own} {
			m := onlyText(t, s, phone(n, i))
			got := string(m.State)
			if m.State == store.Accepted && m.Tries == 2 {
				got = "twice"
			}
			if got != want || a.tried(phone(n, i)) != m.Tries || n == 0 && !strings.Contains(m.Reason, c.why) {
				t.Errorf("%s, network %d: %s after %d tries: %s; want %s: %s", c.name, n, got, m.Tries, m.Reason, want,
					c.why)
			}
		}
	}
	must(t, s.Close())
	for series, want := range map[string]string{
		`rowbell_push_tries_total{gateway="kiln",outcome="unsure"}`:  "11",
		`rowbell_push_tries_total{gateway="kiln",outcome="expired"}`: "2",
		`rowbell_push_tries_total{gateway="kiln",outcome="never"}`:   "1",
	} {
		if got := p.metric(series); got != want {
			t.Errorf("%s is %q, want %s", series, got, want)
		}
	}
	for line, want := range map[string]int{"the network took a text; it is unknown": 11, "a text expires now": 6,
		"whether the network took some texts": 21} {
		if n := strings.Count(p.log.String(), line); n != want {
			t.Errorf("%q stands in the log %d times, want %d", line, n, want)
		}
	}

	// A receipt names an unknown text by the id that stood in the answer.
	p.network = "kiln"
	p.post("receipt", map[string]any{"id": "n-cold", "state": "delivered"}, http.StatusNoContent)
	if got := p.metric(`rowbell_receipts_total{gateway="kiln",outcome="noted",state="delivered"}`); got != "1" {
		t.Errorf("%q receipts were noted, want 1", got)
	}

	// With 503 the wait is for all texts of the network.
	a.answers(phone(0, 98), says(503, "", "Retry-After", "600"))
	asks(phone(0, 98))
	p.settle()
	asks(phone(0, 99))
	p.clock(map[string]any{"advance": "9m"})
	if held, other := a.tried(phone(0, 98)), a.tried(phone(0, 99)); held != 1 || other != 0 {
		t.Errorf("%d and %d tries within the pause that the network asked for, want 1 and 0", held, other)
	}
	p.clock(map[string]any{"advance": "2m"})
	p.settle()
	if held, other := a.tried(phone(0, 98)), a.tried(phone(0, 99)); held != 2 || other != 1 {
		t.Errorf("%d and %d tries after the pause, want 2 and 1", held, other)
	}
	p.stop()
	// The log does not quote what came after the end of an answer, because it has a phone number.
	if log := p.log.String(); !strings.Contains(log, "a network sent more than its answer") {
		t.Errorf("not logged: more than the answer:\n%s", log)
	}
}

// onlyText returns the one text to a phone.
func onlyText(t testing.TB, s *store.Store, phone store.Phone) (m store.Message) {
	t.Helper()
	must(t, s.View(t.Context(), func(tx *store.Tx) error {
		list, err := tx.Inbox(phone, 0)
		if err == nil && len(list) != 1 {
			err = fmt.Errorf("%d texts to %s", len(list), phone)
		}
		if err == nil {
			m = list[0]
		}
		return err
	}))
	return m
}
