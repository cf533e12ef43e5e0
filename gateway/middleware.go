package gateway

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"net/http"
	"path"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/rs/zerolog"

	"rowbell/gateway/problem"
)

// requestHeader carries our own id of a request; what a caller sends under
// this name is not looked at.
const requestHeader = "X-Request-Id"

// requestID is the id that observe gave the request w answers.
func requestID(w http.ResponseWriter) string { return w.Header().Get(requestHeader) }

// instance is the name of this request in a problem document. What a network's
// engineer quotes from there can be found in the log.
func instance(w http.ResponseWriter) string { return "urn:rowbell:request:" + requestID(w) }

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
		how := &outcome{}
		r = r.WithContext(context.WithValue(r.Context(), outcomeKey{}, how))
		next.ServeHTTP(ww, r)
		status := ww.Status()
		if status == 0 {
			status = http.StatusOK // what the server sends for a handler that wrote nothing
		}
		took := g.o.Clock.Now().Sub(began)
		g.count(r, status, how, took)
		level := zerolog.InfoLevel
		switch {
		case probes[route(r)] && status < http.StatusBadRequest:
			level = zerolog.DebugLevel // several a minute, each like the one before
		case status == http.StatusTooManyRequests:
			level = zerolog.DebugLevel // the limit has a line of its own; a flood must not fill the disk
		case status >= http.StatusBadRequest && status < http.StatusInternalServerError:
			switch n := g.refused.add(began); {
			case n == maxRefusals+1:
				g.o.Log.Warn().Int("refused", maxRefusals).Msg("more is refused in a minute than is told of one by one: somebody tries, or a network is described wrong; the metrics count all, and log_level debug tells all")
				level = zerolog.DebugLevel
			case n > maxRefusals:
				level = zerolog.DebugLevel
			}
		}
		e := g.about(g.o.Log.WithLevel(level), w, r).Str("method", methodName(r.Method)).Int("status", status).
			Int("bytes", ww.BytesWritten()).Int64("ms", took.Milliseconds())
		if p := how.refused; p != nil {
			e = e.Str("why", p.Detail)
			if len(p.Errors) > 0 {
				e = e.Str("at", p.Errors[0].Pointer)
			}
		}
		e.Msg("request")
	})
}

// probes are the routes that machines ask all day.
var probes = map[string]bool{"/healthz": true, "/readyz": true, "/metrics": true}

// about has a line of the log say which request it is about.
func (g *Gateway) about(e *zerolog.Event, w http.ResponseWriter, r *http.Request) *zerolog.Event {
	e = e.Str("request", requestID(w)).Str("route", route(r))
	if name := g.network(r); name != "" {
		e = e.Str("gateway", name)
	}
	return e
}

// network is the name of the network that a request names, "" if there is no
// such network.
func (g *Gateway) network(r *http.Request) string {
	name := chi.URLParam(r, "gateway")
	if _, known := g.networks[name]; !known {
		return ""
	}
	return name
}

// outcome is what is known of how a call ended beside its status. The call's
// own goroutine writes it.
type outcome struct {
	repeat  bool
	refused *problem.Problem // what the caller was told to mend
}

type outcomeKey struct{}

// repeated notes that a call got the answer that it had got before.
func repeated(ctx context.Context) {
	if how, ok := ctx.Value(outcomeKey{}).(*outcome); ok {
		how.repeat = true
	}
}

// refused notes why a call was not taken. Problems repeat nothing of what was
// sent.
func refused(ctx context.Context, p *problem.Problem) {
	if how, ok := ctx.Value(outcomeKey{}).(*outcome); ok {
		how.refused = p
	}
}

// count counts a network's call.
func (g *Gateway) count(r *http.Request, status int, how *outcome, took time.Duration) {
	at := route(r)
	if !strings.HasPrefix(at, "/in/{gateway}/") {
		return
	}
	ended := "ok"
	switch {
	case status >= http.StatusInternalServerError:
		ended = "failed"
	case status == http.StatusUnauthorized, status == http.StatusForbidden:
		ended = "denied"
	case status == http.StatusTooManyRequests:
		ended = "limited"
	case status >= http.StatusBadRequest:
		ended = "refused"
	case how.repeat:
		ended = "repeat"
	}
	g.o.Meter.Callback(g.network(r), path.Base(at), ended, took)
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
			logPanic(g.about(g.o.Log.Error(), w, r), v, debug.Stack())
			p := problem.New(http.StatusInternalServerError, "Something is broken here; the log says where.")
			p.Instance = instance(w)
			p.Write(w)
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
	e.Str("stack", string(stack)).Msg("a fault of this program: report it with this line; the call was answered 500 and nothing of it was kept")
}

// harden sets the headers that every answer has.
func harden(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Cache-Control", "no-store")
		if r.TLS != nil { // ours: a year, as ASVS 5.0 3.4.1 asks at least (from memory)
			w.Header().Set("Strict-Transport-Security", "max-age=31536000")
		}
		next.ServeHTTP(w, r)
	})
}

// nothing answers 404.
func nothing(w http.ResponseWriter, _ *http.Request) {
	problem.New(http.StatusNotFound, "There is nothing under this path.").Write(w)
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
	if len(allowed) == 0 { // a method that the router does not know, on a path that is none
		nothing(w, r)
		return
	}
	w.Header().Set("Allow", strings.Join(allowed, ", "))
	problem.New(http.StatusMethodNotAllowed, "Use "+strings.Join(allowed, " or ")+".").Write(w)
}

// maxHeaders bounds the headers of a request: a network needs a dozen.
const maxHeaders = 100

// bound refuses what no network needs to send, before anything is read.
func bound(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// The server drops a Content-Length that comes with chunks (RFC 9112
		// section 6.3). A proxy may have gone by it, so nothing that follows on
		// this connection is taken for a request.
		if len(r.TransferEncoding) > 0 && r.ProtoMajor == 1 {
			w.Header().Set("Connection", "close")
		}
		n := 0
		for _, values := range r.Header {
			n += len(values)
		}
		if n > maxHeaders {
			problem.New(http.StatusRequestHeaderFieldsTooLarge, fmt.Sprintf("The request has more than %d headers.", maxHeaders)).Write(w)
			return
		}
		if coded := strings.Join(r.Header.Values("Content-Encoding"), ","); coded != "" && !strings.EqualFold(coded, "identity") {
			w.Header().Set("Accept-Encoding", "identity") // RFC 9110 section 15.5.16
			problem.New(http.StatusUnsupportedMediaType, "Send the body as it is, without Content-Encoding.").Write(w)
			return
		}
		next.ServeHTTP(w, r)
	})
}
