package push

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"time"

	"rowbell/gateway/fault"
	"rowbell/gateway/profile"
)

// LoadTLS returns the TLS configuration of the connections to a network, from the files of its description. The error
// names the keys of the files that cannot be used. A certificate that has expired is no error, because the network may
// take it all the same; see Expired.
func LoadTLS(f profile.TLSFiles) (*tls.Config, error) {
	var found fault.List
	c := &tls.Config{MinVersion: tls.VersionTLS12}
	if f.Certificate != "" {
		cert, err := fault.ReadFile(f.Certificate)
		found.Add("certificate", err)
		key, err := fault.ReadFile(f.Key)
		found.Add("key", err)
		if found.Err() == nil {
			pair, err := tls.X509KeyPair(cert, key)
			found.Add(wrongPair(f, cert, err))
			c.Certificates = []tls.Certificate{pair}
		}
	}
	if f.Authority != "" {
		authorities, err := fault.ReadFile(f.Authority)
		found.Add("authority", err)
		c.RootCAs = x509.NewCertPool()
		found.Refuse(err == nil && !c.RootCAs.AppendCertsFromPEM(authorities), "authority",
			"%s holds no certificate in PEM", f.Authority)
	}
	return c, found.Err()
}

// wrongPair says in words for an operator what an error of tls.X509KeyPair means, and returns the key of the wrong
// file.
func wrongPair(f profile.TLSFiles, cert []byte, err error) (string, error) {
	if err == nil {
		return "", nil
	}
	if !x509.NewCertPool().AppendCertsFromPEM(cert) {
		return "certificate", fmt.Errorf("%s holds no certificate in PEM", f.Certificate)
	}
	return "key", fmt.Errorf("%s is not the private key of %s, in PEM and without a passphrase", f.Key, f.Certificate)
}

// Expired returns when the certificate of c ends, and whether that was before now. ends is zero if c has no
// certificate.
func Expired(c *tls.Config, now time.Time) (ends time.Time, expired bool) {
	if len(c.Certificates) == 0 {
		return time.Time{}, false
	}
	ends = c.Certificates[0].Leaf.NotAfter
	return ends, now.After(ends)
}

// identity has the files for the TLS connections to a network, and finds out whether a file has changed.
type identity struct {
	files profile.TLSFiles
	seen  []fs.FileInfo // the files at the last call of changed; nil for a file that does not exist
}

// changed reports whether a file has changed since the last call of changed.
func (i *identity) changed() bool {
	var now []fs.FileInfo
	for _, name := range []string{i.files.Certificate, i.files.Key, i.files.Authority} {
		if name != "" {
			info, _ := os.Stat(name)
			now = append(now, info)
		}
	}
	same := slices.EqualFunc(now, i.seen, func(a, b fs.FileInfo) bool {
		if a == nil || b == nil {
			return a == b
		}
		return a.ModTime().Equal(b.ModTime()) && a.Size() == b.Size() && os.SameFile(a, b)
	})
	i.seen = now
	return !same
}

// connect returns the client for the next push. If a file has changed, it returns a new client with new connections. If
// the new files cannot be used, connect logs that once and returns the earlier client.
func (h *HTTP) connect() *http.Client {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.identity.changed() {
		return h.client
	}
	config, err := LoadTLS(h.identity.files)
	if err != nil {
		h.log.Error().Str("gateway", h.profile.Name).Str("why", err.Error()).
			Msg("the new certificate for a network cannot be used: the one before stays in use")
		return h.client
	}
	h.warnIfExpired(config)
	h.client.CloseIdleConnections() // a try that has begun ends on its own connection
	h.client = h.newClient(config)
	h.log.Info().Str("gateway", h.profile.Name).Msg("a new certificate for a network is in use")
	return h.client
}

// warnIfExpired logs a certificate that has expired.
func (h *HTTP) warnIfExpired(c *tls.Config) {
	if ends, expired := Expired(c, h.clock.Now()); expired {
		h.log.Error().Str("gateway", h.profile.Name).Time("ended", ends).
			Msg("the certificate for a network has expired: get a new one; it is taken without a restart")
	}
}

// refusedCertificate reports whether the network ended the TLS handshake, because of our certificate or because there
// is none. With TLS 1.3 that is known only after the request was written, but the network has read nothing of it
// (RFC 8446 section 4.4.2.4): so the text was not taken.
func refusedCertificate(err error) bool {
	var remote *net.OpError
	if !errors.As(err, &remote) || remote.Op != "remote error" { // an alert, whose type crypto/tls does not export
		return false
	}
	alert := remote.Err.Error()
	// handshake failure: there is no certificate, in TLS 1.2 (RFC 5246 section 7.4.6)
	return slices.ContainsFunc([]string{"certificate", "access denied", "handshake failure"},
		func(s string) bool { return strings.Contains(alert, s) })
}
