package gateway

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// fail writes the response for every error of a callback. A *problem.Problem is the caller's mistake, and an *overLimit
// gets status 429. Any other error is a failure of this service. Such an error is logged, unless too many calls are
// in flight or the caller has disconnected. Its response says when to try again, except after a panic.
func (g *Gateway) fail(w http.ResponseWriter, r *http.Request, err error) {
	var p *problem.Problem
	if errors.As(err, &p) {
		resultOf(r.Context()).problem = p
		p.Write(w)
		return
	}
	var limited *overLimit
	if errors.As(err, &limited) { // checkLimits has already logged the limit
		setRetryAfter(w, limited.RetryAfter)
		p = problem.New(http.StatusTooManyRequests, limited.detail)
		p.Text = g.apology(r)
		g.writeProblem(w, r, p)
		return
	}
	log := g.requestEvent(g.o.Log.Error(), w, r)
	status, retry := http.StatusServiceUnavailable, 5*time.Second
	detail := "The records cannot be reached just now. Nothing was changed; try again."
	var broken *store.PanicError
	var unknown *store.UnknownError
	switch {
	case errors.As(err, &broken):
		logPanic(log, broken.Value, broken.Stack)
		status, retry = http.StatusInternalServerError, 0
		detail = "Something is broken here; the log says where. Nothing was changed."
	case errors.As(err, &unknown):
		log.Err(err).Str("why", reasonOf(err)).Msg("it is not known whether a call was written: the network was told " +
			"to send it again; the repeat gets the answer, or does the work")
		detail = "It is not known whether this was written. Send the same call again: nothing is done twice."
		retry = time.Second
	case errors.Is(err, errTooManyInFlight):
		log.Discard() // the log line of the request already says 503
		detail = "More calls are being worked on than can be at once. Nothing was changed; try again."
		retry = time.Second
	case errors.Is(err, context.Canceled):
		log.Discard() // the caller has disconnected and will repeat the call
	case errors.Is(err, context.DeadlineExceeded):
		log.Msg("a call missed its deadline: it is still being worked on, and the network was told to send it again; " +
			"if this happens often, the disk or the machine is too slow")
		detail = "This takes longer than it should. It goes on; the same call again will get the answer."
		retry = time.Second
	default:
		log.Err(err).Bool("unavailable", store.Unavailable(err)).Str("why", reasonOf(err)).
			Msg("a call failed: nothing was changed, and the network was told to try again")
	}
	if retry > 0 {
		setRetryAfter(w, retry)
	}
	p = problem.New(status, detail)
	p.Instance = instanceURN(w)
	p.Text = g.apology(r)
	g.writeProblem(w, r, p)
}

// setRetryAfter sets the Retry-After header to d in seconds, rounded up.
func setRetryAfter(w http.ResponseWriter, d time.Duration) {
	w.Header().Set("Retry-After", strconv.Itoa(wholeSeconds(d)))
}

func wholeSeconds(d time.Duration) int { return int((d + time.Second - 1) / time.Second) }

// apology returns the text that the phone shows in place of a screen when a USSD call fails; "" for other calls, which
// show no screen.
func (g *Gateway) apology(r *http.Request) string {
	if !strings.HasSuffix(route(r), "/"+kindUSSD) {
		return ""
	}
	return g.o.Menu.Sorry("")
}

// writeProblem writes the problem document of a failure. A USSD call of a network with its own reply format gets the
// apology in that format instead, under the status that the profile sets for failures.
func (g *Gateway) writeProblem(w http.ResponseWriter, r *http.Request, p *problem.Problem) {
	network, known := g.networks[chi.URLParam(r, "gateway")]
	if known && network.USSD.Reply != nil && p.Text != "" {
		if out, err := network.USSD.Reply.Render(profile.ReplyValues{Text: p.Text}); err == nil {
			out.Status = cmp.Or(network.USSD.TroubleStatus, p.Status)
			out.Write(w)
			return
		}
	}
	p.Write(w)
}
