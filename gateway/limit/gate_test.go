package limit

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
)

var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

func phone(n int) string { return fmt.Sprintf("+44%d", 7700900000+int64(n)) }

// enter calls Enter and checks the result. want is "" for an allowed call, or "scope limit" for a call over that limit.
func enter(t *testing.T, g *Gate, c Call, now time.Time, want string) *Exceeded {
	t.Helper()
	e := g.Enter(c, now)
	got := ""
	if e != nil {
		got = e.Scope + " " + e.Limit
	}
	if got != want {
		t.Fatalf("%v at %s: over %q, want %q", c, now.Format(time.TimeOnly), got, want)
	}
	return e
}

func TestNumberThatFloods(t *testing.T) {
	g := NewGate(Incoming{Number: Set{CallsAMinute: 3}, Pause: 10 * time.Minute})
	c := Call{Gateway: "heron", Number: phone(1)}
	for range 3 {
		enter(t, g, c, noon, "")
	}
	h := enter(t, g, c, noon, "number calls")
	if !h.First || h.RetryAfter != 10*time.Minute {
		t.Errorf("the first of the pause: %+v", h)
	}
	c.Gateway = "tern" // the limit of a number counts its calls through all gateways
	h = enter(t, g, c, noon.Add(4*time.Minute), "number calls")
	if h.First || h.RetryAfter != 6*time.Minute {
		t.Errorf("in the pause: %+v", h)
	}
	// Another number has its own limit, so its call is allowed.
	enter(t, g, Call{Gateway: "heron", Number: phone(2)}, noon, "")
	after := noon.Add(10 * time.Minute)
	for range 3 {
		enter(t, g, c, after, "")
	}
	enter(t, g, c, after, "number calls")
	for range 3 { // the clock was set back by an hour, so the pause is ignored
		enter(t, g, c, noon.Add(-time.Hour), "")
	}
}

// A call over its number's limit does not count against the limit of its gateway.
func TestFloodDoesNotUseUpTheGateway(t *testing.T) {
	g := NewGate(Incoming{
		All: Set{CallsAMinute: 6}, Number: Set{CallsAMinute: 2}, Gateways: map[string]Set{"heron": {CallsAMinute: 4}},
	})
	for i := range 1000 {
		want := "number calls"
		if i < 2 {
			want = ""
		}
		enter(t, g, Call{Gateway: "heron", Number: phone(1)}, noon, want)
	}
	enter(t, g, Call{Gateway: "heron", Number: phone(2)}, noon, "")
	enter(t, g, Call{Gateway: "heron", Number: phone(3)}, noon.Add(20*time.Second), "")
	h := enter(t, g, Call{Gateway: "heron", Number: phone(4)}, noon.Add(20*time.Second), "gateway calls")
	if !h.First || h.RetryAfter != 40*time.Second {
		t.Errorf("the first of the minute: %+v", h)
	}
	if h = enter(t, g, Call{Gateway: "heron", Number: phone(5)}, noon.Add(30*time.Second), "gateway calls"); h.First {
		t.Error("logged twice in a minute")
	}
	enter(t, g, Call{Gateway: "tern", Number: phone(6)}, noon.Add(30*time.Second), "")
	enter(t, g, Call{Gateway: "tern", Number: phone(7)}, noon.Add(30*time.Second), "")
	enter(t, g, Call{Gateway: "tern", Number: phone(8)}, noon.Add(30*time.Second), "all calls")
	enter(t, g, Call{Gateway: "heron", Number: phone(9)}, noon.Add(time.Minute), "")
}

