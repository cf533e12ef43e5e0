package gateway_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// described opens a house with one network, as the spec has it, that anybody at
// 192.0.2.1 may be.
func described(t *testing.T, spec profile.Spec, change ...func(*gateway.Options)) *house {
	t.Helper()
	if spec.Trust == nil {
		spec.Trust = &profile.TrustSpec{By: "address", From: []string{"192.0.2.1"}}
	}
	spec.CountryCode = "44"
	p, err := spec.Build("tern", func(env string) (string, error) {
		return map[string]string{"KEY": signingSecret, "WORD": "reed"}[env], nil
	})
	if err != nil {
		t.Fatal(err)
	}
	change = append([]func(*gateway.Options){func(o *gateway.Options) {
		o.Networks, o.DialCode = []profile.Profile{p}, "*123#"
	}}, change...)
	return open(t, change...)
}

const signingSecret = "whsec_cGFkZHktYmVsbC1zYW1wbGUtc2VjcmV0LTAx"

// formUSSD is a dialogue in a form, answered in words: + where it goes on.
func formUSSD(change func(*profile.USSDSpec)) profile.Spec {
	s := &profile.USSDSpec{
		CallSpec: profile.CallSpec{Body: "form", Reply: &profile.ReplySpec{Type: "text/plain", Body: "{{if .More}}+{{else}}-{{end}}{{.Text}}"}},
		Phone:    "p", Session: "s", Entry: "e",
	}
	change(s)
	return profile.Spec{USSD: s}
}

// step is one call of a session and what is answered.
type step struct {
	session, entry string
	want           string // "400" for a refusal
	wait           time.Duration
	extra          string // further fields
}

func (h *house) play(steps []step) {
	h.t.Helper()
	for i, s := range steps {
		body := "p=07700900123&s=" + s.session + "&e=" + url.QueryEscape(s.entry) + s.extra
		w := h.post("/in/tern/ussd", body, asForm, func(r *http.Request) { r.Header.Del("Authorization") })
		got := w.Body.String()
		if w.Code != http.StatusOK {
			got = fmt.Sprint(w.Code)
		}
		if got != s.want {
			h.t.Errorf("step %d (%s %q): %q, want %q (%s)", i, s.session, s.entry, got, s.want, w.Body)
		}
		h.clock.Advance(s.wait)
	}
}

