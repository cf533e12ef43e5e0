package gateway

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
)

// The largest values that a network may send: bytes of the body; characters of an id, a text and a phone number; the
// number of a step. maxText allows ten SMS segments, which have up to 1530 characters of the GSM 7-bit alphabet.
const (
	maxBody  = 64 << 10
	maxID    = 128
	maxText  = 1600
	maxPhone = 64
	maxSteps = 1 << 20
)

// The kinds of callbacks. The kind is the last part of a callback's path.
const (
	kindUSSD    = "ussd"
	kindSMS     = "sms"
	kindReceipt = "receipt"
)

// call is one callback after authentication and decoding.
type call struct {
	id string // id of the request; part of the outbox keys of this call's texts, so that the keys are unique
	// webhookID is the webhook-id header, which is the same in each repeat of the call. It is "" if the header is
	// missing, and also if the network has a format of its own and does not sign its calls.
	webhookID string
	once      string // id of a signed call, the same only in a copy of the call; "" = calls of the network have none
	network   *profile.Profile
	in        *fields
	now       time.Time // instant at which the call was admitted; all work for the call uses this instant
	sendsBack bool      // the answers go through the network of the call
	place     int       // for an item of a call that may have several: its place among the items, from 1; otherwise 0
	overLimit bool      // the call is over a limit: a STOP is still applied, but the call gets no answer
}

// answer is the response to a callback.
type answer struct {
	profile.Rendered
	repeat bool // this is the stored reply of an earlier call
}

// render returns the answer in the network's own format r. If r is nil, it returns ours, the answer in the project's
// format.
func render(r *profile.Reply, v profile.ReplyValues, ours profile.Rendered, repeat bool) (a answer, err error) {
	if r != nil {
		ours, err = r.Render(v)
	}
	return answer{ours, repeat}, err
}

// callback returns the handler for callbacks of a kind. It authenticates and decodes the call, runs h and writes the
// answer.
func (g *Gateway) callback(kind string, h func(context.Context, *call) (answer, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), Deadline)
		defer cancel()
		c, err := g.admit(w, r, kind)
		var a answer
		if err == nil {
			a, err = g.limitConcurrency(func() (answer, error) { return h(ctx, c) })
		}
		if err != nil {
			g.fail(w, r, err)
			return
		}
		resultOf(ctx).repeat = a.repeat
		a.Write(w)
	}
}

// callOf returns the profile's description of the callbacks of a kind.
func callOf(p *profile.Profile, kind string) *profile.Call {
	switch kind {
	case kindUSSD:
		return &p.USSD.Call
	case kindSMS:
		return &p.SMS.Call
	}
	return &p.Receipt.Call
}

// methods returns the HTTP methods that the networks use for callbacks of a kind.
func (g *Gateway) methods(kind string) []string {
	var list []string
	for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPut} {
		for _, p := range g.networks {
			if callOf(p, kind).Method == m {
				list = append(list, m)
				break
			}
		}
	}
	// If no network makes calls of this kind, the route still exists for POST: admit then answers such a call that the
	// network is not set up for calls of this kind.
	if list == nil {
		return []string{http.MethodPost}
	}
	return list
}

// admit authenticates and decodes a callback. It neither reads nor writes the records. Every error is a
// *problem.Problem.
func (g *Gateway) admit(w http.ResponseWriter, r *http.Request, kind string) (*call, error) {
	network, known := g.networks[chi.URLParam(r, "gateway")]
	if !known {
		return nil, problem.New(http.StatusNotFound, "No network is set up under this name.")
	}
	how := callOf(network, kind)
	switch how.Method {
	case r.Method:
	case "":
		return nil, problem.New(http.StatusNotFound, "This network is not set up for calls of this kind.")
	default:
		w.Header().Set("Allow", how.Method)
		return nil, problem.New(http.StatusMethodNotAllowed, "Use "+how.Method+".")
	}
	checkGuess := func(right bool) error { return g.checkGuess(w, r, network, right) }
	if err := authenticate(w, r, network, checkGuess); err != nil {
		return nil, err
	}
	webhookID := r.Header.Get("webhook-id")
	if len(webhookID) > maxID || !printable(webhookID) {
		detail := fmt.Sprintf("The webhook-id header is longer than %d characters or not printable.", maxID)
		return nil, problem.New(http.StatusBadRequest, detail)
	}
	if !how.AcceptsType(r.Header.Get("Content-Type")) {
		return nil, problem.New(http.StatusUnsupportedMediaType, how.TypeHint())
	}
	body, err := readBody(w, r)
	if err != nil {
		return nil, err
	}
	now := g.o.Clock.Now()
	var verified profile.Verified
	if signed := network.Trust != nil && network.Trust.Signs(); signed {
		if verified, err = network.Trust.Verify(signedBy(r, network, kind, body), now); err != nil {
			return nil, problem.New(http.StatusUnauthorized, err.Error())
		}
	} else if how.Format == profile.Ours {
		verified.WebhookID = webhookID // in all other unsigned calls nothing proves that the network set this header
	}
	doc, err := how.Read(r.Header, r.URL.RawQuery, body)
	if err != nil {
		return nil, problem.New(http.StatusBadRequest, err.Error())
	}
	return &call{id: requestID(w), webhookID: verified.WebhookID, once: verified.Once, network: network,
		in: &fields{doc: doc}, now: now}, nil
}

