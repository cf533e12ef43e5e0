package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// writeCertificate writes a certificate for 127.0.0.1 with the serial number into
// the folder.
func writeCertificate(t *testing.T, dir string, serial int64) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	cert := &x509.Certificate{
		SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: "rowbell test"},
		NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, BasicConstraintsValid: true, IsCA: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, cert, cert, key.Public(), key)
	if err != nil {
		t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "key.pem"), pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}))
	put(t, filepath.Join(dir, "cert.pem"), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
}

// put replaces a file by a rename, as tools that renew certificates do.
func put(t *testing.T, name string, b []byte) {
	t.Helper()
	if err := os.WriteFile(name+".new", b, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(name+".new", name); err != nil {
		t.Fatal(err)
	}
}

// The service terminates TLS itself, loads a new certificate without a restart,
// and keeps the old one where the new one cannot be used.
//
//revive:disable-next-line:function-length one service, whose files change from step to step
func TestTLS(t *testing.T) {
	p := &process{t: t, dir: t.TempDir(), token: testToken, log: &lockedBuffer{}}
	t.Cleanup(func() { p.kill(); assertNoNumbers(t, p.log.String()) })
	writeCertificate(t, p.dir, 1)
	put(t, filepath.Join(p.dir, "rowbell.toml"), []byte("[tls]\ncert = \"cert.pem\"\nkey = \"key.pem\"\n"))
	p.run("serve", "--listen", "127.0.0.1:0")
	p.base = strings.Replace(p.base, "http:", "https:", 1)
	// call opens a new connection that trusts trust.pem, if the file exists.
	call := func(conf *tls.Config) (*http.Response, string, error) {
		conf.RootCAs = x509.NewCertPool()
		if b, err := os.ReadFile(filepath.Join(p.dir, "trust.pem")); err == nil {
			conf.RootCAs.AppendCertsFromPEM(b)
		}
		tr := &http.Transport{TLSClientConfig: conf, ForceAttemptHTTP2: true, DisableKeepAlives: true}
		defer tr.CloseIdleConnections()
		body, err := json.Marshal(map[string]string{"phone": "+447700900001", "session": "s", "event": "begin",
			"dialled": "*123#"})
		if err != nil {
			t.Fatal(err)
		}
		req, err := http.NewRequest(http.MethodPost, p.base+"/in/local/ussd", strings.NewReader(string(body)))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", "Bearer "+testToken)
		req.Header.Set("Content-Type", "application/json")
		resp, err := (&http.Client{Transport: tr, Timeout: 30 * time.Second}).Do(req)
		if err != nil {
			return nil, "", err
		}
		defer resp.Body.Close()
		b, err := io.ReadAll(resp.Body)
		return resp, string(b), err
	}
	trust := func() {
		b, err := os.ReadFile(filepath.Join(p.dir, "cert.pem"))
		if err != nil {
			t.Fatal(err)
		}
		put(t, filepath.Join(p.dir, "trust.pem"), b)
	}
	served := func(serial int64) {
		t.Helper()
		resp, body, err := call(&tls.Config{})
		if err != nil {
			t.Fatalf("%v\n%s", err, p.log.String())
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
	trust()
	served(1)
	if _, _, err := call(&tls.Config{MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}); err == nil ||
		!strings.Contains(err.Error(), "protocol version") {
		t.Errorf("TLS 1.1: %v", err)
	}
	resp, err := http.Get(strings.Replace(p.base, "https:", "http:", 1) + "/healthz")
	if err != nil || resp.StatusCode != http.StatusBadRequest {
		t.Errorf("in clear: %v, %v", resp, err)
	} else {
		resp.Body.Close()
	}

	const stays = "the one before stays"
	put(t, filepath.Join(p.dir, "cert.pem"), []byte("this is no certificate\n"))
	served(1)
	served(1)
	if n := strings.Count(p.log.String(), stays); n != 1 {
		t.Errorf("%d reports of a broken certificate:\n%s", n, p.log.String())
	}
	writeCertificate(t, p.dir, 2)
	trust()
	served(2)
	if err := os.Remove(filepath.Join(p.dir, "key.pem")); err != nil {
		t.Fatal(err)
	}
	served(2)
	if n := strings.Count(p.log.String(), stays); n != 2 || !strings.Contains(p.log.String(), "tls.key: open key.pem") {
		t.Errorf("a removed key is not reported:\n%s", p.log.String())
	}
	p.stop()
}

// A mistake in the files is reported before the records are opened.
func TestTLSMistakes(t *testing.T) {
	dir := t.TempDir()
	writeCertificate(t, dir, 1)
	good, err := os.ReadFile(filepath.Join(dir, "key.pem"))
	if err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "other.pem"), good)
	writeCertificate(t, dir, 2)
	put(t, filepath.Join(dir, "empty.pem"), nil)
	for _, c := range []struct{ cert, key, want string }{
		{"none.pem", "key.pem", "tls.cert: open"},
		{"cert.pem", "none.pem", "tls.key: open"},
		{"empty.pem", "key.pem", "empty.pem"},
		{"cert.pem", "empty.pem", "empty.pem"},
		{"cert.pem", "other.pem", "other.pem"},
		{"key.pem", "cert.pem", "key.pem"},
	} {
		conf := fmt.Sprintf("[tls]\ncert = %q\nkey = %q\n", filepath.Join(dir, c.cert), filepath.Join(dir, c.key))
		name, db := filepath.Join(dir, "rowbell.toml"), filepath.Join(dir, "rowbell.db")
		put(t, name, []byte(conf))
		out, errs, code := runCommand("serve", "--config", name, "--db", db, "--listen", "127.0.0.1:0")
		if code != 1 || out != "" || !strings.Contains(errs, c.want) {
			t.Errorf("%s, %s: %d %q %q, want %q", c.cert, c.key, code, out, errs, c.want)
		}
		if _, err := os.Stat(db); err == nil {
			t.Errorf("%s, %s: records were made", c.cert, c.key)
		}
	}
}
