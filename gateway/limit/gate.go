package limit

import (
	"hash/maphash"
	"sync"
	"time"
)

// Whose limit held a call back.
const (
	ScopeNumber  = "number"
	ScopeGateway = "gateway"
	ScopeAll     = "all"
)

// Which limit it was.
const (
	Calls    = "calls"
	Sessions = "sessions"
)

// Incoming are the limits of what comes in.
type Incoming struct {
	All      Set
	Number   Set
	Gateways map[string]Set
	Pause    time.Duration // how long a number that floods gets nothing; at least a minute
}

// Call is one call that came in.
type Call struct {
	Gateway string
	Number  string // E.164
	Session string // the network's name of the dialogue; "" = none is asked for
}

// Held says why a call is held back.
type Held struct {
	Scope, Limit string
	Retry        time.Duration // it may work after that
	First        bool          // the first of a number in its pause, or of a gateway in its minute: worth a line in the log
}

// Gate counts what comes in and says what is too much. Its memory is bounded:
// of numbers and sessions it remembers the ones heard of last. It is counted
// anew after a restart.
//
//	if held := gate.Enter(limit.Call{Gateway: "local", Number: phone, Session: id}, now); held != nil { ... }
//
// A number's own limit comes first, and what it holds back counts against no
// other: one phone that floods leaves its gateway to the rest.
type Gate struct {
	in   Incoming
	seed maphash.Seed

	mu       sync.Mutex
	all      window
	gateways map[string]*window
	numbers  *recent[string, *number]
	sessions *recent[sessionKey, struct{}]
	open     map[string]int // sessions by gateway
}

// maxNumbers are remembered, and MaxSessions: some 30 MB together. What is
// forgotten under a flood of new ones begins to count anew; the limits of a
// gateway and of all hold whatever comes.
const maxNumbers = 1 << 16

// quiet is how long a session without a word counts as open, where its network
// does not tell that it let it go (TS 29.002 clause 17.6.4 gives a request ten
// minutes at most).
const quiet = 10 * time.Minute

// retrySession is after how long a place may be free again: most dialogues are
// over in a minute or two (common practice, no source).
const retrySession = time.Minute

// number is what is remembered of one number.
type number struct {
	window
	paused  time.Time // until then it gets nothing
	stopped bool      // in this pause its STOP was done
	open    int       // its sessions
}

// sessionKey holds a hash of the session's name, which may be long. Two of one
// number that fall together count as one.
type sessionKey struct {
	gateway, number string
	session         uint64
}

func (g *Gate) key(c Call) sessionKey {
	return sessionKey{c.Gateway, c.Number, maphash.String(g.seed, c.Session)}
}

// NewGate returns a gate with nothing counted yet.
func NewGate(in Incoming) *Gate {
	in.Pause = max(in.Pause, time.Minute)
	g := &Gate{in: in, seed: maphash.MakeSeed(), gateways: map[string]*window{}, open: map[string]int{}}
	g.numbers = newRecent[string, *number](maxNumbers, nil)
	g.sessions = newRecent(MaxSessions, func(k sessionKey, _ struct{}) { g.closed(k) })
	for name := range in.Gateways {
		g.gateways[name] = &window{}
	}
	return g
}

// Enter counts a call and opens or goes on with its session. Not nil: the call
// is held back, and nothing was opened.
func (g *Gate) Enter(c Call, now time.Time) *Held {
	g.mu.Lock()
	defer g.mu.Unlock()
	n := g.number(c.Number, now)
	if h := g.flood(n, now); h != nil {
		return h
	}
	w := g.gateway(c.Gateway)
	for _, v := range []struct {
		scope string
		*window
		limit int
	}{{ScopeGateway, w, g.in.Gateways[c.Gateway].CallsAMinute}, {ScopeAll, &g.all, g.in.All.CallsAMinute}} {
		if retry, ok := v.room(v.limit, now); !ok {
			return &Held{Scope: v.scope, Limit: Calls, Retry: retry, First: w.tell(now)}
		}
	}
	if c.Session != "" {
		if scope := g.session(c, n, now); scope != "" {
			return &Held{Scope: scope, Limit: Sessions, Retry: retrySession, First: w.tell(now)}
		}
	}
	w.add()
	g.all.add()
	return nil
}

