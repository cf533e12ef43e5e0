package gateway_test

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/menu"
	"rowbell/store"
	"rowbell/store/testrun"
)

var morning = time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC)

const (
	token = "river-stone"
	phone = store.Phone("+447700900123")
)

// script is a Menu that records its calls and does what the entry says. "end" ends the dialogue, "note" sends two texts
// besides the screen, "yes" gives consent, "erase" erases the records, "fail" and "unknown" return errors, and "panic"
// panics.
type script struct {
	mu    sync.Mutex
	steps []string
	hold  chan struct{} // if set, each step waits until hold is closed
	begun chan struct{} // receives a value for each step that waits
}

func (s *script) step(what string) {
	s.mu.Lock()
	hold := s.hold
	s.steps = append(s.steps, what)
	s.mu.Unlock()
	if hold != nil {
		s.begun <- struct{}{}
		<-hold
	}
}

func (s *script) asked() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.steps)
}

func (s *script) Unfinished(menu.Book, []byte) bool { return false }

func (s *script) Dial(_ menu.Book, ch menu.Channel, state []byte, dialled string) ([]byte, menu.Reply, error) {
	s.step(fmt.Sprintf("dial %s %q %q", ch, state, dialled))
	return []byte("home"), menu.Reply{Text: "Home " + dialled, More: true}, nil
}

func (s *script) Enter(b menu.Book, ch menu.Channel, state []byte, entry string) ([]byte, menu.Reply, error) {
	s.step(fmt.Sprintf("enter %s %q %q", ch, state, entry))
	r := menu.Reply{Text: "You said " + entry, More: true}
	switch entry {
	case "end":
		return nil, menu.Reply{Text: "Bye"}, nil
	case "note":
		r.Send = []menu.Note{{Kind: "welcome", Text: "Welcome."}, {Kind: "how", Text: "How it goes."}}
	case "yes":
		if err := b.Consent("en", "1", ch.String()); err != nil {
			return nil, menu.Reply{}, err
		}
	case "erase":
		if err := b.Erase(); err != nil {
			return nil, menu.Reply{}, err
		}
		return nil, menu.Reply{Text: "Bye"}, nil
	case "fail":
		return nil, menu.Reply{}, fmt.Errorf("no such thing")
	case "unknown":
		return nil, menu.Reply{}, &store.UnknownError{Err: errors.New("the connection was lost")}
	case "panic":
		panic("a screen with the words " + entry)
	}
	return append(state, "/"+entry...), r, nil
}

func (s *script) Text(b menu.Book, in menu.Inbound) (menu.Outcome, error) {
	s.step(textStep(in.Text, string(in.State), in.StateAt, string(in.Prompt), in.PromptAt, in.PromptUntil))
	out := menu.Outcome{Kind: "reply", Reply: "Heard " + in.Text, State: in.State, Prompt: in.Prompt}
	switch in.Text {
	case "menu":
		out.State, out.Spoke = []byte("sms-home"), true
	case "again":
		out.Spoke = true // the answer shows the same screen once more
	case "ask":
		out.Prompt, out.PromptSet, out.PromptEnd = []byte("prompt"), true, 20606 // the day number of 2 June 2026
	case "stop":
		return menu.Outcome{Kind: "stop", Reply: "Stopped."}, nil
	case "silent":
		out.Reply = ""
	case "when":
		s.step(fmt.Sprintf("sent at %d, today is %+d", in.SentAt, b.SaidOn()-b.Today()))
	case "fail":
		return menu.Outcome{}, fmt.Errorf("no such thing")
	}
	return out, nil
}

func (s *script) Stops(entry string) bool { return entry == "stop" }

func (s *script) Sorry(string) string { return "Sorry, try again." }

// textStep returns the line that a script records when the menu gets a text: the text itself, the saved state of the
// dialogue, the prompt, and their instants.
func textStep(text, state string, at int64, prompt string, promptAt, until int64) string {
	return fmt.Sprintf("text %q state %q at %d prompt %q at %d until %d", text, state, at, prompt, promptAt, until)
}

// fixture is a gateway with a scripted menu and real records.
type fixture struct {
	t      *testing.T
	db     string // path of the database file
	g      *gateway.Gateway
	menu   *script
	store  *store.Store
	clock  *clock.Manual
	log    *bytes.Buffer
	queued int
}

func open(t *testing.T, change ...func(*gateway.Options)) *fixture {
	t.Helper()
	db := testrun.Records(t, makeRecords)
	s := must(store.Open(t.Context(), db, store.Options{}))
	t.Cleanup(func() { s.Close() })
	h := &fixture{
		t: t, db: db, menu: &script{begun: make(chan struct{}, 8)}, store: s, clock: clock.New(morning),
		log: new(bytes.Buffer),
	}
	local := profile.Default("local")
	local.Token = profile.HashToken(token)
	local.CountryCode = "44"
	o := gateway.Options{
		Store: s, Menu: h.menu, Clock: h.clock, Log: zerolog.New(zerolog.SyncWriter(h.log)),
		Networks: []profile.Profile{local}, Queued: func() { h.queued++ }, Health: gateway.Health{QuietHour: 20},
	}
	for _, c := range change {
		c(&o)
	}
	h.g = must(gateway.New(o))
	return h
}

// database opens the records behind the back of the gateway.
func (h *fixture) database() *sql.DB {
	h.t.Helper()
	driver := "sqlite3"
	if testrun.OnServer() {
		driver = "pgx"
	}
	db := must(sql.Open(driver, h.db))
	h.t.Cleanup(func() { db.Close() })
	return db
}

