// Package service connects the parts of rowbell: the records, the dialogue, the gateway to the networks, the bell,
// which writes reminders, and the outbox, which sends texts. It also does the hourly and the nightly work.
//
//	s, err := service.Start(ctx, conf, service.Options{Networks: networks, Clock: service.SystemClock{}, Log: log})
//	s.Run(ctx)
//	http.Serve(listener, s.Handler())
//	s.Close()
//
// This package has the real clock, the HTTP server and its certificate, and the order of start and stop. It has no
// rules about weeding, texts or settings. Only the commands, package doctor and package practice import it.
package service

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"rowbell/cmd/rowbell/config"
	"rowbell/gateway/clock"
	"rowbell/gateway/fault"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu"
	"rowbell/menu/proof"
	"rowbell/store"
)

// SystemClock is the clock of the machine, in UTC.
type SystemClock struct{}

// Now implements clock.Clock.
func (SystemClock) Now() time.Time { return time.Now().UTC() }

// Every implements clock.Clock.
func (SystemClock) Every(d time.Duration) (ticks <-chan time.Time, stop func()) {
	t := time.NewTicker(d)
	return t.C, t.Stop
}

// stopwatch measures real time, also if the service has a clock that is moved by hand.
func stopwatch() func() time.Duration {
	begun := time.Now()
	return func() time.Duration { return time.Since(begun) }
}

// Options are further arguments of Start. Networks and Clock are required.
type Options struct {
	Networks []profile.Profile
	Clock    clock.Clock
	Log      zerolog.Logger
	Version  string               // version of the program, shown by /metrics
	Load     LoadFunc             // reads the configuration anew; nil: it stays as it is
	Secrets  *config.Secrets      // whose files are watched; nil: none
	Process  string               // name of this process among those that share the records on a server
	Outdated func(error)          // called if this process must stop, because the records were migrated or moved
	New      bool                 // make new records even if something says that there were records
	RunTwice bool                 // for tests, see store.Options
	Jitter   func() float64       // of the pauses between tries, see push.Options; nil: a random number
	Records  func(*store.Options) // for tests: changes how the records are opened; nil: nothing
	Menu     *menu.Menu           // for tests: made before with the same configuration; nil: Start makes it
	Replay   ReplayFunc           // reads recorded requests for the desk; nil: it does not
	Practice bool                 // the growers are invented, and nobody needs a password for the desk
}

// Service is the running rowbell. It answers calls as soon as Start returns. The loops (bell, letters, outbox and
// upkeep) need Run; without Run, Settle does the work of all but upkeep once.
type Service struct {
	store    *store.Store
	parts    atomic.Pointer[parts]
	clock    clock.Clock
	log      zerolog.Logger
	token    string // of the gateway local, only if Start made it; the records have only the hash of the token
	meter    *meter.Meter
	nightly  *nightly // nil if there are no nightly backups
	process  process
	outdated func(error)    // see Options.Outdated
	practice bool           // see Options.Practice
	jitter   func() float64 // see Options.Jitter
	replay   ReplayFunc     // see Options.Replay
	name     string         // see Options.Process
	stands   bool           // the clock moves only between calls, so no work may wait for it
	closes   []func() error // functions that Close calls, the last first

	reloading sync.Mutex // locked while the parts are replaced
	checking  sync.Mutex // locked during checkConfiguration
	attending sync.Mutex // locked during attend
	texting   sync.Mutex // locked while a text is changed
	running   sync.WaitGroup
	ctx       context.Context // of the loops; nil: they do not run
	load      LoadFunc        // nil: the configuration cannot be read anew
	lastAsked string          // the last request to read the configuration anew that was answered
	refused   atomic.Pointer[refusal]
	notTaken  atomic.Pointer[[]string] // secrets whose files were not taken
}

// Start opens the database c.DB and makes the service. A gateway local without a token gets the token whose hash is in
// the records. At the first start there is no hash, so Start makes a token.
func Start(ctx context.Context, c config.Config, o Options) (_ *Service, err error) {
	s := &Service{clock: o.Clock, log: o.Log, outdated: o.Outdated, practice: o.Practice, replay: o.Replay,
		jitter: o.Jitter, name: o.Process}
	if s.outdated == nil {
		s.outdated = func(error) {}
	}
	s.process.shared = store.OnServer(c.DB)
	s.nightly = newNightly(c, s.clock, s.growers)
	defer func() {
		if err != nil {
			err = errors.Join(err, s.Close())
		}
	}()
	m := o.Menu
	if m == nil {
		if m, err = s.newMenu(c); err != nil {
			return nil, err
		}
	}
	networks, err := s.openRecords(ctx, c, o)
	if err != nil {
		return nil, err
	}
	s.meter = s.newMeter(c, o, networks)
	p, err := s.newParts(c, networks, m)
	if err != nil {
		return nil, err
	}
	p.secrets, s.load = o.Secrets, o.Load
	s.parts.Store(p)
	s.closes = append(s.closes, func() error { s.parts.Load().close(); return nil })
	return s, s.answerEarlierReload(ctx)
}

