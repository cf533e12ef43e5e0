package gateway_test

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"
	"time"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
	"rowbell/gateway/profile"
	"rowbell/store"
)

// The response to a repeated USSD call has the same bytes as the response to the first call. The
// menu is not asked about a repeat, and no text is written for it.
func TestUSSDRepeats(t *testing.T) {
	t.Parallel()
	begin := m{"event": "begin", "entry": "", "dialled": "*123#"}
	w1 := []func(*http.Request){header("webhook-id", "w1")}
	with := func(step int) m { return m{"entry": "note", "step": step} }
	for _, tt := range []struct {
		name   string
		second m
		how    []func(*http.Request) // changes to both the first call and the second
		repeat bool
	}{
		{"same step", with(1), nil, true},
		{"same step, other entry", m{"entry": "3", "step": 1}, nil, true},
		{"next step, same entry", with(2), nil, false},
		{"same step, other session", m{"entry": "note", "step": 1, "session": "s2"}, nil, false},
		{"same step, other phone", m{"entry": "note", "step": 1, "phone": "+447700900124"}, nil, false},
		{"the end with the entry's step", m{"event": "end", "step": 1}, nil, false},
		{"same webhook-id, other step", with(2), w1, true},
		{"same webhook-id, no step", m{"entry": "note"}, w1, true},
		{"same webhook-id, other phone", m{"entry": "note", "phone": "+447700900124"}, w1, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h := open(t)
			h.ussd(begin, "Home *123#", true)
			first := h.post("/in/local/ussd", call(with(1)), tt.how...)
			asked, queued := len(h.menu.asked()), len(h.outbox())
			if queued != 2 || h.queued != 1 {
				t.Fatalf("%d texts, kicked %d times; want 2 and 1", queued, h.queued)
			}
			h.clock.Advance(time.Minute)
			second := h.post("/in/local/ussd", call(tt.second), tt.how...)
			if second.Code != http.StatusOK {
				t.Fatalf("%d %s", second.Code, second.Body)
			}
			same := first.Body.String() == second.Body.String()
			silent := len(h.menu.asked()) == asked && len(h.outbox()) == queued && h.queued == 1
			if tt.repeat && !(same && silent) {
				t.Errorf("not recognised as a repeat: %s, then %s; steps %v", first.Body, second.Body, h.menu.asked())
			}
			if !tt.repeat && tt.second["event"] == nil && len(h.menu.asked()) != asked+1 {
				t.Errorf("recognised as a repeat: %s; steps %v", second.Body, h.menu.asked())
			}
		})
	}
}

// A call with the same step counts as a repeat for one hour, because networks use session ids again. A call with the
// same webhook-id counts as a repeat as long as callbacks are stored.
func TestRepeatsExpire(t *testing.T) {
	w1 := []func(*http.Request){header("webhook-id", "w1")}
	for name, tt := range map[string]struct {
		how   []func(*http.Request)
		wait  time.Duration
		asked int
	}{
		"step, an hour later":         {nil, time.Hour, 1},
		"step, later than that":       {nil, time.Hour + time.Second, 2},
		"webhook-id, days later":      {w1, 7 * 24 * time.Hour, 1},
		"webhook-id, later than that": {w1, 7*24*time.Hour + time.Second, 2},
	} {
		t.Run(name, func(t *testing.T) {
			h := open(t)
			begin := m{"event": "begin", "entry": "", "step": 0}
			h.ussd(begin, "Home ", true, tt.how...)
			h.clock.Advance(tt.wait)
			h.ussd(begin, "Home ", true, tt.how...)
			h.ussd(begin, "Home ", true, tt.how...)
			if got := len(h.menu.asked()); got != tt.asked {
				t.Errorf("the menu was asked %d times, want %d", got, tt.asked)
			}
		})
	}
}

// A text repeats an earlier text from the same phone if both have the same webhook-id. Without a webhook-id, the ids of
// the texts are compared.
func TestSMSRepeats(t *testing.T) {
	t.Parallel()
	other := store.Phone("+447700900124")
	w1 := []func(*http.Request){header("webhook-id", "w1")}
	for name, tt := range map[string]struct {
		id     string
		phone  store.Phone
		how    []func(*http.Request) // changes to both the first call and the second
		wait   time.Duration
		repeat bool
	}{
		"same":                         {"t1", phone, nil, time.Hour, true},
		"same, a week later":           {"t1", phone, nil, 7*24*time.Hour + time.Second, false},
		"other id":                     {"t2", phone, nil, time.Hour, false},
		"other phone":                  {"t1", other, nil, time.Hour, false},
		"same webhook-id, other id":    {"t2", phone, w1, time.Hour, true},
		"same webhook-id, other phone": {"t1", other, w1, time.Hour, false},
	} {
		t.Run(name, func(t *testing.T) {
			h := open(t)
			for _, c := range []m{{"id": "t1", "phone": phone.E164()}, {"id": tt.id, "phone": tt.phone.E164()}} {
				c["text"] = "hello"
				h.wants(http.StatusAccepted, h.post("/in/local/sms", c, tt.how...))
				h.clock.Advance(tt.wait)
			}
			want := 2
			if tt.repeat {
				want = 1
			}
			if asked := len(h.menu.asked()); asked != want || h.queued != want {
				t.Errorf("asked %d times, %d answers; want %d", asked, h.queued, want)
			}
			// Each accepted text has an answer in the outbox, because no two answers have the same key.
			if got := len(h.outbox()); tt.phone == phone && got != want {
				t.Errorf("%d answers in the outbox, want %d", got, want)
			}
		})
	}
}

