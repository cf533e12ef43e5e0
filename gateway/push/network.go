package push

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptrace"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// Log is the network that exists where none is configured: it takes every text
// and notes the masked number and the kind. The text itself stays readable in
// the outbox.
type Log struct{ Log zerolog.Logger }

// Push takes m.
func (l Log) Push(_ context.Context, m store.Message) (string, error) {
	l.Log.Info().Stringer("to", m.To).Str("kind", m.Kind()).Msg("text")
	return "", nil
}

// HTTP is a network that takes texts at an address.
type HTTP struct {
	profile profile.Profile
	clock   clock.Clock // Retry-After may name an instant
	client  *http.Client
}

// NewHTTP returns the network that p describes. p.Push.URL must be set.
func NewHTTP(p profile.Profile, c clock.Clock) *HTTP {
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.MaxIdleConnsPerHost = p.Push.Concurrency
	// On a connection that was used before, the transport itself would send a
	// GET again that broke off: that is ours to decide.
	transport.DisableKeepAlives = p.Push.UsesGET() && !p.Push.Idempotent
	return &HTTP{
		profile: p, clock: c,
		client: &http.Client{
			Transport: transport,
			// A text is handed to the address that was configured, or not at all.
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}
}

// Close lets idle connections go.
func (h *HTTP) Close() { h.client.CloseIdleConnections() }

// maxAnswer bounds what is read of a network's answer.
const maxAnswer = 64 << 10

// Push hands m over. The id that the network gets is the message's key, the
// same on every try; a receipt may name either that or the network's own id.
func (h *HTTP) Push(ctx context.Context, m store.Message) (string, error) {
	out, err := h.profile.Compose(profile.Outgoing{Key: m.Key, To: m.To.E164(), Text: m.Text, Until: time.Unix(m.UsefulUntil, 0)}, h.clock.Now())
	switch {
	case errors.Is(err, profile.ErrTooLong):
		return "", &Refusal{Reason: fmt.Sprintf("not sent: longer than the %d segments that the network is set up for", h.profile.Push.Segments)}
	case errors.Is(err, profile.ErrTooLate), errors.Is(err, profile.ErrLetters):
		return "", &Refusal{Reason: "not sent: " + err.Error()}
	case err != nil:
		return "", err
	}
	// Once any of it was written the network may have understood enough.
	var written atomic.Bool
	write := &httptrace.ClientTrace{
		WroteHeaders: func() { written.Store(true) },
		WroteRequest: func(httptrace.WroteRequestInfo) { written.Store(true) },
	}
	var body io.Reader
	if out.Body != nil {
		body = bytes.NewReader(out.Body)
	}
	req, err := http.NewRequestWithContext(httptrace.WithClientTrace(ctx, write), out.Method, out.URL, body)
	if err != nil {
		return "", &Refusal{Again: true, Reason: "the address cannot be used"}
	}
	req.Header = out.Header
	// Or the transport itself would hand it over again where the connection
	// breaks, and a no to that would hide that the first may have been taken.
	req.GetBody = nil
	resp, err := h.client.Do(req)
	if err != nil {
		if written.Load() {
			return "", h.unsure(err)
		}
		return "", &Refusal{Again: true, Reason: reason(err)}
	}
	defer resp.Body.Close()
	// Read to the end, so that the connection can be used again.
	answer, err := io.ReadAll(io.LimitReader(resp.Body, maxAnswer+1))
	then, id := h.profile.Push.Understand(profile.Answer{
		Status: resp.StatusCode, Header: resp.Header, Body: answer, Broken: err != nil || len(answer) > maxAnswer,
	})
	said := fmt.Sprintf("the network answered %d", resp.StatusCode)
	after := retryAfter(resp.Header.Get("Retry-After"), h.clock.Now())
	switch then {
	case profile.Taken:
		return id, nil
	case profile.Again:
		return "", &Refusal{Again: true, After: after, Reason: said}
	case profile.Never:
		return "", &Refusal{Reason: said + " and will not take it"}
	case profile.NoSuchNumber:
		return "", &Refusal{Number: true, Reason: "the network knows no such number"}
	case profile.MaybeSent:
		return "", &Refusal{Again: h.profile.Push.Idempotent, Unsure: true, After: after, Reason: said + ", which leaves it open"}
	}
	if resp.StatusCode/100 == 2 {
		// An answer that breaks off is not a text that was not taken.
		return id, nil
	}
	return "", &Refusal{Again: again(resp.StatusCode), After: after, Reason: said}
}

// unsure is a try of which no answer was heard. The same key may go out again
// where the network is known to tell repeats.
func (h *HTTP) unsure(err error) *Refusal {
	said := reason(err)
	if !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, context.Canceled) {
		said = "no answer"
	}
	return &Refusal{Again: h.profile.Push.Idempotent, Unsure: true, Reason: said}
}

// again says whether a status is about this moment (or our set-up) and not
// about this text.
func again(status int) bool {
	switch status {
	case http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests:
		return true
	case http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusProxyAuthRequired:
		return true // an address or a password that the operator can still mend
	}
	return status < 400 || status >= 500
}

// retryAfter reads the header: seconds or a date (RFC 9110 section 10.2.3). 0
// for none, for nonsense and for what is past.
func retryAfter(header string, now time.Time) time.Duration {
	if seconds, err := strconv.Atoi(header); err == nil {
		return min(time.Duration(max(seconds, 0)), longestAfter/time.Second) * time.Second
	}
	if at, err := http.ParseTime(header); err == nil {
		return max(at.Sub(now), 0)
	}
	return 0
}
