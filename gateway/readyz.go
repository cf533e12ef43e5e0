package gateway

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"rowbell/gateway/meter"
)

// Health configures what /readyz checks beside the records (readyz_checks.go).
// Only QuietHour must be set: without the rest it checks records and bell.
type Health struct {
	Disks     []meter.Disk // each needs free space
	QuietHour int          // local hour from which the bell is not expected to run
	// Backup returns when the newest backup was made, the zero time if there is
	// none yet; nil: no backups are configured.
	Backup func() (time.Time, error)
	// Notes returns sentences for the operator that are no reason to send calls to another server, such as
	// that texts are deferred or a network does not answer. They contain no number, text or path. nil: none.
	Notes func() []string
}

// check is the result of one check.
type check struct {
	Name   string `json:"name"`
	OK     bool   `json:"ok"`
	Reason string `json:"reason,omitempty"` // what is wrong, and what to do
}

// readiness is the response of /readyz. Anybody may read it, so it names the
// failing check and contains nothing of growers.
type readiness struct {
	Ready  bool     `json:"ready"`
	Checks []check  `json:"checks"`
	Notes  []string `json:"notes,omitempty"`
}

// text formats the readiness as lines: the verdict, each check, each note.
func (r readiness) text() []byte {
	var b bytes.Buffer
	b.WriteString(map[bool]string{true: "ready\n", false: "not ready\n"}[r.Ready])
	for _, c := range r.Checks {
		result := "ok"
		if !c.OK {
			result = c.Reason
		}
		fmt.Fprintf(&b, "%s: %s\n", c.Name, result)
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "note: %s\n", n)
	}
	return b.Bytes()
}

// healthy serves /healthz: 200 as long as the process answers.
func (g *Gateway) healthy(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	_, _ = w.Write([]byte("ok\n"))
}

// retryReady is the Retry-After of a /readyz that is not ready.
const retryReady = 10 * time.Second

// ready serves /readyz: 200 if callbacks can be handled and 503 if not, with the
// result of each check, as text or, if the caller accepts it, as JSON.
func (g *Gateway) ready(w http.ResponseWriter, r *http.Request) {
	// Callers that ask at the same time share one run, because each run costs a write.
	result := g.readyChecks.DoChan("", func() (any, error) {
		return g.runChecks(context.WithoutCancel(r.Context())), nil
	})
	var found readiness
	select {
	case run := <-result:
		found = run.Val.(readiness)
	case <-r.Context().Done(): // the caller has gone
		return
	}
	contentType, body := "text/plain; charset=utf-8", found.text()
	if strings.Contains(r.Header.Get("Accept"), "application/json") {
		contentType = "application/json"
		var err error
		if body, err = json.Marshal(found); err != nil {
			panic("gateway: " + err.Error()) // strings and booleans always encode
		}
	}
	w.Header().Set("Content-Type", contentType)
	if !found.Ready {
		setRetryAfter(w, retryReady)
		w.WriteHeader(http.StatusServiceUnavailable)
	}
	_, _ = w.Write(body)
}

// runChecks runs all checks, within the deadline of a callback.
func (g *Gateway) runChecks(ctx context.Context) (found readiness) {
	ctx, cancel := context.WithTimeout(ctx, g.o.Deadline)
	defer cancel()
	defer func() { // singleflight runs the checks on another goroutine, where a panic would end the process
		if v := recover(); v != nil {
			logPanic(g.o.Log.Error().Str("route", "/readyz"), v, debug.Stack())
			found = readiness{Checks: []check{newCheck("program", "something is broken here: the log says where")}}
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