// newMenu builds the dialogue and logs mistakes in the operator's texts. They are no reason to refuse the start,
// because all other texts can be used. Tests check the built-in texts.
func (s *Service) newMenu(c config.Config) (*menu.Menu, error) {
	cat, err := c.Texts.Catalogue()
	if err != nil {
		return nil, err
	}
	m, err := menu.New(cat, c.Menu())
	if err != nil {
		return nil, err
	}
	problems, err := proof.Check(m)
	for _, problem := range problems {
		s.log.Warn().Str("problem", problem).Msg("texts: a text of the folder needs mending; see " + c.Texts.Command())
	}
	return m, err
}

// openRecords opens the records and writes the places of the configuration. In the returned networks, the gateway local
// has a token.
func (s *Service) openRecords(ctx context.Context, c config.Config, more Options) (
	_ []profile.Profile, err error) {
	retention := c.Keep.Retention()
	o := store.Options{Serving: true, Retention: &retention, RoutePrefixes: push.RoutePrefixes(c.PushRoutes()),
		OnDetached: s.logDetached, OnLostWrites: s.logLostWrites, New: more.New,
		Process: more.Process, RunTwice: more.RunTwice,
		Stopwatch: stopwatch(),
		Backups:   func() []string { return AllBackups(c) }}
	if c.Backup != nil && len(c.Backup.Recipients) == 0 { // a rescued copy is not encrypted
		o.RescueFolders = []string{c.Backup.Folder}
	}
	if more.Records != nil {
		more.Records(&o)
	}
	if s.store, err = store.Open(ctx, c.DB, o); err != nil {
		return nil, err
	}
	s.closes = append(s.closes, s.store.Close)
	if err := s.startProcess(ctx, more.Version); err != nil {
		return nil, err
	}
	now := s.clock.Now().Unix()
	err = s.store.InTx(ctx, func(tx *store.Tx) error { return c.PutPlaces(tx, now) })
	if err != nil {
		return nil, err
	}
	if err := s.endClaims(ctx, now); err != nil {
		return nil, err
	}
	networks, fresh, err := s.withToken(ctx, more.Networks)
	s.token = fresh
	return networks, err
}

// logLostWrites logs that acknowledged writes were lost.
func (s *Service) logLostWrites(writes int) {
	s.log.Error().Int("writes", writes).Msg("records: their write-ahead log is damaged, and what was written last is " +
		"lost, although it was acknowledged; look at the disk, and ask growers to call again")
}

// withToken returns the networks. A gateway local without a token gets the stored token or, if none is stored, a new
// one, which is returned too (fresh).
func (s *Service) withToken(ctx context.Context, networks []profile.Profile) (
	_ []profile.Profile, fresh string, err error) {
	networks = slices.Clone(networks)
	for i, n := range networks {
		if n.Name == config.LocalGateway && n.Trust == nil && n.Token == (profile.Hash{}) && n.USSD.Method != "" {
			if networks[i].Token, fresh, err = networkToken(ctx, s.store); err != nil {
				return nil, "", err
			}
		}
	}
	return networks, fresh, nil
}

// endClaims ends the leases of a service that crashed, and logs how many texts are in doubt.
func (s *Service) endClaims(ctx context.Context, now int64) error {
	var ended store.Interrupted
	var undecided int64
	err := s.store.InTx(ctx, func(tx *store.Tx) (err error) {
		if ended, err = tx.EndClaims(now); err == nil {
			undecided, err = tx.UndecidedCount(now)
		}
		return err
	})
	if err == nil && ended != (store.Interrupted{}) {
		s.log.Warn().Int64("queued", ended.Queued).Int64("sent_again", ended.Again).Int64("unknown", ended.Unknown).
			Msg("texts: the service was broken off while it sent; texts that no network can have are sent as usual, " +
				"and texts that an idempotent network may have are sent to it again")
	}
	if err == nil && undecided > 0 {
		s.log.Warn().Msg(undecidedNote(undecided))
	}
	return err
}

func undecidedNote(texts int64) string {
	return fmt.Sprintf("texts in doubt: %d; a network may have taken them and did not say; "+
		"rowbell sending unknown shows them, sends them again or leaves them", texts)
}

