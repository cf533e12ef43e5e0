package doctor

import (
	"cmp"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
)

const (
	readyWithin = 5 * time.Second // how long doctor waits for the service's answer
	maxAnswer   = 16 << 10        // how many bytes of the service's answer are read
)

// ErrAddress is returned if the given address is not the address of a service.
var ErrAddress = fmt.Errorf("this is not an address such as http://%s/readyz", config.DefaultListen)

// Ready asks a running service whether it is ready and returns its answer, or an error if it is not.
func Ready(ctx context.Context, address string, client *http.Client) (string, error) {
	ctx, cancel := context.WithTimeout(ctx, readyWithin)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil || req.URL.Host == "" || req.URL.Scheme != "http" && req.URL.Scheme != "https" {
		return "", ErrAddress
	}
	req.Header.Set("Accept", "text/plain")
	resp, err := client.Do(req)
	var cert *tls.CertificateVerificationError
	switch {
	case errors.As(err, &cert):
		what, _ := unreached(err)
		return "", fmt.Errorf("the service is there, but %s", what)
	case err != nil:
		return "", errors.New("the service does not answer: it does not run, or listens at another address (--url)")
	}
	defer resp.Body.Close()
	// No error check: a part of the answer is enough.
	body, _ := io.ReadAll(io.LimitReader(resp.Body, maxAnswer))
	answer := printable(body)
	// ours is false if another program or a proxy has answered.
	ours := strings.HasPrefix(resp.Header.Get("Content-Type"), "text/plain")
	switch {
	case resp.StatusCode != http.StatusOK && ours:
		reasons := strings.Join(failing(answer), "; ")
		return "", fmt.Errorf("the service is not well: %s", cmp.Or(reasons, resp.Status))
	case resp.StatusCode != http.StatusOK:
		return "", fmt.Errorf("the service answers %s", resp.Status)
	case !ours:
		return "", nil
	}
	return answer, nil
}

// ReadyAddress returns the URL of /readyz and a client that trusts the certificate of the service, whatever host name
// it contains.
func ReadyAddress(c config.Config) (string, *http.Client, error) {
	host, port, err := net.SplitHostPort(c.Listen)
	if err != nil {
		return "", nil, fmt.Errorf("listen: %q is not an address such as %s", c.Listen, config.DefaultListen)
	}
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	u := url.URL{Scheme: "http", Host: net.JoinHostPort(host, port), Path: "/readyz"}
	if !c.TLS.On() {
		return u.String(), http.DefaultClient, nil
	}
	pair, err := c.TLS.Load()
	if err != nil {
		return "", nil, err
	}
	u.Scheme = "https"
	own := &tls.Config{MinVersion: tls.VersionTLS12, RootCAs: x509.NewCertPool()}
	own.RootCAs.AddCert(pair.Leaf)
	switch leaf := pair.Leaf; {
	case len(leaf.DNSNames) > 0:
		own.ServerName = strings.Replace(leaf.DNSNames[0], "*", "any", 1)
	case len(leaf.IPAddresses) > 0:
		own.ServerName = leaf.IPAddresses[0].String()
	}
	return u.String(), &http.Client{Transport: &http.Transport{TLSClientConfig: own}}, nil
}

// failing returns the lines of an answer of /readyz that report a failed check or a note.
func failing(answer string) []string {
	var list []string
	for i, line := range strings.Split(strings.TrimSpace(answer), "\n") {
		if i > 0 && !strings.HasSuffix(line, ": ok") {
			list = append(list, line)
		}
	}
	return list
}

// printable removes control characters, which could move the cursor of a terminal.
func printable(b []byte) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || r >= ' ' && r != 0x7f {
			return r
		}
		return -1
	}, string(b))
}
