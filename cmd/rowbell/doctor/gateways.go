package doctor

import (
	"crypto/tls"
	"maps"
	"net"
	"net/url"
	"os"
	"slices"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/fault"
	"rowbell/gateway/limit"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
)

// checkGateways reports, for each network, its secrets, how its calls are authenticated, and whether the host to which
// its texts are pushed can be reached.
func (c *checkup) checkGateways(offline bool) {
	networks, err := c.conf.Networks(c.env)
	if err != nil {
		for _, f := range fault.Of(err) {
			c.wrong("gateways", "Set the variable for the service too, or mend the description.", "%s", f)
		}
		return
	}
	sends := false
	owners := map[string]string{}
	for _, n := range networks {
		area := "gateway " + n.Name
		c.checkTrust(area, n)
		c.checkSecrets(area, n, owners)
		if n.Push.URL == "" {
			continue
		}
		sends = true
		u, err := url.Parse(n.Push.Address())
		if err != nil || u.Hostname() == "" {
			c.note(area, "Look at the log once texts go out.",
				"the host of its push url is made anew for each text: it cannot be tried")
			continue
		}
		c.checkPush(area, n, u)
		if secure := c.checkIdentity(area, n); secure != nil && !offline {
			c.checkReach(area, u, secure)
		}
	}
	if !sends {
		c.note("gateways", "Set the push url of a gateway.", "texts go to the log and nowhere else")
	}
}

// checkTrust reports how the calls of a network are authenticated.
func (c *checkup) checkTrust(area string, n profile.Profile) {
	switch {
	case n.USSD.Method+n.SMS.Method+n.Receipt.Method == "":
	case n.Trust == nil:
		c.ok(area, "its calls carry a token")
	case n.Trust.ByAddress() && len(c.conf.Proxy.Trusted) == 0 && c.loopbackOnly():
		c.note(area, "Name the proxy in [proxy] trusted, or have the network sign its calls.",
			"it is known by its address alone, and the service listens to this machine only: "+
				"every call will seem to come from here")
	case n.Trust.ByAddress():
		c.note(area, "Have the network sign its calls, if it can.", "it is known by its address alone")
	case n.Trust.Signs() && !n.Trust.SignsTime():
		c.note(area, "Have it send and sign a time, if it can: trust.time_header.",
			"its calls are signed without a time: a recorded one can be sent again at any time")
	case n.Trust.Signs() && !n.Trust.SignsPath():
		c.note(area, `Have it sign the path too, if it can: trust.covers = "call", or {{.Path}} in trust.signs.`,
			"its calls are signed without their path: one could be sent again as a call of another kind")
	case n.Trust.Signs():
		c.ok(area, "its calls are signed")
	default:
		c.ok(area, "its calls carry a secret")
	}
}

// shortSecret is a length in characters, below which a secret is reported. It is twice the minimum for passwords (8,
// NIST SP 800-63B section 5.1.1.2, from memory), because the service does not slow down guessing.
const shortSecret = 16

// checkSecrets reports each secret that is short or that another network uses. owners maps the secrets of the networks
// checked so far to their networks.
func (c *checkup) checkSecrets(area string, n profile.Profile, owners map[string]string) {
	t := c.conf.Gateways[n.Name].Trust
	if t == nil {
		return
	}
	for _, env := range t.Secrets {
		v, err := config.NewSecrets(c.env).Lookup(env)
		if err != nil {
			continue // checkGateways has reported this error
		}
		if t.By != profile.BySignature && len(v) < shortSecret {
			c.note(area, "Agree on a random one of 24 characters or more.",
				"the secret in %s is short: it can be guessed", env)
		}
		if other, twice := owners[v]; twice && other != n.Name {
			c.wrong(area, "Give each network a secret of its own.",
				"%s is the secret of the gateway %s too: what one of them sent can be sent as the other", env, other)
		}
		owners[v] = n.Name
	}
}

