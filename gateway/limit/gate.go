package limit

import (
	"hash/maphash"
	"sync"
	"time"
)

// The scope whose limit was exceeded, and the kind of the limit.
const (
	ScopeNumber  = "number"
	ScopeGateway = "gateway"
	ScopeAll     = "all"

	Calls    = "calls"
	Sessions = "sessions"
)

// Incoming contains the limits on callbacks.
type Incoming struct {
	All      Set
	Number   Set
	Gateways map[string]Set
	Pause    time.Duration // how long calls of a number are refused after it exceeded its limit; at least a minute
}

// Call is one callback.
type Call struct {
	Gateway string
	Number  string // phone number in the form E.164
	Session string // the network's id of the USSD session; "" = the call has no session
}

// Exceeded says which limit a call has exceeded.
type Exceeded struct {
	Scope, Limit string
	RetryAfter   time.Duration
	// First is true for the first refusal in a number's pause or in a gateway's minute, the only one that the caller
	// logs.
	First bool
}

// Gate counts callbacks and refuses those over a limit. It remembers a bounded number of recent phone numbers and
// sessions, in memory only: a restart resets all counts. Of several processes each counts the calls that it gets,
// because a call over a limit must cost no write. It is safe for concurrent use.
//
//	call := limit.Call{Gateway: "local", Number: phone, Session: id}
//	if exceeded := gate.Enter(call, now); exceeded != nil { ... }
//
// The limit of the call's number is checked first. A call over that limit does not count against the limits of the
// gateway and of the service, so one phone that floods cannot block the other phones of its gateway.
type Gate struct {
	limits Incoming
	seed   maphash.Seed

	mu       sync.Mutex
	all      minute
	gateways minutes
	numbers  *lru[string, *number]
	sessions *lru[sessionKey, struct{}]
	open     map[string]int // number of open sessions by gateway
}

// maxNumbers bounds the phone numbers that a Gate remembers. With MaxSessions sessions they take about 30 MB. The
// counts of a forgotten number start again at 0, but the limits of its gateway and of the service still count its
// calls.
const maxNumbers = 1 << 16

// SessionTimeout is how long a USSD session without calls counts as open, because some networks do not report its end.
// 3GPP TS 29.002, clause 17.6.4, allows at most ten minutes for a USSD request.
const SessionTimeout = 10 * time.Minute

// retrySession is the Retry-After for a call over a limit of open sessions. Most dialogues end after a minute
// or two (common practice, no source).
const retrySession = time.Minute

// number is the state of one phone number.
type number struct {
	minute
	pausedUntil time.Time
	stopDone    bool // a STOP was applied during the number's present pause
	open        int  // number of open sessions
}

// sessionKey identifies a session by a hash of its id, because the id may be long. Two sessions of one number with
// equal hashes count as one session.
type sessionKey struct {
	gateway, number string
	session         uint64
}

func (g *Gate) key(c Call) sessionKey {
	return sessionKey{c.Gateway, c.Number, maphash.String(g.seed, c.Session)}
}

// NewGate returns a gate with all counts at 0.
func NewGate(limits Incoming) *Gate {
	g := &Gate{seed: maphash.MakeSeed(), gateways: minutes{}, open: map[string]int{}}
	g.SetLimits(limits)
	g.numbers = newLRU[string, *number](maxNumbers, nil)
	g.sessions = newLRU(MaxSessions, func(k sessionKey, _ struct{}) { g.sessionClosed(k) })
	return g
}

// SetLimits replaces the limits. What was counted stays.
func (g *Gate) SetLimits(limits Incoming) {
	limits.Pause = max(limits.Pause, time.Minute)
	g.mu.Lock()
	defer g.mu.Unlock()
	g.limits = limits
}

// Enter counts a call and opens or continues the call's session. If the call is over a limit, Enter opens no session
// and returns that limit; otherwise it returns nil.
func (g *Gate) Enter(c Call, now time.Time) *Exceeded {
	g.mu.Lock()
	defer g.mu.Unlock()
	n := g.number(c.Number, now)
	if e := g.countNumber(n, now); e != nil {
		return e
	}
	gateway := g.gateways.of(c.Gateway)
	if e := g.checkShared(c.Gateway, now); e != nil {
		return e
	}
	if c.Session != "" {
		if scope := g.openSession(c, n, now); scope != "" {
			return &Exceeded{Scope: scope, Limit: Sessions, RetryAfter: retrySession, First: gateway.shouldLog(now)}
		}
	}
	gateway.calls++
	g.all.calls++
	return nil
}

// EnterItems counts the items of one call, given by their numbers. An item counts as a call of its number: over has the
// exceeded limit of each item, or nil. The limits of the gateway and of the service are checked once for all items,
// and then count each item that is within its number's limit. So a call with more items than a minute allows is not
// refused for ever. If one of these limits is exceeded, EnterItems returns it as all: the whole call is refused.
func (g *Gate) EnterItems(gateway string, numbers []string, now time.Time) (over []*Exceeded, all *Exceeded) {
	g.mu.Lock()
	defer g.mu.Unlock()
	within := 0
	for _, number := range numbers {
		e := g.countNumber(g.number(number, now), now)
		if over = append(over, e); e == nil {
			within++
		}
	}
	if within == 0 {
		return over, nil
	}
	if e := g.checkShared(gateway, now); e != nil {
		return over, e
	}
	g.gateways.of(gateway).calls += within
	g.all.calls += within
	return over, nil
}

