// Package push carries texts from the outbox to the networks: for each network
// a loop claims what is due, tries each text once, and writes how that ended,
// in batches.
//
//	s := push.New(push.Options{Store: s, Clock: c, Log: log, Gateways: []push.Gateway{{Name: "heron", Network: n}}})
//	go s.Run(ctx)
//	s.Kick() // something was put into the outbox
//
// A text goes through the first network of its number's route that is not left
// alone for failing (route.go, breaker.go). To a network that knows a repeat by
// its key it is sent at least once: one that took it while we could not hear
// the answer gets it again with the same key, and no other network gets it. To
// one that does not, it is sent at most once, and may end as unknown. What a
// text says is decided before it comes here. Whether it should still go out is
// asked again just before each try, and no reminder goes out by night.
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

// Network takes one text.
type Network interface {
	// Push hands m over and returns the network's own id of it, "" if it has
	// none. A *Refusal says why it was not taken; after any other error it is
	// not known whether it was.
	Push(ctx context.Context, m store.Message) (networkID string, err error)
}

// Refusal is a network's no.
type Refusal struct {
	Again  bool          // the same text may be taken later
	Unsure bool          // no answer was heard: the network may have taken it all the same
	Number bool          // the network knows no phone of this number
	After  time.Duration // the network asked not to be tried before; 0 = it did not say
	Reason string        // a few words, without number or text
}

func (r *Refusal) Error() string { return "push: " + r.Reason }

// Gateway is a network and how it is used. Name and Network must be set.
type Gateway struct {
	Name         string
	Network      Network
	Rate         float64       // texts a second; 0 = no limit
	Concurrency  int           // texts on the way at once; 0 = profile.DefaultConcurrency
	Timeout      time.Duration // of one try; 0 = profile.DefaultTimeout
	Idempotent   bool          // it sends once what it gets twice with the same key
	SegmentPrice int64         // millionths of the currency's unit
	Limits       limit.Set
}

// Options are what a Sender needs. Store, Clock and a gateway must be set.
type Options struct {
	Store    *store.Store
	Clock    clock.Clock
	Log      zerolog.Logger
	Meter    *meter.Meter // nil: nothing is counted
	Gateways []Gateway
	Routes   []Route // none for a number: all gateways, in their order

	Limits       limit.Set             // of all gateways together
	NumberLimits limit.Set             // of one number
	Segments     func(text string) int // nil: as no shift table is used

	Every     time.Duration  // how often the outbox is looked at; 0 = a second
	QuietHour int            // from this local hour on no reminder is sent until morning; must be set
	Jitter    func() float64 // in [0, 1); nil: random
}

// Sender sends what is in the outbox.
type Sender struct {
	o       Options
	workers []*worker
	sending sync.Mutex // one Send at a time

	mu    sync.Mutex
	held  bool             // by an operator, said in the log
	limit map[string]int64 // until when a limit holds texts, by scope and limit, said in the log
}

// New returns a sender; Run or Send make it work. The prefixes of its routes
// must be the lanes of the store.
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
	s := &Sender{o: o, limit: map[string]int64{}}
	for _, g := range o.Gateways {
		if g.Name == "" || g.Network == nil {
			panic("push: a Gateway needs a Name and a Network")
		}
		g.Concurrency = cmp.Or(g.Concurrency, profile.DefaultConcurrency)
		g.Timeout = cmp.Or(g.Timeout, profile.DefaultTimeout)
		s.workers = append(s.workers, newWorker(s, g))
	}
	s.route()
	return s
}

// Kick has Run look at the outbox now. It never waits.
func (s *Sender) Kick() {
	for _, w := range s.workers {
		w.kick()
	}
}

// Run sends on every tick of the clock and on every kick until ctx ends. What
// is on its way then is broken off and goes back into the outbox, or is waited
// for where the network would send it twice.
func (s *Sender) Run(ctx context.Context) {
	var loops sync.WaitGroup
	for _, w := range s.workers {
		loops.Go(func() { w.run(ctx) })
	}
	loops.Wait()
}

// Send sends all that is due now and that the rates allow, a network after the
// other, and returns how many texts the networks took. Texts that failed are
// due again later, by the clock.
func (s *Sender) Send(ctx context.Context) (taken int, err error) {
	s.sending.Lock()
	defer s.sending.Unlock()
	for {
		turns := s.turns()
		for _, w := range s.workers {
			n, failed := w.Send(ctx)
			taken += n
			if err == nil {
				err = failed
			}
		}
		if err != nil || s.turns() == turns {
			return taken, err
		}
		// A network is left alone now, or is back: texts may have another way.
	}
}

// turns counts how often a network was left alone or taken up again.
func (s *Sender) turns() (n int) {
	for _, w := range s.workers {
		n += w.breaker.turned()
	}
	return n
}

// maxLetGo bounds how many texts one transaction lets go.
const maxLetGo = 500

// letGo has texts that a limit holds looked at anew: the limit of one network
// is none of another that is back.
func (s *Sender) letGo() {
	for n := maxLetGo; n == maxLetGo; {
		err := s.o.Store.InTx(context.Background(), func(tx *store.Tx) (err error) {
			n, err = tx.ReleaseDeferred(maxLetGo)
			return err
		})
		if err != nil {
			s.o.Log.Warn().Str("why", store.Advice(err)).Msg("push: texts that a limit holds were not looked at anew; they wait for the limit's next day")
			return
		}
	}
}

// limits are a configuration's, as the store counts.
func limits(l limit.Set) store.Limits {
	return store.Limits{TextsADay: int64(l.TextsADay), MicrosADay: micros(l.MoneyADay), MicrosAMonth: micros(l.MoneyAMonth)}
}

func micros(money float64) int64 { return int64(math.Round(money * 1e6)) }
