package gateway

import (
	"errors"
	"net/http"
	"sync"
	"time"

	"rowbell/gateway/limit"
	"rowbell/gateway/problem"
	"rowbell/store"
)

// heldBack is a call that a limit holds back. Nothing was done and nothing is
// kept of it: it may come again.
type heldBack struct {
	limit.Held
	detail string
}

func (h *heldBack) Error() string { return h.detail }

func (h *heldBack) problem() *problem.Problem {
	return problem.New(http.StatusTooManyRequests, h.detail)
}

var heldDetails = map[[2]string]string{
	{limit.ScopeNumber, limit.Calls}:     "This number calls too often. It gets no answer for a while; nothing was changed.",
	{limit.ScopeNumber, limit.Sessions}:  "This number has too many open sessions. Send an end event for those that are over; nothing was changed.",
	{limit.ScopeGateway, limit.Calls}:    "This network sends more calls a minute than it may. Nothing was changed; try again.",
	{limit.ScopeGateway, limit.Sessions}: "This network has too many open sessions. Send an end event for those that are over; nothing was changed.",
	{limit.ScopeAll, limit.Calls}:        "More calls come in than can be taken. Nothing was changed; try again.",
	{limit.ScopeAll, limit.Sessions}:     "Too many sessions are open. Nothing was changed; try again.",
}

// held counts a call of a grower; not nil: a limit holds it back. It costs no
// transaction and no text. session is "" for a text.
func (g *Gateway) held(c *call, phone store.Phone, session string) error {
	h := g.gate.Enter(limit.Call{Gateway: c.network.Name, Number: phone.E164(), Session: session}, c.now)
	if h == nil {
		return nil
	}
	g.o.Meter.Limited(c.network.Name, h.Scope, h.Limit)
	if h.First {
		e := g.o.Log.Warn().Str("request", c.id).Str("gateway", c.network.Name).Str("scope", h.Scope).Str("limit", h.Limit).
			Int("seconds", wholeSeconds(h.Retry))
		if h.Scope == limit.ScopeNumber {
			e = e.Stringer("phone", phone) // masked
		}
		e.Msg("a limit is reached: calls are held back; see [limits] in rowbell.toml")
	}
	return &heldBack{*h, heldDetails[[2]string{h.Scope, h.Limit}]}
}

// over frees the place of a USSD session that is over.
func (g *Gateway) over(c *call, phone store.Phone, session string) {
	g.gate.Leave(limit.Call{Gateway: c.network.Name, Number: phone.E164(), Session: session})
}

// stops says what to do with a text that is held back: the word to stop works
// whatever the limit, but says nothing; once it was done, the same word again
// while the number is held back is taken without work.
func (g *Gateway) stops(c *call, phone store.Phone, text string) (stop, done bool) {
	if !g.o.Menu.Stops(text) {
		return false, false
	}
	return true, g.gate.HasStopped(phone.E164(), c.now)
}

// wholeSeconds is for Retry-After, rounded up.
func wholeSeconds(d time.Duration) int { return int((d + time.Second - 1) / time.Second) }

// errCrowd says that more is being worked on than may be at once.
var errCrowd = errors.New("too many calls are worked on at once")

// crowd lets only so many callbacks be worked on at once: h runs in a free
// place. More would wait for the same disk, and their networks would have given
// up by then. Nobody has a place who was not let in: a stranger who sends a
// body slowly would hold it.
func (g *Gateway) crowd(h func() (answer, error)) (answer, error) {
	select {
	case g.places <- struct{}{}:
		defer func() { <-g.places }()
		return h()
	default:
		return answer{}, errCrowd
	}
}

// maxRefusals are told of one by one in a minute: anybody can have a call
// refused, and a flood of them must not fill the disk.
const maxRefusals = 100

// refusals counts those of a minute.
type refusals struct {
	mu    sync.Mutex
	began time.Time
	n     int
}

// add says which of its minute a refusal is.
func (r *refusals) add(now time.Time) int {
	r.mu.Lock()
	defer r.mu.Unlock()
	if now.Before(r.began) || now.Sub(r.began) >= time.Minute {
		r.began, r.n = now, 0
	}
	r.n++
	return r.n
}
