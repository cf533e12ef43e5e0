package main

import (
	"fmt"
	"net/netip"

	"rowbell/gateway/profile"
)

// watchConfig says who may read /metrics beside this machine.
type watchConfig struct {
	Allow []string `toml:"allow"` // networks such as 10.0.0.0/8, or single addresses
}

// validate names the setting that cannot be used.
func (c *watchConfig) validate() error {
	_, err := c.networks()
	return err
}

// networks are those who may read /metrics.
func (c *watchConfig) networks() ([]netip.Prefix, error) {
	var list []netip.Prefix
	for _, s := range c.Allow {
		p, err := profile.ParseNetwork(s)
		if err != nil {
			return nil, fmt.Errorf("watch.allow: %q: %w", s, err)
		}
		list = append(list, p)
	}
	return list, nil
}
