package main

import (
	"fmt"
	"maps"
	"slices"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu/text"
)

// routeConfig says through which networks texts to numbers with a prefix go.
type routeConfig struct {
	Prefix  string   `toml:"prefix"`
	Through []string `toml:"through"`
}

func (c *config) routes() []push.Route {
	var routes []push.Route
	for _, r := range c.Routes {
		routes = append(routes, push.Route{Prefix: r.Prefix, Through: r.Through})
	}
	return routes
}

// validateRoutes names what is wrong with the routes over these gateways.
func (c *config) validateRoutes(gateways []string) error {
	if err := push.CheckRoutes(c.routes(), gateways); err != nil {
		return fmt.Errorf("routes: %w", err)
	}
	return nil
}

// senders are the names of the networks by which texts can go out.
func (c *config) senders() []string {
	if len(c.Gateways) == 0 {
		return []string{localGateway}
	}
	var names []string
	for _, name := range slices.Sorted(maps.Keys(c.Gateways)) {
		if c.Gateways[name].Sends() {
			names = append(names, name)
		}
	}
	return names
}

// pushing is what the outbox needs of the configuration, with the networks
// that send texts. Where there is none they go to the log. close lets go of
// their connections.
func (c *config) pushing(networks []profile.Profile, clk clock.Clock, log zerolog.Logger) (o push.Options, close func() error) {
	var open []*push.HTTP
	for _, p := range networks {
		if p.Push.URL == "" {
			continue
		}
		h := push.NewHTTP(p, clk)
		open = append(open, h)
		o.Gateways = append(o.Gateways, outlet(p, h))
	}
	if len(o.Gateways) == 0 {
		o.Gateways = append(o.Gateways, outlet(networks[0], push.Log{Log: log}))
	}
	o.Clock, o.Log, o.QuietHour, o.Routes = clk, log, c.QuietHour, c.routes()
	o.Limits, o.NumberLimits = c.Limits.Set, c.Limits.Number
	o.Segments = c.segments()
	return o, func() error {
		for _, h := range open {
			h.Close()
		}
		return nil
	}
}

// segments counts the SMS segments of a text, whose language the outbox does
// not know: where some languages have shift tables, those in which it is
// shortest.
func (c *config) segments() func(string) int {
	tables := c.Texts.tables()
	return func(s string) int {
		n, _ := text.SegmentsIn(s, nil)
		for _, shifts := range tables {
			fewer, _ := text.SegmentsIn(s, shifts)
			n = min(n, fewer)
		}
		return n
	}
}

// outlet is how a network is used.
func outlet(p profile.Profile, n push.Network) push.Gateway {
	return push.Gateway{Name: p.Name, Network: n, Rate: p.Push.Rate, Concurrency: p.Push.Concurrency, Timeout: p.Push.Timeout, Idempotent: p.Push.Idempotent,
		SegmentPrice: p.Push.SegmentPrice, Limits: p.Limits}
}
