// Package push carries texts from the outbox to a network: it claims what is
// due, tries each once, and writes how that ended, in batches.
//
//	w := push.New(push.Options{Store: s, Network: n, Clock: c, Log: log})
//	go w.Run(ctx)
//	w.Kick() // something was put into the outbox
//
// A text is sent at least once: a network that took it while we could not hear
// the answer gets it again with the same idempotency key. What a text says is
// decided before it comes here. Whether it should still go out is asked again
// just before each try, and no reminder goes out by night.
package push

import (
	"cmp"
	"context"
	"errors"
	"math/rand/v2"
	"sync"
	"time"

	"github.com/rs/zerolog"
	"golang.org/x/time/rate"

	"rowbell/gateway/clock"
	"rowbell/gateway/meter"
	"rowbell/gateway/profile"
	"rowbell/store"
)

// Network takes one text.
type Network interface {
	// Push hands m over and returns the network's own id of it, "" if it has
	// none. A *Refusal says why it was not taken; any other error means that it
	// may be tried again.
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

// Options are what a Worker needs. Store, Network and Clock must be set.
type Options struct {
	Store   *store.Store
	Network Network
	Clock   clock.Clock
	Log     zerolog.Logger

	Rate        float64       // texts a second; 0 = no limit
	Concurrency int           // texts on the way at once; 0 = profile.DefaultConcurrency
	Timeout     time.Duration // of one try; 0 = profile.DefaultTimeout
	Every       time.Duration // how often the outbox is looked at; 0 = a second
	QuietHour   int           // from this local hour on no reminder is sent until morning; 0 = 20

	Jitter func() float64 // in [0, 1); nil: random
	Meter  *meter.Meter   // counts; may be nil
	Name   string         // the network's, for Meter
}

// rounds is how many texts each sender gets in one batch, on the average.
const rounds = 4

// maxLease bounds how long texts are held back after a crash.
const maxLease = 5 * time.Minute

// maxHush bounds how many reminders one transaction takes back at night.
const maxHush = 500

// Worker sends what is in the outbox.
type Worker struct {
	o       Options
	limit   *rate.Limiter
	kicks   chan struct{}
	sending sync.Mutex // one Send at a time
	trouble string     // why texts do not go out, said once; "" = they do
}

// New returns a worker; Run or Send make it work.
func New(o Options) *Worker {
	if o.Store == nil || o.Network == nil || o.Clock == nil {
		panic("push: New needs a Store, a Network and a Clock")
	}
	o.Concurrency = cmp.Or(o.Concurrency, profile.DefaultConcurrency)
	o.Timeout = cmp.Or(o.Timeout, profile.DefaultTimeout)
	o.Every = cmp.Or(o.Every, time.Second)
	o.QuietHour = cmp.Or(o.QuietHour, 20)
	if o.Jitter == nil {
		o.Jitter = rand.Float64
	}
	limit := rate.Inf
	if o.Rate > 0 {
		limit = rate.Limit(o.Rate)
	}
	// What may go out in one look at the outbox, and never nothing.
	burst := max(1, int(o.Rate*o.Every.Seconds()))
	return &Worker{o: o, limit: rate.NewLimiter(limit, burst), kicks: make(chan struct{}, 1)}
}

// Kick has Run look at the outbox now. It never waits.
func (w *Worker) Kick() {
	select {
	case w.kicks <- struct{}{}:
	default:
	}
}

// Run sends on every tick of the clock and on every kick until ctx ends. What
// is on its way then is broken off and goes back into the outbox.
func (w *Worker) Run(ctx context.Context) {
	ticks, stop := w.o.Clock.Every(w.o.Every)
	defer stop()
	for {
		_, _ = w.Send(ctx) // said in the log, and due again
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		case <-w.kicks:
		}
	}
}

// Send sends all that is due now and that the rate allows, and returns how many
// texts the network took. Texts that failed are due again later, by the clock.
func (w *Worker) Send(ctx context.Context) (taken int, err error) {
	w.sending.Lock()
	defer w.sending.Unlock()
	if taken, err = w.send(ctx); err != nil && ctx.Err() == nil {
		w.say(err.Error())
	}
	return taken, err
}

func (w *Worker) send(ctx context.Context) (taken int, err error) {
	for ctx.Err() == nil {
		now := w.o.Clock.Now()
		batch, until, err := w.claim(ctx, now)
		if err != nil || len(batch) == 0 {
			return taken, err
		}
		done, n := w.try(ctx, batch, until)
		taken += n
		settle := func(tx *store.Tx) error { return tx.Settle(w.o.Clock.Now().Unix(), done...) }
		// What the network has heard must be written down, also while stopping.
		if err := w.o.Store.InTx(context.WithoutCancel(ctx), settle); err != nil {
			return taken, err
		}
	}
	return taken, ctx.Err()
}

