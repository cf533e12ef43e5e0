package service

import (
	"crypto/tls"
	"io/fs"
	"os"
	"strings"
	"sync"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
)

// certificate is a TLS certificate whose files are read again when the files change.
type certificate struct {
	files config.TLS
	log   zerolog.Logger

	mu                sync.Mutex
	cert              *tls.Certificate
	certInfo, keyInfo fs.FileInfo // of the files at the last call of changed; nil if the file did not exist
}

// changed reports whether the certificate file or the key file has changed since the last call of changed.
func (c *certificate) changed() bool {
	same := func(a, b fs.FileInfo) bool {
		if a == nil || b == nil {
			return a == b
		}
		return a.ModTime().Equal(b.ModTime()) && a.Size() == b.Size() && os.SameFile(a, b)
	}
	cert, _ := os.Stat(c.files.Cert)
	key, _ := os.Stat(c.files.Key)
	unchanged := same(cert, c.certInfo) && same(key, c.keyInfo)
	c.certInfo, c.keyInfo = cert, key
	return !unchanged
}

func newCertificate(files config.TLS, log zerolog.Logger) (*certificate, error) {
	c := &certificate{files: files, log: log}
	c.changed()
	var err error
	c.cert, err = files.Load()
	return c, err
}

// get returns the certificate for a connection. It reads changed files again; if they are invalid, it logs this once
// and returns the previous certificate.
func (c *certificate) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.changed() {
		return c.cert, nil
	}
	cert, err := c.files.Load()
	if err != nil {
		c.log.Error().Err(err).Msg("the new certificate cannot be used: the one before stays in use")
		return c.cert, nil
	}
	c.cert = cert
	c.log.Info().Str("cert", c.files.Cert).Time("until", cert.Leaf.NotAfter).Msg("a new certificate is in use")
	return c.cert, nil
}

// config allows TLS 1.2 and later (RFC 9325 section 3.1.1 forbids older versions).
func (c *certificate) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.get}
}

// serverLog is the log of the HTTP server. A failed connection has debug level, because any stranger can cause it. A
// failure to accept connections is an error.
type serverLog struct{ log zerolog.Logger }

func (l serverLog) Write(b []byte) (int, error) {
	message := strings.TrimSpace(string(b))
	// The server waits before each retry, so this is logged at most once a second.
	if strings.HasPrefix(message, "http: Accept error") {
		l.log.Error().Str("said", message).Msg("no connection can be accepted: if too many files are open, " +
			"raise that limit of the service, and look who holds connections")
		return len(b), nil
	}
	l.log.Debug().Str("said", message).Msg("a connection failed")
	return len(b), nil
}
