package main

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"slices"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/bell"
	"rowbell/gateway/clock"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/store"
)

// service is the whole of rowbell, wired: records, dialogue, bell, outbox.
// Its loops run only after loops(); without them settle does their work.
type service struct {
	store     *store.Store
	handler   http.Handler
	bell      *bell.Bell
	push      *push.Sender
	clock     clock.Clock
	log       zerolog.Logger
	token     string // the gateway's, if it was made just now: it is kept nowhere
	meter     *meter.Meter
	nightly   *nightly       // nil: no backups are asked for
	learned   engine.Day     // when the places last learned; upkeep's own
	codesSaid engine.Day     // the same of codes that rest
	closes    []func() error // last in, first out
}

// startService wires the service on the records at c.DB. The network that
// exists with no configuration gets the token whose hash is kept there, or a new
// one, if it has none.
func startService(ctx context.Context, c config.Config, networks []profile.Profile, clk clock.Clock, log zerolog.Logger) (s *service, err error) {
	s = &service{clock: clk, log: log, nightly: newNightly(c)}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close())
			s = nil
		}
	}()
	cat, err := c.Texts.Catalogue()
	if err != nil {
		return s, err
	}
	m, err := menu.New(cat, c.Menu())
	if err != nil {
		return s, err
	}
	if c.Texts.Folder != "" { // those of the program are proved
		for _, problem := range proof.TextProblems(m) {
			log.Warn().Str("problem", problem).Msg("texts: a text of the folder needs mending; see " + c.Texts.Command())
		}
	}
	keep := c.Keep.Retention()
	if s.store, err = store.Open(ctx, c.DB, store.Options{Serving: true, Keep: &keep, Lanes: push.Lanes(c.PushRoutes())}); err != nil {
		return s, err
	}
	s.closes = append(s.closes, s.store.Close)
	if err = s.store.InTx(ctx, func(tx *store.Tx) error { return c.PutPlaces(tx, clk.Now().Unix()) }); err != nil {
		return s, err
	}
	networks = slices.Clone(networks)
	for i, n := range networks {
		if n.Name == config.LocalGateway && n.Trust == nil && n.Token == (profile.Hash{}) && n.USSD.Method != "" {
			if networks[i].Token, s.token, err = networkToken(ctx, s.store); err != nil {
				return s, err
			}
		}
	}
	s.meter = s.newMeter(c, networks...)
	watch, err := c.Watch.Networks()
	if err != nil {
		return s, err
	}
	pushing, letGo := pushing(c, networks, clk, log)
	s.closes = append(s.closes, letGo)
	pushing.Store, pushing.Meter = s.store, s.meter
	s.push = push.New(pushing)
	s.bell = bell.New(bell.Options{Store: s.store, Menu: m, Clock: clk, Log: log, QuietHour: c.QuietHour, Rung: s.push.Kick, Meter: s.meter})
	proxy, err := c.Proxy.Gateway()
	if err != nil {
		return s, err
	}
	s.handler, err = gateway.New(gateway.Options{Store: s.store, Menu: m, Clock: clk, Log: log,
		Networks: networks, DialCode: c.DialCode, USSDResume: time.Duration(c.Resume.USSD), SMSResume: time.Duration(c.Resume.SMS), Queued: s.push.Kick,
		Meter: s.meter, Watch: watch, Health: s.health(c),
		Limits: c.Limits.Incoming(), Proxy: proxy})
	return s, err
}

// pushing is what the outbox takes of the configuration, with the networks that
// send texts. Where none does, texts go to the log. close lets go of their
// connections.
func pushing(c config.Config, networks []profile.Profile, clk clock.Clock, log zerolog.Logger) (o push.Options, close func() error) {
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
	o.Clock, o.Log, o.QuietHour, o.Routes = clk, log, c.QuietHour, c.PushRoutes()
	o.Limits, o.NumberLimits = c.Limits.Set, c.Limits.Number
	encoder := c.Encoder()
	o.Segments = func(s string) int { return encoder.Encode(s).Segments }
	return o, func() error {
		for _, h := range open {
			h.Close()
		}
		return nil
	}
}

// outlet is how a network is used.
func outlet(p profile.Profile, n push.Network) push.Gateway {
	return push.Gateway{Name: p.Name, Network: n, Rate: p.Push.Rate, Concurrency: p.Push.Concurrency, Timeout: p.Push.Timeout, Idempotent: p.Push.Idempotent,
		SegmentPrice: p.Push.SegmentPrice, Limits: p.Limits}
}

