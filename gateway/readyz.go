package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"net/netip"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"rowbell/gateway/meter"
	"rowbell/gateway/problem"
)

// Health is what /readyz looks at beside the records. The zero value looks at
// the records alone.
type Health struct {
	Disks     []meter.Disk // each must have room
	QuietHour int          // the bell is not missed from this local hour on; 0 = 20

	// Backup tells when the newest backup was made, the zero time where there is
	// none yet; nil: none is to be made.
	Backup func() (time.Time, error)
	// Notes tell, each in a sentence, what an operator should know and what is
	// no reason to send calls elsewhere: texts are held back, a network does not
	// answer. nil: nothing. No number, text or path stands in them.
	Notes func() []string
}

// check is one thing that /readyz looked at.
type check struct {
	Name   string `json:"name"`
	OK     bool   `json:"ok"`
	Reason string `json:"reason,omitempty"` // why not, and what to do
}

// readiness is the answer of /readyz.
type readiness struct {
	Ready  bool     `json:"ready"`
	Checks []check  `json:"checks"`
	Notes  []string `json:"notes,omitempty"`
}

// text is the readiness in lines: the verdict, a check each, a note each.
func (r readiness) text() []byte {
	var b bytes.Buffer
	b.WriteString(map[bool]string{true: "ready\n", false: "not ready\n"}[r.Ready])
	for _, c := range r.Checks {
		said := "ok"
		if !c.OK {
			said = c.Reason
		}
		fmt.Fprintf(&b, "%s: %s\n", c.Name, said)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "note: %s\n", n)
	}
	return b.Bytes()
}

// healthy says that the process answers.
func (g *Gateway) healthy(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("ok\n"))
}

// retryReady is when whoever found us not ready may ask again, in seconds.
const retryReady = "10"

// ready answers 200 where calls can be worked and 503 where not, with what was
// looked at: in lines, or in JSON for who asks for it.
func (g *Gateway) ready(w http.ResponseWriter, r *http.Request) {
	found, err := g.looking.share(r.Context(), g.look)
	if err != nil { // nobody waits for it any more
		return
	}
	kind, body := "text/plain; charset=utf-8", found.text()
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		kind = "application/json"
		if body, err = json.Marshal(found); err != nil {
			panic("gateway: " + err.Error()) // strings and truths always encode
		}
	}
	w.Header().Set("Content-Type", kind)
	if !found.Ready {
		w.Header().Set("Retry-After", retryReady)
		w.WriteHeader(http.StatusServiceUnavailable)
	}
	_, _ = w.Write(body)
}

// look looks at everything once. It takes no longer than a callback may.
func (g *Gateway) look(ctx context.Context) (found readiness) {
	ctx, cancel := context.WithTimeout(ctx, g.o.Deadline)
	defer cancel()
	defer func() { // it runs on a goroutine of its own, where a panic ends the program
		if v := recover(); v != nil {
			logPanic(g.o.Log.Error().Str("route", "/readyz"), v, debug.Stack())
			found = readiness{Checks: []check{verdict("program", "something is broken here: the log says where")}}
		}
	}()
	found = readiness{Ready: true, Checks: g.checks(ctx)}
	for _, c := range found.Checks {
		found.Ready = found.Ready && c.OK
	}
	if g.o.Health.Notes != nil {
		found.Notes = g.o.Health.Notes()
	}
	return found
}

// looks lets all who ask at once have the answer of one look: each of them
// costs a write.
type looks struct {
	mu  sync.Mutex
	now *oneLook // the one that is on
}

type oneLook struct {
	done  chan struct{}
	found readiness
}

// share returns what the look that is on finds, or begins one.
func (l *looks) share(ctx context.Context, look func(context.Context) readiness) (readiness, error) {
	l.mu.Lock()
	on := l.now
	if on == nil {
		on = &oneLook{done: make(chan struct{})}
		l.now = on
		go func() {
			on.found = look(context.WithoutCancel(ctx))
			l.mu.Lock()
			l.now = nil
			l.mu.Unlock()
			close(on.done)
		}()
	}
	l.mu.Unlock()
	select {
	case <-on.done:
		return on.found, nil
	case <-ctx.Done():
		return readiness{}, ctx.Err()
	}
}

// watched lets this machine and the networks of the operator's choice through
// to h, and nobody who comes through a proxy: whose address is seen then is
// the proxy's. own is the header that the proxy writes; "" = none of its own.
func watched(allow []netip.Prefix, own string, h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if wasPassedOn(r) || own != "" && r.Header.Values(own) != nil {
			problem.New(http.StatusForbidden, "This is read directly, not through a proxy.").Write(w)
			return
		}
		if !fromLoopback(r) && !within(allow, r.RemoteAddr) {
			problem.New(http.StatusForbidden, "This is open to this machine and to the networks of [watch] allow.").Write(w)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// within reports whether the address of a connection lies in one of these
// networks.
func within(allow []netip.Prefix, remote string) bool {
	at, err := netip.ParseAddrPort(remote)
	if err != nil {
		return false
	}
	for _, p := range allow {
		if p.Contains(at.Addr().Unmap().WithZone("")) {
			return true
		}
	}
	return false
}