func makeRecords(address string) error {
	s, err := store.Open(context.Background(), address, store.Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

// ok ends the test if there is an error.
func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// must returns v. It panics if there is an error, because the set-up of a test must not fail.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// request returns a POST with the token. A string becomes the body as it is; any other body is written as JSON. The
// functions in change may alter the request.
func (h *fixture) request(path string, body any, change ...func(*http.Request)) *http.Request {
	h.t.Helper()
	b, raw := body.(string)
	if !raw {
		b = string(must(json.Marshal(body)))
	}
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(b))
	r.Header.Set("Authorization", "Bearer "+token)
	r.Header.Set("Content-Type", "application/json")
	for _, c := range change {
		c(r)
	}
	return r
}

// write runs fn in a transaction of the store.
func (h *fixture) write(fn func(*store.Tx) error) {
	h.t.Helper()
	ok(h.t, h.store.InTx(h.t.Context(), fn))
}

// ledger runs fn on a phone's records.
func (h *fixture) ledger(phone store.Phone, fn func(*store.Ledger) error) {
	h.t.Helper()
	h.write(func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, h.clock.Now().Unix())
		if err != nil {
			return err
		}
		return fn(l)
	})
}

func (h *fixture) post(path string, body any, change ...func(*http.Request)) *httptest.ResponseRecorder {
	h.t.Helper()
	w := httptest.NewRecorder()
	h.g.ServeHTTP(w, h.request(path, body, change...))
	return w
}

// wants checks the status of a response.
func (h *fixture) wants(code int, w *httptest.ResponseRecorder) {
	h.t.Helper()
	if w.Code != code {
		h.t.Errorf("%d %s, want %d", w.Code, w.Body, code)
	}
}

func header(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(name, value) }
}

func asForm(r *http.Request) {
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded; charset=utf-8")
}

type m = map[string]any

// call returns the fields of a USSD callback with the entry "1", changed by change; see changed.
func call(change m) m {
	return changed(m{"phone": phone.E164(), "session": "s1", "event": "entry", "entry": "1"}, change)
}

// changed returns a copy of base with the fields of change in place of its own. A field whose value in change is nil is
// removed.
func changed(base, change m) m {
	c := maps.Clone(base)
	maps.Copy(c, change)
	maps.DeleteFunc(c, func(_ string, v any) bool { return v == nil })
	return c
}

// register records the consent of the grower to whom l belongs, and one plot that was planted daysAgo days ago.
func register(l *store.Ledger, label string, daysAgo engine.Day) error {
	if err := l.Consent("en", "1", "ussd"); err != nil {
		return err
	}
	_, err := l.AddPlot(engine.Plot{
		Label: label, Method: engine.Transplanted, Planted: l.Today() - daysAgo,
		RowSpacingCM: 20, HillSpacingCM: 20, AreaM2: 600,
	}, engine.Tool{WidthCM: 15})
	return err
}

func form(fields m) string {
	v := url.Values{}
	for name, value := range fields {
		v.Set(name, fmt.Sprint(value))
	}
	return v.Encode()
}

// ussd posts a USSD callback and checks the screen in the response.
func (h *fixture) ussd(change m, text string, more bool, how ...func(*http.Request)) {
	h.t.Helper()
	w := h.post("/in/local/ussd", call(change), how...)
	if got := h.screen(w); got.Text != text || got.More != more {
		h.t.Errorf("%v: %q, more %v; want %q, %v", change, got.Text, got.More, text, more)
	}
}

// screen is a screen in the gateway's own format.
type screen struct {
	Text string
	More bool
}

// screen decodes the screen in a response.
func (h *fixture) screen(w *httptest.ResponseRecorder) (got screen) {
	h.t.Helper()
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != http.StatusOK {
		h.t.Fatalf("%d %s", w.Code, w.Body)
	}
	return got
}

func (h *fixture) sms(id, text string) {
	h.t.Helper()
	w := h.post("/in/local/sms", m{"id": id, "phone": phone.E164(), "to": "12345", "text": text})
	if w.Code != http.StatusAccepted || w.Body.Len() != 0 {
		h.t.Errorf("sms %s: %d %q, want 202 and nothing", id, w.Code, w.Body)
	}
}

// steps checks the calls that the menu got since the last check of steps.
func (h *fixture) steps(want ...string) {
	h.t.Helper()
	got := h.menu.asked()
	h.menu.mu.Lock()
	h.menu.steps = nil
	h.menu.mu.Unlock()
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		h.t.Errorf("the menu was asked\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

// outbox lists the texts to phone, oldest first.
func (h *fixture) outbox() (list []store.Message) {
	h.t.Helper()
	h.write(func(tx *store.Tx) (err error) {
		list, err = tx.Inbox(phone, 0)
		return err
	})
	return list
}

// enqueue writes a text to phone to the outbox. The text expires after an hour.
func (h *fixture) enqueue(key string, at time.Time) {
	h.t.Helper()
	h.write(func(tx *store.Tx) error {
		_, err := tx.Enqueue(store.Message{
			Key: key, To: phone, Note: "reply", Text: "Hello.",
			CreatedAt: at.Unix(), DueAt: at.Unix(), UsefulUntil: at.Add(time.Hour).Unix(),
		})
		return err
	})
}

// sent claims all texts for a network and records that the network took them under this id.
func (h *fixture) sent(gateway, networkID string) {
	h.t.Helper()
	h.write(func(tx *store.Tx) error {
		now := h.clock.Now().Unix()
		claims, err := tx.Claim(now, store.Claimant{
			Gateway: gateway, RoutePrefixes: []string{""}, Max: 100, Lease: time.Minute,
		})
		for _, m := range claims.Texts {
			if err == nil {
				err = tx.Settle(now, m.Took(networkID))
			}
		}
		return err
	})
}