// A session that was not heard of before begins; no repeat begins it anew.
func TestBeginsNewSession(t *testing.T) {
	t.Parallel()
	spec := formUSSD(func(s *profile.USSDSpec) { s.Begins = "new-session" })
	for name, tt := range map[string]struct {
		steps []step
		asked []string
	}{
		"a dialogue": {
			[]step{{"s1", "*123#", "+Home *123#", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "end", "-Bye", 0, ""}},
			[]string{`dial ussd "" "*123#"`, `enter ussd "home" "1"`, `enter ussd "home/1" "1"`, `enter ussd "home/1/1" "end"`},
		},
		"the first call again": {
			[]step{{"s1", "*123#", "+Home *123#", time.Minute, ""}, {"s1", "*123#", "+Home *123#", 0, ""}, {"s1", "1", "+You said 1", 0, ""}},
			[]string{`dial ussd "" "*123#"`, `enter ussd "home" "1"`},
		},
		"the first call again, late": {
			[]step{{"s1", "*123#", "+Home *123#", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "*123#", "+You said 1", 0, ""}, {"s1", "2", "+You said 2", 0, ""}},
			[]string{`dial ussd "" "*123#"`, `enter ussd "home" "1"`, `enter ussd "home/1" "2"`},
		},
		"a first call with nothing in it": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "", "+Home ", 0, ""}, {"s1", "1", "+You said 1", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "1"`},
		},
		"the last call again": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "end", "-Bye", time.Minute, ""}, {"s1", "end", "-Bye", 0, ""}, {"s2", "", "+Home ", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "end"`, `dial ussd "" ""`},
		},
		"earlier calls again, late": {
			[]step{{"s1", "*123#", "+Home *123#", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "end", "-Bye", 0, ""}, {"s1", "1", "-Bye", 0, ""}, {"s1", "*123#", "-Bye", 0, ""}},
			[]string{`dial ussd "" "*123#"`, `enter ussd "home" "1"`, `enter ussd "home/1" "end"`},
		},
		"an id used again, an hour later": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "end", "-Bye", time.Hour + time.Second, ""}, {"s1", "", "+Home ", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "end"`, `dial ussd "" ""`},
		},
	} {
		t.Run(name, func(t *testing.T) {
			h := described(t, spec)
			h.play(tt.steps)
			h.steps(tt.asked...)
		})
	}
}

func TestBeginsNoEntry(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins = "no-entry" }))
	h.play([]step{
		{"s1", "", "+Home ", 0, ""}, {"s1", "", "+Home ", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "1", "+You said 1", 0, ""},
		{"s1", "", "+You said 1", 0, ""},                           // nothing was answered: the screen that is on
		{"s1", "end", "-Bye", 0, ""}, {"s1", "end", "-Bye", 0, ""}, // a repeat
		{"s1", "", "+Home ", 0, ""}, // the id is used again
	})
	h.steps(`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "1"`, `enter ussd "home/1/1" "end"`, `dial ussd "" ""`)
}

// Where a call holds the whole session, what was added is the entry, whatever
// it holds itself; the same whole is a repeat, of any step.
func TestHoldsAll(t *testing.T) {
	t.Parallel()
	spec := formUSSD(func(s *profile.USSDSpec) { s.Begins, s.Holds = "no-entry", "all" })
	for name, tt := range map[string]struct {
		steps []step
		asked []string
	}{
		"a dialogue": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "1*20*30", "+You said 20*30", 0, ""}, {"s1", "1*20*30*1", "+You said 1", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "20*30"`, `enter ussd "home/1/20*30" "1"`},
		},
		"repeats of all steps": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "1*2", "+You said 2", 0, ""}, {"s1", "1*2", "+You said 2", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "", "+Home ", 0, ""}, {"s1", "1*2*3", "+You said 3", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "2"`, `enter ussd "home/1/2" "3"`},
		},
		"the last again": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "end", "-Bye", 0, ""}, {"s1", "end", "-Bye", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "end"`},
		},
		"on after the end": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "end", "-Bye", 0, ""}, {"s1", "end*1", "+Home ", 0, ""}, {"s1", "end*1*2", "+You said 2", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "end"`, `dial ussd "" ""`, `enter ussd "home" "2"`},
		},
		"the id again, with another path": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "end", "-Bye", 0, ""}, {"s1", "5*1", "+Home *123*5*1#", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "end"`, `dial ussd "" "*123*5*1#"`},
		},
		"a dialled path": {
			[]step{{"s1", "1*5", "+Home *123*1*5#", 0, ""}, {"s1", "1*5*7", "+You said 7", 0, ""}},
			[]string{`dial ussd "" "*123*1*5#"`, `enter ussd "home" "7"`},
		},
		"the code first": {
			[]step{{"s1", "*123#", "+Home *123#", 0, ""}, {"s1", "*123#*7", "+You said 7", 0, ""}},
			[]string{`dial ussd "" "*123#"`, `enter ussd "home" "7"`},
		},
		"not what was said before": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "2*1", "400", 0, ""}, {"s1", "12", "400", 0, ""}, {"s1", "1*3", "+You said 3", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "3"`},
		},
		"an entry that begins with the separator": {
			[]step{{"s1", "", "+Home ", 0, ""}, {"s1", "1", "+You said 1", 0, ""}, {"s1", "1**", "+You said *", 0, ""}},
			[]string{`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "*"`},
		},
	} {
		t.Run(name, func(t *testing.T) {
			h := described(t, spec)
			h.play(tt.steps)
			h.steps(tt.asked...)
		})
	}
}

// With a word for the beginning and a code beside it the path is put below that
// code, and not twice.
func TestHoldsAllByWords(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) {
		s.Event, s.Dialled, s.Holds, s.Separator = "k", "d", "all", "~"
		s.Events = map[string][]string{"begin": {"new"}, "entry": {"go"}, "end": {"gone"}}
	}))
	h.play([]step{
		{"s1", "", "+Home *124#", 0, "&k=new&d=*124%23"},
		{"s1", "7", "+You said 7", 0, "&k=go"},
		{"s1", "7", "-", 0, "&k=gone"}, // the end has the text of the last entry
		{"s2", "1~5", "+Home *124*1*5#", 0, "&k=new&d=*124%23"},
		{"s3", "1~5", "+Home *124*1*5#", 0, "&k=new&d=*124*1*5%23"},
		{"s4", "1~5", "+Home *123*1*5#", 0, "&k=go"}, // the beginning never came
		{"s5", "", "400", 0, "&k=middle"},
	})
	h.steps(`dial ussd "" "*124#"`, `enter ussd "home" "7"`, `dial ussd "home/7" "*124*1*5#"`, `dial ussd "home" "*124*1*5#"`, `dial ussd "home" "*123*1*5#"`)
}

// What is kept to tell repeats goes with the records of the phone.
func TestEraseForgetsThreads(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins = "new-session" }))
	h.play([]step{{"s1", "", "+Home ", 0, ""}, {"s1", "yes", "+You said yes", 0, ""}, {"s1", "by the well", "+You said by the well", 0, ""}})
	err := h.store.InTx(t.Context(), func(tx *store.Tx) error {
		book, err := tx.Ledger(phone, morning.Unix())
		if err != nil {
			return err
		}
		return book.Erase()
	})
	if err != nil {
		t.Fatal(err)
	}
	h.play([]step{{"s1", "by the well", "+Home ", 0, ""}})
}

// A screen is rendered from what was kept, so a repeat is answered as the call.
func TestRepeatIsRenderedAgain(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins, s.ID = "new-session", "i" }))
	h.play([]step{{"s1", "", "+Home ", 0, "&i=1"}, {"s1", "a<b", "+You said a<b", time.Hour * 24, "&i=2"}, {"s1", "a<b", "+You said a<b", 0, "&i=2"}})
	h.steps(`dial ussd "" ""`, `enter ussd "home" "a<b"`)
}

// Where we fail, a network with its own form of a screen gets one, with the
// status that it needs to show it.
func TestTroubleIsAScreen(t *testing.T) {
	for status, want := range map[int]int{0: 503, 200: 200, 599: 599} {
		h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins, s.TroubleStatus = "new-session", status }))
		h.play([]step{{"s1", "", "+Home ", 0, ""}})
		w := h.post("/in/tern/ussd", "p=07700900123&s=s1&e=fail", asForm)
		if w.Code != want || w.Body.String() != "-Sorry, try again." || w.Header().Get("Content-Type") != "text/plain; charset=utf-8" || w.Header().Get("Retry-After") != "5" {
			t.Errorf("%d: %d %s %v", status, w.Code, w.Body, w.Header())
		}
		// What is the caller's to mend stays a problem.
		if w := h.post("/in/tern/ussd", "s=s1&e=1", asForm); w.Code != 400 || w.Header().Get("Content-Type") != "application/problem+json" {
			t.Errorf("%d: %d %s", status, w.Code, w.Body)
		}
	}
}

// A signed call is let in once for each of its bodies; its repeat is known by
// its id, whatever else has changed.
func TestSigned(t *testing.T) {
	spec := formUSSD(func(s *profile.USSDSpec) { s.Begins = "new-session" })
	spec.Trust = &profile.TrustSpec{By: "signature", Secrets: []string{"KEY"}, From: []string{"192.0.2.0/24"}}
	h := described(t, spec)
	send := func(id, body string, at time.Time, change ...func(*http.Request)) *httptest.ResponseRecorder {
		t.Helper()
		signature, err := profile.Sign(signingSecret, id, at, []byte(body))
		if err != nil {
			t.Fatal(err)
		}
		return h.post("/in/tern/ussd", body, append([]func(*http.Request){asForm, func(r *http.Request) {
			r.Header.Del("Authorization")
			r.Header.Set("webhook-id", id)
			r.Header.Set("webhook-timestamp", fmt.Sprint(at.Unix()))
			r.Header.Set("webhook-signature", signature)
		}}, change...)...)
	}
	const first, second = "p=07700900123&s=s1&e=", "p=07700900123&s=s1&e=1"
	for _, tt := range []struct {
		name string
		w    *httptest.ResponseRecorder
		code int
		body string
	}{
		{"first", send("w1", first, morning), 200, "+Home "},
		{"entry", send("w2", second, morning), 200, "+You said 1"},
		{"entry again, signed later", send("w2", second, morning.Add(time.Minute)), 200, "+You said 1"},
		{"another entry", send("w3", second, morning), 200, "+You said 1"},
		{"old", send("w4", second, morning.Add(-time.Hour)), 401, ""},
		{"changed on the way", send("w5", second, morning, func(r *http.Request) {
			*r = *h.request("/in/tern/ussd", second+"2", func(q *http.Request) { q.Header = r.Header })
		}), 401, ""},
		{"not signed, and no form", h.post("/in/tern/ussd", "%zz", asForm), 401, ""},
		{"from elsewhere", send("w6", second, morning, func(r *http.Request) { r.RemoteAddr = "198.51.100.1:9" }), 403, ""},
		{"from nowhere", send("w7", second, morning, func(r *http.Request) { r.RemoteAddr = "" }), 403, ""},
	} {
		if tt.w.Code != tt.code || tt.body != "" && tt.w.Body.String() != tt.body {
			t.Errorf("%s: %d %s, want %d %s", tt.name, tt.w.Code, tt.w.Body, tt.code, tt.body)
		}
	}
	h.steps(`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "1"`)
}

// Only what is described is there, by its own method and kind of body.
func TestOnlyWhatIsDescribed(t *testing.T) {
	spec := profile.Spec{
		USSD: &profile.USSDSpec{
			CallSpec: profile.CallSpec{Method: "GET", Body: "query", Reply: &profile.ReplySpec{Type: "text/plain", Body: "{{.Text}}{{.More}}"}},
			Phone:    "p", Session: "s", Entry: "e", Begins: "new-session",
		},
		SMS: &profile.SMSSpec{CallSpec: profile.CallSpec{Method: "PUT", Body: "xml"}, ID: "/t/@id", Phone: "/t/@p", Text: "/t"},
	}
	h := described(t, spec)
	for _, tt := range []struct {
		method, path, kind, body string
		code                     int
		allow                    string
	}{
		{"GET", "/in/tern/ussd?p=07700900123&s=s1&e=", "", "", 200, ""},
		{"GET", "/in/tern/ussd?p=07700900123&p=07700900124&s=s1&e=", "", "", 400, ""},
		{"GET", "/in/tern/ussd?p=%zz", "", "", 400, ""},
		{"GET", "/in/tern/ussd?p=07700900123&s=s1&e=%ff", "", "", 400, ""},
		{"GET", "/in/tern/ussd?p=07700900123&s=s1&e=a%00", "", "", 400, ""},
		{"POST", "/in/tern/ussd", "application/json", "{}", 405, "GET"},
		{"PUT", "/in/tern/sms", "text/xml", `<t id="1" p="07700900123">hello</t>`, 202, ""},
		{"PUT", "/in/tern/sms", "", `<t id="2" p="07700900123">hello</t>`, 202, ""},
		{"PUT", "/in/tern/sms", "text/xml; charset=iso-8859-1", `<t id="3" p="07700900123">hello</t>`, 415, ""},
		{"PUT", "/in/tern/sms", "application/json", `{}`, 415, ""},
		{"PUT", "/in/tern/sms", "text/xml", `<t id="4" p="07700900123">` + strings.Repeat("x", 1601) + `</t>`, 400, ""},
		{"POST", "/in/tern/sms", "text/xml", `<t/>`, 405, "PUT"},
		{"POST", "/in/tern/receipt", "application/json", `{"id":"1","state":"delivered"}`, 404, ""},
		{"DELETE", "/in/tern/ussd", "", "", 405, "GET"},
	} {
		r := httptest.NewRequest(tt.method, tt.path, strings.NewReader(tt.body))
		r.Header.Set("Content-Type", tt.kind)
		w := httptest.NewRecorder()
		h.g.ServeHTTP(w, r)
		if w.Code != tt.code || w.Header().Get("Allow") != tt.allow {
			t.Errorf("%s %s %q: %d, Allow %q %s; want %d", tt.method, tt.path, tt.body, w.Code, w.Header().Get("Allow"), w.Body, tt.code)
		}
	}
}

// The network's words for what became of a text; those that nobody described
// are taken and change nothing.
func TestReceiptWords(t *testing.T) {
	h := described(t, profile.Spec{Receipt: &profile.ReceiptSpec{
		CallSpec: profile.CallSpec{Body: "form", Time: "unix", Reply: &profile.ReplySpec{Type: "text/plain", Body: "noted {{.ID}}"}},
		ID:       "i", State: "s", At: "t", Reason: "r",
		States: map[string][]string{"delivered": {"there"}, "failed": {"lost", "barred"}, "accepted": {"under way"}},
	}})
	err := h.store.InTx(t.Context(), func(tx *store.Tx) error {
		_, err := tx.Enqueue(store.Message{Key: "k1", To: phone, Note: "reply", Text: "x", CreatedAt: morning.Unix(), DueAt: morning.Unix(), UsefulUntil: morning.Add(time.Hour).Unix()})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	h.sent("tern")
	h.clock.Advance(time.Hour)
	for _, tt := range []struct {
		body  string
		code  int
		state store.State
	}{
		{"i=k1&s=under+way", 200, store.Accepted},
		{"i=k1&s=who+knows", 200, store.Accepted},
		{"i=k1", 400, store.Accepted},
		{"s=there", 400, store.Accepted},
		{"i=k1&s=there&t=" + fmt.Sprint(morning.Unix()+60), 200, store.Delivered},
		{"i=k1&s=under+way", 200, store.Delivered},
		{"i=k1&s=who+knows", 200, store.Delivered},
	} {
		w := h.post("/in/tern/receipt", tt.body, asForm)
		if m := h.outbox()[0]; w.Code != tt.code || m.State != tt.state {
			t.Errorf("%s: %d %s, %s; want %d, %s", tt.body, w.Code, w.Body, m.State, tt.code, tt.state)
		}
	}
	if m := h.outbox()[0]; m.EndedAt != morning.Unix()+60 {
		t.Errorf("ended at %d", m.EndedAt)
	}
	if strings.Count(h.log.String(), `"unread"`) != 2 {
		t.Errorf("what nobody described is not counted: %s", h.log)
	}
}
