// Package push sends the texts of the outbox: for each network a worker claims what
// is due, tries each text once, and writes the outcomes to the records, in batches.
//
//	gateways := []push.Gateway{{Name: "heron", Network: n}}
//	s := push.New(push.Options{Store: s, Clock: c, Log: log, QuietHour: 20, Gateways: gateways})
//	go s.Run(ctx)
//	s.Kick() // texts were written to the outbox
//
// It decides neither what a text says nor whom it is for. Just before each try it
// asks again whether the text should still go out, and at night no reminder does.
//
// A text goes through the first network of its number's route (route.go) whose circuit breaker is closed
// (breaker.go). An idempotent network, which recognises a repeat by its key, gets a text at least once: if no
// answer was heard, it gets the text again with the same key, and no other network gets it. Any other network
// gets it at most once, also across a crash, and the text may end as unknown.
package push

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"rowbell/gateway/clock"
	"rowbell/gateway/limit"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/menu/text"
	"rowbell/store"
)

// Network sends one text.
type Network interface {
	// Push hands m to the network and returns the network's own id of the text, "" for none. The error is a
	// *Refusal if the network did not take the text; after any other error the network may have taken it.
	Push(ctx context.Context, m store.Message) (networkID string, err error)
}

// Refusal is a try that did not succeed.
type Refusal struct {
	Again         bool          // the same text may be tried again later
	MaybeSent     bool          // no answer was heard: the network may have taken the text
	UnknownNumber bool          // the network knows no phone of this number
	After         time.Duration // the network asked not to be tried before; 0 = it did not say
	Reason        string        // a few words, without number or text
}

func (r *Refusal) Error() string { return "push: " + r.Reason }

// Gateway is a network and how it is used. Name and Network must be set.
type Gateway struct {
	Name         string
	Network      Network
	Rate         float64       // texts a second; 0 = no limit
	Concurrency  int           // texts sent at the same time; 0 = profile.DefaultConcurrency
	Timeout      time.Duration // of one try; 0 = profile.DefaultTimeout
	Idempotent   bool          // the network sends once what it gets twice with the same key
	SegmentPrice int64         // millionths of the currency unit
	Limits       limit.Set
}

// Options configure a Sender. Store, Clock, QuietHour and a gateway must be set.
type Options struct {
	Store    *store.Store
	Clock    clock.Clock
	Log      zerolog.Logger
	Meter    *meter.Meter // may be nil
	Gateways []Gateway
	Routes   []Route // a number without a route: all gateways, in their order

	Limits       limit.Set             // of all gateways together
	NumberLimits limit.Set             // of one number
	Segments     func(text string) int // nil: counted without shift tables

	Every     time.Duration  // between two looks at the outbox; 0 = a second
	QuietHour int            // local hour at which quiet hours begin, until the morning
	Jitter    func() float64 // in [0, 1); nil: random
}

// Sender sends the texts of the outbox. It is safe for concurrent use.
type Sender struct {
	o       Options
	workers []*worker
	sending sync.Mutex // one Send at a time

	mu           sync.Mutex
	operatorHold bool             // as last logged
	limitUntil   map[string]int64 // when each limit that was logged is over
}

// New returns a sender; Run or Send make it work. The store must have been opened with RoutePrefixes of the
// same routes. New panics for missing options and for routes that CheckRoutes refuses.
func New(o Options) *Sender {
	if o.Store == nil || o.Clock == nil || len(o.Gateways) == 0 || o.QuietHour == 0 {
		panic("push: New needs a Store, a Clock, a Gateway and a QuietHour")
	}
	o.Every = cmp.Or(o.Every, time.Second)
	if o.Jitter == nil {
		o.Jitter = rand.Float64
	}
	if o.Segments == nil {
		o.Segments = func(s string) int { return text.Encoder{}.Encode(s).Segments }
	}
	s := &Sender{o: o, limitUntil: map[string]int64{}}
	for _, g := range o.Gateways {
		if g.Name == "" || g.Network == nil {
			panic("push: a Gateway needs a Name and a Network")
		}
		g.Concurrency = cmp.Or(g.Concurrency, profile.DefaultConcurrency)
		g.Timeout = cmp.Or(g.Timeout, profile.DefaultTimeout)
		s.workers = append(s.workers, newWorker(s, g))
	}
	s.assignRoutes()
	return s
}

// Kick makes Run look at the outbox now. It never blocks.
func (s *Sender) Kick() {
	for _, w := range s.workers {
		w.kick()
	}
}

// Run sends on every tick of the clock and on every Kick until ctx ends. A try that
// is under way then is cancelled and its text goes back to the outbox; on a network
// that is not idempotent Run waits for the network's answer.
func (s *Sender) Run(ctx context.Context) {
	var loops sync.WaitGroup
	for _, w := range s.workers {
		loops.Go(func() { w.run(ctx) })
	}
	loops.Wait()
}

// Send sends all that is due now and that the rates allow, one network after the other, and returns how many
// texts were taken. Texts that failed are due again later, by the clock.
func (s *Sender) Send(ctx context.Context) (taken int, err error) {
	s.sending.Lock()
	defer s.sending.Unlock()
	for {
		changes := s.breakerChanges()
		for _, w := range s.workers {
			n, failed := w.Send(ctx)
			taken += n
			if err == nil {
				err = failed
			}
		}
		if err != nil || s.breakerChanges() == changes {
			return taken, err
		}
		// A breaker opened or closed: texts may now have another route.
	}
}

// breakerChanges counts how often a breaker opened or closed.
func (s *Sender) breakerChanges() (n int) {
	for _, w := range s.workers {
		n += w.breaker.changeCount()
	}
	return n
}

// maxReleased bounds how many deferred texts one transaction releases.
const maxReleased = 500

// releaseDeferred makes deferred texts due again when a network is back, because the
// limit that deferred them may be another network's.
func (s *Sender) releaseDeferred() {
	for n := maxReleased; n == maxReleased; {
		err := s.o.Store.InTx(context.Background(), func(tx *store.Tx) (err error) {
			n, err = tx.ReleaseDeferred(maxReleased)
			return err
		})
		if err != nil {
			s.o.Log.Warn().Str("why", store.Advice(err)).
				Msg("push: deferred texts could not be released; they wait for the next day of their limit")
			return
		}
	}
}

// storeLimits converts the limits of a configuration to the store's units.
func storeLimits(l limit.Set) store.Limits {
	return store.Limits{
		TextsADay: int64(l.TextsADay), MicrosADay: micros(l.MoneyADay), MicrosAMonth: micros(l.MoneyAMonth),
	}
}

func micros(money float64) int64 { return int64(math.Round(money * 1e6)) }
