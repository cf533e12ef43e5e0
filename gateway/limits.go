package gateway

import (
	"errors"
	"sync"
	"time"

	"rowbell/gateway/limit"
	"rowbell/store"
)

// overLimit is the error of a call that is over a limit. Such a call changes nothing and stores nothing, so the
// network may send the call again.
type overLimit struct {
	limit.Exceeded
	detail string
}

func (o *overLimit) Error() string { return o.detail }

var limitDetails = map[[2]string]string{
	{limit.ScopeNumber, limit.Calls}: "This number calls too often. " +
		"It gets no answer for a while; nothing was changed.",
	{limit.ScopeNumber, limit.Sessions}: "This number has too many open sessions. " +
		"Send an end event for those that are over; nothing was changed.",
	{limit.ScopeGateway, limit.Calls}: "This network sends more calls a minute than it may. " +
		"Nothing was changed; try again.",
	{limit.ScopeGateway, limit.Sessions}: "This network has too many open sessions. " +
		"Send an end event for those that are over; nothing was changed.",
	{limit.ScopeAll, limit.Calls}:    "More calls come in than can be taken. Nothing was changed; try again.",
	{limit.ScopeAll, limit.Sessions}: "Too many sessions are open. Nothing was changed; try again.",
}

// checkLimits counts a grower's call and returns an *overLimit error if the call is over a limit. session is the id of
// the USSD session. It runs before the transaction, so that a call over a limit writes nothing to disk.
// Receipts and ends of sessions are not checked. A STOP over a limit is applied all the same; see Gateway.sms.
func (g *Gateway) checkLimits(c *call, phone store.Phone, session string) error {
	exceeded := g.gate.Enter(limit.Call{Gateway: c.network.Name, Number: phone.E164(), Session: session}, c.now)
	if exceeded == nil {
		return nil
	}
	return g.exceeded(c, phone, exceeded)
}

// exceeded counts and logs an exceeded limit, and returns the error for it.
func (g *Gateway) exceeded(c *call, phone store.Phone, exceeded *limit.Exceeded) error {
	g.o.Meter.Limited(c.network.Name, exceeded.Scope, exceeded.Limit)
	if exceeded.First {
		e := g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).
			Str("scope", exceeded.Scope).Str("limit", exceeded.Limit).
			Int("seconds", wholeSeconds(exceeded.RetryAfter))
		if exceeded.Scope == limit.ScopeNumber {
			e = e.Stringer("phone", phone) // Phone's String method masks the number
		}
		e.Msg("a limit is reached: calls over it are answered 429; see [limits] in rowbell.toml")
	}
	return &overLimit{*exceeded, limitDetails[[2]string{exceeded.Scope, exceeded.Limit}]}
}

var errTooManyInFlight = errors.New("too many calls in flight")

// limitConcurrency runs h unless MaxInFlight callbacks are already being handled: on a busy disk one more callback
// would be answered too late for its network. It is called after authentication, so that a stranger who sends a body
// slowly does not count as a callback that is being handled.
func (g *Gateway) limitConcurrency(h func() (answer, error)) (answer, error) {
	select {
	case g.inFlight <- struct{}{}:
		defer func() { <-g.inFlight }()
		return h()
	default:
		return answer{}, errTooManyInFlight
	}
}

// maxRefusalsLogged bounds the log lines for refused calls in a minute, because anybody can cause refusals and must not
// fill the disk.
const maxRefusalsLogged = 100

// refusalLog counts the refused calls of a minute, or other events of which only some are logged.
type refusalLog struct {
	mu    sync.Mutex
	began time.Time
	n     int
}

// add counts an event and returns the number of events in the present minute, including this one.
func (r *refusalLog) add(now time.Time) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	if now.Before(r.began) || now.Sub(r.began) >= time.Minute {
		r.began, r.n = now, 0
	}
	r.n++
	return r.n
}
