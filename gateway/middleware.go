package gateway

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/rs/zerolog"

	"rowbell/gateway/problem"
	"rowbell/store"
)

// requestHeader carries our own id of a request; what a caller sends under
// this name is not looked at.
const requestHeader = "X-Request-Id"

// requestID is the id that observe gave the request w answers.
func requestID(w http.ResponseWriter) string { return w.Header().Get(requestHeader) }

func newRequestID() string {
	var b [12]byte
	_, _ = rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

// observe gives each request an id and writes its line in the log: the route's
// pattern and not the path, nothing of the query, the headers or the body.
func (g *Gateway) observe(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := g.o.Clock.Now()
		ww := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		id := newRequestID()
		ww.Header().Set(requestHeader, id)
		next.ServeHTTP(ww, r)
		status := ww.Status()
		if status == 0 {
			status = http.StatusOK // what the server sends for a handler that wrote nothing
		}
		e := g.o.Log.Info().Str("request", id).Str("method", methodName(r.Method)).Str("route", route(r))
		if name := chi.URLParam(r, "gateway"); name != "" {
			if _, known := g.networks[name]; known {
				e = e.Str("gateway", name)
			}
		}
		e.Int("status", status).Int("bytes", ww.BytesWritten()).
			Int64("ms", g.o.Clock.Now().Sub(began).Milliseconds()).Msg("request")
	})
}

// route is the pattern that a request was routed by.
func route(r *http.Request) string {
	if p := chi.RouteContext(r.Context()).RoutePattern(); p != "" {
		return p
	}
	return "none"
}

// methodName keeps a made-up method out of the log.
func methodName(m string) string {
	switch m {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return m
	}
	return "other"
}

// recover answers 500 for a panic and notes where it was.
func (g *Gateway) recover(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			v := recover()
			if v == nil {
				return
			}
			if v == http.ErrAbortHandler { //nolint:errorlint // the server compares it so
				panic(v)
			}
			logPanic(g.o.Log.Error().Str("request", requestID(w)).Str("route", route(r)), v, debug.Stack())
			problem.New(http.StatusInternalServerError, "Something is broken here; the log says where.").Write(w)
		}()
		next.ServeHTTP(w, r)
	})
}

// logPanic notes a panic: its place, and its words only where the language's
// own run time chose them, since any others may hold what a grower typed.
func logPanic(e *zerolog.Event, v any, stack []byte) {
	var fault runtime.Error
	if err, ok := v.(error); ok && errors.As(err, &fault) {
		e = e.Str("panic", fault.Error())
	} else {
		e = e.Str("panic", fmt.Sprintf("%T", v))
	}
	e.Str("stack", string(stack)).Msg("panic")
}

// harden sets the headers that every answer has.
func harden(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// wrongMethod answers 405 and says which methods would do.
func wrongMethod(w http.ResponseWriter, r *http.Request) {
	routes := chi.RouteContext(r.Context()).Routes
	var allowed []string
	for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPut} {
		if routes.Match(chi.NewRouteContext(), m, r.URL.Path) {
			allowed = append(allowed, m)
		}
	}
	w.Header().Set("Allow", strings.Join(allowed, ", "))
	problem.New(http.StatusMethodNotAllowed, "Use "+strings.Join(allowed, " or ")+".").Write(w)
}

// fail is the one place where an error becomes an answer. What is the caller's
// to mend comes as a *problem.Problem; anything else is ours, undone, logged
// here and worth another try.
func (g *Gateway) fail(w http.ResponseWriter, r *http.Request, err error) {
	var p *problem.Problem
	if errors.As(err, &p) {
		p.Write(w)
		return
	}
	log := g.o.Log.Error().Str("request", requestID(w)).Str("route", route(r))
	p = problem.New(http.StatusServiceUnavailable, "The records cannot be reached just now. Nothing was changed; try again.")
	retry := "5"
	var broken *store.PanicError
	switch {
	case errors.As(err, &broken):
		logPanic(log, broken.Value, broken.Stack)
		p = problem.New(http.StatusInternalServerError, "Something is broken here; the log says where. Nothing was changed.")
		retry = ""
	case errors.Is(err, context.Canceled):
		log.Discard() // the caller has gone and will ask again
	case errors.Is(err, context.DeadlineExceeded):
		log.Msg("not done in time; it goes on")
		p.Detail, retry = "This takes longer than it should. It goes on; the same call again will get the answer.", "1"
	default:
		log.Err(err).Bool("unavailable", store.Unavailable(err)).Msg("callback failed")
	}
	if retry != "" {
		w.Header().Set("Retry-After", retry)
	}
	if strings.HasSuffix(route(r), "/ussd") {
		p.Text = g.o.Menu.Sorry("")
	}
	g.trouble(w, r, p)
}
