package gateway_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// described opens a fixture with one network, tern, that spec describes. If spec has no trust, tern trusts the address
// 192.0.2.1.
func described(t *testing.T, spec profile.Spec, change ...func(*gateway.Options)) *fixture {
	t.Helper()
	if spec.Trust == nil {
		spec.Trust = &profile.TrustSpec{By: "address", From: []string{"192.0.2.1"}}
	}
	spec.CountryCode = "44"
	p := must(spec.Build("tern", nil))
	change = append([]func(*gateway.Options){func(o *gateway.Options) {
		o.Networks, o.DialCode = []profile.Profile{p}, "*123#"
	}}, change...)
	return open(t, change...)
}

const signingSecret = "whsec_cGFkZHktYmVsbC1zYW1wbGUtc2VjcmV0LTAx"

// formUSSD describes a network whose USSD calls have the form fields p (phone), s (session) and e (entry). The reply to
// a call is "+" and the screen if the session goes on, and "-" and the screen if it ends. change may alter the
// description.
func formUSSD(change func(*profile.USSDSpec)) profile.Spec {
	s := &profile.USSDSpec{
		CallSpec: profile.CallSpec{Body: "form", Reply: &profile.ReplySpec{
			Type: "text/plain", Body: "{{if .More}}+{{else}}-{{end}}{{.Text}}",
		}},
		Phone: "p", Session: "s", Entry: "e",
	}
	change(s)
	return profile.Spec{USSD: s}
}

// play makes the calls of a session, one for each line. "entry > reply" expects that the menu is asked and this reply
// is sent. "entry = reply" expects that the call is a repeat: the reply is sent, and the menu is not asked.
// "entry ! 400" expects this status. Three kinds of lines make no call, but change the calls after them: "session s2"
// sets the session's id, "wait 1m" advances the clock, "with &k=v" adds form fields.
func (h *fixture) play(lines ...string) {
	h.t.Helper()
	session, extra := "s1", ""
	for _, line := range lines {
		word, value, _ := strings.Cut(line, " ")
		switch {
		case word == "session":
			session = value
		case word == "with":
			extra = value
		case word == "wait":
			h.clock.Advance(must(time.ParseDuration(value)))
		default:
			parts := regexp.MustCompile(`^(.*?) ?([>=!]) (.*)$`).FindStringSubmatch(line)
			before := len(h.menu.asked())
			body := "p=07700900123&s=" + session + "&e=" + url.QueryEscape(parts[1]) + extra
			w := h.post("/in/tern/ussd", body, asForm, func(r *http.Request) { r.Header.Del("Authorization") })
			got := w.Body.String()
			if w.Code != http.StatusOK {
				got = fmt.Sprint(w.Code)
			}
			if asked := len(h.menu.asked()) > before; got != parts[3] || asked != (parts[2] == ">") {
				h.t.Errorf("%s: %q, the menu was asked: %v (%s)", line, got, asked, w.Body)
			}
		}
	}
}

// playAll plays each session in a fixture of its own.
func playAll(t *testing.T, spec profile.Spec, sessions map[string][]string) {
	for name, lines := range sessions {
		t.Run(name, func(t *testing.T) { described(t, spec).play(lines...) })
	}
}

// With begins = "new-session" the first call of an unknown session begins the session. A repeat of that call does not
// begin it again.
func TestBeginsNewSession(t *testing.T) {
	t.Parallel()
	spec := formUSSD(func(s *profile.USSDSpec) { s.Begins = "new-session" })
	playAll(t, spec, map[string][]string{
		"a dialogue":           {"*123# > +Home *123#", "1 > +You said 1", "1 > +You said 1", "end > -Bye"},
		"the first call again": {"*123# > +Home *123#", "wait 1m", "*123# = +Home *123#", "1 > +You said 1"},
		"the first call again, late": {
			"*123# > +Home *123#", "1 > +You said 1", "*123# = +You said 1", "2 > +You said 2"},
		"an empty first call": {" > +Home ", " = +Home ", "1 > +You said 1"},
		"the last call again": {" > +Home ", "end > -Bye", "wait 1m", "end = -Bye", "session s2", " > +Home "},
		"earlier calls again, late": {
			"*123# > +Home *123#", "1 > +You said 1", "end > -Bye", "1 = -Bye", "*123# = -Bye"},
		"the id again, an hour later": {" > +Home ", "end > -Bye", "wait 1h0m1s", " > +Home "},
	})
}

// With begins = "no-entry" a call without an entry begins a session. In an open session it shows the present screen.
func TestBeginsNoEntry(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins = "no-entry" }))
	h.play(" > +Home ", " = +Home ", "1 > +You said 1", "1 > +You said 1", " = +You said 1",
		// The last call uses the id of the ended session again, so a new session begins.
		"end > -Bye", "end = -Bye", " > +Home ")
	h.steps(`dial ussd "" ""`, `enter ussd "home" "1"`, `enter ussd "home/1" "1"`, `enter ussd "home/1/1" "end"`,
		`dial ussd "" ""`)
}

