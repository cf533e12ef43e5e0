package main

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

// healthCmd is rowbell health: for a container that has nothing else to ask
// with, and for an operator.
type healthCmd struct {
	URL    string `name:"url" help:"What to ask (default: /readyz on this machine, as the configuration has it)."`
	Config string `help:"Configuration that says where the service listens (default ${default_config}, if there is one)." placeholder:"FILE"`
}

// maxSaid bounds what is read of the answer.
const maxSaid = 16 << 10

// Run prints what the service says of itself, and fails where that is not that
// it is ready.
func (c *healthCmd) Run(w *world) error {
	ctx, cancel := context.WithTimeout(w.ctx, 5*time.Second)
	defer cancel()
	address, client, err := c.ask()
	if err != nil {
		return err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil || req.URL.Host == "" || req.URL.Scheme != "http" && req.URL.Scheme != "https" {
		return &usageError{fmt.Errorf("--url: this is not an address such as http://%s/readyz", config.DefaultListen), "rowbell health --help"}
	}
	req.Header.Set("Accept", "text/plain")
	resp, err := client.Do(req)
	var cert *tls.CertificateVerificationError
	switch {
	case errors.As(err, &cert):
		return fmt.Errorf("the service is there, but %s", unreached(err).what)
	case err != nil:
		return errors.New("the service does not answer: it does not run, or listens at another address (--url)")
	}
	defer resp.Body.Close()
	said, _ := io.ReadAll(io.LimitReader(resp.Body, maxSaid)) // what broke off is said as far as it goes
	ours := strings.HasPrefix(resp.Header.Get("Content-Type"), "text/plain")
	if resp.StatusCode == http.StatusOK {
		if ours {
			fmt.Fprint(w.out, printed(said))
		}
		return nil
	}
	if !ours {
		return fmt.Errorf("the service answers %s", resp.Status)
	}
	reasons := failing(printed(said))
	return fmt.Errorf("the service is not well: %s", cmp.Or(strings.Join(reasons, "; "), resp.Status))
}

// ask is what to ask and by whom. The service's own certificate is enough: it
// is asked by its address, which no certificate has to hold.
func (c *healthCmd) ask() (string, *http.Client, error) {
	if c.URL != "" {
		return c.URL, http.DefaultClient, nil
	}
	conf, err := config.Load(c.Config)
	if err != nil {
		return "", nil, err
	}
	host, port, err := net.SplitHostPort(conf.Listen)
	if err != nil {
		return "", nil, fmt.Errorf("listen: %q is not an address such as %s", conf.Listen, config.DefaultListen)
	}
	if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	u := url.URL{Scheme: "http", Host: net.JoinHostPort(host, port), Path: "/readyz"}
	if !conf.TLS.On() {
		return u.String(), http.DefaultClient, nil
	}
	pair, err := tls.LoadX509KeyPair(conf.TLS.Cert, conf.TLS.Key)
	if err != nil {
		return "", nil, fmt.Errorf("tls: %w", err)
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

// failing are the lines of checks that are not well, and the notes.
func failing(said string) []string {
	var list []string
	for i, line := range strings.Split(strings.TrimSpace(said), "\n") {
		if i > 0 && !strings.HasSuffix(line, ": ok") {
			list = append(list, line)
		}
	}
	return list
}

// printed keeps what would move the cursor of a terminal out of it.
func printed(b []byte) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || r >= ' ' && r != 0x7f {
			return r
		}
		return -1
	}, string(b))
}
