package gateway

import (
	"context"
	"errors"
	"net/http"
	"rowbell/gateway/problem"
	"rowbell/gateway/profile"
	"rowbell/store"
	"strconv"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
)

// fail is the one place where an error becomes an answer. What is the caller's
// to mend comes as a *problem.Problem; anything else is ours, undone, logged
// here and worth another try.
func (g *Gateway) fail(w http.ResponseWriter, r *http.Request, err error) {
	var p *problem.Problem
	if errors.As(err, &p) {
		refused(r.Context(), p)
		p.Write(w)
		return
	}
	var held *heldBack
	if errors.As(err, &held) { // noted where it was held back
		retryAfter(w, held.Retry)
		p = held.problem()
		p.Text = g.sorry(r)
		g.trouble(w, r, p)
		return
	}
	log := g.about(g.o.Log.Error(), w, r)
	p = problem.New(http.StatusServiceUnavailable, "The records cannot be reached just now. Nothing was changed; try again.")
	retry := "5"
	var broken *store.PanicError
	switch {
	case errors.As(err, &broken):
		logPanic(log, broken.Value, broken.Stack)
		p = problem.New(http.StatusInternalServerError, "Something is broken here; the log says where. Nothing was changed.")
		retry = ""
	case errors.Is(err, errCrowd):
		log.Discard() // each of a crowd would have its line; the request's own says 503
		p.Detail, retry = "More calls are being worked on than can be at once. Nothing was changed; try again.", "1"
	case errors.Is(err, context.Canceled):
		log.Discard() // the caller has gone and will ask again
	case errors.Is(err, context.DeadlineExceeded):
		log.Msg("a call was not worked in time; it goes on, and the network was told to ask again: if there are many, the disk or the machine is too slow")
		p.Detail, retry = "This takes longer than it should. It goes on; the same call again will get the answer.", "1"
	default:
		log.Err(err).Bool("unavailable", store.Unavailable(err)).Str("why", why(err)).
			Msg("a call was not worked; nothing was changed, and the network was told to try again")
	}
	if retry != "" {
		w.Header().Set("Retry-After", retry)
	}
	p.Instance = instance(w)
	p.Text = g.sorry(r)
	g.trouble(w, r, p)
}

// sorry is what the phone may show in place of a screen; "" where nobody waits
// for one.
func (g *Gateway) sorry(r *http.Request) string {
	if !strings.HasSuffix(route(r), "/ussd") {
		return ""
	}
	return g.o.Menu.Sorry("")
}

// trouble answers with a problem; where a grower waits for a screen and the
// network takes screens in a form of its own, with that form and a few words.
func (g *Gateway) trouble(w http.ResponseWriter, r *http.Request, p *problem.Problem) {
	network, known := g.networks[chi.URLParam(r, "gateway")]
	ours := p.Status >= 500 || p.Status == http.StatusTooManyRequests
	if !known || !ours || network.USSD.Reply == nil || !strings.HasSuffix(route(r), "/"+kindUSSD) {
		p.Write(w)
		return
	}
	text := p.Text
	if text == "" {
		text = g.o.Menu.Sorry("")
	}
	out, err := network.USSD.Reply.Render(profile.Said{Text: text})
	if err != nil {
		p.Write(w)
		return
	}
	if out.Status = p.Status; network.USSD.Trouble != 0 {
		out.Status = network.USSD.Trouble
	}
	out.Write(w)
}

// retryAfter tells when the same call may work.
func retryAfter(w http.ResponseWriter, d time.Duration) {
	w.Header().Set("Retry-After", strconv.Itoa(wholeSeconds(d)))
}
