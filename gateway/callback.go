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

// Bounds of what a network may send. A text of ten SMS segments has 1530
// characters; ids are the network's own and short.
const (
	maxBody  = 64 << 10
	maxID    = 128
	maxText  = 1600
	maxPhone = 64
	maxSteps = 1 << 20
)

// The kinds of callbacks, as they stand in the paths.
const (
	kindUSSD    = "ussd"
	kindSMS     = "sms"
	kindReceipt = "receipt"
)

// call is one callback that was let in.
type call struct {
	id      string // of the request, for keys that must be new
	webhook string // webhook-id header: the same on every repeat; "" = not sent
	network *profile.Profile
	in      *fields
	now     time.Time // the instant of the whole call
	quiet   bool      // a limit holds it back: it works without an answer
	stopped bool      // being held back, it was the grower's STOP, and was done
}

// answer is what a callback gets.
type answer struct {
	status int
	media  string // of the body
	body   []byte // nil: empty
	header http.Header
	repeat bool // it is the answer that the call had got before
}

// described is the answer by a network's own description, or ours where it has
// none.
func described(r *profile.Reply, s profile.Said, ours answer) (answer, error) {
	if r == nil {
		return ours, nil
	}
	out, err := r.Render(s)
	return answer{status: out.Status, body: out.Body, header: out.Header, repeat: ours.repeat}, err
}

func (a answer) write(w http.ResponseWriter) {
	for name, v := range a.header {
		w.Header()[name] = v
	}
	if a.media != "" {
		w.Header().Set("Content-Type", a.media)
	}
	w.WriteHeader(a.status)
	_, _ = w.Write(a.body) // the caller has gone: the repeat will find it
}

// callback lets a network's call in: known, authenticated, bounded, decoded.
// Then it runs h and writes its answer.
func (g *Gateway) callback(kind string, h func(context.Context, *call) (answer, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), g.o.Deadline)
		defer cancel()
		c, err := g.admit(w, r, kind)
		var a answer
		if err == nil {
			a, err = g.crowd(func() (answer, error) { return h(ctx, c) })
		}
		if err != nil {
			g.fail(w, r, err)
			return
		}
		if a.repeat {
			repeated(ctx)
		}
		a.write(w)
	}
}

// callOf is how a network makes calls of a kind.
func callOf(p *profile.Profile, kind string) *profile.Call {
	switch kind {
	case kindUSSD:
		return &p.USSD.Call
	case kindSMS:
		return &p.SMS.Call
	}
	return &p.Receipt.Call
}

// methods are those by which any network makes calls of a kind.
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
	if list == nil { // to be told that there is no such network, or no such call
		return []string{http.MethodPost}
	}
	return list
}

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
	if err := recognise(w, r, network); err != nil {
		return nil, err
	}
	webhook := r.Header.Get("webhook-id")
	if len(webhook) > maxID || !printable(webhook) {
		return nil, problem.New(http.StatusBadRequest, fmt.Sprintf("The webhook-id header is longer than %d characters or not printable.", maxID))
	}
	if !how.Takes(r.Header.Get("Content-Type")) {
		return nil, problem.New(http.StatusUnsupportedMediaType, how.Wants())
	}
	body, err := readBody(w, r)
	if err != nil {
		return nil, err
	}
	now := g.o.Clock.Now()
	if signed := network.Trust != nil && network.Trust.Signs(); signed {
		if err := network.Trust.Verify(r.Header, body, now); err != nil {
			return nil, problem.New(http.StatusUnauthorized, err.Error())
		}
	} else if how.Format != profile.Ours {
		webhook = "" // nobody vouches for it
	}
	doc, err := how.Read(r.Header, r.URL.RawQuery, body)
	if err != nil {
		return nil, problem.New(http.StatusBadRequest, err.Error())
	}
	return &call{id: requestID(w), webhook: webhook, network: network, in: &fields{doc: doc}, now: now}, nil
}

// recognise refuses a caller that is not this network, as far as address and
// Authorization header tell.
func recognise(w http.ResponseWriter, r *http.Request, network *profile.Profile) error {
	authorization := r.Header.Get("Authorization")
	t := network.Trust
	if t == nil {
		if network.Open && fromLoopback(r) || network.Token.Admits(authorization) {
			return nil
		}
		w.Header().Set("WWW-Authenticate", `Bearer realm="rowbell"`)
		return problem.New(http.StatusUnauthorized, "Send this network's token: Authorization: Bearer <token>.")
	}
	if !t.AdmitsFrom(clientIP(r)) {
		return problem.New(http.StatusForbidden, "This network does not call from this address.")
	}
	if !t.Admits(authorization) {
		challenge := t.Challenge()
		w.Header().Set("WWW-Authenticate", challenge)
		scheme, _, _ := strings.Cut(challenge, " ")
		return problem.New(http.StatusUnauthorized, "Send what this network shows itself by: Authorization: "+scheme+".")
	}
	return nil
}

func readBody(w http.ResponseWriter, r *http.Request) ([]byte, error) {
	tooLarge := problem.New(http.StatusRequestEntityTooLarge, fmt.Sprintf("The body is larger than %d KiB.", maxBody>>10))
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
