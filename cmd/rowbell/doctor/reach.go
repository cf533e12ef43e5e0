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

// reachWithin is how long one try to connect may take.
const reachWithin = 5 * time.Second

// reached is the result of a try to connect to an address.
type reached struct {
	ends      time.Time // when its certificate ends; zero: it has none
	what, fix string    // why it was not reached, and what to do; "" if it was
}

// reach connects to the host of an address, with a TLS handshake for https, and
// closes the connection: no request is sent. A nil roots stands for those of
// the system.
func reach(ctx context.Context, u *url.URL, roots *x509.CertPool) reached {
	ctx, cancel := context.WithTimeout(ctx, reachWithin)
	defer cancel()
	port := u.Port()
	if port == "" {
		port = map[string]string{"http": "80", "https": "443"}[u.Scheme]
	}
	conn, err := (&net.Dialer{}).DialContext(ctx, "tcp", net.JoinHostPort(u.Hostname(), port))
	if err != nil {
		return unreached(err)
	}
	defer conn.Close()
	if u.Scheme != "https" {
		return reached{}
	}
	secure := tls.Client(conn, &tls.Config{ServerName: u.Hostname(), RootCAs: roots, MinVersion: tls.VersionTLS12})
	if err := secure.HandshakeContext(ctx); err != nil {
		return unreached(err)
	}
	return reached{ends: secure.ConnectionState().PeerCertificates[0].NotAfter}
}

// unreached turns the error of a connection into words for an operator.
func unreached(err error) reached {
	var name *net.DNSError
	var host x509.HostnameError
	var invalid x509.CertificateInvalidError
	var authority x509.UnknownAuthorityError
	switch {
	case errors.As(err, &name):
		return reached{what: "the name of the host is not known",
			fix: "Correct push.url, or the name service of this machine."}
	case errors.Is(err, syscall.ECONNREFUSED):
		return reached{what: "nobody listens there",
			fix: "Ask the network whether its gateway runs and on which port."}
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, syscall.ETIMEDOUT):
		return reached{what: "no answer in time",
			fix: "Ask the network whether it lets this machine's address in, and look at the firewall here."}
	case errors.Is(err, syscall.ENETUNREACH), errors.Is(err, syscall.EHOSTUNREACH):
		return reached{what: "there is no way to the host",
			fix: "Look at this machine's connection."}
	case errors.As(err, &host):
		return reached{what: "its certificate is for another host",
			fix: "Use the host name that the certificate has in push.url."}
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return reached{what: "its certificate has expired, or the clock here is wrong",
			fix: "Look at the clock, then tell the network."}
	case errors.As(err, &authority), errors.As(err, &invalid):
		return reached{what: "its certificate is signed by nobody who is known here",
			fix: "Install the certificates of the network's authority on this machine."}
	}
	return reached{what: "the connection broke off",
		fix: "Ask the network whether its gateway speaks TLS 1.2 or later on that port."}
}
