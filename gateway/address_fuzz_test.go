package gateway

import (
	"net/http"
	"net/http/httptest"
	"net/netip"
	"testing"
)

// Whatever a header says: who opened the connection from elsewhere is who
// calls, and what a proxy passes on is an address that is none of the proxies
// or nobody.
func FuzzClientIP(f *testing.F) {
	for _, s := range []string{"203.0.113.1", "203.0.113.1, 10.0.0.1", "::ffff:10.0.0.1", "[2001:db8::1]:80", ",,", "unknown", "fe80::1%eth0", "\x00"} {
		f.Add(s, s)
	}
	inside := netip.MustParsePrefix("10.0.0.0/8")
	f.Fuzz(func(t *testing.T, first, second string) {
		for _, name := range []string{"", "X-Caller"} {
			p := Proxy{Trusted: []netip.Prefix{inside}, Header: name}
			for _, remote := range []string{"192.0.2.66:1", "10.0.0.1:1"} {
				got := "not called"
				h := p.clientIP()(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { got = told(clientIP(r)) }))
				r := httptest.NewRequest(http.MethodPost, "/", nil)
				r.RemoteAddr = remote
				r.Header["X-Forwarded-For"] = []string{first, second}
				r.Header["X-Caller"] = []string{first, second}
				h.ServeHTTP(httptest.NewRecorder(), r)
				if remote == "192.0.2.66:1" {
					if got != "192.0.2.66" {
						t.Fatalf("a stranger is %q", got)
					}
					continue
				}
				if got == "" {
					continue
				}
				a, err := netip.ParseAddr(got)
				if err != nil || a.Is4In6() || a.Zone() != "" || name == "" && inside.Contains(a) {
					t.Fatalf("passed on: %q", got)
				}
			}
		}
	})
}
