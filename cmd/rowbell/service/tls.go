package service

import (
	"crypto/tls"
	"io/fs"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
)

// certificate is a certificate in files, which are read again when they change.
type certificate struct {
	files config.TLS
	log   zerolog.Logger

	mu   sync.Mutex
	cert *tls.Certificate
	seen [2]fileState // of certificate and key when they were last read
}

// fileState is what tells a file from the one that replaced it.
type fileState struct {
	info fs.FileInfo // nil: the file could not be looked up
	at   time.Time
	size int64
}

func stateOf(name string) fileState {
	info, err := os.Stat(name)
	if err != nil {
		return fileState{}
	}
	return fileState{info, info.ModTime(), info.Size()}
}

func (s fileState) same(t fileState) bool {
	if s.info == nil || t.info == nil {
		return s.info == nil && t.info == nil
	}
	return s.at.Equal(t.at) && s.size == t.size && os.SameFile(s.info, t.info)
}

// newCertificate reads the files, and fails where they cannot be used.
func newCertificate(files config.TLS, log zerolog.Logger) (*certificate, error) {
	c := &certificate{files: files, log: log, seen: [2]fileState{stateOf(files.Cert), stateOf(files.Key)}}
	var err error
	c.cert, err = files.Load()
	return c, err
}

// get returns the certificate for a new connection, read again if a file has
// changed. Where the changed files cannot be used, it logs that once and
// returns the certificate that was in use.
func (c *certificate) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := [2]fileState{stateOf(c.files.Cert), stateOf(c.files.Key)}
	if now[0].same(c.seen[0]) && now[1].same(c.seen[1]) {
		return c.cert, nil
	}
	c.seen = now
	cert, err := c.files.Load()
	if err != nil {
		c.log.Error().Err(err).Msg("the new certificate cannot be used: the one before stays in use")
		return c.cert, nil
	}
	c.cert = cert
	c.log.Info().Str("cert", c.files.Cert).Time("until", cert.Leaf.NotAfter).Msg("a new certificate is in use")
	return c.cert, nil
}

// config allows TLS 1.2 and later; RFC 9325 section 3.1.1 forbids older
// versions.
func (c *certificate) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.get}
}

// serverLog takes the messages of the HTTP server. Failed connections are
// logged at debug level, because anybody can cause them; that no connection can
// be accepted any more is an error.
type serverLog struct{ log zerolog.Logger }

func (l serverLog) Write(b []byte) (int, error) {
	message := strings.TrimSpace(string(b))
	if strings.HasPrefix(message, "http: Accept error") { // at most once a second, as often as the server retries
		l.log.Error().Str("said", message).Msg("no connection can be accepted: if too many files are open, " +
			"raise that limit of the service, and look who holds connections")
		return len(b), nil
	}
	l.log.Debug().Str("said", message).Msg("a connection failed")
	return len(b), nil
}
