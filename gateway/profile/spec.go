package profile

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"rowbell/gateway/fault"
	"rowbell/gateway/limit"
)

// Spec is a network as rowbell.toml describes it, under [gateways.NAME]. With any of the tables ussd, sms and receipt,
// the network makes only the calls that have a table. With none of them it makes all three calls in the project's own
// format, or no calls if it has the table push and no table trust. A call is in the project's own format if its table
// does not say where the values are.
type Spec struct {
	CountryCode string       `toml:"country_code"`
	Sender      string       `toml:"sender"`
	Trust       *TrustSpec   `toml:"trust"`
	USSD        *USSDSpec    `toml:"ussd"`
	SMS         *SMSSpec     `toml:"sms"`
	Receipt     *ReceiptSpec `toml:"receipt"`
	Push        *PushSpec    `toml:"push"`
	Limits      limit.Set    `toml:"limits"`
}

// Build makes the network called name. The error is a fault.List with every wrong key of rowbell.toml, and shows no
// secret and no address.
func (s Spec) Build(name string, look Lookup) (Profile, error) {
	p := Profile{Name: name, CountryCode: s.CountryCode, Sender: s.Sender, Limits: s.Limits, Push: ourPush()}
	if s.USSD == nil && s.SMS == nil && s.Receipt == nil && (s.Trust != nil || s.Push == nil) {
		p.USSD, p.SMS, p.Receipt = ourUSSD(), ourSMS(), ourReceipt()
	}
	var m fault.List
	var err error
	if s.USSD != nil {
		p.USSD, err = s.USSD.build()
		m.Add("ussd", err)
	}
	if s.SMS != nil {
		p.SMS, err = s.SMS.build()
		m.Add("sms", err)
	}
	if s.Receipt != nil {
		p.Receipt, err = s.Receipt.build()
		m.Add("receipt", err)
	}
	if s.Push != nil {
		p.Push, err = s.Push.build(look)
		m.Add("push", err)
	}
	if s.Trust != nil {
		p.Trust, err = s.Trust.build(look)
		m.Add("trust", err)
	}
	calls := p.USSD.Method+p.SMS.Method+p.Receipt.Method != ""
	m.Refuse(calls && s.Trust == nil, "trust", "say who may call, by signature, hmac, bearer, basic or address")
	m.Add("", p.checkSigned())
	m.Add("", p.validate())
	return p, fault.Under("gateways."+name, m.Err())
}

// Sends reports whether texts can be sent through this network.
func (s Spec) Sends() bool { return s.Push != nil && s.Push.URL != "" }

// checkSigned refuses calls that are signed and have a value where the signature does not cover it.
func (p Profile) checkSigned() error {
	if p.Trust == nil || !p.Trust.Signs() {
		return nil
	}
	var m fault.List
	for _, call := range []struct {
		name string
		Call
	}{{"ussd", p.USSD.Call}, {"sms", p.SMS.Call}, {"receipt", p.Receipt.Call}} {
		for _, s := range call.sources() {
			if !p.Trust.covers(s) {
				m.Add(call.name, p.Trust.errUncovered(s))
			}
		}
	}
	return m.Err()
}

// sources returns the parts of the HTTP request in which the values of a call are.
func (c Call) sources() []source {
	if c.Format == Ours && c.Method != "" {
		return []source{inBody}
	}
	var list []source
	for _, f := range c.fields {
		if f.source == inBody && c.Format == Query {
			f.source = inQuery
		}
		list = append(list, f.source)
	}
	return list
}

// Lookup returns the secret in an environment variable, or an error if the variable is not set.
type Lookup func(env string) (string, error)

var envName = regexp.MustCompile("^[A-Z_][A-Z0-9_]{0,127}$")

func (look Lookup) secret(env string) (string, error) {
	if !envName.MatchString(env) { // env may be a secret, written here by mistake: do not show it
		return "", errors.New("these are names of environment variables, in capital letters and without $, " +
			"such as HERON_SECRET; the secret itself stands in the environment")
	}
	v, err := look(env)
	switch {
	case err != nil:
		return "", err
	case v == "" || strings.ContainsAny(v, "\r\n\x00"):
		return "", fmt.Errorf("%s is empty or holds a line break", env)
	}
	return v, nil
}

// Span is a time span that is written as "90m" or "24h".
type Span time.Duration

// UnmarshalText reads a time span of at least one second.
func (s *Span) UnmarshalText(b []byte) error {
	d, err := time.ParseDuration(string(b))
	if err != nil || d < time.Second {
		return errSpan
	}
	*s = Span(d)
	return nil
}

var errSpan = errors.New(`this is not a time span such as "10s", "90m" or "24h"`)

// check refuses a number without a unit. The TOML decoder reads such a number as nanoseconds.
func (s Span) check() error {
	if s != 0 && time.Duration(s) < time.Second {
		return errSpan
	}
	return nil
}
