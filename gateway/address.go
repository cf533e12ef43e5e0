package gateway

import (
	"net"
	"net/http"
	"net/netip"
	"slices"

	"github.com/go-chi/chi/v5/middleware"

	"rowbell/gateway/problem"
)

// Proxy says which machines stand before this server and how they pass on who
// calls. Without trusted addresses the caller is whoever opened the connection.
type Proxy struct {
	Trusted []netip.Prefix
	Header  string // "" = X-Forwarded-For; another one holds a single address
}

const forwardedFor = "X-Forwarded-For"

// clientIP finds out who calls. What a header says counts only where a trusted
// machine opened the connection: anybody can write one.
func (p Proxy) clientIP() func(http.Handler) http.Handler {
	if len(p.Trusted) == 0 {
		return middleware.ClientIPFromRemoteAddr
	}
	trusted := make([]string, len(p.Trusted))
	for i, prefix := range p.Trusted {
		trusted[i] = prefix.Masked().String()
	}
	if p.Header == "" || http.CanonicalHeaderKey(p.Header) == forwardedFor {
		return middleware.ClientIPFromXFF(trusted...)
	}
	return middleware.ClientIPFromHeader(p.Header, trusted...)
}

// clientIP is the address of whoever calls; the zero Addr where it cannot be
// known, which no list of addresses lets in.
func clientIP(r *http.Request) netip.Addr {
	return middleware.GetClientIPAddr(r.Context()).WithZone("")
}

// direct is r as it would come over a connection of its own, without a proxy.
func direct(r *http.Request) *http.Request {
	middleware.ClientIPFromRemoteAddr(http.HandlerFunc(func(_ http.ResponseWriter, q *http.Request) { r = q })).ServeHTTP(nil, r)
	return r
}

// Loopback lets only callers on this machine through to h.
func Loopback(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !fromLoopback(r) {
			problem.New(http.StatusForbidden, "This is open to this machine only.").Write(w)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// passedOn are the headers that a proxy adds: Forwarded of RFC 7239, Via of
// RFC 9110 section 7.6.3, and those in use before (common practice, no source).
var passedOn = []string{forwardedFor, "X-Forwarded-Host", "X-Forwarded-Proto", "Forwarded", "X-Real-Ip", "Via"}

func wasPassedOn(r *http.Request) bool {
	return slices.ContainsFunc(passedOn, func(name string) bool { return r.Header.Values(name) != nil })
}

// fromLoopback looks at the connection itself: headers can say anything. But
// behind a proxy on this machine every connection is from here, so a request
// that was passed on is not.
func fromLoopback(r *http.Request) bool {
	if wasPassedOn(r) {
		return false
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	return err == nil && net.ParseIP(host).IsLoopback()
}
