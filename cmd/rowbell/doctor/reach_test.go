package doctor

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rowbell/gateway/profile"
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
		ends, what, fix := reach(t.Context(), u, &tls.Config{RootCAs: tt.roots, MinVersion: tls.VersionTLS12})
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

// doctor says what is wrong with the files for the connections to a network, and when our certificate in them ends.
func TestCertificateForANetwork(t *testing.T) {
	dir := t.TempDir()
	server := httptest.NewTLSServer(nil)
	defer server.Close()
	pair := server.TLS.Certificates[0]
	key, err := x509.MarshalPKCS8PrivateKey(pair.PrivateKey)
	ok(t, err)
	file := func(name, kind string, der []byte, mode os.FileMode) string {
		path := filepath.Join(dir, name)
		ok(t, os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), mode))
		return path
	}
	cert, private := file("our.pem", "CERTIFICATE", pair.Leaf.Raw, 0o600), file("key.pem", "PRIVATE KEY", key, 0o600)
	open := file("open.pem", "PRIVATE KEY", key, 0o644)
	ends := pair.Leaf.NotAfter
	for _, tt := range []struct {
		cert, key string
		now       time.Time
		severity  Severity
		says      string
	}{
		{cert, private, ends.Add(-renewAhead), OK, ""},
		{cert, private, ends.Add(time.Hour - renewAhead), Note, "our certificate for it ends on "},
		{cert, private, ends.Add(time.Hour), Wrong, "our certificate for it ended on "},
		{cert, open, ends.Add(-renewAhead), Wrong, "others than its owner may read the key of our"},
		{cert, dir + "/none.pem", ends, Wrong, "push: key: open " + dir + "/none.pem: no such file"},
		{private, private, ends, Wrong, "push: certificate: " + private + " holds no certificate in PEM"},
	} {
		c := checkup{ctx: t.Context(), now: tt.now}
		n := profile.Default("heron")
		n.Push.TLS = profile.TLSFiles{Certificate: tt.cert, Key: tt.key}
		c.checkIdentity("gateway heron", n)
		switch {
		case tt.says == "" && len(c.findings) > 0:
			t.Errorf("a right pair: %+v", c.findings)
		case tt.says != "" && (len(c.findings) != 1 || c.findings[0].Severity != tt.severity ||
			!strings.HasPrefix(c.findings[0].What, tt.says)):
			t.Errorf("%+v, want %v %q", c.findings, tt.severity, tt.says)
		}
	}
}