// Leave frees the place of a session that is over.
func (g *Gate) Leave(c Call) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.sessions.remove(g.key(c))
}

// Stopped notes that a number's STOP was done although it is held back.
func (g *Gate) Stopped(phone string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if n, ok := g.numbers.get(phone); ok {
		n.stopped = true
	}
}

// HasStopped says whether a number that is held back for a while has had its
// STOP done in that while: another one changes nothing.
func (g *Gate) HasStopped(phone string, now time.Time) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	n, ok := g.numbers.get(phone)
	return ok && n.stopped && now.Before(n.paused)
}

// Open is how many sessions are open.
func (g *Gate) Open(now time.Time) int {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.sessions.expire(now.Add(-quiet))
	return g.sessions.len()
}

func (g *Gate) number(phone string, now time.Time) *number {
	n, ok := g.numbers.get(phone)
	if !ok {
		n = &number{}
	}
	g.numbers.put(phone, n, now)
	return n
}

func (g *Gate) gateway(name string) *window {
	w := g.gateways[name]
	if w == nil {
		w = &window{}
		g.gateways[name] = w // the caller knows its gateways: there are few
	}
	return w
}

// flood holds back the calls of a number that calls too often.
func (g *Gate) flood(n *number, now time.Time) *Held {
	if now.Before(n.paused) && n.paused.Sub(now) <= g.in.Pause { // more: the clock was set back
		return &Held{Scope: ScopeNumber, Limit: Calls, Retry: n.paused.Sub(now)}
	}
	if _, ok := n.room(g.in.Number.CallsAMinute, now); !ok {
		n.paused, n.stopped, n.window = now.Add(g.in.Pause), false, window{}
		return &Held{Scope: ScopeNumber, Limit: Calls, Retry: g.in.Pause, First: true}
	}
	n.add()
	return nil
}

// session opens a session, or goes on with it; else it says whose limit is
// reached.
func (g *Gate) session(c Call, n *number, now time.Time) (scope string) {
	g.sessions.expire(now.Add(-quiet))
	k := g.key(c)
	if _, open := g.sessions.get(k); !open {
		reached := func(open, limit int) bool { return limit > 0 && open >= limit }
		switch {
		case reached(n.open, g.in.Number.OpenSessions):
			return ScopeNumber
		case reached(g.open[c.Gateway], g.in.Gateways[c.Gateway].OpenSessions):
			return ScopeGateway
		case reached(g.sessions.len(), g.in.All.OpenSessions):
			return ScopeAll
		}
		n.open++
		g.open[c.Gateway]++
	}
	g.sessions.put(k, struct{}{}, now)
	return ""
}

// closed is called for each session that is forgotten.
func (g *Gate) closed(k sessionKey) {
	g.open[k.gateway]--
	if n, ok := g.numbers.get(k.number); ok && n.open > 0 {
		n.open--
	}
}

// window counts the calls of a minute that begins with the first of them.
type window struct {
	began, told time.Time
	n           int
}

// room says whether one more call keeps to the limit, else when there is room
// again. A clock that was set back begins a new minute.
func (w *window) room(limit int, now time.Time) (retry time.Duration, ok bool) {
	end := w.began.Add(time.Minute)
	if now.Before(w.began) || !now.Before(end) {
		w.began, w.n, end = now, 0, now.Add(time.Minute)
	}
	if limit <= 0 || w.n < limit {
		return 0, true
	}
	return end.Sub(now), false
}

func (w *window) add() { w.n++ }

// tell reports, once a minute, that there is something to tell.
func (w *window) tell(now time.Time) bool {
	if !w.told.IsZero() && !now.Before(w.told) && now.Before(w.told.Add(time.Minute)) {
		return false
	}
	w.told = now
	return true
}
