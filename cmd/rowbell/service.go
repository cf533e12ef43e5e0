package main

import (
	"context"
	"crypto/rand"
	"errors"
	"net/http"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/bell"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu"
	"rowbell/store"
)

// service is the whole of rowbell, wired: records, dialogue, bell, outbox.
// Its loops run only after loops(); without them settle does their work.
type service struct {
	store   *store.Store
	handler http.Handler
	bell    *bell.Bell
	push    *push.Worker
	clock   clock.Clock
	log     zerolog.Logger
	token   string         // the gateway's, if it was made just now: it is kept nowhere
	nightly *nightly       // nil: no backups are asked for
	learned engine.Day     // when the places last learned; upkeep's own
	closes  []func() error // last in, first out
}

// startService wires the service on the records at c.DB. A network without a
// token gets the one whose hash is kept there, or a new one.
func startService(ctx context.Context, c config, network profile.Profile, clk clock.Clock, log zerolog.Logger) (s *service, err error) {
	s = &service{clock: clk, log: log, nightly: c.nightly()}
	defer func() {
		if err != nil {
			err = errors.Join(err, s.close())
			s = nil
		}
	}()
	cat, err := c.Texts.catalogue()
	if err != nil {
		return s, err
	}
	m, err := menu.New(cat, c.menuOptions())
	if err != nil {
		return s, err
	}
	if c.Texts.Folder != "" { // those of the program are proved
		for _, problem := range m.TextProblems() {
			log.Warn().Str("problem", problem).Msg("texts: a text of the folder needs mending; see " + c.Texts.try())
		}
	}
	if s.store, err = store.Open(ctx, c.DB, store.Options{Serving: true}); err != nil {
		return s, err
	}
	s.closes = append(s.closes, s.store.Close)
	if err = s.store.InTx(ctx, func(tx *store.Tx) error { return c.putPlaces(tx, clk.Now().Unix()) }); err != nil {
		return s, err
	}
	if network.Token == (profile.Hash{}) {
		if network.Token, s.token, err = networkToken(ctx, s.store); err != nil {
			return s, err
		}
	}
	var out push.Network = push.Log{Log: log}
	if network.Push.URL != "" {
		h := push.NewHTTP(network, clk)
		s.closes = append(s.closes, func() error { h.Close(); return nil })
		out = h
	}
	s.push = push.New(push.Options{Store: s.store, Network: out, Clock: clk, Log: log,
		Rate: network.Push.Rate, Concurrency: network.Push.Concurrency, Timeout: network.Push.Timeout, QuietHour: c.QuietHour})
	s.bell = bell.New(bell.Options{Store: s.store, Menu: m, Clock: clk, Log: log, QuietHour: c.QuietHour, Rung: s.push.Kick})
	ussd, sms := c.resume()
	s.handler, err = gateway.New(gateway.Options{Store: s.store, Menu: m, Clock: clk, Log: log,
		Networks: []profile.Profile{network}, USSDResume: ussd, SMSResume: sms, Queued: s.push.Kick})
	return s, err
}

// networkToken is the hash of the token that is kept. If there is none yet it
// makes a token, and keeps its hash only.
func networkToken(ctx context.Context, s *store.Store) (hash profile.Hash, fresh string, err error) {
	err = s.InTx(ctx, func(tx *store.Tx) error {
		kept, ok, err := tx.TokenHash(localGateway)
		if err != nil {
			return err
		}
		if ok && len(kept) == len(hash) {
			copy(hash[:], kept)
			return nil
		}
		fresh = rand.Text()
		hash = profile.HashToken(fresh)
		return tx.SetTokenHash(localGateway, hash[:])
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
				s.log.Error().Err(err).Msg("upkeep: what is over could not be removed")
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
	_, err := s.store.Prune(ctx, s.clock.Now().Unix())
	s.backup(ctx)
	return errors.Join(err, s.learn(ctx), s.store.Checkpoint(ctx))
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
func startPractice(ctx context.Context, db, token string, texts textsConfig, clk *clock.Manual, log zerolog.Logger) (*service, error) {
	c := config{DB: db, Texts: texts, DialCode: defaultDialCode, QuietHour: defaultQuietHour}
	network := c.network("")
	network.Token, network.Push.Rate = profile.HashToken(token), 0
	return startService(ctx, c, network, clk, log)
}