// Erasing a grower's records also erases the stored replies to the grower. The reply to the erasing step itself is kept
// for a repeat of that step, and belongs to no phone.
func TestEraseForgetsReplies(t *testing.T) {
	h := open(t)
	h.ussd(m{"event": "begin", "entry": "", "step": 0}, "Home ", true)
	h.ussd(m{"entry": "yes", "step": 1}, "You said yes", true)
	h.ussd(m{"entry": "by the well", "step": 2}, "You said by the well", true)
	h.ussd(m{"entry": "erase", "step": 3}, "Bye", false)
	h.ussd(m{"entry": "erase", "step": 3}, "Bye", false) // a repeat of the last call
	h.steps(`dial ussd "" ""`, `enter ussd "home" "yes"`, `enter ussd "home/yes" "by the well"`,
		`enter ussd "home/yes/by the well" "erase"`)
	// The stored reply to step 2 was erased. So this call is not a repeat and begins a new dialogue.
	h.ussd(m{"entry": "by the well", "step": 2}, "Home ", true)
	h.ussd(m{"entry": "yes", "step": 4}, "You said yes", true)
	// This step erases the records a second time. The reply to step 3 stays, because it belongs to no phone.
	h.ussd(m{"entry": "erase", "step": 5}, "Bye", false)
	h.ussd(m{"entry": "erase", "step": 3}, "Bye", false)
	h.steps(`dial ussd "" ""`, `enter ussd "home" "yes"`, `enter ussd "home/yes" "erase"`)
}

// For any entries and any repeated calls, the menu is asked once for each entry, and a repeat gets the answer to its
// first call.
func TestAnySessionIsFollowed(t *testing.T) {
	for name, change := range map[string]func(*profile.USSDSpec){
		"whole, no entry":    func(s *profile.USSDSpec) { s.Begins, s.Holds = "no-entry", "all" },
		"whole, new session": func(s *profile.USSDSpec) { s.Begins, s.Holds, s.Separator = "new-session", "all", "~~" },
		"last, new session":  func(s *profile.USSDSpec) { s.Begins = "new-session" },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			spec := formUSSD(change)
			h := described(t, spec)
			session := 0
			rapid.Check(t, func(t *rapid.T) {
				session++
				before := len(h.menu.asked())
				separator := spec.USSD.Separator
				if separator == "" {
					separator = "*"
				}
				// Each session has a phone of its own, so that no session resumes another session's dialogue.
				number := fmt.Sprintf("+44%d", 7700900000+int64(session%1000))
				post := func(entry string) string {
					body := url.Values{"p": {number}, "s": {fmt.Sprint("s", session)}, "e": {entry}}.Encode()
					w := h.post("/in/tern/ussd", body, asForm)
					if w.Code != http.StatusOK {
						t.Fatalf("%q: %d %s", entry, w.Code, w.Body)
					}
					return w.Body.String()
				}
				entries := rapid.SliceOfN(rapid.StringMatching(`[1-9][0-9*~]{0,3}[a-c]?`), 1, 6).Draw(t, "entries")
				sent, got := []string{""}, []string{post("")}
				whole := ""
				for i, e := range entries {
					held := e
					if spec.USSD.Holds == "all" {
						if i > 0 {
							whole += separator
						}
						whole += e
						held = whole
					}
					answer := post(held)
					if answer != "+You said "+e {
						t.Fatalf("%q was understood as %s", e, answer)
					}
					sent, got = append(sent, held), append(got, answer)
					// These calls have no id, so a repeat is recognised only if the calls contain the text of the whole
					// session.
					if spec.USSD.Holds == "all" && rapid.Bool().Draw(t, "again") {
						n := rapid.IntRange(0, len(sent)-1).Draw(t, "which")
						if answer := post(sent[n]); answer != got[n] {
							t.Fatalf("%q again: %s, and before %s", sent[n], answer, got[n])
						}
					}
				}
				if asked := len(h.menu.asked()) - before; asked != 1+len(entries) {
					t.Fatalf("the menu was asked %d times for %q", asked, entries)
				}
			})
		})
	}
}
