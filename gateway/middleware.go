package gateway

import (
	"cmp"
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
	"github.com/rs/zerolog"
	"github.com/rs/zerolog/hlog"

	"rowbell/gateway/problem"
)

// requestHeader is the response header with the id that the gateway gave to the request. If a request has a header of
// this name, the gateway ignores that header.
const requestHeader = "X-Request-Id"

// requestID returns the id that logRequest gave to the request that w answers.
func requestID(w http.ResponseWriter) string { return w.Header().Get(requestHeader) }

// instanceURN returns the request's id as a URN. In a problem document it leads to the log lines of the request.
func instanceURN(w http.ResponseWriter) string { return "urn:rowbell:request:" + requestID(w) }

// newRequestID returns 24 random hexadecimal digits. With more letters an id could by chance contain a word that the
// tests search the log for.
func newRequestID() string {
	var b [12]byte
	_, _ = rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

// logRequest gives each request an id, and has logAnswer called after its answer.
func (g *Gateway) logRequest(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := g.o.Clock.Now()
		w.Header().Set(requestHeader, newRequestID())
		r = r.WithContext(context.WithValue(r.Context(), callResultKey{}, &callResult{}))
		logged := hlog.AccessHandler(func(r *http.Request, status, bytes int, _ time.Duration) {
			status = cmp.Or(status, http.StatusOK) // net/http sends this status if a handler wrote nothing
			g.logAnswer(w, r, began, status, bytes)
		})
		logged(next).ServeHTTP(w, r)
	})
}

// logAnswer counts a request and writes its log line. The line has the pattern of the route instead of the path, and
// nothing of the query, the headers or the body.
func (g *Gateway) logAnswer(w http.ResponseWriter, r *http.Request, began time.Time, status, bytes int) {
	result, took := resultOf(r.Context()), g.o.Clock.Now().Sub(began)
	g.countCall(r, status, result, took)
	e := g.requestEvent(g.o.Log.WithLevel(g.requestLevel(r, status, began)), w, r).
		Str("method", methodName(r.Method)).Int("status", status).
		Int("bytes", bytes).Int64("ms", took.Milliseconds())
	if p := result.problem; p != nil {
		e = e.Str("why", p.Detail)
		if len(p.Errors) > 0 {
			e = e.Str("at", p.Errors[0].Pointer)
		}
	}
	e.Msg("request")
}

// requestLevel returns the level of a request's log line: info, or debug for lines that would fill the log and
// tell nothing new.
func (g *Gateway) requestLevel(r *http.Request, status int, now time.Time) zerolog.Level {
	switch {
	case probes[route(r)] && status < http.StatusBadRequest:
		return zerolog.DebugLevel // probes come several times a minute, and their lines are all equal
	case status == http.StatusTooManyRequests:
		return zerolog.DebugLevel // checkLimits logs the limit once, instead of one line for each call
	case status >= http.StatusBadRequest && status < http.StatusInternalServerError:
		n := g.logged.add(now)
		if n == maxRefusalsLogged+1 {
			g.o.Log.Warn().Int("refused", maxRefusalsLogged).
				Msg("too many refused calls in this minute, the rest are not logged one by one: " +
					"somebody attacks, or a network is described wrong; " +
					"the metrics count all of them, and log_level debug logs them")
		}
		if n > maxRefusalsLogged {
			return zerolog.DebugLevel
		}
	}
	return zerolog.InfoLevel
}

// probes are the routes that a monitoring system requests all day.
var probes = map[string]bool{"/healthz": true, "/readyz": true, "/metrics": true}

// requestEvent adds the request's id, route and network to a log event.
func (g *Gateway) requestEvent(e *zerolog.Event, w http.ResponseWriter, r *http.Request) *zerolog.Event {
	e = e.Str("request", requestID(w)).Str("route", route(r))
	if name := g.networkName(r); name != "" {
		e = e.Str("gateway", name)
	}
	return e
}

// networkName returns the network that the path names, or "" if that network is not configured.
func (g *Gateway) networkName(r *http.Request) string {
	name := chi.URLParam(r, "gateway")
	if _, known := g.networks[name]; !known {
		return ""
	}
	return name
}

// callResult contains what the log and the metrics need to know of a callback, beside its status. Only the goroutine
// that serves the callback writes to it.
type callResult struct {
	repeat bool // a stored reply was sent
	// problem is the caller's mistake. It is safe to log, because a problem never repeats what the caller sent.
	problem *problem.Problem
}

type callResultKey struct{}

// resultOf returns the callResult that logRequest put into a request's context.
func resultOf(ctx context.Context) *callResult { return ctx.Value(callResultKey{}).(*callResult) }

