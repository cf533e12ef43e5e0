package service

import (
	"context"
	"sync"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway"
	"rowbell/gateway/bell"
	"rowbell/gateway/desk"
	"rowbell/gateway/letter"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu"
)

// parts are all that depends on the configuration. A new configuration replaces all of them at once. A call, a text or
// a round of the bell that has begun ends with the parts with which it began.
type parts struct {
	conf     config.Config
	networks []profile.Profile
	secrets  *config.Secrets // whose files are watched; nil: none
	menu     *menu.Menu
	gateway  *gateway.Gateway
	bell     *bell.Bell
	letters  *letter.Writer
	push     *push.Sender
	links    []*push.HTTP
	desk     *desk.Desk // nil: it is off
	stopBell func()
	ended    sync.WaitGroup // of the loops
}

// newParts makes the parts of a configuration. None of them runs yet.
func (s *Service) newParts(c config.Config, networks []profile.Profile, m *menu.Menu) (_ *parts, err error) {
	watch, err := c.Watch.Networks()
	if err != nil {
		return nil, err
	}
	proxy, err := c.Proxy.Gateway()
	if err != nil {
		return nil, err
	}
	p := &parts{conf: c, networks: networks, menu: m, stopBell: func() {}}
	defer func() {
		if err != nil {
			p.close()
		}
	}()
	if p.push, p.links, err = s.newSender(c, networks); err != nil {
		return nil, err
	}
	p.bell = bell.New(bell.Options{Store: s.store, Menu: m, Clock: s.clock, Log: s.log, QuietHour: c.QuietHour,
		Queued: s.kick, Meter: s.meter})
	p.letters = letter.New(letter.Options{Store: s.store, Clock: s.clock, Log: s.log, Queued: s.kick})
	p.gateway, err = gateway.New(gateway.Options{Store: s.store, Menu: m, Clock: s.clock, Log: s.log,
		Networks: networks, DialCode: c.DialCode,
		USSDResume: time.Duration(c.Resume.USSD), SMSResume: time.Duration(c.Resume.SMS), Queued: s.kick,
		SendsBack: push.SendsBack(c.PushRoutes()), Meter: s.meter, Watch: watch, Health: s.health(c),
		Limits: c.Limits.Incoming(), Loops: c.Limits.Loop.Gateway(), MaxItems: c.Limits.ItemsACall, Proxy: proxy})
	if err != nil {
		return nil, err
	}
	return p, s.openDesk(p)
}

// kick makes the current sender look for texts. A call that began with older parts also kicks the current sender.
func (s *Service) kick() { s.parts.Load().push.Kick() }

// run starts the loops of bell, letters and outbox, until the context of the service ends or the parts are replaced.
func (p *parts) run(s *Service) {
	ctx, cancel := context.WithCancel(s.ctx)
	p.stopBell = cancel
	loop := func(f func()) {
		p.ended.Add(1)
		s.running.Go(func() { defer p.ended.Done(); f() })
	}
	loop(func() { p.bell.Run(ctx) })
	loop(func() { p.letters.Run(ctx) })
	loop(func() { p.push.Run(s.ctx) })
}

// retire ends the loops. When their last work is done, it closes the connections.
func (p *parts) retire(s *Service) {
	p.endStreams() // the browsers open them again, at the new parts
	p.stopBell()
	p.push.Stop()
	if s.ctx == nil {
		p.close()
		return
	}
	s.running.Go(func() { p.ended.Wait(); p.close() })
}

func (p *parts) close() {
	for _, h := range p.links {
		h.Close()
	}
}
