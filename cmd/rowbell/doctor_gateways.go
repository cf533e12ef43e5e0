package main

import (
	"net"
	"net/url"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/profile"
)

// gateways looks at each network: its secrets, who may call, and whether it can
// be reached. No text is sent and nothing is asked of it.
func (c *checkup) gateways(offline bool) {
	networks, err := c.conf.Networks(c.env)
	if err != nil {
		c.wrong("gateways", "Set the variable for the service too, or mend the description.", "%v", err)
		return
	}
	sends := false
	owners := map[string]string{} // of secrets
	for _, n := range networks {
		area := "gateway " + n.Name
		c.trust(area, n)
		c.secrets(area, n, owners)
		if n.Push.URL == "" {
			continue
		}
		sends = true
		c.outlet(area, n, offline)
	}
	if !sends {
		c.note("gateways", "Set the push url of a gateway.", "texts go to the log and nowhere else")
	}
}

// trust looks at who may call as a network.
func (c *checkup) trust(area string, n profile.Profile) {
	switch {
	case n.USSD.Method+n.SMS.Method+n.Receipt.Method == "":
	case n.Trust == nil:
		c.well(area, "its calls carry a token")
	case n.Trust.ByAddress() && len(c.conf.Proxy.Trusted) == 0 && c.loopbackOnly():
		c.note(area, "Name the proxy in [proxy] trusted, or have the network sign its calls.", "it is known by its address alone, and the service listens to this machine only: every call will seem to come from here")
	case n.Trust.ByAddress():
		c.note(area, "Have the network sign its calls, if it can.", "it is known by its address alone")
	case n.Trust.Signs():
		c.well(area, "its calls are signed")
	default:
		c.well(area, "its calls carry a secret")
	}
}

// shortSecret is less than what NIST SP 800-63B section 5.1.1.2 has people
// choose at least, 8, and twice that for what no person has to remember (from
// memory). Nothing slows down who guesses.
const shortSecret = 16

// secrets looks at those by which a network shows itself: that they are not
// easily guessed, and that no other network has them too. Owners are the
// networks that have been looked at, by their secrets.
func (c *checkup) secrets(area string, n profile.Profile, owners map[string]string) {
	t := c.conf.Gateways[n.Name].Trust
	if t == nil {
		return
	}
	for _, env := range t.Secrets {
		v, err := config.Secrets(c.env)(env)
		if err != nil {
			continue // said already
		}
		if t.By != profile.BySignature && len(v) < shortSecret {
			c.note(area, "Agree on a random one of 24 characters or more.", "the secret in %s is short: it can be guessed", env)
		}
		if other, twice := owners[v]; twice && other != n.Name {
			c.wrong(area, "Give each network a secret of its own.", "%s is the secret of the gateway %s too: what one of them sent can be sent as the other", env, other)
		}
		owners[v] = n.Name
	}
}

func (c *checkup) loopbackOnly() bool {
	host, _, err := net.SplitHostPort(c.conf.Listen)
	ip := net.ParseIP(host)
	return err == nil && (host == "localhost" || ip != nil && ip.IsLoopback())
}

// outlet looks at where texts go out.
func (c *checkup) outlet(area string, n profile.Profile, offline bool) {
	u, err := url.Parse(n.Push.Address())
	if err != nil || u.Hostname() == "" {
		c.note(area, "Look at the log once texts go out.", "the host of its push url is made anew for each text: it cannot be tried")
		return
	}
	if ip := net.ParseIP(u.Hostname()); u.Scheme == "http" && u.Hostname() != "localhost" && (ip == nil || !ip.IsLoopback()) {
		c.note(area, "Use https, if the network has it.", "texts and numbers go to it unencrypted")
	}
	l := c.conf.Limits
	if n.Push.SegmentPrice > 0 && l.MoneyADay == 0 && l.MoneyAMonth == 0 && n.Limits.MoneyADay == 0 && n.Limits.MoneyAMonth == 0 {
		c.note(area, "Set money_a_day or money_a_month in [limits].", "its texts have a price and no limit on money is set")
	}
	if n.Push.SegmentPrice > 0 && l.Number.TextsADay == 0 {
		c.note(area, "Set texts_a_day in [limits.number]; a plot by text takes a dozen.", "its texts have a price, and one number may ask for as many answers as it likes")
	}
	if n.Push.SegmentPrice == 0 && (l.MoneyADay > 0 || l.MoneyAMonth > 0 || n.Limits.MoneyADay > 0 || n.Limits.MoneyAMonth > 0) {
		c.note(area, "Set its push.segment_price.", "a limit on money is set and its texts have no price: they count as nothing")
	}
	if offline {
		return
	}
	r := reach(c.ctx, u, nil)
	switch {
	case r.what != "":
		c.wrong(area, r.fix, "texts cannot go out by it: %s", r.what)
	case !r.ends.IsZero() && r.ends.Before(c.now.Add(renewAhead)):
		c.note(area, "Tell the network.", "it can be reached; its certificate ends on %s", r.ends.Format(dayForm))
	default:
		c.well(area, "it can be reached")
	}
	if n.Push.Timeout > time.Minute {
		c.note(area, "Set push.timeout to some seconds.", "a text may hang there for %s", n.Push.Timeout)
	}
}
