package push_test

import (
	"crypto/tls"
	"encoding/pem"
	"errors"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
)

// A network that refuses our certificate has not read the text, so the text is tried again also if the network is not
// idempotent. With TLS 1.3 the refusal comes after the request was written (RFC 8446 section 4.4.2.4).
func TestRefusedCertificate(t *testing.T) {
	for name, version := range map[string]uint16{"TLS 1.2": tls.VersionTLS12, "TLS 1.3": tls.VersionTLS13} {
		t.Run(name, func(t *testing.T) {
			server := httptest.NewUnstartedServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {
				t.Error("the network got a text from somebody without a certificate")
			}))
			server.TLS = &tls.Config{ClientAuth: tls.RequireAnyClientCert, MinVersion: version, MaxVersion: version}
			server.StartTLS()
			defer server.Close()
			authority := filepath.Join(t.TempDir(), "authority.pem")
			block := &pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw}
			ok(t, os.WriteFile(authority, pem.EncodeToMemory(block), 0o600))
			for _, tt := range []struct{ authority, reason string }{
				{authority, "the TLS handshake was ended: our certificate is missing or wrong"}, {"", "not reached"},
			} {
				p := profile.Default("local")
				p.Push.URL, p.Push.Idempotent, p.Push.TLS.Authority = server.URL, false, tt.authority
				h := must(push.NewHTTP(p, clock.New(noon), zerolog.Nop()))
				m := store.Message{Key: "k1", Text: "Weed plot 1 now.", UsefulUntil: noon.Unix()}
				_, err := h.Push(t.Context(), m)
				h.Close()
				var r *push.Refusal
				if !errors.As(err, &r) || !r.Again || r.MaybeSent || r.Reason != tt.reason {
					t.Errorf("%+v, want %q and another try", r, tt.reason)
				}
			}
		})
	}
}

func TestMistakesOfFilesForTLS(t *testing.T) {
	dir := t.TempDir()
	file := func(name, content string) string {
		path := filepath.Join(dir, name)
		ok(t, os.WriteFile(path, []byte(content), 0o600))
		return path
	}
	server := httptest.NewTLSServer(nil)
	defer server.Close()
	block := &pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw}
	cert, junk := file("cert.pem", string(pem.EncodeToMemory(block))), file("junk.pem", "no PEM")
	for _, tt := range []struct {
		files profile.TLSFiles
		says  string
	}{
		{profile.TLSFiles{}, ""},
		{profile.TLSFiles{Authority: cert}, ""},
		{profile.TLSFiles{Authority: junk}, "authority: " + junk + " holds no certificate in PEM"},
		{profile.TLSFiles{Authority: dir + "/none.pem"}, "authority: open " + dir + "/none.pem: no such file"},
		{profile.TLSFiles{Authority: dir}, "authority: read " + dir + ": it is a folder"},
		{profile.TLSFiles{Certificate: dir + "/none.pem", Key: dir + "/no-key.pem"}, "certificate: open"},
		{profile.TLSFiles{Certificate: cert, Key: dir + "/none.pem"}, "key: open " + dir + "/none.pem: no such file"},
		{profile.TLSFiles{Certificate: junk, Key: junk}, "certificate: " + junk + " holds no certificate in PEM"},
		{profile.TLSFiles{Certificate: cert, Key: junk}, "key: " + junk + " is not the private key of " + cert},
		{profile.TLSFiles{Certificate: cert, Key: cert, Authority: junk}, "authority: " + junk + " holds no"},
	} {
		c, err := push.LoadTLS(tt.files)
		if (err == nil) != (tt.says == "") || err != nil && !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%+v: %v, want %q", tt.files, err, tt.says)
		}
		if c.MinVersion != tls.VersionTLS12 { // RFC 9325 section 3.1.1 forbids older ones
			t.Errorf("%+v: TLS from version %x", tt.files, c.MinVersion)
		}
	}
	ends := server.Certificate().NotAfter
	c := &tls.Config{Certificates: server.TLS.Certificates, MinVersion: tls.VersionTLS12}
	for now, want := range map[time.Time]bool{ends: false, ends.Add(time.Second): true} {
		if at, expired := push.Expired(c, now); !at.Equal(ends) || expired != want {
			t.Errorf("at %s: ends %s, expired %v", now, at, expired)
		}
	}
}
