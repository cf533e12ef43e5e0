package gateway_test

import (
	"net/http"
	"testing"
	"time"

	"rowbell/store"
)

// A repeat gets the very bytes of the first answer, and nothing happens twice.
func TestUSSDRepeats(t *testing.T) {
	t.Parallel()
	begin := m{"event": "begin", "entry": "", "dialled": "*123#"}
	with := func(step int) m { return m{"entry": "note", "step": step} }
	tests := []struct {
		name   string
		second m
		how    []func(*http.Request) // of both calls
		repeat bool
	}{
		{"same step", with(1), nil, true},
		{"same step, other entry", m{"entry": "3", "step": 1}, nil, true},
		{"next step, same entry", with(2), nil, false},
		{"same step, other session", m{"entry": "note", "step": 1, "session": "s2"}, nil, false},
		{"same step, other phone", m{"entry": "note", "step": 1, "phone": "+447700900124"}, nil, false},
		{"the end with the entry's step", m{"event": "end", "step": 1}, nil, false},
		{"same webhook-id, other step", with(2), []func(*http.Request){header("webhook-id", "w1")}, true},
		{"same webhook-id, no step", m{"entry": "note"}, []func(*http.Request){header("webhook-id", "w1")}, true},
		{"same webhook-id, other phone", m{"entry": "note", "phone": "+447700900124"}, []func(*http.Request){header("webhook-id", "w1")}, false},
	}
	for _, tt := range tests {
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
				t.Errorf("not taken for a repeat: %s, then %s; steps %v", first.Body, second.Body, h.menu.asked())
			}
			if !tt.repeat && tt.second["event"] == nil && len(h.menu.asked()) != asked+1 {
				t.Errorf("taken for a repeat: %s; steps %v", second.Body, h.menu.asked())
			}
		})
	}
}

// A network may use a session's id again: a step is a repeat for an hour, a
// webhook-id for as long as callbacks are kept.
func TestRepeatsAreOver(t *testing.T) {
	for name, tt := range map[string]struct {
		how   []func(*http.Request)
		wait  time.Duration
		asked int
	}{
		"step, an hour later":         {nil, time.Hour, 1},
		"step, later than that":       {nil, time.Hour + time.Second, 2},
		"webhook-id, days later":      {[]func(*http.Request){header("webhook-id", "w1")}, 7 * 24 * time.Hour, 1},
		"webhook-id, later than that": {[]func(*http.Request){header("webhook-id", "w1")}, 7*24*time.Hour + time.Second, 2},
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

// Which text is a repeat of which: the phone counts, a webhook-id counts for
// more than the text's own id.
func TestSMSRepeats(t *testing.T) {
	t.Parallel()
	other := store.Phone("+447700900124")
	w1 := []func(*http.Request){header("webhook-id", "w1")}
	for name, tt := range map[string]struct {
		id     string
		phone  store.Phone
		how    []func(*http.Request) // of both
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
			for _, c := range []m{{"id": "t1", "phone": phone.E164(), "text": "hello"}, {"id": tt.id, "phone": tt.phone.E164(), "text": "hello"}} {
				if w := h.post("/in/local/sms", c, tt.how...); w.Code != http.StatusAccepted {
					t.Fatalf("%d %s", w.Code, w.Body)
				}
				h.clock.Advance(tt.wait)
			}
			want := 2
			if tt.repeat {
				want = 1
			}
			if asked := len(h.menu.asked()); asked != want || h.queued != want {
				t.Errorf("asked %d times, %d answers; want %d", asked, h.queued, want)
			}
			// Each text that was taken has its answer: none is lost to a key of old.
			if got := len(h.outbox()); tt.phone == phone && got != want {
				t.Errorf("%d answers in the outbox, want %d", got, want)
			}
		})
	}
}

// A reply that may speak of a grower's records goes with them; the one to the
// step that erased them is kept for its repeat, as nobody's.
func TestEraseForgetsReplies(t *testing.T) {
	h := open(t)
	h.ussd(m{"event": "begin", "entry": "", "step": 0}, "Home ", true)
	h.ussd(m{"entry": "yes", "step": 1}, "You said yes", true)
	h.ussd(m{"entry": "by the well", "step": 2}, "You said by the well", true)
	h.ussd(m{"entry": "erase", "step": 3}, "Bye", false)
	h.ussd(m{"entry": "erase", "step": 3}, "Bye", false) // a repeat
	h.steps(`dial ussd "" ""`, `enter ussd "home" "yes"`, `enter ussd "home/yes" "by the well"`, `enter ussd "home/yes/by the well" "erase"`)
	h.ussd(m{"entry": "by the well", "step": 2}, "Home ", true) // its reply is gone
	h.ussd(m{"entry": "yes", "step": 4}, "You said yes", true)
	h.ussd(m{"entry": "erase", "step": 5}, "Bye", false) // again: the first reply was not under the number
	h.ussd(m{"entry": "erase", "step": 3}, "Bye", false)
	h.steps(`dial ussd "" ""`, `enter ussd "home" "yes"`, `enter ussd "home/yes" "erase"`)
}
