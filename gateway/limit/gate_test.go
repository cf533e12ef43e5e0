package limit

import (
	"fmt"
	"math"
	"runtime"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

func phone(n int) string { return fmt.Sprintf("+44%d", 7700900000+n) }

// held wants a call to be let through ("") or held back by "scope limit".
func held(t *testing.T, g *Gate, c Call, now time.Time, want string) *Exceeded {
	t.Helper()
	h := g.Enter(c, now)
	got := ""
	if h != nil {
		got = h.Scope + " " + h.Limit
	}
	if got != want {
		t.Fatalf("%v at %s: held by %q, want %q", c, now.Format(time.TimeOnly), got, want)
	}
	return h
}

func TestNumberThatFloods(t *testing.T) {
	g := NewGate(Incoming{Number: Set{CallsAMinute: 3}, Pause: 10 * time.Minute})
	c := Call{Gateway: "heron", Number: phone(1)}
	for range 3 {
		held(t, g, c, noon, "")
	}
	h := held(t, g, c, noon, "number calls")
	if !h.First || h.RetryAfter != 10*time.Minute {
		t.Errorf("the first of the pause: %+v", h)
	}
	c.Gateway = "tern" // the number's limit, whatever it comes by
	h = held(t, g, c, noon.Add(4*time.Minute), "number calls")
	if h.First || h.RetryAfter != 6*time.Minute {
		t.Errorf("in the pause: %+v", h)
	}
	held(t, g, Call{Gateway: "heron", Number: phone(2)}, noon, "") // others are not touched
	after := noon.Add(10 * time.Minute)
	for range 3 {
		held(t, g, c, after, "")
	}
	held(t, g, c, after, "number calls")
	for range 3 { // the clock was set back by an hour: the pause cannot be longer than it is
		held(t, g, c, noon.Add(-time.Hour), "")
	}
}

// What a number's limit holds back is not taken from its gateway.
func TestFloodLeavesTheGatewayToTheRest(t *testing.T) {
	g := NewGate(Incoming{All: Set{CallsAMinute: 6}, Number: Set{CallsAMinute: 2}, Gateways: map[string]Set{"heron": {CallsAMinute: 4}}})
	for i := range 1000 {
		want := "number calls"
		if i < 2 {
			want = ""
		}
		held(t, g, Call{Gateway: "heron", Number: phone(1)}, noon, want)
	}
	held(t, g, Call{Gateway: "heron", Number: phone(2)}, noon, "")
	held(t, g, Call{Gateway: "heron", Number: phone(3)}, noon.Add(20*time.Second), "")
	h := held(t, g, Call{Gateway: "heron", Number: phone(4)}, noon.Add(20*time.Second), "gateway calls")
	if !h.First || h.RetryAfter != 40*time.Second {
		t.Errorf("the first of the minute: %+v", h)
	}
	if h = held(t, g, Call{Gateway: "heron", Number: phone(5)}, noon.Add(30*time.Second), "gateway calls"); h.First {
		t.Error("told twice in a minute")
	}
	held(t, g, Call{Gateway: "tern", Number: phone(6)}, noon.Add(30*time.Second), "")
	held(t, g, Call{Gateway: "tern", Number: phone(7)}, noon.Add(30*time.Second), "")
	held(t, g, Call{Gateway: "tern", Number: phone(8)}, noon.Add(30*time.Second), "all calls")
	held(t, g, Call{Gateway: "heron", Number: phone(9)}, noon.Add(time.Minute), "")
}

func TestSessions(t *testing.T) {
	in := Incoming{All: Set{OpenSessions: 4}, Number: Set{OpenSessions: 2}, Gateways: map[string]Set{"heron": {OpenSessions: 3}}}
	call := func(gateway string, n int, session string) Call { return Call{gateway, phone(n), session} }
	g := NewGate(in)
	held(t, g, call("heron", 1, "a"), noon, "")
	held(t, g, call("heron", 1, "b"), noon, "")
	held(t, g, call("heron", 1, "c"), noon, "number sessions")
	held(t, g, call("heron", 1, "a"), noon, "") // goes on
	held(t, g, call("heron", 2, "a"), noon, "") // another number's
	held(t, g, call("heron", 3, "a"), noon, "gateway sessions")
	held(t, g, call("tern", 3, "a"), noon, "")
	held(t, g, call("tern", 4, "a"), noon, "all sessions")
	held(t, g, call("tern", 4, ""), noon, "") // a text needs no session
	g.Leave(call("heron", 1, "b"))
	g.Leave(call("heron", 1, "b")) // twice, or never opened: nothing
	held(t, g, call("heron", 1, "c"), noon.Add(9*time.Minute), "")
	held(t, g, call("heron", 1, "d"), noon.Add(9*time.Minute), "number sessions")
	// Silent sessions time out.
	held(t, g, call("heron", 1, "d"), noon.Add(sessionTimeout+time.Second), "")
	if n := len(g.sessions.entries); n != 2 {
		t.Errorf("%d are open, want 2", n)
	}
}

func TestStopped(t *testing.T) {
	g := NewGate(Incoming{Number: Set{CallsAMinute: 1}, Pause: 5 * time.Minute})
	c := Call{Gateway: "heron", Number: phone(1)}
	held(t, g, c, noon, "")
	held(t, g, c, noon, "number calls")
	if g.HasStopped(phone(1), noon) {
		t.Error("stopped before its STOP was done")
	}
	g.MarkStopped(phone(1))
	g.MarkStopped(phone(2)) // never heard of
	if !g.HasStopped(phone(1), noon) || g.HasStopped(phone(2), noon) || g.HasStopped(phone(1), noon.Add(5*time.Minute)) {
		t.Error("a STOP holds for its number and its pause")
	}
	held(t, g, c, noon.Add(5*time.Minute), "")
	held(t, g, c, noon.Add(5*time.Minute), "number calls")
	if g.HasStopped(phone(1), noon.Add(5*time.Minute)) {
		t.Error("the STOP of the pause before still counts")
	}
}

func TestNoLimits(t *testing.T) {
	g := NewGate(Incoming{})
	for i := range 5000 {
		held(t, g, Call{"heron", phone(1), fmt.Sprint(i)}, noon, "")
	}
}

// Whatever comes, no more is remembered than was said; and a number that goes
// on flooding is not forgotten among others.
func TestMemoryIsBounded(t *testing.T) {
	before := heap()
	g := NewGate(Incoming{Number: Set{CallsAMinute: 2}})
	loud := Call{"heron", "loud", ""}
	for range 2 {
		held(t, g, loud, noon, "")
	}
	long := strings.Repeat("s", 500)
	for i := range maxNumbers + 10_000 {
		held(t, g, Call{"heron", fmt.Sprint("+quiet ", i), fmt.Sprint(i, long)}, noon, "")
		if i%1000 == 0 {
			held(t, g, loud, noon, "number calls")
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
	} else {
		t.Logf("%d MB", grown>>20)
	}
	runtime.KeepAlive(g)
}

// heap is what is in use of it, in bytes.
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
		"calls_a_minute": {CallsAMinute: -1}, "open_sessions": {OpenSessions: -1}, "open_sessions: 65537": {OpenSessions: MaxSessions + 1},
		"texts_a_day": {TextsADay: -1}, "money_a_day": {MoneyADay: math.NaN()}, "money_a_month": {MoneyAMonth: math.Inf(1)},
	} {
		if err := s.Validate(); err == nil || !strings.HasPrefix(err.Error(), key) {
			t.Errorf("%+v: %v, want %s", s, err, key)
		}
	}
}

// The counts of sessions are always those of the sessions that are open, and
// within the limits.
func TestSessionCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := Incoming{All: Set{OpenSessions: 6}, Number: Set{OpenSessions: 2, CallsAMinute: 20}, Gateways: map[string]Set{"a": {OpenSessions: 3}, "b": {}}}
		g := NewGate(in)
		g.numbers.max, g.sessions.max = 3, 5 // both overflow
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
