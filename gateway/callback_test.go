package gateway_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"strings"
	"testing"

	"rowbell/gateway/problem"
	"rowbell/store"
)

// The response to a refused callback names each field that has a mistake. The values here are honest mistakes; hostile
// values are tested in hostile_words_test.go.
//
//revive:disable-next-line:function-length the rows of one table
func TestRefused(t *testing.T) {
	long := strings.Repeat("x", 129)
	text := m{"id": "t1", "phone": phone.E164(), "text": "hello"}
	receipt := m{"id": "k1", "state": "delivered"}
	tests := []struct {
		name, path string
		body       any
		how        func(*http.Request)
		code       int
		at         string // expected JSON pointers of the errors, joined by commas
	}{
		{"no phone", "ussd", call(m{"phone": nil}), nil, 400, "/phone"},
		{"null is no phone", "ussd", `{"phone":null,"session":"s1","event":"begin"}`, nil, 400, "/phone"},
		{"phone is a number", "ussd", call(m{"phone": int64(447700900123)}), nil, 400, "/phone"},
		{"phone too long", "ussd", call(m{"phone": strings.Repeat(" ", 65)}), nil, 400, "/phone"},
		{"no session", "ussd", call(m{"session": nil}), nil, 400, "/session"},
		{"empty session", "ussd", call(m{"session": ""}), nil, 400, "/session"},
		{"session is a list", "ussd", call(m{"session": []int{1}}), nil, 400, "/session"},
		{"no event", "ussd", call(m{"event": nil}), nil, 400, "/event"},
		{"unknown event", "ussd", call(m{"event": "start"}), nil, 400, "/event"},
		{"event is true", "ussd", call(m{"event": true}), nil, 400, "/event"},
		{"entry is a number", "ussd", call(m{"entry": 1}), nil, 400, "/entry"},
		{"dialled too long", "ussd", call(m{"dialled": long}), nil, 400, "/dialled"},
		{"step is a string", "ussd", call(m{"step": "1"}), nil, 400, "/step"},
		{"step is below 0", "ussd", call(m{"step": -1}), nil, 400, "/step"},
		{"step is a fraction", "ussd", call(m{"step": 1.5}), nil, 400, "/step"},
		{"all at once", "ussd", `{"step":-1}`, nil, 400, "/phone,/session,/event,/step"},
		{"step in a form is a word", "ussd", form(call(m{"step": "one"})), asForm, 400, "/step"},
		{"null", "ussd", `null`, nil, 400, ""},
		{"empty", "ussd", ``, nil, 400, ""},
		{"sms without id", "sms", changed(text, m{"id": nil}), nil, 400, "/id"},
		{"sms with a long id", "sms", changed(text, m{"id": long}), nil, 400, "/id"},
		{"sms without phone", "sms", changed(text, m{"phone": nil}), nil, 400, "/phone"},
		{"sms text too long", "sms", changed(text, m{"text": strings.Repeat("x", 1601)}), nil, 400, "/text"},
		{"sms text is an object", "sms", changed(text, m{"text": m{}}), nil, 400, "/text"},
		{"receipt without id", "receipt", changed(receipt, m{"id": nil}), nil, 400, "/id"},
		{"receipt without state", "receipt", changed(receipt, m{"state": nil}), nil, 400, "/state"},
		{"receipt with an unknown state", "receipt", changed(receipt, m{"state": "lost"}), nil, 400, "/state"},
	}
	h := open(t)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			h.t = t
			var how []func(*http.Request)
			if tt.how != nil {
				how = append(how, tt.how)
			}
			w := h.post("/in/local/"+tt.path, tt.body, how...)
			var p problem.Problem
			if err := json.Unmarshal(w.Body.Bytes(), &p); err != nil {
				t.Fatalf("%d %q: %v", w.Code, w.Body, err)
			}
			var at []string
			for _, e := range p.Errors {
				at = append(at, e.Pointer)
			}
			complete := p.Status == tt.code && p.Detail != "" && p.Instance == ""
			if w.Code != tt.code || !complete || strings.Join(at, ",") != tt.at {
				t.Errorf("%d %s; want %d at %q", w.Code, w.Body, tt.code, tt.at)
			}
			if got := w.Header().Get("Content-Type"); got != problem.MediaType {
				t.Errorf("content type %q", got)
			}
		})
	}
	h.t = t
	h.steps() // none of the refused calls reached the menu
	if len(h.outbox()) != 0 {
		t.Error("a refused call left a text in the outbox")
	}
}

