package service

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/cmd/rowbell/config/configtest"
	"rowbell/store/testrun"
)

// serveLog is the log of a running service. It sends the logged address of the service to a channel.
type serveLog struct {
	mu        sync.Mutex
	b         bytes.Buffer
	listening chan string
}

func (l *serveLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var line struct{ Listening string }
	if json.Unmarshal(p, &line) == nil && line.Listening != "" {
		l.listening <- line.Listening
	}
	return l.b.Write(p)
}

func (l *serveLog) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

const testToken = "reeds-by-the-water"

// always loads the same configuration each time.
func always(c config.Config) func() (config.Config, error) {
	return func() (config.Config, error) { return c, nil }
}

// serve runs the service on a free port until the test ends.
func serve(t *testing.T, c config.Config) (addr string, log *serveLog) {
	t.Helper()
	c.Listen = "127.0.0.1:0"
	log = &serveLog{listening: make(chan string, 1)}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	env := func(name string) string { return map[string]string{config.EnvToken: testToken}[name] }
	go func() {
		ended <- Serve(ctx, ServeOptions{Load: always(c), Env: env, Out: io.Discard, Log: zerolog.New(log)})
	}()
	select {
	case addr = <-log.listening:
	case err := <-ended:
		t.Fatalf("the service did not start: %v\n%s", err, log)
	}
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil || !strings.Contains(log.String(), "stopped: everything that was answered") {
			t.Errorf("the service did not stop well: %v\n%s", err, log)
		}
		if strings.Contains(testrun.WithoutChance(log.String()), "7700900") {
			t.Errorf("a phone number is in the log:\n%s", log)
		}
	})
	return addr, log
}

// writeCertificate writes a certificate for 127.0.0.1 with this serial number, and its key, into a folder. It is valid
// from 2020 to 2099, because TLS looks at the real clock.
func writeCertificate(t *testing.T, dir string, serial int64) []byte {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	ok(t, err)
	cert := &x509.Certificate{
		SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: "rowbell test"},
		NotBefore: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), NotAfter: time.Date(2099, 1, 1, 0, 0, 0, 0, time.UTC),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, BasicConstraintsValid: true, IsCA: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, cert, cert, key.Public(), key)
	ok(t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	ok(t, err)
	replace(t, filepath.Join(dir, "key.pem"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}))
	b := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	replace(t, filepath.Join(dir, "cert.pem"), b)
	return b
}

// replace renames a new file over the old one, as programs that renew certificates do.
func replace(t *testing.T, name string, b []byte) {
	t.Helper()
	ok(t, os.WriteFile(name+".new", b, 0o600))
	ok(t, os.Rename(name+".new", name))
}

// dial posts the first call of a USSD session on a new connection.
func dial(t *testing.T, addr string, conf *tls.Config) (resp *http.Response, body string, err error) {
	t.Helper()
	tr := &http.Transport{TLSClientConfig: conf, ForceAttemptHTTP2: true, DisableKeepAlives: true}
	defer tr.CloseIdleConnections()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, "https://"+addr+"/in/local/ussd",
		strings.NewReader(`{"phone":"+447700900001","session":"s","event":"begin","dialled":"*123#"}`))
	ok(t, err)
	req.Header.Set("Authorization", "Bearer "+testToken)
	req.Header.Set("Content-Type", "application/json")
	resp, err = (&http.Client{Transport: tr, Timeout: 30 * time.Second}).Do(req)
	if err != nil {
		return nil, "", err
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	return resp, string(b), err
}

// The service uses a renewed certificate without a restart. If the new certificate is invalid, the service keeps the
// previous one.
func TestTLS(t *testing.T) {
	dir := t.TempDir()
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(writeCertificate(t, dir, 1))
	c := configtest.Fresh(t, "")
	c.TLS = config.TLS{Cert: filepath.Join(dir, "cert.pem"), Key: filepath.Join(dir, "key.pem")}
	addr, log := serve(t, c)
	answers := func(serial int64) {
		t.Helper()
		resp, body, err := dial(t, addr, &tls.Config{RootCAs: roots})
		if err != nil {
			t.Fatalf("%v\n%s", err, log)
		}
		if resp.StatusCode != 200 || !strings.Contains(body, `"more":true`) || resp.ProtoMajor != 2 {
			t.Errorf("%s %d %s", resp.Proto, resp.StatusCode, body)
		}
		if hsts := resp.Header.Get("Strict-Transport-Security"); hsts != "max-age=31536000" {
			t.Errorf("Strict-Transport-Security %q", hsts)
		}
		if got := resp.TLS.PeerCertificates[0].SerialNumber.Int64(); got != serial {
			t.Errorf("certificate %d, want %d", got, serial)
		}
	}
	answers(1)
	old := &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}
	if _, _, err := dial(t, addr, old); err == nil || !strings.Contains(err.Error(), "protocol version") {
		t.Errorf("TLS 1.1: %v", err)
	}
	resp, err := http.Get("http://" + addr + "/healthz")
	if err != nil || resp.StatusCode != http.StatusBadRequest {
		t.Fatalf("in clear: %v, %v", resp, err)
	}
	resp.Body.Close()

	const stays = "the one before stays"
	replace(t, c.TLS.Cert, []byte("this is no certificate\n"))
	answers(1)
	answers(1)
	if n := strings.Count(log.String(), stays); n != 1 {
		t.Errorf("%d reports of a broken certificate:\n%s", n, log)
	}
	roots.AppendCertsFromPEM(writeCertificate(t, dir, 2))
	answers(2)
	ok(t, os.Remove(c.TLS.Key))
	answers(2)
	if n := strings.Count(log.String(), stays); n != 2 || !strings.Contains(log.String(), "tls.key: open") {
		t.Errorf("a removed key is not reported:\n%s", log)
	}
}

// If a certificate file cannot be used, the error comes before the records are opened.
func TestTLSMistakes(t *testing.T) {
	t.Chdir(t.TempDir())
	writeCertificate(t, ".", 1)
	ok(t, os.Rename("key.pem", "other.pem"))
	writeCertificate(t, ".", 2)
	replace(t, "empty.pem", nil)
	for _, tt := range []struct{ cert, key, want string }{
		{"none.pem", "key.pem", "tls.cert: open"},
		{"cert.pem", "none.pem", "tls.key: open"},
		{"empty.pem", "key.pem", "empty.pem"},
		{"cert.pem", "empty.pem", "empty.pem"},
		{"cert.pem", "other.pem", "other.pem"},
		{"key.pem", "cert.pem", "key.pem"},
	} {
		c := configtest.Fresh(t, "listen = '127.0.0.1:0'")
		c.TLS = config.TLS{Cert: tt.cert, Key: tt.key}
		var out bytes.Buffer
		o := ServeOptions{Load: always(c), Env: func(string) string { return "" }, Out: &out, Log: zerolog.Nop()}
		err := Serve(t.Context(), o)
		if err == nil || !strings.Contains(err.Error(), tt.want) || out.Len() > 0 {
			t.Errorf("%s, %s: %v, %q, want %q", tt.cert, tt.key, err, out.String(), tt.want)
		}
		if _, err := os.Stat(c.DB); err == nil {
			t.Errorf("%s, %s: records were made", tt.cert, tt.key)
		}
	}
}