// checkPush reports risks of sending texts through a network: no encryption, texts with a price but without a limit, a
// limit on money but no price of a text, and a timeout of more than a minute for one attempt.
func (c *checkup) checkPush(area string, n profile.Profile, u *url.URL) {
	ip := net.ParseIP(u.Hostname())
	here := u.Hostname() == "localhost" || ip != nil && ip.IsLoopback()
	if u.Scheme == "http" && !here {
		c.note(area, "Use https, if the network has it.", "texts and numbers go to it unencrypted")
	}
	priced := n.Push.SegmentPrice > 0
	limited := func(s limit.Set) bool { return s.MoneyADay > 0 || s.MoneyAMonth > 0 }
	money := limited(c.conf.Limits.Set) || limited(n.Limits)
	if priced && !money {
		c.note(area, "Set money_a_day or money_a_month in [limits].",
			"its texts have a price and no limit on money is set")
	}
	if priced && c.conf.Limits.Number.TextsADay == 0 {
		c.note(area, "Set texts_a_day in [limits.number]; a plot by text takes a dozen.",
			"its texts have a price, and one number may ask for as many answers as it likes")
	}
	if !priced && money {
		c.note(area, "Set its push.segment_price.",
			"a limit on money is set and its texts have no price: they count as nothing")
	}
	if !n.Push.Proves() {
		c.note(area, "Describe what its answer has only if it took the text, in push.success.",
			"any answer with a status of success counts as taken, and so does the page of a proxy")
	}
	if described := c.conf.Gateways[n.Name].Push; described != nil {
		for _, name := range slices.Sorted(maps.Keys(described.Headers)) {
			if meant := config.Meant(name, usualHeaders); meant != "" {
				c.note(area, "Write "+meant+", if that is meant.", "its push has a header %s", name)
			}
		}
	}
	if n.Push.Timeout > time.Minute {
		c.note(area, "Set push.timeout to some seconds.", "one try to send a text may last %s", n.Push.Timeout)
	}
}

// usualHeaders are the headers of a push that most networks ask for (common practice, no source).
var usualHeaders = []string{"Authorization", "Accept", "Accept-Language", "User-Agent", "Idempotency-Key"}

// checkIdentity reports mistakes in the files for TLS, and when our certificate expires. It returns the configuration
// for connections to the network, or nil if the files cannot be used.
func (c *checkup) checkIdentity(area string, n profile.Profile) *tls.Config {
	secure, err := push.LoadTLS(n.Push.TLS)
	if err != nil {
		c.wrong(area, "Give the right files: the service does not start with these.", "push: %v", err)
		return nil
	}
	ends, expired := push.Expired(secure, c.now)
	switch {
	case ends.IsZero():
		return secure
	case expired:
		c.wrong(area, "Get a new one from the network.", "our certificate for it ended on %s", ends.Format(dayForm))
	case ends.Before(c.now.Add(renewAhead)):
		c.note(area, "Get a new one: the service reads changed files without a restart.",
			"our certificate for it ends on %s", ends.Format(dayForm))
	}
	if info, err := os.Stat(n.Push.TLS.Key); err == nil && info.Mode().Perm()&0o077 != 0 {
		c.wrong(area, "chmod 600 "+n.Push.TLS.Key, "others than its owner may read the key of our certificate")
	}
	return secure
}

// checkReach reports whether the host to which texts are pushed can be reached, and when its certificate expires.
func (c *checkup) checkReach(area string, u *url.URL, secure *tls.Config) {
	ends, what, fix := reach(c.ctx, u, secure)
	switch {
	case what != "":
		c.wrong(area, fix, "texts cannot go out by it: %s", what)
	case !ends.IsZero() && ends.Before(c.now.Add(renewAhead)):
		c.note(area, "Tell the network.", "it can be reached; its certificate ends on %s", ends.Format(dayForm))
	default:
		c.ok(area, "it can be reached")
	}
}