func TestSessions(t *testing.T) {
	in := Incoming{
		All: Set{OpenSessions: 4}, Number: Set{OpenSessions: 2}, Gateways: map[string]Set{"heron": {OpenSessions: 3}},
	}
	call := func(gateway string, n int, session string) Call { return Call{gateway, phone(n), session} }
	g := NewGate(in)
	enter(t, g, call("heron", 1, "a"), noon, "")
	enter(t, g, call("heron", 1, "b"), noon, "")
	enter(t, g, call("heron", 1, "c"), noon, "number sessions")
	enter(t, g, call("heron", 1, "a"), noon, "") // allowed: session a is already open and continues
	// This is a session of another number, although its id is the same, so the call is allowed.
	enter(t, g, call("heron", 2, "a"), noon, "")
	enter(t, g, call("heron", 3, "a"), noon, "gateway sessions")
	enter(t, g, call("tern", 3, "a"), noon, "")
	enter(t, g, call("tern", 4, "a"), noon, "all sessions")
	enter(t, g, call("tern", 4, ""), noon, "") // allowed: a text needs no session
	g.Leave(call("heron", 1, "b"))
	g.Leave(call("heron", 1, "b")) // to leave a session a second time changes nothing
	enter(t, g, call("heron", 1, "c"), noon.Add(9*time.Minute), "")
	enter(t, g, call("heron", 1, "d"), noon.Add(9*time.Minute), "number sessions")
	// Sessions without calls time out, so a new session is allowed.
	enter(t, g, call("heron", 1, "d"), noon.Add(SessionTimeout+time.Second), "")
	if n := len(g.sessions.entries); n != 2 {
		t.Errorf("%d are open, want 2", n)
	}
}

func TestStopped(t *testing.T) {
	g := NewGate(Incoming{Number: Set{CallsAMinute: 1}, Pause: 5 * time.Minute})
	c := Call{Gateway: "heron", Number: phone(1)}
	enter(t, g, c, noon, "")
	enter(t, g, c, noon, "number calls")
	if g.HasStopped(phone(1), noon) {
		t.Error("stopped before its STOP was done")
	}
	g.MarkStopped(phone(1))
	g.MarkStopped(phone(2)) // the gate does not know this number, so nothing changes
	later := noon.Add(5 * time.Minute)
	if !g.HasStopped(phone(1), noon) || g.HasStopped(phone(2), noon) || g.HasStopped(phone(1), later) {
		t.Error("a STOP counts for its number and its pause only")
	}
	enter(t, g, c, noon.Add(5*time.Minute), "")
	enter(t, g, c, noon.Add(5*time.Minute), "number calls")
	if g.HasStopped(phone(1), noon.Add(5*time.Minute)) {
		t.Error("the STOP of the pause before still counts")
	}
}

func TestNoLimits(t *testing.T) {
	g := NewGate(Incoming{})
	for i := range 5000 {
		enter(t, g, Call{"heron", phone(1), fmt.Sprint(i)}, noon, "")
	}
}

// The gate uses a bounded amount of memory, however many numbers call. A number that keeps calling stays remembered, so
// that it cannot escape its limit behind a flood of other numbers.
func TestMemoryIsBounded(t *testing.T) {
	before := heap()
	g := NewGate(Incoming{Number: Set{CallsAMinute: 2}})
	loud := Call{"heron", "loud", ""}
	for range 2 {
		enter(t, g, loud, noon, "")
	}
	long := strings.Repeat("s", 500)
	for i := range maxNumbers + 10_000 {
		enter(t, g, Call{"heron", fmt.Sprint("+quiet ", i), fmt.Sprint(i, long)}, noon, "")
		if i%1000 == 0 {
			enter(t, g, loud, noon, "number calls")
		}
	}
	if n, s := g.numbers.len(), g.sessions.len(); n != maxNumbers || s != MaxSessions {
		t.Errorf("%d numbers and %d sessions are remembered, want %d and %d", n, s, maxNumbers, MaxSessions)
	}
	if g.open["heron"] != MaxSessions {
		t.Errorf("%d sessions are counted for the gateway", g.open["heron"])
	}
	if grown := heap() - before; grown > 64<<20 {
		t.Errorf("%d MB are in use", grown>>20)
	}
	runtime.KeepAlive(g)
}

