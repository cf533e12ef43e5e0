package doctor

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"net/url"
	"syscall"
	"time"
)

// reachWithin is how long one attempt to connect may take.
const reachWithin = 5 * time.Second

// reach connects to the host of a URL (for https with a TLS handshake) and sends no request. ends is when the
// certificate of the host expires, zero for http. If the connection fails, what is the reason and fix says what to do.
// secure is the configuration of TLS, without the name of the host.
func reach(ctx context.Context, u *url.URL, secure *tls.Config) (ends time.Time, what, fix string) {
	ctx, cancel := context.WithTimeout(ctx, reachWithin)
	defer cancel()
	port := u.Port()
	if port == "" {
		port = map[string]string{"http": "80", "https": "443"}[u.Scheme]
	}
	conn, err := (&net.Dialer{}).DialContext(ctx, "tcp", net.JoinHostPort(u.Hostname(), port))
	if err != nil {
		what, fix = unreached(err)
		return ends, what, fix
	}
	defer conn.Close()
	if u.Scheme != "https" {
		return ends, "", ""
	}
	secure = secure.Clone()
	secure.ServerName = u.Hostname()
	client := tls.Client(conn, secure)
	if err := client.HandshakeContext(ctx); err != nil {
		what, fix = unreached(err)
		return ends, what, fix
	}
	return client.ConnectionState().PeerCertificates[0].NotAfter, "", ""
}

// unreached turns the error of a failed connection into words for an operator.
func unreached(err error) (what, fix string) {
	var name *net.DNSError
	var host x509.HostnameError
	var invalid x509.CertificateInvalidError
	var authority x509.UnknownAuthorityError
	var remote *net.OpError
	switch {
	case errors.As(err, &name):
		return "the name of the host is not known", "Correct push.url, or the name service of this machine."
	case errors.Is(err, syscall.ECONNREFUSED):
		return "nobody listens there", "Ask the network whether its gateway runs and on which port."
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, syscall.ETIMEDOUT):
		return "no answer in time",
			"Ask the network whether it lets this machine's address in, and look at the firewall here."
	case errors.Is(err, syscall.ENETUNREACH), errors.Is(err, syscall.EHOSTUNREACH):
		return "there is no way to the host", "Look at this machine's connection."
	case errors.As(err, &host):
		return "its certificate is for another host", "Use the host name that the certificate has in push.url."
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return "its certificate has expired, or the clock here is wrong", "Look at the clock, then tell the network."
	case errors.As(err, &remote) && remote.Op == "remote error": // an alert of TLS
		return "it ended the TLS handshake: " + remote.Err.Error(),
			"Give the certificate that the network wants in push.certificate and push.key."
	case errors.As(err, &authority), errors.As(err, &invalid):
		return "its certificate is signed by nobody who is known here",
			"Name the certificates of the network's authority in push.authority, or install them on this machine."
	}
	return "the connection broke off", "Ask the network whether its gateway speaks TLS 1.2 or later on that port."
}