// With holds = "all" each call contains the text of the whole session. The entry is the text added since the last call,
// even if it contains the separator. A call whose text was sent before is a repeat.
func TestHoldsAll(t *testing.T) {
	t.Parallel()
	spec := formUSSD(func(s *profile.USSDSpec) { s.Begins, s.Holds = "no-entry", "all" })
	playAll(t, spec, map[string][]string{
		"a dialogue": {" > +Home ", "1 > +You said 1", "1*20*30 > +You said 20*30", "1*20*30*1 > +You said 1"},
		"repeats of all steps": {" > +Home ", "1 > +You said 1", "1*2 > +You said 2", "1*2 = +You said 2",
			"1 = +You said 1", " = +Home ", "1*2*3 > +You said 3"},
		"the last again":             {" > +Home ", "end > -Bye", "end = -Bye"},
		"on after the end":           {" > +Home ", "end > -Bye", "end*1 > +Home ", "end*1*2 > +You said 2"},
		"the id again, another path": {" > +Home ", "end > -Bye", "5*1 > +Home *123*5*1#"},
		"a dialled path":             {"1*5 > +Home *123*1*5#", "1*5*7 > +You said 7"},
		"the code first":             {"*123# > +Home *123#", "*123#*7 > +You said 7"},
		"not a continuation":         {" > +Home ", "1 > +You said 1", "2*1 ! 400", "12 ! 400", "1*3 > +You said 3"},
		"the separator as an entry":  {" > +Home ", "1 > +You said 1", "1** > +You said *"},
	})
}

// Entries that come with the begin event are appended to the dialled code, unless the code contains them already
// (session s3).
func TestHoldsAllByWords(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) {
		s.Event, s.Dialled, s.Holds, s.Separator = "k", "d", "all", "~"
		s.Events = map[string][]string{"begin": {"new"}, "entry": {"go"}, "end": {"gone"}}
	}))
	h.play("with &k=new&d=*124%23", " > +Home *124#", "with &k=go", "7 > +You said 7",
		// The end event repeats the text of the last entry, which must not be applied again.
		"with &k=gone", "7 = -",
		"session s2", "with &k=new&d=*124%23", "1~5 > +Home *124*1*5#",
		"session s3", "with &k=new&d=*124*1*5%23", "1~5 > +Home *124*1*5#",
		// In session s4 the begin event, which has the dialled code, was lost. So the configured code *123# is used.
		"session s4", "with &k=go", "1~5 > +Home *123*1*5#",
		"session s5", "with &k=middle", " ! 400")
	h.steps(`dial ussd "" "*124#"`, `enter ussd "home" "7"`, `dial ussd "home/7" "*124*1*5#"`,
		`dial ussd "home" "*124*1*5#"`, `dial ussd "home" "*123*1*5#"`)
}

// If a phone's records are erased, the stored traces of the phone's sessions are erased too. The next call of such a
// session shows the first screen.
func TestEraseForgetsTraces(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins = "new-session" }))
	h.play(" > +Home ", "yes > +You said yes", "by the well > +You said by the well")
	h.ledger(phone, (*store.Ledger).Erase)
	h.play("by the well > +Home ")
}

// The stored reply is a screen, which is rendered again for a repeat. Both responses have the same bytes.
func TestRepeatIsRenderedAgain(t *testing.T) {
	h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins, s.ID = "new-session", "i" }))
	h.play("with &i=1", " > +Home ", "with &i=2", "a<b > +You said a<b", "wait 24h", "a<b = +You said a<b")
}

// When this service fails, a network with its own reply format gets a screen with an apology, under the status that the
// network needs to show the screen.
func TestTroubleIsAScreen(t *testing.T) {
	for status, want := range map[int]int{0: 503, 200: 200, 599: 599} {
		h := described(t, formUSSD(func(s *profile.USSDSpec) { s.Begins, s.TroubleStatus = "new-session", status }))
		h.play(" > +Home ")
		w := h.post("/in/tern/ussd", "p=07700900123&s=s1&e=fail", asForm)
		contentType, retry := w.Header().Get("Content-Type"), w.Header().Get("Retry-After")
		if w.Code != want || w.Body.String() != "-Sorry, try again." || retry != "5" ||
			contentType != "text/plain; charset=utf-8" {
			t.Errorf("%d: %d %s %v", status, w.Code, w.Body, w.Header())
		}
		// A mistake of the caller is answered by a problem document instead.
		w = h.post("/in/tern/ussd", "s=s1&e=1", asForm)
		if w.Code != 400 || w.Header().Get("Content-Type") != "application/problem+json" {
			t.Errorf("%d: %d %s", status, w.Code, w.Body)
		}
	}
}

// A receipt reports a state in the network's own words. A receipt with a word that the profile lacks is accepted and
// changes nothing.
func TestReceiptWords(t *testing.T) {
	h := described(t, profile.Spec{Receipt: &profile.ReceiptSpec{
		CallSpec: profile.CallSpec{
			Body: "form", Time: "unix", Reply: &profile.ReplySpec{Type: "text/plain", Body: "noted {{.ID}}"},
		},
		ID: "i", State: "s", At: "t", Reason: "r",
		States: map[string][]string{"delivered": {"there"}, "failed": {"lost", "barred"}, "accepted": {"under way"}},
	}})
	h.enqueue("k1", morning)
	h.sent("tern", "")
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
		t.Errorf("the words that are not described are not counted: %s", h.log)
	}
}

// Understand refuses a state that the gateway refuses.
func TestUnderstandStates(t *testing.T) {
	for state, right := range map[string]bool{"delivered": true, "failed": true, "expired": true,
		"accepted": false, "lost": false} {
		r := must(gateway.ReadSample([]byte("POST /in/local/receipt HTTP/1.1\nHost: local\n" +
			"Content-Type: application/json\n\n" + `{"id":"k1","state":"` + state + `"}`)))
		u := must(gateway.Understand(profile.Default("local"), r, morning))
		if err := u.Wrong(); (err == nil) != right {
			t.Errorf("%s: %v", state, err)
		}
	}
}
