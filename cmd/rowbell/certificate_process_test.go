package main

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config/configtest"
)

// issuer signs certificates for a test. They are valid from 2020 to 2099, because TLS looks at the real clock.
type issuer struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
}

// issue returns a certificate and its key in PEM: of an authority if by is nil, else of one that by signs.
func (by *issuer) issue(t testing.TB, serial int64) (of *issuer, cert, key []byte) {
	t.Helper()
	of = &issuer{}
	var err error
	of.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	must(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(serial), Subject: pkix.Name{CommonName: fmt.Sprint("certificate ", serial)},
		NotBefore: time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC), NotAfter: time.Date(2099, 1, 1, 0, 0, 0, 0, time.UTC),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true, IsCA: by == nil,
	}
	if by == nil {
		by = &issuer{cert: template, key: of.key}
	}
	der, err := x509.CreateCertificate(rand.Reader, template, by.cert, &of.key.PublicKey, by.key)
	must(t, err)
	of.cert, err = x509.ParseCertificate(der)
	must(t, err)
	pkcs8, err := x509.MarshalPKCS8PrivateKey(of.key)
	must(t, err)
	return of, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}),
		pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: pkcs8})
}

// certified is a network that takes texts from the holders of certificates of its authority.
type certified struct {
	mu      sync.Mutex
	serials []string // of the certificates by which texts came
}

func (c *certified) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.serials = append(c.serials, r.TLS.PeerCertificates[0].SerialNumber.String())
	fmt.Fprintf(w, `{"id":"n-%d"}`, len(c.serials))
}

func (c *certified) last() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return strings.Join(c.serials, " ")
}

// listen starts the network, whose own certificate by signs too, and returns it and its address.
func (by *issuer) listen(t *testing.T) (*certified, string) {
	t.Helper()
	_, cert, key := by.issue(t, 2)
	pair, err := tls.X509KeyPair(cert, key)
	must(t, err)
	network := &certified{}
	server := httptest.NewUnstartedServer(network)
	clients := x509.NewCertPool()
	clients.AddCert(by.cert)
	server.TLS = &tls.Config{Certificates: []tls.Certificate{pair}, ClientCAs: clients,
		ClientAuth: tls.RequireAndVerifyClientCert, MinVersion: tls.VersionTLS12}
	server.StartTLS()
	t.Cleanup(server.Close)
	return network, server.URL
}

// The running program proves itself to a network by a certificate, and knows the network by the network's own
// authority. It takes changed files without a restart, keeps the earlier ones if the new ones are wrong, and does not
// start with wrong ones.
func TestCertificateOfAPush(t *testing.T) {
	t.Parallel()
	authority, authorityPEM, _ := (*issuer)(nil).issue(t, 1)
	network, url := authority.listen(t)
	p := bareProcess(t)
	replace := func(name string, content []byte) {
		t.Helper()
		replaceFile(t, filepath.Join(p.dir, name), content)
	}
	_, first, firstKey := authority.issue(t, 11)
	_, second, secondKey := authority.issue(t, 12)
	replace("authority.pem", authorityPEM)
	replace("our.pem", first)
	replace("our-key.pem", firstKey)
	conf := filepath.Join(p.dir, "rowbell.toml")
	replace("rowbell.toml", []byte(fmt.Sprintf(`texts.languages = ["en"]
[gateways.heron]
trust = { by = "bearer", secrets = ["HERON_SECRET"] }
push = { url = %q, certificate = "our.pem", key = "our-key.pem", authority = "authority.pem" }
`, url)))
	p.env = []string{"HERON_SECRET=reeds-by-the-water"}
	start := configtest.SampleTime.Format(time.RFC3339)
	p.run("serve", "--listen", "127.0.0.1:0", "--config", conf, "--test-clock", start)
	help := func(id int, want string) {
		t.Helper()
		body := fmt.Sprintf(`{"id":"%d","phone":%q,"text":"HELP"}`, id, fictional(id).E164())
		req, err := http.NewRequest(http.MethodPost, p.base+"/in/heron/sms", strings.NewReader(body))
		must(t, err)
		req.Header.Set("Authorization", "Bearer reeds-by-the-water")
		req.Header.Set("Content-Type", "application/json")
		resp, err := p.http.Do(req)
		must(t, err)
		resp.Body.Close()
		p.settle()
		if got := network.last(); resp.StatusCode != http.StatusAccepted || got != want {
			t.Fatalf("%d; texts came by the certificates %q, want %q\n%s", resp.StatusCode, got, want, p.log.String())
		}
	}
	help(1, "11")
	replace("our.pem", second)
	help(2, "11 11") // the key does not match yet
	replace("our-key.pem", secondKey)
	help(3, "11 11 12")
	if n := strings.Count(p.log.String(), "the one before stays in use"); n != 1 {
		t.Errorf("a pair that does not match was logged %d times, want once", n)
	}
	replace("our-key.pem", firstKey)
	must(t, p.cmd.Process.Signal(syscall.SIGHUP)) // reads the configuration anew, which is refused
	p.log.await("configuration: refused", 1)
	help(4, "11 11 12 12")
	p.stop()

	cmd := exec.Command(binary(t), "serve", "--listen", "127.0.0.1:0", "--config", conf)
	cmd.Dir, cmd.Env = p.dir, append(os.Environ(), p.env...)
	said, err := cmd.CombinedOutput()
	if err == nil || !bytes.Contains(said, []byte("heron: push: key: our-key.pem is not the private key of our.pem")) {
		t.Errorf("started with a key that does not match: %v\n%s", err, said)
	}
}
