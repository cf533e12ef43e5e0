package config

import (
	"cmp"
	"crypto/tls"
	"fmt"
	"net/netip"
	"regexp"
	"strings"
	"time"

	"rowbell/gateway"
	"rowbell/gateway/fault"
	"rowbell/gateway/limit"
	"rowbell/gateway/profile"
)

// Limits bound the calls, the texts and the money for texts: of all phone numbers together and of each number. The
// limits of one network are in its table below [gateways].
type Limits struct {
	limit.Set
	Number   limit.Set `toml:"number"`
	Pause    Duration  `toml:"pause"` // how long a phone number that exceeded calls_a_minute gets no answer
	Loop     Loop      `toml:"loop"`
	Currency string    `toml:"currency"` // currency of all amounts in the limits, three letters
	// The largest number of texts or receipts in one request of a network whose description has the key each.
	ItemsACall int `toml:"items_a_call"`
}

// maxItemsACall is far above what a request of 64 KiB, the largest that is read, can carry in texts of usual length.
const maxItemsACall = 1000

// DefaultLimits returns limits that real networks and people do not reach.
//
// Calls a minute of one number: a person needs two seconds or more for a screen, so makes at most 30 calls. A network
// sends a call up to three times, so 90 calls are possible; the limit is about twice as high.
//
// Open dialogues of one number: a phone has one dialogue at a time (3GPP TS 22.090 clause 5.3, from memory), but some
// networks do not report its end. Such a dialogue counts as open for ten minutes, in which nobody dials fifty times.
//
// The limits of all numbers together are what a small machine can handle.
func DefaultLimits() Limits {
	return Limits{
		Set:    limit.Set{CallsAMinute: 60_000, OpenSessions: 50_000},
		Number: limit.Set{CallsAMinute: 200, OpenSessions: 50},
		Pause:  Duration(10 * time.Minute), ItemsACall: gateway.DefaultMaxItems, Loop: DefaultLoop(),
	}
}

var currencyForm = regexp.MustCompile(`^([A-Z]{3})?$`)

func (l *Limits) check() error {
	var wrong fault.List
	wrong.Add("", l.Set.Validate())
	wrong.Add("number", l.Number.Validate())
	wrong.Refuse(!currencyForm.MatchString(l.Currency), "currency",
		"%q is not three capital letters such as TAL", l.Currency)
	wrong.Add("loop", l.Loop.check())
	p := time.Duration(l.Pause)
	wrong.Refuse(p != 0 && (p < time.Minute || p > 24*time.Hour), "pause",
		"%s is not a time span from \"1m\" to \"24h\"", p)
	wrong.Refuse(l.ItemsACall < 0 || l.ItemsACall > maxItemsACall, "items_a_call",
		"%d is not in 1..%d", l.ItemsACall, maxItemsACall)
	return wrong.Err()
}

// Incoming converts the limits of incoming calls to the type of package limit.
func (l *Limits) Incoming() limit.Incoming {
	return limit.Incoming{All: l.Set, Number: l.Number, Pause: time.Duration(l.Pause)}
}

// Loop says when a number is left alone: its texts get no answer for a while, because they look like a machine's.
type Loop struct {
	Texts         int      `toml:"texts"`           // answers in a row to texts that were not understood
	AnswersAnHour int      `toml:"answers_an_hour"` // answers to one number in an hour
	Pause         Duration `toml:"pause"`           // the first pause; each further one in a row is twice as long
	LongestPause  Duration `toml:"longest_pause"`
}

// DefaultLoop returns the limits without settings in the file. A person who mistypes asks for help before the fifth
// mistype. A registration takes about 20 texts, so nobody needs 100 answers in an hour (judgement).
func DefaultLoop() Loop {
	return Loop{Texts: 5, AnswersAnHour: 100, Pause: Duration(10 * time.Minute), LongestPause: Duration(6 * time.Hour)}
}

// Gateway converts l to the type of package gateway.
func (l Loop) Gateway() gateway.Loops {
	return gateway.Loops{Texts: l.Texts, AnswersAnHour: l.AnswersAnHour, Pause: time.Duration(l.Pause),
		Longest: time.Duration(l.LongestPause)}
}