// signedBy returns the parts of a call that its signature may cover.
func signedBy(r *http.Request, network *profile.Profile, kind string, body []byte) profile.Signed {
	return profile.Signed{Method: r.Method, Path: "/in/" + network.Name + "/" + kind, Query: r.URL.RawQuery,
		Header: r.Header, Body: body}
}

// authenticate checks the caller's address and the Authorization header. admit checks a signature later, because a
// signature covers the body. checkGuess gets whether the secret is right; its error refuses the call in both cases.
func authenticate(
	w http.ResponseWriter, r *http.Request, network *profile.Profile, checkGuess func(right bool) error,
) error {
	authorization := r.Header.Get("Authorization")
	t := network.Trust
	if t == nil {
		if network.Open && fromLoopback(r) {
			return nil
		}
		right := network.Token.Admits(authorization)
		if err := checkGuess(right); err != nil || right {
			return err
		}
		w.Header().Set("WWW-Authenticate", `Bearer realm="rowbell"`)
		return problem.New(http.StatusUnauthorized, "Send this network's token: Authorization: Bearer <token>.")
	}
	if !t.AdmitsFrom(clientIP(r)) {
		return problem.New(http.StatusForbidden, "This network does not call from this address.")
	}
	right := t.Admits(authorization)
	if t.HasSecret() {
		if err := checkGuess(right); err != nil {
			return err
		}
	}
	if !right {
		challenge := t.Challenge()
		w.Header().Set("WWW-Authenticate", challenge)
		scheme, _, _ := strings.Cut(challenge, " ")
		return problem.New(http.StatusUnauthorized,
			"Send this network's credentials: Authorization: "+scheme+".")
	}
	return nil
}

// checkGuess counts a secret that may be a guess. It returns an error if the caller must wait before its secret is
// checked. A call without a secret is no guess. The secret is never logged.
func (g *Gateway) checkGuess(w http.ResponseWriter, r *http.Request, network *profile.Profile, right bool) error {
	if r.Header.Get("Authorization") == "" {
		return nil
	}
	j := g.guesses.Judge(network.Name, clientIP(r), right, g.o.Clock.Now())
	if j.Began {
		from := "addresses that are not known"
		if j.From.IsValid() {
			from = j.From.String()
		}
		g.o.Log.Warn().Str("request", requestID(w)).Str("gateway", network.Name).Str("from", from).
			Msg("somebody sends wrong secrets again and again: calls from there are answered 429 for a growing " +
				"pause; if it is the network itself, look at its secret; if callers seem to share an address, " +
				"see [proxy]")
	}
	if j.Paused > 0 {
		g.o.Meter.WrongSecret(network.Name, "paused")
		setRetryAfter(w, j.Paused)
		return problem.New(http.StatusTooManyRequests,
			"Too many wrong secrets were sent. Send the right one after the time in Retry-After.")
	}
	if !right {
		g.o.Meter.WrongSecret(network.Name, "wrong")
	}
	return nil
}

// readBody reads a body of at most maxBody bytes.
func readBody(w http.ResponseWriter, r *http.Request) ([]byte, error) {
	tooLarge := problem.New(http.StatusRequestEntityTooLarge,
		fmt.Sprintf("The body is larger than %d KiB.", maxBody>>10))
	if r.ContentLength > maxBody {
		return nil, tooLarge
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	var over *http.MaxBytesError
	switch {
	case errors.As(err, &over):
		return nil, tooLarge
	case errors.Is(err, os.ErrDeadlineExceeded):
		return nil, problem.New(http.StatusRequestTimeout, "The body came too slowly.")
	case err != nil:
		return nil, problem.New(http.StatusBadRequest, "The body broke off.")
	}
	return body, nil
}
