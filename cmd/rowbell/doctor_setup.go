package main

import (
	"net"
	"os"
	"strings"
	"time"

	"rowbell/menu"
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
	if ip := net.ParseIP(host); host == "localhost" || ip != nil && ip.IsLoopback() {
		c.well(area, "on %s: this machine only", c.conf.Listen)
		return
	}
	c.well(area, "on %s", c.conf.Listen)
}

// texts looks at what growers read: whether every language is whole, and
// whether what is in the folder fits a phone.
func (c *checkup) texts() {
	const area = "texts"
	cat, err := c.conf.Texts.catalogue()
	if err != nil {
		c.wrong(area, "Mend the files named; "+c.conf.Texts.try()+" shows all.", "%v", err)
		return
	}
	m, err := menu.New(cat, c.conf.menuOptions())
	if err != nil {
		c.wrong(area, "Run "+c.conf.Texts.try()+".", "%v", err)
		return
	}
	problems := 0
	if c.conf.Texts.Folder != "" { // those of the program are proved
		problems = len(m.TextProblems())
	}
	if problems > 0 {
		c.note(area, "Run "+c.conf.Texts.try()+": it names each with its line.", "%d texts of %s need mending", problems, c.conf.Texts.Folder)
		return
	}
	c.well(area, "%s", strings.Join(cat.Languages(), ", "))
}

// zones looks at the time zones by which growers have their mornings. That
// they are known was asked when the configuration was read.
func (c *checkup) zones() {
	const area = "time zones"
	seen := map[string]bool{}
	look := func(p *placeConfig) {
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