// checkShared checks the limits on calls a minute of a gateway and of the service, without counting a call.
func (g *Gate) checkShared(name string, now time.Time) *Exceeded {
	gateway := g.gateways.of(name)
	for _, v := range []struct {
		scope string
		*minute
		limit int
	}{
		{ScopeGateway, gateway, g.limits.Gateways[name].CallsAMinute},
		{ScopeAll, &g.all, g.limits.All.CallsAMinute},
	} {
		if retry, ok := v.allows(v.limit, now); !ok {
			return &Exceeded{Scope: v.scope, Limit: Calls, RetryAfter: retry, First: gateway.shouldLog(now)}
		}
	}
	return nil
}

// Leave closes the session of a call, so that the session no longer counts as open.
func (g *Gate) Leave(c Call) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.sessions.remove(g.key(c))
}

// MarkStopped records that a STOP was applied during the number's pause.
func (g *Gate) MarkStopped(phone string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if n, ok := g.numbers.get(phone); ok {
		n.stopDone = true
	}
}

// HasStopped reports whether a STOP of this number was already applied during the number's present pause.
func (g *Gate) HasStopped(phone string, now time.Time) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	n, ok := g.numbers.get(phone)
	return ok && n.stopDone && now.Before(n.pausedUntil)
}

func (g *Gate) number(phone string, now time.Time) *number {
	n, ok := g.numbers.get(phone)
	if !ok {
		n = &number{}
	}
	g.numbers.put(phone, n, now)
	return n
}

// countNumber counts a call of a number. It starts a pause if the number is over its limit.
func (g *Gate) countNumber(n *number, now time.Time) *Exceeded {
	// If the rest of the pause is longer than a whole pause, the clock was set back. Then the pause is ignored.
	if rest := n.pausedUntil.Sub(now); rest > 0 && rest <= g.limits.Pause {
		return &Exceeded{Scope: ScopeNumber, Limit: Calls, RetryAfter: rest}
	}
	if _, ok := n.allows(g.limits.Number.CallsAMinute, now); !ok {
		n.pausedUntil, n.stopDone, n.minute = now.Add(g.limits.Pause), false, minute{}
		return &Exceeded{Scope: ScopeNumber, Limit: Calls, RetryAfter: g.limits.Pause, First: true}
	}
	n.calls++
	return nil
}

// openSession opens or continues the session of a call. If a limit of open sessions does not allow a new session, it
// opens none and returns the scope of the limit; otherwise it returns "".
func (g *Gate) openSession(c Call, n *number, now time.Time) (scope string) {
	g.sessions.expire(now.Add(-SessionTimeout))
	k := g.key(c)
	if _, open := g.sessions.get(k); !open {
		reached := func(open, limit int) bool { return limit > 0 && open >= limit }
		switch {
		case reached(n.open, g.limits.Number.OpenSessions):
			return ScopeNumber
		case reached(g.open[c.Gateway], g.limits.Gateways[c.Gateway].OpenSessions):
			return ScopeGateway
		case reached(g.sessions.len(), g.limits.All.OpenSessions):
			return ScopeAll
		}
		n.open++
		g.open[c.Gateway]++
	}
	g.sessions.put(k, struct{}{}, now)
	return ""
}

// sessionClosed updates the counts when a session is removed from the LRU.
func (g *Gate) sessionClosed(k sessionKey) {
	g.open[k.gateway]--
	if n, ok := g.numbers.get(k.number); ok && n.open > 0 {
		n.open--
	}
}

// minute counts calls. A new minute, with the count 0, starts with the first call after the last minute has ended.
type minute struct {
	began, logged time.Time
	calls         int
}

// minutes are the counts of the gateways. Callers pass only configured names, so the map stays small.
type minutes map[string]*minute

// of returns the counts of a gateway.
func (m minutes) of(gateway string) *minute {
	if m[gateway] == nil {
		m[gateway] = &minute{}
	}
	return m[gateway]
}

// allows reports whether one more call is within the limit (0 = no limit). If not, retryAfter is the rest of the
// minute. If the clock was set back, a new minute starts.
func (m *minute) allows(limit int, now time.Time) (retryAfter time.Duration, ok bool) {
	end := m.began.Add(time.Minute)
	if now.Before(m.began) || !now.Before(end) {
		m.began, m.calls, end = now, 0, now.Add(time.Minute)
	}
	if limit <= 0 || m.calls < limit {
		return 0, true
	}
	return end.Sub(now), false
}

// shouldLog reports true only once in a minute.
func (m *minute) shouldLog(now time.Time) bool {
	if !m.logged.IsZero() && !now.Before(m.logged) && now.Before(m.logged.Add(time.Minute)) {
		return false
	}
	m.logged = now
	return true
}