// claim takes what is due, as many as the rate allows, until the lease ends.
func (w *Worker) claim(ctx context.Context, now time.Time) (batch []store.Message, until time.Time, err error) {
	n := w.o.Concurrency * rounds
	if w.limit.Limit() != rate.Inf {
		n = min(n, int(w.limit.TokensAt(now)))
	}
	// As long as the batch can last when all of it is for one phone and every
	// try runs into its timeout: no other worker takes a text that is still on
	// its way. What would last longer than the longest lease goes back untried.
	lease := min(time.Duration(n+1)*w.o.Timeout, max(maxLease, 2*w.o.Timeout))
	for hushed := maxHush; hushed == maxHush; {
		err = w.o.Store.InTx(ctx, func(tx *store.Tx) (err error) {
			if _, err = tx.ExpireStale(now.Unix()); err != nil {
				return err
			}
			hushed, err = tx.Hush(now.Unix(), w.o.QuietHour, maxHush)
			if err != nil || hushed == maxHush || n == 0 {
				return err
			}
			batch, err = tx.Claim(now.Unix(), n, lease)
			return err
		})
		if err != nil {
			return nil, until, err
		}
	}
	w.limit.AllowN(now, len(batch))
	return batch, now.Add(lease), nil
}

// try sends a batch, a few at once but each phone's texts one after the other,
// and returns how each ended and how many were taken.
func (w *Worker) try(ctx context.Context, batch []store.Message, until time.Time) (done []store.Settlement, taken int) {
	done = make([]store.Settlement, len(batch))
	errs := make([]error, len(batch))
	phones := byPhone(batch)
	next := make(chan []int)
	var senders sync.WaitGroup
	for range min(w.o.Concurrency, len(phones)) {
		senders.Go(func() {
			for texts := range next {
				for _, i := range texts {
					done[i], errs[i] = w.one(ctx, batch[i], until)
				}
			}
		})
	}
	for _, texts := range phones {
		next <- texts
	}
	close(next)
	senders.Wait()
	trouble := ""
	for i, err := range errs {
		if err == nil {
			taken++
			continue
		}
		if errors.Is(err, errLeft) {
			continue
		}
		var no *Refusal
		if errors.As(err, &no) && !no.Again {
			w.o.Log.Warn().Int64("message", batch[i].ID).Str("kind", batch[i].Kind).Str("reason", no.Reason).
				Msg("the network refused a text")
			continue
		}
		trouble = err.Error()
	}
	switch {
	case ctx.Err() != nil: // stopping, not the network's fault
	case taken > 0:
		w.say("")
	case trouble != "":
		w.say(trouble)
	}
	return done, taken
}

// byPhone lists the places in the batch of each phone's texts, in order: two
// texts must not overtake each other on their way to one phone.
func byPhone(batch []store.Message) [][]int {
	var lists [][]int
	list := map[store.Phone]int{}
	for i, m := range batch {
		at, ok := list[m.To]
		if !ok {
			at = len(lists)
			list[m.To] = at
			lists = append(lists, nil)
		}
		lists[at] = append(lists[at], i)
	}
	return lists
}

// errLeft says that a text was not tried, and that nothing is wrong.
var errLeft = errors.New("push: not tried")

// one tries one text once, if there is time for it until the lease ends.
func (w *Worker) one(ctx context.Context, m store.Message, until time.Time) (store.Settlement, error) {
	now := w.o.Clock.Now()
	if err := ctx.Err(); err != nil {
		return m.Again(now.Unix(), "not tried: stopping"), err
	}
	if now.Add(w.o.Timeout).After(until) {
		return m.Again(now.Unix(), "not tried: others took too long"), errLeft
	}
	holds := false
	err := w.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		holds, err = tx.Holds(m, now.Unix())
		return err
	})
	switch {
	case err != nil:
		return m.Again(Next(now, m.Tries, 0, w.o.Jitter()).Unix(), "not tried: the records cannot be read"), err
	case !holds: // what was withdrawn meanwhile stays so
		return m.Expire("not useful any more"), errLeft
	}
	ctx, cancel := context.WithTimeout(ctx, w.o.Timeout)
	defer cancel()
	id, err := w.o.Network.Push(ctx, m)
	w.o.Meter.Pushed(w.o.Name, outcome(err), w.o.Clock.Now().Sub(now))
	if err == nil {
		return m.Took(id), nil
	}
	var no *Refusal
	if !errors.As(err, &no) {
		no = &Refusal{Again: true, Reason: reason(err)}
	}
	if !no.Again {
		return m.Refuse(no.Reason), no
	}
	now = w.o.Clock.Now()
	// Past its useful time the store lets it expire instead.
	return m.Again(Next(now, m.Tries, no.After, w.o.Jitter()).Unix(), no.Reason), no
}

// reason is an error in a few words that hold neither number nor text: what
// went wrong on the way, not where to.
func reason(err error) string {
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return "no answer in time"
	case errors.Is(err, context.Canceled):
		return "broken off"
	default:
		return "not reached"
	}
}

// say logs that texts do not go out, once for each reason, and once that they
// do again.
func (w *Worker) say(trouble string) {
	switch {
	case trouble == w.trouble:
		return
	case trouble == "":
		w.o.Log.Info().Msg("push: texts go out again")
	default:
		w.o.Log.Error().Str("reason", trouble).Msg("push: texts do not go out; trying again")
	}
	w.trouble = trouble
}