// networkToken is the hash of the token that is kept. If there is none yet it
// makes a token, and keeps its hash only.
func networkToken(ctx context.Context, s *store.Store) (hash profile.Hash, fresh string, err error) {
	err = s.InTx(ctx, func(tx *store.Tx) error {
		kept, ok, err := tx.TokenHash(config.LocalGateway)
		if err != nil {
			return err
		}
		if ok && len(kept) == len(hash) {
			copy(hash[:], kept)
			return nil
		}
		fresh = rand.Text()
		hash = profile.HashToken(fresh)
		return tx.SetTokenHash(config.LocalGateway, hash[:])
	})
	return hash, fresh, err
}

// upkeepEvery is how often what has served its purpose is removed.
const upkeepEvery = time.Hour

// loops starts bell, push and upkeep, and has close wait for them.
func (s *service) loops(ctx context.Context) {
	ctx, cancel := context.WithCancel(ctx)
	var running sync.WaitGroup
	running.Go(func() { s.bell.Run(ctx) })
	running.Go(func() { s.push.Run(ctx) })
	running.Go(func() {
		ticks, stop := s.clock.Every(upkeepEvery)
		defer stop()
		for {
			if err := s.upkeep(ctx); err != nil && ctx.Err() == nil {
				s.log.Error().Err(err).Str("why", store.Trouble(err)).Msg("upkeep: what is over could not be removed; trying again in an hour")
			}
			select {
			case <-ctx.Done():
				return
			case <-ticks:
			}
		}
	})
	s.closes = append(s.closes, func() error { cancel(); running.Wait(); return nil })
}

// upkeep removes what has served its purpose, also from the write-ahead log.
func (s *service) upkeep(ctx context.Context) error {
	gone, err := s.store.Prune(ctx, s.clock.Now().Unix())
	if gone.Growers > 0 || gone.Seasons > 0 {
		s.log.Info().Int64("growers", gone.Growers).Int64("seasons", gone.Seasons).Msg("upkeep: what was kept long enough is erased; see [keep]")
	}
	s.backup(ctx)
	return errors.Join(err, s.learn(ctx), s.watchCodes(ctx), s.store.Checkpoint(ctx))
}

// learn has each place follow what its growers saw of the weeds, once a day.
func (s *service) learn(ctx context.Context) error {
	today := engine.DayOf(s.clock.Now(), time.UTC)
	if today == s.learned {
		return nil
	}
	s.learned = today
	return s.store.InTx(ctx, func(tx *store.Tx) error {
		places, err := tx.Places()
		if err != nil {
			return err
		}
		for _, p := range places {
			moved, err := tx.LearnPlace(p.ID, s.clock.Now().Unix())
			if err != nil {
				return err
			}
			if moved {
				s.log.Info().Str("place", p.Name).Msg("learning: the weed clock of a place has moved; see rowbell place")
			}
		}
		return nil
	})
}

// settle rings and sends until there is nothing more to do at this instant.
func (s *service) settle(ctx context.Context) error {
	for {
		rung, err := s.bell.Ring(ctx, s.clock.Now())
		if err != nil {
			return err
		}
		sent, err := s.push.Send(ctx)
		if err != nil {
			return err
		}
		if rung == 0 && sent == 0 {
			return nil
		}
	}
}

// close ends what was started, the newest first.
func (s *service) close() error {
	var errs []error
	for i := len(s.closes) - 1; i >= 0; i-- {
		errs = append(errs, s.closes[i]())
	}
	s.closes = nil
	return errors.Join(errs...)
}

// startPractice wires the service on practice records: a token of its own, a
// clock that is moved by hand, texts that go to the log. Nothing runs until
// settle is called.
func startPractice(ctx context.Context, db, token string, texts config.Texts, clk *clock.Manual, log zerolog.Logger) (*service, error) {
	c := config.Default()
	c.DB, c.Texts, c.Limits = db, texts, config.Limits{} // no limit by the minute: this clock may stand still
	network := c.Local("")
	network.Token, network.Push.Rate = profile.HashToken(token), 0
	return startService(ctx, c, []profile.Profile{network}, clk, log)
}
