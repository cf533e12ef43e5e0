package gateway

import (
	"net/http"
	"net/http/httptest"
	"net/netip"
	"testing"
)

// client returns the client's address that p finds for a request with these headers on a connection from the address
// remote; "" = p finds no address.
func (p Proxy) client(remote string, headers http.Header) string {
	got := "not called"
	h := p.clientIP(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		if got = ""; clientIP(r).IsValid() {
			got = clientIP(r).String()
		}
	}))
	r := httptest.NewRequest(http.MethodPost, "/", nil)
	r.RemoteAddr, r.Header = remote, headers
	h.ServeHTTP(httptest.NewRecorder(), r)
	return got
}

// A forwarding header counts only on a connection from a trusted proxy. The clients' addresses in this table are
// reserved for documentation (RFC 5737, RFC 3849); the proxies' addresses are private ones, in 10.0.0.0/8 and fd00::/8.
func TestClientIP(t *testing.T) {
	none := Proxy{}
	chain := Proxy{Trusted: []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("fd00::/8")}}
	single := Proxy{Trusted: chain.Trusted, Header: "X-Caller"}
	type headers = http.Header
	xff := func(values ...string) headers { return headers{"X-Forwarded-For": values} }
	const proxy, stranger = "10.0.0.1:4711", "192.0.2.66:4711"
	for _, tt := range []struct {
		name    string
		proxy   Proxy
		remote  string
		headers headers
		want    string
	}{
		{"no proxy", none, stranger, nil, "192.0.2.66"},
		{"no proxy, a header", none, stranger, xff("203.0.113.1"), "192.0.2.66"},
		{"no proxy, IPv6", none, "[2001:db8::1]:80", nil, "2001:db8::1"},
		{"no proxy, v4-mapped", none, "[::ffff:192.0.2.66]:80", nil, "192.0.2.66"},
		{"no proxy, a zone", none, "[fe80::1%eth0]:80", nil, "fe80::1"},
		{"no address", none, "", xff("203.0.113.1"), ""},
		{"no address behind a proxy", chain, "@", xff("203.0.113.1"), ""},
		{"through the proxy", chain, proxy, xff("203.0.113.1"), "203.0.113.1"},
		{"through it by IPv6", chain, "[fd00::1]:80", xff("2001:db8::7"), "2001:db8::7"},
		{"through it, v4-mapped", chain, "[::ffff:10.0.0.1]:80", xff("::ffff:203.0.113.1"), "203.0.113.1"},
		{"around the proxy", chain, stranger, xff("203.0.113.1"), "192.0.2.66"},
		{"around it, as the proxy", chain, stranger, xff("10.0.0.1"), "192.0.2.66"},
		{"two proxies", chain, proxy, xff("203.0.113.1, 192.0.2.66, 10.9.9.9"), "192.0.2.66"},
		{"a lie that looks like a proxy", chain, proxy, xff("203.0.113.1, ::ffff:10.0.0.2, 192.0.2.66"), "192.0.2.66"},
		{"garbage before it", chain, proxy, xff("<script>, 192.0.2.66"), "192.0.2.66"},
		{"with a zone", chain, proxy, xff("fe80::1%eth0"), "fe80::1"},
		{"trailing commas", chain, proxy, xff("203.0.113.1,, ,"), "203.0.113.1"},
		{"octal", chain, proxy, xff("0203.0.113.1"), ""},
		{"no header", chain, proxy, nil, ""},
		{"an empty header", chain, proxy, xff(""), ""},
		{"another header", chain, proxy, headers{"X-Real-Ip": {"203.0.113.1"}, "Forwarded": {"for=203.0.113.1"}}, ""},
		{"the header that was set", single, proxy, headers{"X-Caller": {"203.0.113.1"}}, "203.0.113.1"},
		{"set twice: the last", single, proxy, headers{"X-Caller": {"203.0.113.1", "192.0.2.66"}}, "192.0.2.66"},
		{"a list where one is set", single, proxy, headers{"X-Caller": {"203.0.113.1, 192.0.2.66"}}, ""},
		{"around it with the header", single, stranger, headers{"X-Caller": {"203.0.113.1"}}, "192.0.2.66"},
		{"the usual header where another is set", single, proxy, xff("203.0.113.1"), ""},
	} {
		if got := tt.proxy.client(tt.remote, tt.headers); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}

// For any forwarding headers, a client without a proxy has the address of its connection. For a client behind a proxy
// the result is no address, or an address that does not belong to a trusted proxy.
func FuzzClientIP(f *testing.F) {
	for _, s := range []string{
		"203.0.113.1", "203.0.113.1, 10.0.0.1", "::ffff:10.0.0.1", "[2001:db8::1]:80", ",,", "unknown",
		"fe80::1%eth0", "\x00",
	} {
		f.Add(s, s)
	}
	inside := netip.MustParsePrefix("10.0.0.0/8")
	f.Fuzz(func(t *testing.T, first, second string) {
		for _, name := range []string{"", "X-Caller"} {
			p := Proxy{Trusted: []netip.Prefix{inside}, Header: name}
			for _, remote := range []string{"192.0.2.66:1", "10.0.0.1:1"} {
				values := []string{first, second}
				got := p.client(remote, http.Header{"X-Forwarded-For": values, "X-Caller": values})
				if remote == "192.0.2.66:1" {
					if got != "192.0.2.66" {
						t.Fatalf("a client without a proxy is %q", got)
					}
					continue
				}
				if got == "" {
					continue
				}
				a, err := netip.ParseAddr(got)
				if err != nil || a.Is4In6() || a.Zone() != "" || name == "" && inside.Contains(a) {
					t.Fatalf("the proxy's client is %q", got)
				}
			}
		}
	})
}
