package main

import (
	"crypto/tls"
	"fmt"
	"io"
	stdlog "log"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
)

func TestVersion(t *testing.T) {
	code, out, errs := command("--version")
	if code != 0 || errs != "" || !strings.HasPrefix(out, "rowbell ") || !strings.Contains(out, ", go1.") || !strings.Contains(out, ", SQLite 3.") {
		t.Errorf("%d, %q, %q", code, out, errs)
	}
}

// TestHealthPrintsReasons: what is not well is said in the error, what is well
// is printed.
func TestHealthPrintsReasons(t *testing.T) {
	for _, c := range []struct {
		status          int
		kind, said      string
		code            int
		wantOut, wantIn string
	}{
		{200, "text/plain; charset=utf-8", "ready\nrecords: ok\nnote: texts are held back\n", 0, "note: texts are held back\n", ""},
		{503, "text/plain; charset=utf-8", "not ready\nrecords: they take no write: the disk is full\x1b[2J\nbell: ok\nnote: texts are held back\n", 1, "",
			"rowbell: the service is not well: records: they take no write: the disk is full[2J; note: texts are held back\n"},
		{503, "text/plain", "", 1, "", "the service is not well: 503"},
		{502, "text/html", "<p>not ready\nsomething else</p>", 1, "", "the service answers 502 Bad Gateway"},
		{200, "text/html", "<p>hello</p>", 0, "", ""},
	} {
		s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", c.kind)
			w.WriteHeader(c.status)
			fmt.Fprint(w, c.said)
		}))
		code, out, errs := command("health", "--url", s.URL)
		s.Close()
		if code != c.code || !strings.Contains(out, c.wantOut) || !strings.Contains(errs, c.wantIn) || strings.ContainsAny(out+errs, "\x1b<") {
			t.Errorf("%q: %d, %q, %q", c.said, code, out, errs)
		}
	}
}

// TestHealthAsksAsConfigured: without --url the service is asked where the
// configuration has it listen, and its own certificate is enough.
func TestHealthAsksAsConfigured(t *testing.T) {
	dir := t.TempDir()
	writeCertificate(t, dir, 1)
	cert, key, file := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem"), filepath.Join(dir, "rowbell.toml")
	pair, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		t.Fatal(err)
	}
	ready := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/plain")
		fmt.Fprintf(w, "ready\n%s: ok\n", r.URL.Path)
	})
	clear, secure := httptest.NewServer(ready), httptest.NewUnstartedServer(ready)
	defer clear.Close()
	secure.TLS = &tls.Config{Certificates: []tls.Certificate{pair}}
	secure.Config.ErrorLog = stdlog.New(io.Discard, "", 0)
	secure.StartTLS()
	defer secure.Close()
	for _, c := range []struct {
		name, conf string
		args       []string
		code       int
		want       string
	}{
		{"in clear", fmt.Sprintf("listen = %q\n", clear.Listener.Addr()), nil, 0, "/readyz: ok"},
		{"with TLS", fmt.Sprintf("listen = %q\n[tls]\ncert = %q\nkey = %q\n", secure.Listener.Addr(), cert, key), nil, 0, "/readyz: ok"},
		{"a certificate that nobody vouches for", "", []string{"--url", secure.URL}, 1, "the service is there, but its certificate is"},
		{"no certificate", "[tls]\ncert = \"none.pem\"\nkey = \"none.pem\"\n", nil, 1, "none.pem"},
		{"no address", "listen = \"8080\"\n", nil, 1, "listen: \"8080\" is not an address"},
	} {
		put(t, file, []byte(c.conf))
		code, out, errs := command(append([]string{"health", "--config", file}, c.args...)...)
		if code != c.code || !strings.Contains(out+errs, c.want) {
			t.Errorf("%s: %d, %q, %q", c.name, code, out, errs)
		}
	}
}
