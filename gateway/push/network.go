package push

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptrace"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/gateway/fault"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// Log is the network of a service without networks. It takes every text and logs its kind and the masked phone number.
type Log struct{ Log zerolog.Logger }

// Push logs m and reports that the network took it.
func (l Log) Push(_ context.Context, m store.Message) (string, error) {
	l.Log.Info().Stringer("to", m.To).Str("kind", m.Kind()).Msg("text")
	return "", nil
}

// HTTP is a network that takes texts at a URL.
type HTTP struct {
	profile profile.Profile
	clock   clock.Clock // needed because a Retry-After may be a date
	log     zerolog.Logger

	mu       sync.Mutex // guards the fields below
	client   *http.Client
	identity identity
}

// NewHTTP returns the network that p describes. p.Push.URL must be set. The error names the files for TLS that cannot
// be used.
func NewHTTP(p profile.Profile, c clock.Clock, log zerolog.Logger) (*HTTP, error) {
	h := &HTTP{profile: p, clock: c, log: log, identity: identity{files: p.Push.TLS}}
	h.identity.changed() // from now on
	config, err := LoadTLS(p.Push.TLS)
	if err != nil {
		return nil, fault.Under("gateways", fault.Under(p.Name, fault.Under("push", err)))
	}
	h.warnIfExpired(config)
	h.client = h.newClient(config)
	return h, nil
}

func (h *HTTP) newClient(config *tls.Config) *http.Client {
	p := &h.profile
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.TLSClientConfig = config
	transport.MaxIdleConnsPerHost = p.Push.Concurrency
	transport.MaxResponseHeaderBytes = profile.MaxAnswer
	// Go's transport repeats a GET by itself if a reused connection breaks. Only this package may repeat a text, so a
	// network that is not idempotent gets a new connection each time.
	transport.DisableKeepAlives = p.Push.UsesGET() && !p.Push.Idempotent
	return &http.Client{
		Transport: transport,
		// Redirects are not followed, because a text and its phone number may go to the configured address only.
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// Close closes idle connections.
func (h *HTTP) Close() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.client.CloseIdleConnections()
}

// Push sends m once and returns the network's own id of the text, "" for none. The request also has m's key, which is
// the same on every try. A receipt may name the text by the key or by the network's id.
func (h *HTTP) Push(ctx context.Context, m store.Message) (string, error) {
	out, err := h.compose(m)
	if err != nil {
		return "", err
	}
	// If any part of the request was written, the network may have understood the text.
	var written, reused atomic.Bool
	trace := &httptrace.ClientTrace{
		GotConn:      func(c httptrace.GotConnInfo) { reused.Store(c.Reused) },
		WroteHeaders: func() { written.Store(true) },
		WroteRequest: func(httptrace.WroteRequestInfo) { written.Store(true) },
	}
	var body io.Reader
	if out.Body != nil {
		body = bytes.NewReader(out.Body)
	}
	req, err := http.NewRequestWithContext(httptrace.WithClientTrace(ctx, trace), out.Method, out.URL, body)
	if err != nil {
		return "", &Refusal{Again: true, Reason: "the address cannot be used"}
	}
	req.Header = out.Header
	// With GetBody the transport may send the request again after the connection broke. If the network then refused the
	// second request, nobody would know that it may have taken the text from the first.
	req.GetBody = nil
	resp, err := h.connect().Do(req)
	if err != nil {
		if refusedCertificate(err) && !reused.Load() {
			return "", &Refusal{Again: true, Reason: "the TLS handshake was ended: our certificate is missing or wrong"}
		}
		if !written.Load() {
			return "", &Refusal{Again: true, Reason: transportReason(err)}
		}
		reason := transportReason(err)
		if !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, context.Canceled) {
			reason = "no answer"
		}
		return "", &Refusal{Again: h.profile.Push.Idempotent, MaybeSent: true, Reason: reason}
	}
	defer resp.Body.Close()
	return h.understand(resp, m)
}

// compose builds the request. Its error is a *Refusal if the text does not fit the network.
func (h *HTTP) compose(m store.Message) (profile.Request, error) {
	out, err := h.profile.Compose(profile.Outgoing{
		Key: m.Key, To: m.To.E164(), Text: m.Text, Until: time.Unix(m.UsefulUntil, 0),
	}, h.clock.Now())
	switch {
	case errors.Is(err, profile.ErrTooLong):
		return out, &Refusal{Reason: fmt.Sprintf(
			"not sent: longer than the %d segments that the network is set up for", h.profile.Push.Segments)}
	case errors.Is(err, profile.ErrTooLate), errors.Is(err, profile.ErrLetters):
		return out, &Refusal{Reason: "not sent: " + err.Error()}
	}
	return out, err
}

// understand reads the network's answer. If the network took the text, it returns the network's id of the text;
// otherwise it returns a Refusal with the reason.
func (h *HTTP) understand(resp *http.Response, m store.Message) (string, error) {
	a := profile.Answer{Status: resp.StatusCode, Header: resp.Header, Sent: m.Text}
	var err error
	a.Body, err = io.ReadAll(io.LimitReader(resp.Body, profile.MaxAnswer+1))
	switch {
	case err != nil:
		a.Broken = profile.BreaksOff
	case len(a.Body) > profile.MaxAnswer:
		a.Broken = profile.TooLong
	}
	v := h.profile.Push.Understand(a)
	after, wrong := RetryAfter(resp.Header.Get("Retry-After"), h.clock.Now())
	r := &Refusal{Reason: answerReason(resp.StatusCode, v), After: after}
	if wrong {
		r.Reason += "; its Retry-After is ignored"
	}
	// With 503 the wait is for the whole service (RFC 9110 section 15.6.4). With 429 a network may count by recipient
	// (RFC 6585 section 4), and with 3xx it is about one request: one number must not hold up all others.
	r.Hold = after > 0 && resp.StatusCode == http.StatusServiceUnavailable
	switch v.Outcome {
	case profile.Taken:
		return v.ID, nil
	case profile.Again:
		r.Again = true
	case profile.NoSuchNumber:
		r.UnknownNumber = true
	case profile.MaybeSent:
		r.Again, r.MaybeSent, r.ID = h.profile.Push.Idempotent, true, v.ID
	}
	return "", r
}

// answerReason says why a text was not taken: the status, what the answer contains about it, and the rule in
// rowbell.toml, unless the status alone decided.
func answerReason(status int, v profile.Verdict) string {
	reason := fmt.Sprintf("the network answered %d", status)
	if v.Why != "" {
		reason += "; " + v.Why
	}
	if v.Rule != profile.StatusRule {
		reason += fmt.Sprintf(" (push.%s: %s)", v.Rule, v.Outcome)
	}
	return reason
}