// heap returns the size of the allocated heap in bytes.
func heap() int64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

func TestValidate(t *testing.T) {
	good := []Set{{}, {CallsAMinute: 1, OpenSessions: MaxSessions, TextsADay: 1, MoneyADay: 0.5, MoneyAMonth: maxMoney}}
	for _, s := range good {
		if err := s.Validate(); err != nil {
			t.Errorf("%+v: %v", s, err)
		}
	}
	for key, s := range map[string]Set{
		"calls_a_minute": {CallsAMinute: -1}, "open_sessions": {OpenSessions: -1},
		"open_sessions: 65537": {OpenSessions: MaxSessions + 1}, "texts_a_day": {TextsADay: -1},
		"money_a_day": {MoneyADay: math.NaN()}, "money_a_month": {MoneyAMonth: math.Inf(1)},
	} {
		if err := s.Validate(); err == nil || !strings.HasPrefix(err.Error(), key) {
			t.Errorf("%+v: %v, want %s", s, err, key)
		}
	}
}

// After any sequence of calls, the counts of sessions are equal to the numbers of open sessions and are within
// the limits.
func TestSessionCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := NewGate(Incoming{
			All: Set{OpenSessions: 6}, Number: Set{OpenSessions: 2, CallsAMinute: 20},
			Gateways: map[string]Set{"a": {OpenSessions: 3}, "b": {}},
		})
		g.numbers.max, g.sessions.max = 3, 5 // so small that both LRU maps overflow
		now := noon
		t.Repeat(map[string]func(*rapid.T){
			"enter": func(t *rapid.T) { g.Enter(drawCall(t), now) },
			"leave": func(t *rapid.T) { g.Leave(drawCall(t)) },
			"later": func(t *rapid.T) {
				now = now.Add(time.Duration(rapid.IntRange(-30, 400).Draw(t, "seconds")) * time.Second)
			},
			"": func(t *rapid.T) {
				byGateway, byNumber := map[string]int{}, map[string]int{}
				for k := range g.sessions.entries {
					byGateway[k.gateway]++
					byNumber[k.number]++
				}
				for name, n := range g.open {
					if n != byGateway[name] {
						t.Fatalf("gateway %s: %d counted, %d open", name, n, byGateway[name])
					}
				}
				if byGateway["a"] > 3 || g.sessions.len() > 5 || g.numbers.len() > 3 {
					t.Fatalf("over the limit: %v, %d, %d", byGateway, g.sessions.len(), g.numbers.len())
				}
				for k, e := range g.numbers.entries {
					if n := e.Value.(*entry[string, *number]).value.open; n < 0 || n > byNumber[k] {
						t.Fatalf("a number counts %d open of %d", n, byNumber[k])
					}
				}
			},
		})
	})
}

func drawCall(t *rapid.T) Call {
	return Call{
		Gateway: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "gateway"),
		Number:  phone(rapid.IntRange(0, 4).Draw(t, "number")),
		Session: rapid.SampledFrom([]string{"", "s", "t", "u"}).Draw(t, "session"),
	}
}

// New limits apply at once, also to the calls that were counted before.
func TestLimitsChange(t *testing.T) {
	g := NewGate(Incoming{Number: Set{CallsAMinute: 3}})
	c := Call{Gateway: "heron", Number: phone(1)}
	for range 3 {
		enter(t, g, c, noon, "")
	}
	g.SetLimits(Incoming{Number: Set{CallsAMinute: 5}})
	enter(t, g, c, noon, "")
	enter(t, g, c, noon, "")
	enter(t, g, c, noon, "number calls")
	g.SetLimits(Incoming{Gateways: map[string]Set{"heron": {CallsAMinute: 6}}, Number: Set{CallsAMinute: 5}})
	other := Call{Gateway: "heron", Number: phone(2)}
	enter(t, g, other, noon, "")
	enter(t, g, other, noon, "gateway calls")
}
