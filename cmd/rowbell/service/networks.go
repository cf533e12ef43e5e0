package service

import (
	"context"
	"errors"
	"io"
	"net/url"
	"strings"
	"sync"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/desk"
	"rowbell/gateway/limit"
	"rowbell/gateway/push"
)

// ReplayFunc writes what is taken for a recorded request of a network, which came from an IP address ("": this
// machine). It sends nothing and shows no secrets.
type ReplayFunc func(ctx context.Context, out io.Writer, c config.Config, network, from string, recorded []byte) error

// networkDesk tells the desk of the networks of a configuration.
type networkDesk struct {
	s *Service
	p *parts

	replaying sync.Mutex // locked during Read, which makes records for a while
}

var _ desk.Networks = (*networkDesk)(nil)

// Now implements desk.Networks.
func (n *networkDesk) Now() (now desk.NetworksNow) {
	c := n.p.conf
	now = desk.NetworksNow{Currency: c.Limits.Currency, Limits: budget(c.Limits.Set),
		Deferred: n.p.push.Limits(n.s.clock.Now())}
	if n.s.process.shared {
		now.Process = n.s.name
	}
	now.Waits, now.Counted = n.s.meter.Waits()
	health := map[string]push.Health{}
	for _, h := range n.p.push.Health() {
		health[h.Name] = h
	}
	for _, p := range n.p.networks {
		h, sends := health[p.Name]
		x := desk.Network{Name: p.Name, Sends: sends, ToLog: sends && p.Push.URL == "", Routes: h.Routes,
			Rate: p.Push.Rate, Concurrency: p.Push.Concurrency, PriceMicros: p.Push.SegmentPrice,
			Once: !p.Push.Idempotent, Limits: budget(p.Limits), Paused: h.Paused, Failed: h.Failed, TookAt: h.TookAt}
		if u, err := url.Parse(p.Push.Address()); err == nil {
			x.To = u.Host // the path or the query may have a secret
		}
		for _, e := range h.Errors {
			x.Errors = append(x.Errors, desk.NetworkError{Last: e.Last, Reason: e.Reason, Times: e.Times})
		}
		now.List = append(now.List, x)
	}
	return now
}

func budget(l limit.Set) desk.Budget {
	return desk.Budget{TextsADay: l.TextsADay, MoneyADay: l.MoneyADay, MoneyAMonth: l.MoneyAMonth}
}

// errNoReplay is the error of Read in a service that was started without a ReplayFunc.
var errNoReplay = errors.New("recorded requests are not read here; rowbell doctor --sample reads them")

// Read implements desk.Networks.
func (n *networkDesk) Read(ctx context.Context, network, from string, recorded []byte) (string, error) {
	if n.s.replay == nil {
		return "", errNoReplay
	}
	n.replaying.Lock()
	defer n.replaying.Unlock()
	var b strings.Builder
	err := n.s.replay(ctx, &b, n.p.conf, network, from, recorded)
	return b.String(), err
}
