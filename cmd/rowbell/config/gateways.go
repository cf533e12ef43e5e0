package config

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"rowbell/gateway/fault"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu/text"
)

// LocalGateway is the name of the only network if there is no [gateways]. It speaks the wire format of rowbell.
const LocalGateway = "local"

// Environment variables of the gateway local: the bearer token of its calls, and the URL to which texts are pushed.
const (
	EnvToken = "ROWBELL_TOKEN_LOCAL"
	EnvPush  = "ROWBELL_PUSH_LOCAL"
)

// Push has the settings for sending texts through the gateway local.
type Push struct {
	URL         string   `toml:"url"`
	Rate        float64  `toml:"rate"` // texts a second
	Concurrency int      `toml:"concurrency"`
	Timeout     Duration `toml:"timeout"`
}

// Gateways maps the name of a network to its description. Without entries, the gateway local is the only network.
type Gateways map[string]profile.Spec

// Route says which networks may send texts to the phone numbers with this prefix.
type Route struct {
	Prefix  string   `toml:"prefix"`
	Through []string `toml:"through"`
	Back    bool     `toml:"back"`
}

// anySecret has a valid form for every network. It replaces the real secrets when a configuration is checked, because
// only the running service has them.
const anySecret = "whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

// withoutSecrets is a profile.Lookup that returns anySecret for every name.
func withoutSecrets(string) (string, error) { return anySecret, nil }

// checkGateways returns the mistakes in the descriptions of the networks, whose secrets it looks up by secret.
func (c *Config) checkGateways(secret profile.Lookup) error {
	if len(c.Gateways) == 0 {
		return nil
	}
	var l fault.List
	l.Refuse(c.Push != nil, "push",
		"with [gateways] texts go out by a push table of theirs, such as [gateways.NAME.push]")
	l.Add("", c.checkMisspelt())
	_, err := c.described(secret)
	l.Add("", err)
	return l.Err()
}

// described builds the networks of [gateways], sorted by name.
func (c *Config) described(secret profile.Lookup) ([]profile.Profile, error) {
	var list []profile.Profile
	var l fault.List
	for _, name := range slices.Sorted(maps.Keys(c.Gateways)) {
		s := c.Gateways[name]
		s.CountryCode, s.Sender = cmp.Or(s.CountryCode, c.CountryCode), cmp.Or(s.Sender, c.Sender)
		p, err := s.Build(name, secret)
		l.Add("", c.inherited(name, err))
		p.Encoder = c.Encoder()
		list = append(list, p)
	}
	return list, l.Err()
}

// inherited returns err with a changed path for each value that the network called name takes from a setting of all
// networks: the path is that of the setting of all networks.
func (c *Config) inherited(name string, err error) error {
	own := c.Gateways[name]
	var l fault.List
	for _, f := range fault.Of(err) {
		switch f.Path() {
		case join("gateways", name) + ".country_code":
			if own.CountryCode == "" {
				f.Names = f.Names[len(f.Names)-1:]
			}
		case join("gateways", name) + ".sender":
			if own.Sender == "" {
				f.Names = f.Names[len(f.Names)-1:]
			}
		}
		l = append(l, f)
	}
	return l.Err()
}

// checkMisspelt refuses a network without trust whose name is nearly that of another network. Likely the name is
// misspelt in the header of a table, and no further network is meant.
func (c *Config) checkMisspelt() error {
	var l fault.List
	names := slices.Sorted(maps.Keys(c.Gateways))
	trusted := slices.DeleteFunc(slices.Clone(names), func(s string) bool { return c.Gateways[s].Trust == nil })
	for _, name := range names {
		g := c.Gateways[name]
		if meant := Meant(name, trusted); meant != "" && g.Trust == nil {
			calls := g.USSD != nil || g.SMS != nil || g.Receipt != nil
			l.Refuse(calls, join("gateways", name)+".trust", "there is none; did you mean the network %s? "+
				"Otherwise say who may call: by signature, hmac, bearer, basic or address", meant)
		}
	}
	return l.Err()
}

// checkLocal returns the invalid settings of the gateway local by their keys.
func (c *Config) checkLocal() error {
	if len(c.Gateways) > 0 {
		return nil // it does not exist
	}
	return errors.Unwrap(c.Local("").Validate())
}

// Local returns the gateway local without a token. Its texts are pushed to pushURL or, if pushURL is "", to the URL in
// the file.
func (c *Config) Local(pushURL string) profile.Profile {
	p := profile.Default(LocalGateway)
	p.CountryCode, p.Sender, p.Encoder = c.CountryCode, c.Sender, c.Encoder()
	if c.Push != nil {
		p.Push.URL = c.Push.URL
		p.Push.Rate = cmp.Or(c.Push.Rate, p.Push.Rate)
		p.Push.Concurrency = cmp.Or(c.Push.Concurrency, p.Push.Concurrency)
		p.Push.Timeout = cmp.Or(time.Duration(c.Push.Timeout), p.Push.Timeout)
	}
	p.Push.URL = cmp.Or(pushURL, p.Push.URL)
	return p
}

// Networks returns the networks with their secrets from the environment. The gateway local has no token if the
// environment has none; then the service makes a token.
func (c *Config) Networks(env func(string) string) ([]profile.Profile, error) {
	return c.NetworksWith(NewSecrets(env))
}

// NetworksWith returns the networks with these secrets.
func (c *Config) NetworksWith(secrets *Secrets) ([]profile.Profile, error) {
	if len(c.Gateways) > 0 {
		return c.described(secrets.Lookup)
	}
	url, err := secrets.optional(EnvPush)
	if err != nil {
		return nil, err
	}
	network := c.Local(url)
	// Validate checks the URL from EnvPush here; the URL of the file was checked before.
	if err := network.Validate(); err != nil {
		return nil, fmt.Errorf("%s: %w", EnvPush, err)
	}
	token, err := secrets.optional(EnvToken)
	if err != nil {
		return nil, err
	}
	if token != "" {
		network.Token = profile.HashToken(token)
	}
	return []profile.Profile{network}, nil
}

// PushRoutes converts the routes to the type of package push.
func (c *Config) PushRoutes() []push.Route {
	var routes []push.Route
	for _, r := range c.Routes {
		routes = append(routes, push.Route(r))
	}
	return routes
}

// senders returns the names of the networks that can send texts.
func (c *Config) senders() []string {
	if len(c.Gateways) == 0 {
		return []string{LocalGateway}
	}
	var names []string
	for _, name := range slices.Sorted(maps.Keys(c.Gateways)) {
		if c.Gateways[name].Sends() {
			names = append(names, name)
		}
	}
	return names
}

// Encoder returns the encoder of outgoing texts, which chooses the encoding with the fewest SMS segments. It may use
// the shift tables of all languages, because the outbox does not know the language of a text.
func (c *Config) Encoder() text.Encoder {
	tables := c.Texts.Tables()
	var sets [][]text.Shift
	for _, lang := range slices.Sorted(maps.Keys(tables)) {
		sets = append(sets, tables[lang])
	}
	return text.NewEncoder(sets...)
}
