// Package push sends the texts of the outbox. For each network a worker claims the texts that are due, tries
// each text once, and writes the outcomes to the records in batches.
//
//	gateways := []push.Gateway{{Name: "heron", Network: n}}
//	s := push.New(push.Options{Store: s, Clock: c, Log: log, QuietHour: 20, Gateways: gateways})
//	go s.Run(ctx)
//	s.Kick() // texts were written to the outbox
//
// The package decides neither what a text says nor who gets it. Before each try it checks whether the text should still
// go out. At night it sends no reminders.
//
// A text goes through the first network of its number's route (route.go) whose circuit breaker (breaker.go) is closed.
// An idempotent network recognises a repeated text by its key and gets a text at least once: without an answer, it
// alone gets the text again with the same key. Another network gets a text at most once, even if the service crashes;
// the text's final state may then be unknown.
package push

import (
	"cmp"
	"context"
	"math"
	"math/rand/v2"
	"sync"
	"sync/atomic"
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
	// Push hands m to the network and returns the network's id of the text, "" for none. The error is a *Refusal if the
	// network did not take the text. After any other error the network may have taken the text.
	Push(ctx context.Context, m store.Message) (networkID string, err error)
}

// Refusal is a try that did not succeed.
type Refusal struct {
	Again         bool          // the same text may be tried again later
	MaybeSent     bool          // the network did not answer, but may have taken the text
	UnknownNumber bool          // the network says that this phone number does not exist
	After         time.Duration // the network asked for this pause before the next try; 0 = it asked for no pause
	Hold          bool          // the pause is for all texts, not only for this one
	ID            string        // if MaybeSent: the network's id of the text, "" for none
	Reason        string        // a few words, without the phone number or the text
}

func (r *Refusal) Error() string { return "push: " + r.Reason }

// Gateway is a network and the settings for its use. Name and Network must be set.
type Gateway struct {
	Name         string
	Network      Network
	Rate         float64       // texts a second; 0 = no limit
	Concurrency  int           // texts sent at the same time; 0 = profile.DefaultConcurrency
	Timeout      time.Duration // longest time for one try; 0 = profile.DefaultTimeout
	Idempotent   bool          // the network sends a text only once if it gets the text twice with the same key
	SegmentPrice int64         // price of one SMS segment, in millionths of the currency unit
	Limits       limit.Set
}

// Options configure a Sender. Store, Clock, QuietHour and a gateway must be set.
type Options struct {
	Store    *store.Store
	Clock    clock.Clock
	Log      zerolog.Logger
	Meter    *meter.Meter // nil: nothing is counted
	Gateways []Gateway
	Routes   []Route // a number that matches no route may use all gateways, in their order

	Limits       limit.Set             // limits of all gateways together
	NumberLimits limit.Set             // limits of each phone number
	Segments     func(text string) int // counts the SMS segments of a text; nil: without national shift tables

	QuietHour int            // local hour at which quiet hours begin; they end in the morning
	Jitter    func() float64 // returns a number in [0, 1); nil: a random number
}

// Sender sends the texts of the outbox. It is safe for concurrent use.
type Sender struct {
	o       Options
	workers []*worker
	routes  []senderRoute
	sending sync.Mutex // locked during Send, so that only one Send runs at a time
	stop    chan struct{}
	runs    atomic.Bool // whether Run was called
	removed []*worker   // workers of the previous sender whose networks s does not have

	mu           sync.Mutex
	operatorHold bool             // whether sending was stopped by the operator, as last logged
	limitUntil   map[string]int64 // when each logged limit is over, in Unix seconds
}

// New returns a sender. It sends nothing until Run or Send is called. The store must have been opened with the
// RoutePrefixes of these routes. New panics if an option is missing or CheckRoutes refuses the routes.
func New(o Options) *Sender {
	if o.Store == nil || o.Clock == nil || len(o.Gateways) == 0 || o.QuietHour == 0 {
		panic("push: New needs a Store, a Clock, a Gateway and a QuietHour")
	}
	if o.Jitter == nil {
		o.Jitter = rand.Float64
	}
	if o.Segments == nil {
		o.Segments = func(s string) int { return text.Encoder{}.Encode(s).Segments }
	}
	s := &Sender{o: o, stop: make(chan struct{}), limitUntil: map[string]int64{}}
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

// Kick makes Run send the texts that are due now, without waiting for the next tick. Kick never blocks.
func (s *Sender) Kick() {
	for _, w := range s.workers {
		select {
		case w.kicks <- struct{}{}:
		default:
		}
	}
}

// Run sends the texts that are due on every tick of the clock and on every Kick, until ctx ends. Then it cancels the
// tries that have not ended, and their texts go back to the outbox. If a try's network is not idempotent, Run waits for
// the network's answer instead.
func (s *Sender) Run(ctx context.Context) {
	s.runs.Store(true)
	var loops sync.WaitGroup
	for _, w := range s.removed {
		loops.Go(func() { w.settleRest(ctx) })
	}
	for _, w := range s.workers {
		loops.Go(func() { w.run(ctx) })
	}
	loops.Wait()
}

// Send sends all texts that are due and that the rates allow, through one network after the other, and returns how many
// the networks took. A text whose try failed is due again at a later instant.
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
		// A breaker opened or closed, so texts may now have another route: send again.
	}
}

// breakerChanges returns how often any of the breakers has opened or closed. Send compares two values of it, to see
// whether texts may have another route now.
func (s *Sender) breakerChanges() (n int) {
	for _, w := range s.workers {
		n += w.breaker.changeCount()
	}
	return n
}

// releaseDeferred makes deferred texts due again. It is called when a network works again: the texts may have been
// deferred by the limit of the network that stood in for it.
func (s *Sender) releaseDeferred() {
	err := s.o.Store.Background(context.Background(), func(tx *store.Tx) (done bool, err error) {
		n, err := tx.ReleaseDeferred(tidyStep)
		return n < tidyStep, err
	})
	if err != nil {
		s.o.Log.Warn().Str("why", store.Advice(err)).
			Msg("push: deferred texts could not be released; they wait for the next day of their limit")
	}
}

// storeLimits converts the limits of a configuration to the store's units.
func storeLimits(l limit.Set) store.Limits {
	return store.Limits{
		TextsADay: int64(l.TextsADay), MicrosADay: micros(l.MoneyADay), MicrosAMonth: micros(l.MoneyAMonth),
	}
}

func micros(money float64) int64 { return int64(math.Round(money * 1e6)) }
