package doctor

import (
	"errors"
	"net"
	"net/url"
	"strings"

	"rowbell/store"
)

// checkDesk reports whether staff can reach the desk safely, and whether an operator can log in.
func (c *checkup) checkDesk() {
	const area = "desk"
	if c.conf.Desk.Off {
		c.ok(area, "off: no pages for staff")
		return
	}
	address := c.conf.DeskAddress(c.conf.Listen)
	switch u, err := url.Parse(address); {
	case err == nil && u.Scheme == "https":
		c.ok(area, "at %s/desk/, by TLS", address)
	case c.loopbackOnly() && (c.conf.Desk.Address == "" || err == nil && loopback(u.Hostname())):
		c.ok(area, "at %s/desk/, from this machine only", address)
	case len(c.conf.Proxy.Trusted) > 0 && c.conf.Desk.Address == "":
		c.note(area, "Set desk.address to the https address at the proxy: links for staff begin with it.",
			"links for staff begin with %s, which is not the address at the proxy", address)
	default:
		c.note(area, "Set [tls], or desk.address to the https address of a proxy, or listen on this machine only, "+
			"or set desk.off.", "at %s/desk/, without TLS: browsers keep no log-in from other machines, and a "+
			"password could be read on the way", address)
	}
	c.checkOperators()
}

func loopback(host string) bool {
	ip := net.ParseIP(strings.Trim(host, "[]"))
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// checkOperators reports whether somebody with the role operator can log in. Without usable records it reports nothing,
// because checkRecords does.
func (c *checkup) checkOperators() {
	const area = "desk"
	if c.outdated {
		return
	}
	s, err := store.Open(c.ctx, c.conf.DB, store.Options{ReadConns: 1, Existing: true})
	if err != nil {
		return
	}
	able, invited := 0, 0
	err = s.View(c.ctx, func(tx *store.Tx) error {
		list, err := tx.StaffList()
		for _, a := range list {
			switch {
			case a.Role != store.RoleOperator:
			case a.Password == "":
				invited++
			default:
				able++
			}
		}
		return err
	})
	switch err = errors.Join(err, s.Close()); {
	case err != nil: // checkRecords reports it
	case able > 0:
		c.ok(area, "operators who can log in: %d", able)
	case invited > 0:
		c.note(area, "Use the link, or make a new one: rowbell staff link NAME.",
			"no operator has used the link and set a password yet")
	default:
		c.note(area, "rowbell staff add NAME --role operator, or use the link that the first start prints.",
			"there is no operator, so nobody can add staff at the desk")
	}
}