func (l Loop) check() error {
	pause, longest := time.Duration(l.Pause), time.Duration(l.LongestPause)
	var wrong fault.List
	wrong.Refuse(l.Texts < 0 || l.Texts > 100, "texts", "%d is not from 1 to 100; 0 is no limit", l.Texts)
	wrong.Refuse(l.AnswersAnHour < 0, "answers_an_hour", "%d is below 0; 0 is no limit", l.AnswersAnHour)
	wrong.Refuse(pause < time.Minute || pause > 24*time.Hour, "pause",
		"%s is not a time span from \"1m\" to \"24h\"", pause)
	wrong.Refuse(longest < min(pause, 24*time.Hour) || longest > 24*time.Hour, "longest_pause",
		"%s is not a time span from pause, %s, to \"24h\"", longest, pause)
	return wrong.Err()
}

// Proxy names the reverse proxies that pass calls on to this service.
type Proxy struct {
	Trusted []string `toml:"trusted"` // IP addresses or networks of those machines
	Header  string   `toml:"header"`  // HTTP header into which those machines write the caller's address
}

var headerForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9-]{0,63}$`)

// Gateway converts p to the type of package gateway.
func (p *Proxy) Gateway() (gateway.Proxy, error) {
	out := gateway.Proxy{Header: p.Header}
	var l fault.List
	l.Refuse(p.Header != "" && len(p.Trusted) == 0, "trusted",
		"say which machines write the header: anybody else could")
	l.Refuse(p.Header != "" && !headerForm.MatchString(p.Header), "header", "%q is not the name of a header", p.Header)
	l.Refuse(strings.EqualFold(p.Header, "Forwarded"), "header",
		"Forwarded is not read; have the proxy write X-Forwarded-For, or a header that holds the address alone")
	for i, s := range p.Trusted {
		name := fmt.Sprintf("trusted[%d]", i+1)
		prefix, err := profile.ParseNetwork(s)
		switch {
		case err != nil:
			l.Refuse(true, name, "%q: %w", s, err)
		case prefix.Bits() == 0:
			l.Refuse(true, name, "%s is everybody: then anybody could say who they are", s)
		}
		out.Trusted = append(out.Trusted, prefix)
	}
	return out, l.Err()
}

// TLS names the files for TLS. Without files, the service speaks plain HTTP.
type TLS struct {
	Cert string `toml:"cert"` // PEM file: the certificate, followed by the certificates of its signers
	Key  string `toml:"key"`  // PEM file: the private key of the certificate
}

// On reports whether the service itself speaks TLS.
func (t TLS) On() bool { return cmp.Or(t.Cert, t.Key) != "" }

func (t *TLS) check() error {
	var l fault.List
	l.Refuse(t.Cert != "" && t.Key == "", "key", "the certificate needs the file of its key")
	l.Refuse(t.Cert == "" && t.Key != "", "cert", "the key needs the file of its certificate")
	return l.Err()
}

// Load reads the certificate and the key. An error names the setting of the file.
func (t TLS) Load() (*tls.Certificate, error) {
	cert, err := fault.ReadFile(t.Cert)
	if err != nil {
		return nil, fmt.Errorf("tls.cert: %w", err)
	}
	key, err := fault.ReadFile(t.Key)
	if err != nil {
		return nil, fmt.Errorf("tls.key: %w", err)
	}
	pair, err := tls.X509KeyPair(cert, key)
	if err != nil {
		return nil, fmt.Errorf("tls: %s with the key %s: %w", t.Cert, t.Key, err)
	}
	return &pair, nil
}

// Watch says which other machines may read /metrics.
type Watch struct {
	Allow []string `toml:"allow"` // IP addresses, or networks such as 10.0.0.0/8
}

// Networks returns the networks from which /metrics may be read.
func (c *Watch) Networks() ([]netip.Prefix, error) {
	var list []netip.Prefix
	var l fault.List
	for i, s := range c.Allow {
		p, err := profile.ParseNetwork(s)
		if err != nil {
			l.Refuse(true, fmt.Sprintf("allow[%d]", i+1), "%q: %w", s, err)
		}
		list = append(list, p)
	}
	return list, l.Err()
}
