package config

import (
	"net"
	"net/netip"
	"net/url"
	"strings"

	"rowbell/gateway/fault"
)

// Desk describes the pages for staff.
type Desk struct {
	Off     bool   `toml:"off"`     // no pages are served
	Address string `toml:"address"` // under which staff reach the service, such as https://bell.example.org
}

func (d *Desk) check() error {
	var l fault.List
	if d.Address == "" {
		return nil
	}
	u, err := url.Parse(d.Address)
	bad := err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || strings.Trim(u.Path, "/") != "" ||
		u.RawQuery != "" || u.User != nil
	l.Refuse(bad, "address", "%q is not like https://bell.example.org, without anything after the name", d.Address)
	return l.Err()
}

// DeskAddress returns the address of the pages for staff, without the path /desk/. Unless it is configured, it is that
// of this machine at the port of listen, on which the service listens.
func (c *Config) DeskAddress(listen string) string {
	if c.Desk.Address != "" {
		return strings.TrimRight(c.Desk.Address, "/")
	}
	if host, port, err := net.SplitHostPort(listen); err == nil {
		if ip, err := netip.ParseAddr(host); host == "" || err == nil && ip.IsUnspecified() {
			listen = net.JoinHostPort("localhost", port)
		}
	}
	if c.TLS.On() {
		return "https://" + listen
	}
	return "http://" + listen
}
