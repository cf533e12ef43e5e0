package gateway

import (
	"context"
	"net/http"
	"net/netip"
	"slices"
	"strings"

	"rowbell/gateway/problem"
)

// Proxy describes the reverse proxies in front of this server. If no address is trusted, the client's address
// is the address of the connection.
type Proxy struct {
	Trusted []netip.Prefix
	// Header is the header with the client's address; "" = X-Forwarded-For. Any other header must contain only
	// one address.
	Header string
}

const forwardedFor = "X-Forwarded-For"

// clientKey is the key under which the context of a request has the client's address.
type clientKey struct{}

func withClient(r *http.Request, addr netip.Addr) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), clientKey{}, addr.WithZone("")))
}

// clientIP is the middleware that finds the client's address.
func (p Proxy) clientIP(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(w, withClient(r, p.addressOf(r)))
	})
}

// addressOf returns the client's address, or the zero Addr if it is unknown. It believes a forwarding header only on a
// connection from a trusted proxy, because anybody can send such a header.
func (p Proxy) addressOf(r *http.Request) netip.Addr {
	peer := connection(r)
	if !p.trusts(peer) {
		return peer
	}
	if p.Header == "" || http.CanonicalHeaderKey(p.Header) == forwardedFor {
		return p.forwardedFor(r)
	}
	values := r.Header.Values(p.Header)
	if len(values) == 0 {
		return netip.Addr{}
	}
	addr, _ := netip.ParseAddr(values[len(values)-1]) // of several, the proxy added the last one
	return addr.Unmap()
}

// forwardedFor returns the last address of X-Forwarded-For that is not a trusted proxy's. Each proxy adds the address
// of its own client at the end, so the client may have invented everything before. An entry that is no address ends the
// search: nothing before it can be trusted.
func (p Proxy) forwardedFor(r *http.Request) netip.Addr {
	for _, list := range slices.Backward(r.Header.Values(forwardedFor)) {
		for _, entry := range slices.Backward(strings.Split(list, ",")) {
			if entry = strings.TrimSpace(entry); entry == "" {
				continue // a recipient ignores empty elements (RFC 9110 section 5.6.1.2)
			}
			addr, err := netip.ParseAddr(entry)
			if err != nil {
				return netip.Addr{}
			}
			if addr = addr.Unmap().WithZone(""); !p.trusts(addr) {
				return addr
			}
		}
	}
	return netip.Addr{}
}

func (p Proxy) trusts(addr netip.Addr) bool { return within(p.Trusted, addr) }

// within reports whether an address is in one of the networks.
func within(networks []netip.Prefix, addr netip.Addr) bool {
	addr = addr.WithZone("") // no prefix contains an address with a zone
	return slices.ContainsFunc(networks, func(p netip.Prefix) bool { return p.Contains(addr) })
}

// connection returns the address of the connection, or the zero Addr if r names none.
func connection(r *http.Request) netip.Addr {
	at, _ := netip.ParseAddrPort(r.RemoteAddr)
	return at.Addr().Unmap()
}

// clientIP returns the client's address that the middleware of Proxy found for r. If the address is unknown, it is the
// zero Addr, which no list of allowed addresses contains.
func clientIP(r *http.Request) netip.Addr {
	addr, _ := r.Context().Value(clientKey{}).(netip.Addr)
	return addr
}

// withoutProxy returns r with the connection's address as the client's address. Forwarding headers in r are ignored.
func withoutProxy(r *http.Request) *http.Request { return withClient(r, connection(r)) }

// Loopback passes only requests from this machine to h.
func Loopback(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !fromLoopback(r) {
			problem.New(http.StatusForbidden, "This is open to this machine only.").Write(w)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// allowWatchers passes requests to h that come from this machine or from a network in allow. Monitoring systems are in
// these networks. A request that came through a proxy is refused, because its connection has the proxy's address, which
// says nothing about the client. proxyHeader is the header in which the operator's proxy writes the client's address;
// "" = none.
func allowWatchers(allow []netip.Prefix, proxyHeader string, h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if wasForwarded(r) || proxyHeader != "" && r.Header.Values(proxyHeader) != nil {
			problem.New(http.StatusForbidden, "This is read directly, not through a proxy.").Write(w)
			return
		}
		if !fromLoopback(r) && !within(allow, connection(r)) {
			const detail = "This is open to this machine and to the networks of [watch] allow."
			problem.New(http.StatusForbidden, detail).Write(w)
			return
		}
		h.ServeHTTP(w, r)
	})
}

// forwardingHeaders are the headers that a proxy adds to a request: Forwarded (RFC 7239), Via (RFC 9110 section
// 7.6.3), and older headers (common practice, no source).
var forwardingHeaders = []string{forwardedFor, "X-Forwarded-Host", "X-Forwarded-Proto", "Forwarded", "X-Real-Ip", "Via"}

func wasForwarded(r *http.Request) bool {
	return slices.ContainsFunc(forwardingHeaders, func(name string) bool { return r.Header.Values(name) != nil })
}

// fromLoopback reports whether this machine sent the request. It is false for a forwarded request, because a proxy on
// this machine connects locally for clients anywhere.
func fromLoopback(r *http.Request) bool { return !wasForwarded(r) && connection(r).IsLoopback() }