// countCall counts a network's callback in the metrics, by the result of the callback.
func (g *Gateway) countCall(r *http.Request, status int, result *callResult, took time.Duration) {
	pattern := route(r)
	if !strings.HasPrefix(pattern, "/in/{gateway}/") {
		return
	}
	label := "ok"
	switch {
	case status >= http.StatusInternalServerError:
		label = "failed"
	case status == http.StatusUnauthorized, status == http.StatusForbidden:
		label = "denied"
	case status == http.StatusTooManyRequests:
		label = "limited"
	case status >= http.StatusBadRequest:
		label = "refused"
	case result.repeat:
		label = "repeat"
	}
	g.o.Meter.Callback(g.networkName(r), path.Base(pattern), label, took)
}

// route returns the pattern that matched the request.
func route(r *http.Request) string {
	if p := chi.RouteContext(r.Context()).RoutePattern(); p != "" {
		return p
	}
	return "none"
}

// methodName returns m if m is a standard HTTP method, otherwise "other", so that callers cannot write words into the
// log.
func methodName(m string) string {
	switch m {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete,
		http.MethodOptions:
		return m
	}
	return "other"
}

// recoverPanic answers a panic with status 500 and logs where the panic happened.
func (g *Gateway) recoverPanic(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			v := recover()
			if v == nil {
				return
			}
			if v == http.ErrAbortHandler { //nolint:errorlint // net/http compares it this way
				panic(v)
			}
			logPanic(g.requestEvent(g.o.Log.Error(), w, r), v, debug.Stack())
			p := problem.New(http.StatusInternalServerError, "Something is broken here; the log says where.")
			p.Instance = instanceURN(w)
			p.Write(w)
		}()
		next.ServeHTTP(w, r)
	})
}

// logPanic logs a panic with its stack. It logs the message of a Go runtime error, and otherwise only the type of the
// value, which may contain what a grower typed.
func logPanic(e *zerolog.Event, v any, stack []byte) {
	var fault runtime.Error
	if err, ok := v.(error); ok && errors.As(err, &fault) {
		e = e.Str("panic", fault.Error())
	} else {
		e = e.Str("panic", fmt.Sprintf("%T", v))
	}
	e.Str("stack", string(stack)).
		Msg("a fault of this program: report it with this line; the call was answered 500 and nothing of it was stored")
}

// setSecurityHeaders sets the headers that every response has.
func setSecurityHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("X-Content-Type-Options", "nosniff")
		w.Header().Set("Cache-Control", "no-store")
		// r.TLS is set if this server itself serves HTTPS. One year is the shortest time that OWASP ASVS 5.0,
		// requirement 3.4.1, accepts (from memory).
		if r.TLS != nil {
			w.Header().Set("Strict-Transport-Security", "max-age=31536000")
		}
		next.ServeHTTP(w, r)
	})
}

// maxHeaders bounds the number of header lines in a request; a network needs about twelve.
const maxHeaders = 100

// checkHeaders refuses requests that no network needs to send, before the body is read.
func checkHeaders(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// The Go server ignores the Content-Length of a chunked request (RFC 9112 section 6.3), but a proxy may have
		// used the Content-Length to find the end of the request. So the connection is closed after this request,
		// because the next bytes may be no request of their own.
		if len(r.TransferEncoding) > 0 && r.ProtoMajor == 1 {
			w.Header().Set("Connection", "close")
		}
		n := 0
		for _, values := range r.Header {
			n += len(values)
		}
		if n > maxHeaders {
			detail := fmt.Sprintf("The request has more than %d headers.", maxHeaders)
			problem.New(http.StatusRequestHeaderFieldsTooLarge, detail).Write(w)
			return
		}
		coding := strings.Join(r.Header.Values("Content-Encoding"), ",")
		if coding != "" && !strings.EqualFold(coding, "identity") {
			// RFC 9110 section 15.5.16 asks for this header in a 415 response.
			w.Header().Set("Accept-Encoding", "identity")
			problem.New(http.StatusUnsupportedMediaType, "Send the body as it is, without Content-Encoding.").Write(w)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func notFound(w http.ResponseWriter, _ *http.Request) {
	problem.New(http.StatusNotFound, "There is nothing under this path.").Write(w)
}

// methodNotAllowed answers 405 with the methods that the path allows.
func methodNotAllowed(w http.ResponseWriter, r *http.Request) {
	routes := chi.RouteContext(r.Context()).Routes
	var allowed []string
	for _, m := range []string{http.MethodGet, http.MethodPost, http.MethodPut} {
		if routes.Match(chi.NewRouteContext(), m, r.URL.Path) {
			allowed = append(allowed, m)
		}
	}
	if len(allowed) == 0 { // for an unknown method, chi calls methodNotAllowed even if the path is unknown
		notFound(w, r)
		return
	}
	w.Header().Set("Allow", strings.Join(allowed, ", "))
	problem.New(http.StatusMethodNotAllowed, "Use "+strings.Join(allowed, " or ")+".").Write(w)
}
