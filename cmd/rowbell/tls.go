package main

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

// certificate is a certificate in files, read anew when they change.
type certificate struct {
	files config.TLS
	log   zerolog.Logger

	mu   sync.Mutex
	cert *tls.Certificate
	seen [2]fileState // of the files when they were last read
}

// fileState tells whether a file is still the one that was read.
type fileState struct {
	info fs.FileInfo // nil: it could not be looked at
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

// newCertificate reads the files; they must be good to begin with.
func newCertificate(files config.TLS, log zerolog.Logger) (*certificate, error) {
	c := &certificate{files: files, log: log, seen: [2]fileState{stateOf(files.Cert), stateOf(files.Key)}}
	var err error
	c.cert, err = files.Load()
	return c, err
}

// get is the certificate for a connection. Files that changed are read; where
// they cannot be used the one before stays, and the log says so once.
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
		c.log.Error().Err(err).Msg("the new certificate cannot be used: the one before stays")
		return c.cert, nil
	}
	c.cert = cert
	c.log.Info().Str("cert", c.files.Cert).Time("until", cert.Leaf.NotAfter).Msg("a new certificate is in use")
	return c.cert, nil
}

// config is TLS 1.2 and later (RFC 9325 section 3.1.1 refuses what is older).
func (c *certificate) config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.get}
}

// serverLog takes what the HTTP server has to say: of connections that failed,
// which anybody can make fail, and that it can take no more, which somebody
// should know.
type serverLog struct{ log zerolog.Logger }

func (l serverLog) Write(b []byte) (int, error) {
	said := strings.TrimSpace(string(b))
	if strings.HasPrefix(said, "http: Accept error") { // once a second at most, as the server tries again
		l.log.Error().Str("said", said).Msg("no connection can be taken: if too many files are open, raise that limit of the service, and look who holds connections")
		return len(b), nil
	}
	l.log.Debug().Str("said", said).Msg("a connection failed")
	return len(b), nil
}
