package doctor

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"io"
	stdlog "log"
	"math/big"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
)

// Ready returns the answer of a ready service, otherwise an error with the failed checks. Control characters are
// removed, because they could move the cursor of a terminal.
func TestReady(t *testing.T) {
	for _, c := range []struct {
		status                   int
		kind, body, answer, fail string
	}{
		{200, "text/plain; charset=utf-8", "ready\nrecords: ok\nnote: texts are held back\n",
			"ready\nrecords: ok\nnote: texts are held back\n", ""},
		{503, "text/plain; charset=utf-8",
			"not ready\nrecords: they take no write: the disk is full\x1b[2J\nbell: ok\nnote: texts are held back\n",
			"",
			"the service is not well: records: they take no write: the disk is full[2J; note: texts are held back"},
		{503, "text/plain", "", "", "the service is not well: 503 Service Unavailable"},
		{502, "text/html", "<p>not ready\nsomething else</p>", "", "the service answers 502 Bad Gateway"},
		{200, "text/html", "<p>hello</p>", "", ""},
	} {
		s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", c.kind)
			w.WriteHeader(c.status)
			fmt.Fprint(w, c.body)
		}))
		answer, err := Ready(t.Context(), s.URL, http.DefaultClient)
		s.Close()
		if answer != c.answer || (err == nil) != (c.fail == "") || err != nil && err.Error() != c.fail {
			t.Errorf("%d %q: %q, %v", c.status, c.body, answer, err)
		}
	}
}

// writePair writes a certificate and its key into a folder.
func writePair(t *testing.T, dir string, pair tls.Certificate) config.TLS {
	t.Helper()
	key, err := x509.MarshalPKCS8PrivateKey(pair.PrivateKey)
	ok(t, err)
	file := func(name, kind string, der []byte) string {
		return write(t, dir, name, string(pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der})), 0o600)
	}
	return config.TLS{
		Cert: file("cert.pem", "CERTIFICATE", pair.Certificate[0]), Key: file("key.pem", "PRIVATE KEY", key)}
}

// certified returns a certificate, signed by itself, for these host names.
func certified(t *testing.T, hosts ...string) tls.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	ok(t, err)
	leaf := &x509.Certificate{SerialNumber: big.NewInt(1), DNSNames: hosts,
		NotAfter: time.Date(2100, 1, 1, 0, 0, 0, 0, time.UTC)}
	der, err := x509.CreateCertificate(rand.Reader, leaf, leaf, key.Public(), key)
	ok(t, err)
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
}

// ReadyAddress returns the URL of the service and a client that trusts the certificate of the service, whatever host
// name it contains.
func TestReadyAddress(t *testing.T) {
	ready := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/plain")
		fmt.Fprintf(w, "ready\n%s: ok\n", r.URL.Path)
	})
	clear := httptest.NewServer(ready)
	defer clear.Close()
	withTLS := func(own ...tls.Certificate) (*httptest.Server, config.TLS) {
		s := httptest.NewUnstartedServer(ready)
		s.Config.ErrorLog = stdlog.New(io.Discard, "", 0)
		s.TLS = &tls.Config{Certificates: own}
		s.StartTLS()
		t.Cleanup(s.Close)
		return s, writePair(t, t.TempDir(), s.TLS.Certificates[0])
	}
	secure, files := withTLS()
	starred, starredFiles := withTLS(certified(t, "*.rowbell.example")) // not for the address 127.0.0.1
	for _, c := range []struct {
		name, listen string
		files        config.TLS
		want         string
	}{
		{"in clear", clear.Listener.Addr().String(), config.TLS{}, "/readyz: ok"},
		{"with TLS", secure.Listener.Addr().String(), files, "/readyz: ok"},
		{"for a host only", starred.Listener.Addr().String(), starredFiles, "/readyz: ok"},
		{"no certificate", "127.0.0.1:1", config.TLS{Cert: "none.pem", Key: "none.pem"}, "none.pem"},
		{"no address", "8080", config.TLS{}, `listen: "8080" is not an address`},
	} {
		answer := ""
		address, client, err := ReadyAddress(config.Config{Listen: c.listen, TLS: c.files})
		if err == nil {
			answer, err = Ready(t.Context(), address, client)
		}
		if got := answer + fmt.Sprint(err); !strings.Contains(got, c.want) {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	_, err := Ready(t.Context(), secure.URL, http.DefaultClient)
	if err == nil || !strings.Contains(err.Error(), "the service is there, but its certificate is") {
		t.Errorf("a certificate of an unknown authority: %v", err)
	}
}
