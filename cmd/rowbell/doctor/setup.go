package doctor

import (
	"crypto/tls"
	"fmt"
	"net"
	"os"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/menu"
	"rowbell/menu/proof"
)

const dayForm = "2 Jan 2006"

// renewAhead is how long before its end a certificate is reported.
const renewAhead = 14 * 24 * time.Hour

// checkConfig reports whether there is a configuration file, and whether other users may change it.
func (c *checkup) checkConfig(file string) {
	const area = "configuration"
	info, err := os.Stat(file)
	if err != nil {
		c.ok(area, "no %s: every setting has its default", file)
		return
	}
	c.ok(area, "%s is read", file)
	if info.Mode().Perm()&0o022 != 0 {
		c.wrong(area, "chmod go-w "+file, "others than its owner may change %s", file)
	}
}

// checkListening reports who can reach the service and whether calls are encrypted.
func (c *checkup) checkListening() {
	const area = "listening"
	_, _, err := net.SplitHostPort(c.conf.Listen)
	switch {
	case err != nil:
		c.wrong(area, `Give listen as in "127.0.0.1:8080".`, "listen: %q is no address", c.conf.Listen)
	case c.conf.TLS.On():
		c.checkCertificate()
	case c.loopbackOnly():
		c.ok(area, "on %s: this machine only", c.conf.Listen)
	case len(c.conf.Proxy.Trusted) == 0:
		c.note(area, "Set [tls], or have a proxy speak TLS and name it in [proxy].",
			"on %s, to anybody who can reach it, without TLS: what growers type and any token can be read on the way",
			c.conf.Listen)
	default:
		c.ok(area, "on %s, behind %s", c.conf.Listen, strings.Join(c.conf.Proxy.Trusted, ", "))
	}
}

// loopbackOnly reports whether only this machine can reach the service.
func (c *checkup) loopbackOnly() bool {
	host, _, err := net.SplitHostPort(c.conf.Listen)
	ip := net.ParseIP(host)
	return err == nil && (host == "localhost" || ip != nil && ip.IsLoopback())
}

// checkCertificate reports whether the certificate works, when it expires, and who may read its key.
func (c *checkup) checkCertificate() {
	const area = "listening"
	pair, err := tls.LoadX509KeyPair(c.conf.TLS.Cert, c.conf.TLS.Key)
	switch {
	case err != nil:
		c.wrong(area, "Give the files of a certificate and its key, PEM, in tls.cert and tls.key.",
			"the certificate cannot be used: %v", err)
	case c.now.After(pair.Leaf.NotAfter):
		c.wrong(area, "Renew it.", "the certificate ended on %s", pair.Leaf.NotAfter.Format(dayForm))
	case c.now.Add(renewAhead).After(pair.Leaf.NotAfter):
		c.note(area, "Renew it: the service reads a new file without a restart.",
			"the certificate ends on %s", pair.Leaf.NotAfter.Format(dayForm))
	default:
		c.ok(area, "on %s, with TLS until %s", c.conf.Listen, pair.Leaf.NotAfter.Format(dayForm))
	}
	if info, err := os.Stat(c.conf.TLS.Key); err == nil && info.Mode().Perm()&0o077 != 0 {
		c.wrong(area, "chmod 600 "+c.conf.TLS.Key, "others than its owner may read the key")
	}
}

// checkTexts reports mistakes in the language files, and texts of the operator's folder that are too long. Tests check
// the built-in texts.
func (c *checkup) checkTexts() {
	const area = "texts"
	cat, err := c.conf.Texts.Catalogue()
	if err != nil {
		c.wrong(area, "Mend the files named; "+c.conf.Texts.Command()+" shows all.", "%v", err)
		return
	}
	m, err := menu.New(cat, c.conf.Menu())
	if err != nil {
		c.wrong(area, "Run "+c.conf.Texts.Command()+".", "%v", err)
		return
	}
	problems, err := proof.Check(m)
	switch {
	case err != nil:
		c.wrong(area, "Run "+c.conf.Texts.Command()+".", "%v", err)
		return
	case len(problems) > 0:
		first, _, _ := strings.Cut(problems[0], ":\n")
		c.note(area, "Run "+c.conf.Texts.Command()+": it names each with its line.",
			"%d texts of %s need mending: %s", len(problems), c.conf.Texts.Folder, first)
		return
	}
	c.ok(area, "%s", strings.Join(cat.Languages(), ", "))
}

// checkZones reports the local time in each configured zone, so that an operator can compare it with a clock there.
func (c *checkup) checkZones() {
	const area = "time zones"
	places := c.conf.Places
	if c.conf.Place != nil {
		places = append([]config.NamedPlace{{Place: *c.conf.Place}}, places...)
	}
	seen := map[string]bool{}
	for _, p := range places {
		if p.Zone == nil || seen[*p.Zone] {
			continue
		}
		seen[*p.Zone] = true
		if zone, err := time.LoadLocation(*p.Zone); err == nil { // no else: config.Load has rejected unknown time zones
			c.ok(area, "%s: it is %s there", *p.Zone, c.now.In(zone).Format("Mon 2 Jan 15:04"))
		}
	}
	if len(seen) == 0 {
		c.note(area, "Set place.zone to the zone of the growers, such as Europe/London.",
			"none is set: mornings are by UTC unless the records have a zone")
	}
}

// checkClock reports whether a time service sets this machine's clock.
func (c *checkup) checkClock() {
	const area = "clock"
	now := c.now.Format("2 Jan 2006 15:04:05 UTC")
	if clockUnset() {
		c.note(area, "Run a time service, such as chrony or systemd-timesyncd.",
			"it is %s; nothing on this machine keeps it right", now)
		return
	}
	c.ok(area, "it is %s", now)
}

// checkRetention reports the configured retention periods.
func (c *checkup) checkRetention() {
	const area = "retention"
	var list []string
	for _, k := range c.conf.Keep.Retention().Kinds() {
		switch {
		case k.Name != "" && k.Days == 0:
			c.note(area, "Set keep."+k.Name+", if the law here asks for an end.", "%s are never removed", k.What)
		case k.Name != "":
			list = append(list, fmt.Sprintf("%s %d", k.Name, k.Days))
		}
	}
	c.ok(area, "%s", strings.Join(list, ", "))
}
