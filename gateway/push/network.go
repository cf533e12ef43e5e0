package push

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"time"
	"unicode"

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
	l.Log.Info().Stringer("to", m.To).Str("kind", m.Kind).Msg("text")
	return "", nil
}

// HTTP is a network that takes texts at an address.
type HTTP struct {
	url    string
	id     profile.Pointer
	sender string
	clock  clock.Clock // Retry-After may name an instant
	client *http.Client
}

// NewHTTP returns the network that p describes. p.Push.URL must be set.
func NewHTTP(p profile.Profile, c clock.Clock) *HTTP {
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.MaxIdleConnsPerHost = p.Push.Concurrency
	return &HTTP{
		url: p.Push.URL, id: p.Push.ID, sender: p.Sender, clock: c,
		client: &http.Client{
			Transport: transport,
			// A text is handed to the address that was configured, or not at all.
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}
}

// Close lets idle connections go.
func (h *HTTP) Close() { h.client.CloseIdleConnections() }

// outbound is the body of a push.
type outbound struct {
	ID         string `json:"id"`
	To         string `json:"to"`
	From       string `json:"from"`
	Text       string `json:"text"`
	ValidUntil string `json:"valid_until"`
}

// maxAnswer bounds what is read of a network's answer.
const maxAnswer = 64 << 10

// Push hands m over. The id that the network gets is the message's key, which
// is the idempotency key too; a receipt may name either that or the network's
// own id.
func (h *HTTP) Push(ctx context.Context, m store.Message) (string, error) {
	body, err := json.Marshal(outbound{
		ID: m.Key, To: m.To.E164(), From: h.sender, Text: m.Text,
		ValidUntil: time.Unix(m.UsefulUntil, 0).UTC().Format(time.RFC3339),
	})
	if err != nil {
		return "", err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, h.url, bytes.NewReader(body))
	if err != nil {
		return "", err
	}
	// Or the transport itself would hand it over again where the connection
	// breaks, and a no to that would hide that the first may have been taken.
	req.GetBody = nil
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("Idempotency-Key", m.Key)
	resp, err := h.client.Do(req)
	if err != nil {
		return "", err
	}
	defer resp.Body.Close()
	// Read to the end, so that the connection can be used again. An answer that
	// breaks off is not a text that was not taken.
	answer, _ := io.ReadAll(io.LimitReader(resp.Body, maxAnswer))
	if resp.StatusCode/100 == 2 {
		return h.networkID(answer), nil
	}
	return "", &Refusal{
		Again:  again(resp.StatusCode),
		After:  retryAfter(resp.Header.Get("Retry-After"), h.clock.Now()),
		Reason: fmt.Sprintf("the network answered %d", resp.StatusCode),
	}
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

// networkID is the network's own id in its answer, "" if there is none that
// can be kept.
func (h *HTTP) networkID(answer []byte) string {
	var doc any
	d := json.NewDecoder(bytes.NewReader(answer))
	d.UseNumber()
	if err := d.Decode(&doc); err != nil {
		return ""
	}
	v, _ := h.id.Lookup(doc)
	id := ""
	switch v := v.(type) {
	case string:
		id = v
	case json.Number:
		id = v.String()
	}
	if len(id) > maxNetworkID {
		return ""
	}
	for _, r := range id {
		if !unicode.IsPrint(r) {
			return ""
		}
	}
	return id
}

// maxNetworkID is also what a receipt may name.
const maxNetworkID = 128

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
