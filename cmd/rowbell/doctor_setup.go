package main

import (
	"crypto/tls"
	"net"
	"os"
	"strings"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/menu"
	"rowbell/menu/proof"
)

// setup looks at the configuration as a whole and at who may read it.
func (c *checkup) setup(file string) {
	const area = "configuration"
	info, err := os.Stat(file)
	if err != nil {
		c.well(area, "no %s: everything is as it comes", file)
	} else {
		c.well(area, "%s is read", file)
		if info.Mode().Perm()&0o022 != 0 {
			c.wrong(area, "chmod go-w "+file, "others than its owner may change %s", file)
		}
	}
	c.listening()
}

// listening looks at who can reach the service.
func (c *checkup) listening() {
	const area = "listening"
	host, _, err := net.SplitHostPort(c.conf.Listen)
	if err != nil {
		c.wrong(area, `Give listen as in "127.0.0.1:8080".`, "listen: %q is no address", c.conf.Listen)
		return
	}
	if c.conf.TLS.On() {
		c.certificate()
		return
	}
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		c.well(area, "on %s: this machine only", c.conf.Listen)
		return
	}
	switch {
	case len(c.conf.Proxy.Trusted) == 0:
		c.note(area, "Set [tls], or have a proxy speak TLS and name it in [proxy].", "on %s, to anybody who can reach it, without TLS: what growers type and any token can be read on the way", c.conf.Listen)
	default:
		c.well(area, "on %s, behind %s", c.conf.Listen, strings.Join(c.conf.Proxy.Trusted, ", "))
	}
}

// certificate looks at that with which the service itself speaks TLS.
func (c *checkup) certificate() {
	const area = "listening"
	pair, err := tls.LoadX509KeyPair(c.conf.TLS.Cert, c.conf.TLS.Key)
	switch {
	case err != nil:
		c.wrong(area, "Give the files of a certificate and its key, PEM, in tls.cert and tls.key.", "the certificate cannot be used: %v", err)
	case c.now.After(pair.Leaf.NotAfter):
		c.wrong(area, "Renew it.", "the certificate ended on %s", pair.Leaf.NotAfter.Format(dayForm))
	case c.now.Add(renewAhead).After(pair.Leaf.NotAfter):
		c.note(area, "Renew it: the service takes a new file up by itself.", "the certificate ends on %s", pair.Leaf.NotAfter.Format(dayForm))
	default:
		c.well(area, "on %s, with TLS until %s", c.conf.Listen, pair.Leaf.NotAfter.Format(dayForm))
	}
	if info, err := os.Stat(c.conf.TLS.Key); err == nil && info.Mode().Perm()&0o077 != 0 {
		c.wrong(area, "chmod 600 "+c.conf.TLS.Key, "others than its owner may read the key")
	}
}

const dayForm = "2 Jan 2006"

// texts looks at what growers read: whether every language is whole, and
// whether what is in the folder fits a phone.
func (c *checkup) texts() {
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
	problems := 0
	if c.conf.Texts.Folder != "" { // those of the program are proved
		problems = len(proof.TextProblems(m))
	}
	if problems > 0 {
		c.note(area, "Run "+c.conf.Texts.Command()+": it names each with its line.", "%d texts of %s need mending", problems, c.conf.Texts.Folder)
		return
	}
	c.well(area, "%s", strings.Join(cat.Languages(), ", "))
}

// zones looks at the time zones by which growers have their mornings. That
// they are known was asked when the configuration was read.
func (c *checkup) zones() {
	const area = "time zones"
	seen := map[string]bool{}
	look := func(p *config.Place) {
		if p == nil || p.Zone == nil || seen[*p.Zone] {
			return
		}
		seen[*p.Zone] = true
		loc, err := time.LoadLocation(*p.Zone)
		if err != nil {
			c.wrong(area, "Correct the name.", "%s is not known", *p.Zone)
			return
		}
		c.well(area, "%s: it is %s there", *p.Zone, c.now.In(loc).Format("Mon 2 Jan 15:04"))
	}
	look(c.conf.Place)
	for i := range c.conf.Places {
		look(&c.conf.Places[i])
	}
	if len(seen) == 0 {
		c.note(area, "Set place.zone to the zone of the growers, such as Europe/London.", "none is set: mornings are by UTC unless the records know better")
	}
}
