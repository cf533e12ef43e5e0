package main

import (
	"cmp"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/limit"
	"rowbell/gateway/profile"
)

// validateEdge looks at what stands between the networks and the service.
func (c *config) validateEdge() error {
	for _, err := range []error{c.Limits.validate(), c.Proxy.validate(), c.TLS.validate()} {
		if err != nil {
			return err
		}
	}
	return nil
}

// limitsConfig bounds what everybody together may cost, and what one number
// may. Those of one network stand with it.
type limitsConfig struct {
	limit.Set
	Number   limit.Set `toml:"number"`
	Pause    duration  `toml:"pause"`    // what a number gets that floods
	Currency string    `toml:"currency"` // of all money here, three letters
}

// defaultLimits are never met by a real network. A person answers a screen in
// two seconds at the fastest, and a network sends a call three times at most:
// twice that is 180 calls a minute, rounded up. A phone has one dialogue at a
// time (TS 22.090 clause 5.3, from memory), but some networks do not tell
// when it ends, and it counts for ten minutes then: nobody dials fifty times
// in ten minutes. All together are bounded by what a small machine does.
func defaultLimits() limitsConfig {
	return limitsConfig{
		Set:    limit.Set{CallsAMinute: 60_000, OpenSessions: 50_000},
		Number: limit.Set{CallsAMinute: 200, OpenSessions: 50},
		Pause:  duration(10 * time.Minute),
	}
}

var currencyForm = regexp.MustCompile(`^([A-Z]{3})?$`)

func (l limitsConfig) validate() error {
	if err := l.Set.Validate(); err != nil {
		return fmt.Errorf("limits.%w", err)
	}
	if err := l.Number.Validate(); err != nil {
		return fmt.Errorf("limits.number.%w", err)
	}
	if !currencyForm.MatchString(l.Currency) {
		return fmt.Errorf("limits.currency: %q is not three capital letters such as TAL", l.Currency)
	}
	if p := time.Duration(l.Pause); p != 0 && (p < time.Minute || p > 24*time.Hour) {
		return fmt.Errorf("limits.pause: %s is not a time span from \"1m\" to \"24h\"", p)
	}
	return nil
}

// incoming are the limits of what comes in.
func (l limitsConfig) incoming() limit.Incoming {
	return limit.Incoming{All: l.Set, Number: l.Number, Pause: time.Duration(l.Pause)}
}

// proxyConfig says which machines stand before this one.
type proxyConfig struct {
	Trusted []string `toml:"trusted"` // their addresses or ranges
	Header  string   `toml:"header"`  // that they write the caller's address in
}

var headerForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9-]{0,63}$`)

func (p proxyConfig) validate() error {
	_, err := p.proxy()
	return err
}

// proxy is what the gateway needs of it.
func (p proxyConfig) proxy() (gateway.Proxy, error) {
	out := gateway.Proxy{Header: p.Header}
	switch {
	case p.Header != "" && len(p.Trusted) == 0:
		return out, errors.New("proxy.trusted: say which machines write the header: anybody else could")
	case p.Header != "" && !headerForm.MatchString(p.Header):
		return out, fmt.Errorf("proxy.header: %q is not the name of a header", p.Header)
	case strings.EqualFold(p.Header, "Forwarded"):
		return out, errors.New("proxy.header: Forwarded is not read; have the proxy write X-Forwarded-For, or a header that holds the address alone")
	}
	for _, s := range p.Trusted {
		prefix, err := profile.ParseNetwork(s)
		switch {
		case err != nil:
			return out, fmt.Errorf("proxy.trusted: %q: %w", s, err)
		case prefix.Bits() == 0:
			return out, fmt.Errorf("proxy.trusted: %s is everybody: then anybody could say who they are", s)
		}
		out.Trusted = append(out.Trusted, prefix)
	}
	return out, nil
}

// tlsConfig has the service speak TLS itself.
type tlsConfig struct {
	Cert string `toml:"cert"` // file of the certificate, then those that signed it (PEM)
	Key  string `toml:"key"`  // file of its key (PEM)
}

func (t tlsConfig) on() bool { return cmp.Or(t.Cert, t.Key) != "" }

func (t tlsConfig) validate() error {
	switch {
	case t.Cert != "" && t.Key == "":
		return errors.New("tls.key: the certificate needs the file of its key")
	case t.Cert == "" && t.Key != "":
		return errors.New("tls.cert: the key needs the file of its certificate")
	}
	return nil
}