// A value of the greatest allowed length is accepted.
func TestBounds(t *testing.T) {
	h := open(t)
	id, words := strings.Repeat("x", 128), strings.Repeat("é", 1600)
	h.ussd(m{"session": id, "event": "begin", "entry": "", "dialled": id}, "Home "+id, true, header("webhook-id", id))
	h.ussd(m{"session": id, "entry": words, "step": 1 << 20}, "You said "+words, true)
	h.ussd(m{"session": id, "entry": nil, "step": 0, "more": m{"unknown": []int{1}}}, "You said ", true)
	h.sms(id, words)
	h.post("/in/local/sms", m{"id": "old", "phone": phone.E164(), "text": "", "sent_at": "2026-05-28T12:00:00+07:00"})
	h.steps(
		fmt.Sprintf(`dial ussd "" %q`, id), fmt.Sprintf(`enter ussd "home" %q`, words),
		fmt.Sprintf(`enter ussd "home/%s" ""`, words),
		textStep(words, "", 0, "", 0, 0), textStep("", "", 0, "", 0, 0),
	)
}

// No call is refused because of an optional field, whatever value the field has.
func TestOptional(t *testing.T) {
	t.Parallel()
	long := strings.Repeat("é", 200)
	for name, tt := range map[string]struct {
		extra  m
		reason string
	}{
		"as it should be": {
			m{"sent_at": "2026-05-28T12:00:00+07:00", "to": "12345", "at": "2026-06-01T06:00:00Z", "reason": "absent"},
			"absent",
		},
		"words": {
			m{"sent_at": "2026-05-28 12:00:00", "at": "1 June", "reason": " absent\n\tfor long\x00 "},
			"absent  for long",
		},
		"numbers":  {m{"sent_at": 1780293600, "to": 12345, "at": 1780293600, "reason": 27}, ""},
		"too long": {m{"sent_at": long, "to": long, "at": long, "reason": long}, strings.Repeat("é", 128)},
		"objects":  {m{"sent_at": m{}, "to": m{}, "at": m{}, "reason": []int{1}}, ""},
		"null":     {m{"sent_at": nil, "to": nil, "at": nil, "reason": nil}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			h := open(t)
			sms, receipt := m{"id": "t1", "phone": phone.E164(), "text": "hello"}, m{"state": "failed"}
			maps.Copy(sms, tt.extra)
			maps.Copy(receipt, tt.extra)
			h.wants(http.StatusAccepted, h.post("/in/local/sms", sms))
			receipt["id"] = h.outbox()[0].Key
			h.sent("local", "")
			h.wants(http.StatusNoContent, h.post("/in/local/receipt", receipt))
			got := h.outbox()[0]
			if got.State != store.Refused || got.Reason != tt.reason || got.EndedAt != morning.Unix() {
				t.Errorf("%s, ended %d, reason %q; want %q", got.State, got.EndedAt, got.Reason, tt.reason)
			}
		})
	}
	h := open(t)
	w := h.post("/in/local/sms", "id=t1&phone=%2B447700900123&text=hello&reason=a&reason=b&sent_at=1&sent_at=2", asForm)
	if w.Code != http.StatusAccepted {
		t.Errorf("sms with fields twice: %d %s", w.Code, w.Body)
	}
}

// The log says why a call was refused and in which field, but does not contain the field's value.
func TestLogSaysWhyACallWasRefused(t *testing.T) {
	h := open(t)
	for _, tt := range []struct {
		body    m
		header  func(*http.Request)
		why, at string
	}{
		{call(m{"phone": "0123 secret"}), func(*http.Request) {}, "This is not a phone number", `"at":"/phone"`},
		{call(m{"phone": ""}), func(*http.Request) {}, "There is no phone number here.", `"at":"/phone"`},
		{call(nil), header("Authorization", "Bearer secret"), "Send this network's token", `"status":401`},
	} {
		from := len(h.log.String())
		h.post("/in/local/ussd", tt.body, tt.header)
		line := h.log.String()[from:]
		why := `"why":"` + tt.why
		if !strings.Contains(line, why) || !strings.Contains(line, tt.at) || strings.Contains(line, "secret") {
			t.Errorf("want %s and %s in %s", why, tt.at, line)
		}
	}
	from := len(h.log.String())
	w := h.post("/in/local/ussd", call(nil))
	line := h.log.String()[from:]
	if size := fmt.Sprintf(`"status":200,"bytes":%d,`, w.Body.Len()); !strings.Contains(line, size) ||
		strings.Contains(line, `"why"`) {
		t.Errorf("a call that was accepted: want %s in %s", size, line)
	}
}
