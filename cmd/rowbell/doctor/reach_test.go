package doctor

import (
	"crypto/x509"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
)

// reach says why a gateway cannot be reached. It sends no HTTP request.
func TestReach(t *testing.T) {
	asked := 0
	count := http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked++ })
	plain := httptest.NewServer(count)
	defer plain.Close()
	secure := httptest.NewTLSServer(count)
	defer secure.Close()
	roots := x509.NewCertPool()
	roots.AddCert(secure.Certificate())
	gone, err := net.Listen("tcp", "127.0.0.1:0")
	ok(t, err)
	nobody := "http://" + gone.Addr().String()
	gone.Close()
	port := func(s string) string { return s[strings.LastIndex(s, ":"):] }
	for _, tt := range []struct {
		name, url string
		roots     *x509.CertPool
		what      string
	}{
		{"plain", plain.URL + "/texts?key=secret", nil, ""},
		{"secure", secure.URL, roots, ""},
		{"nobody there", nobody, nil, "nobody listens"},
		// This host does not exist: RFC 2606 section 2 reserves the top-level domain invalid.
		{"no such host", "https://gateway.invalid/", nil, "not known"},
		{"unknown authority", secure.URL, x509.NewCertPool(), "signed by nobody"},
		{"another host's certificate", "https://localhost" + port(secure.URL), roots, "for another host"},
		{"TLS where none is spoken", strings.Replace(plain.URL, "http:", "https:", 1), roots, "broke off"},
	} {
		u, err := url.Parse(tt.url)
		ok(t, err)
		ends, what, fix := reach(t.Context(), u, tt.roots)
		if tt.what == "" && what != "" || !strings.Contains(what, tt.what) || (what == "") != (fix == "") {
			t.Errorf("%s: %q, do %q, want %q", tt.name, what, fix, tt.what)
		}
		if what == "" && (u.Scheme == "https") == ends.IsZero() {
			t.Errorf("%s: certificate ends %v", tt.name, ends)
		}
	}
	if asked > 0 {
		t.Errorf("%d requests were sent", asked)
	}
}