// networkToken returns the stored hash of the token of the gateway local. Without a hash, it makes a token (fresh) and
// stores its hash.
func networkToken(ctx context.Context, s *store.Store) (hash profile.Hash, fresh string, err error) {
	err = s.InTx(ctx, func(tx *store.Tx) error {
		stored, ok, err := tx.TokenHash(config.LocalGateway)
		if err != nil {
			return err
		}
		if ok && len(stored) == len(hash) {
			copy(hash[:], stored)
			return nil
		}
		fresh = rand.Text()
		hash = profile.HashToken(fresh)
		return tx.SetTokenHash(config.LocalGateway, hash[:])
	})
	return hash, fresh, err
}

// newSender makes the sender of the outbox for the networks with a push URL, and the connections to them. Without such
// a network, texts go to the log.
func (s *Service) newSender(c config.Config, networks []profile.Profile) (
	_ *push.Sender, links []*push.HTTP, err error,
) {
	encoder := c.Encoder()
	o := push.Options{Store: s.store, Meter: s.meter, Clock: s.clock, Log: s.log, QuietHour: c.QuietHour,
		Jitter: s.jitter, Routes: c.PushRoutes(), Limits: c.Limits.Set, NumberLimits: c.Limits.Number,
		Segments: func(s string) int { return encoder.Encode(s).Segments }}
	var found fault.List
	for _, p := range networks {
		if p.Push.URL == "" {
			continue
		}
		h, wrong := push.NewHTTP(p, s.clock, s.log)
		if wrong != nil {
			found.Add("", wrong)
			continue
		}
		links = append(links, h)
		o.Gateways = append(o.Gateways, outlet(p, h))
	}
	if found.Err() != nil {
		return nil, links, found.Err()
	}
	if len(o.Gateways) == 0 {
		o.Gateways = append(o.Gateways, outlet(networks[0], push.Log{Log: s.log}))
	}
	return push.New(o), links, nil
}

func outlet(p profile.Profile, n push.Network) push.Gateway {
	return push.Gateway{Name: p.Name, Network: n, Rate: p.Push.Rate, Concurrency: p.Push.Concurrency,
		Timeout: p.Push.Timeout, Idempotent: p.Push.Idempotent, SegmentPrice: p.Push.SegmentPrice, Limits: p.Limits}
}

// Handler returns the HTTP handler of calls, /healthz, /readyz and /metrics.
func (s *Service) Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { s.parts.Load().gateway.ServeHTTP(w, r) })
}

// Store returns the records, which Close closes.
func (s *Service) Store() *store.Store { return s.store }

// Run starts the loops bell, letters, outbox and upkeep, watches the database file, and checks for new secrets and for
// requests to read the configuration anew, until ctx ends or Close is called.
func (s *Service) Run(ctx context.Context) {
	ctx, cancel := context.WithCancel(ctx)
	s.reloading.Lock()
	s.ctx = ctx
	s.parts.Load().run(s)
	s.reloading.Unlock()
	s.running.Go(func() { s.runUpkeep(ctx) })
	s.running.Go(func() { s.runAttention(ctx) })
	s.running.Go(func() { s.every(ctx, fileCheckEvery, s.checkFile) })
	if s.process.shared {
		s.running.Go(func() { s.every(ctx, processRenewEvery, s.renewProcess) })
	}
	s.running.Go(func() { s.every(ctx, meter.CountEvery, s.meter.Count) })
	s.running.Go(func() { s.every(ctx, configurationCheckEvery, s.checkConfiguration) })
	s.closes = append(s.closes, func() error {
		s.reloading.Lock() // no new loops are started from now on
		cancel()
		s.reloading.Unlock()
		s.running.Wait()
		return nil
	})
}

// Settle runs bell, letters and outbox until no work is due, and brings the list of the morning up to date.
func (s *Service) Settle(ctx context.Context) error {
	for {
		p := s.parts.Load()
		rung, err := p.bell.Ring(ctx, s.clock.Now())
		if err != nil {
			return err
		}
		written, err := p.letters.Write(ctx, s.clock.Now())
		if err != nil {
			return err
		}
		sent, err := p.push.Send(ctx)
		if err != nil {
			return err
		}
		if rung == 0 && written == 0 && sent == 0 {
			return s.attend(ctx)
		}
	}
}

// Close ends the loops, then closes the connections and the records.
func (s *Service) Close() error {
	var errs []error
	for _, closes := range slices.Backward(s.closes) {
		errs = append(errs, closes())
	}
	s.closes = nil
	return errors.Join(errs...)
}
