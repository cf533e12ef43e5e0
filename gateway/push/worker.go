package push

import (
	"context"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"rowbell/store"
)

// lookEvery is the time between two looks at the outbox for texts that are due.
const lookEvery = time.Second

// textsPerSender is how many texts of a batch each concurrent sender gets on average.
const textsPerSender = 4

// maxLease bounds how long texts stay claimed after their worker crashed.
const maxLease = 5 * time.Minute

// settleTime is the last part of a lease, in which no try is made, so that a slow try's result is stored before another
// worker treats the text as lost. It is twice as long as a write waits for a locked database.
const settleTime = 10 * time.Second

// tidyStep bounds how many texts one step of background work expires, suppresses at night or releases: they take about
// a millisecond.
const tidyStep = 25

// worker sends through one network.
type worker struct {
	s       *Sender
	g       Gateway
	routes  []workerRoute
	breaker *breaker
	record  *record
	rate    *rate.Limiter
	kicks   chan struct{}
	sending sync.Mutex    // locked during Send, so that only one Send runs at a time
	before  *worker       // the worker of the previous sender for this network, until it has ended; nil: none
	ended   chan struct{} // closed when run has ended
	trouble string        // why texts do not go out, as last logged; "" = texts go out
	unsure  string        // why the network may have taken some texts, as last logged

	unsettled []store.Settlement // outcomes that could not be stored yet; settle stores them before the next claim
}

func newWorker(s *Sender, g Gateway) *worker {
	limit := rate.Inf
	if g.Rate > 0 {
		limit = rate.Limit(g.Rate)
	}
	// The burst is the number of texts allowed at one look: as many as the rate allows in lookEvery, but at least one.
	burst := max(1, int(g.Rate*lookEvery.Seconds()))
	return &worker{s: s, g: g, breaker: &breaker{}, record: &record{}, rate: rate.NewLimiter(limit, burst),
		kicks: make(chan struct{}, 1), ended: make(chan struct{})}
}

func (w *worker) run(ctx context.Context) {
	defer close(w.ended)
	if w.before != nil {
		<-w.before.ended // so that no text overtakes one that is being sent, and the network gets no more at once
		w.inherit()
	}
	ticks, stop := w.s.o.Clock.Every(lookEvery)
	defer stop()
	for !w.s.stopped() {
		_, _ = w.Send(ctx) // Send logs its errors itself, and texts that were not sent are due again
		select {
		case <-ctx.Done():
			return
		case <-w.s.stop:
			return
		case <-ticks:
		case <-w.kicks:
		}
	}
}

// Send sends the texts that are due through this network.
func (w *worker) Send(ctx context.Context) (taken int, err error) {
	w.sending.Lock()
	defer w.sending.Unlock()
	if taken, err = w.send(ctx); err != nil && ctx.Err() == nil {
		w.logTrouble(err.Error())
	}
	return taken, err
}

func (w *worker) send(ctx context.Context) (taken int, err error) {
	for ctx.Err() == nil && !w.s.stopped() {
		if err := w.settle(ctx); err != nil { // outcomes that could not be stored the last time
			return taken, err
		}
		batch, until, err := w.claim(ctx, w.s.o.Clock.Now())
		if err != nil || len(batch) == 0 {
			return taken, err
		}
		outcomes, n := w.try(ctx, batch, until)
		taken += n
		w.unsettled = outcomes
		if err := w.settle(ctx); err != nil {
			return taken, err
		}
	}
	return taken, ctx.Err()
}

// settle writes the outcomes of tries to the records, even while the service stops. If outcomes cannot be written, for
// example to a full disk, they stay in memory for the next call of settle. If they were lost, the records would only
// say that the network may have the texts.
func (w *worker) settle(ctx context.Context) error {
	if len(w.unsettled) == 0 {
		return nil
	}
	err := w.s.o.Store.InTx(context.WithoutCancel(ctx), func(tx *store.Tx) error {
		return tx.Settle(w.s.o.Clock.Now().Unix(), w.unsettled...)
	})
	if err == nil {
		w.unsettled = nil
	}
	return err
}

// claim claims due texts, as many as the rate and the breaker allow, and charges their cost in the same transaction.
// Tries must end by until, so that their outcomes are stored within the lease. Even if no text can be sent, claim
// expires useless texts and suppresses reminders at night.
func (w *worker) claim(ctx context.Context, now time.Time) (batch []store.Message, until time.Time, err error) {
	n := w.breaker.allows(now, w.rateAllows(now))
	// The lease is long enough for the slowest batch, in which all texts are for one phone and every try times out. So
	// no other worker takes a text that is being tried. The lease has an upper bound: a text whose turn does not come
	// within it goes back to the outbox.
	lease := min(time.Duration(n+1)*w.g.Timeout+settleTime, max(maxLease, 2*w.g.Timeout+settleTime))
	var claims store.Claims
	err = w.s.o.Store.Background(ctx, func(tx *store.Tx) (done bool, err error) {
		// The claim is in the same step as the last look for texts that must not go out, so that none is claimed.
		expired, err := tx.ExpireStale(now.Unix(), tidyStep)
		if err != nil || expired == tidyStep {
			return false, err
		}
		suppressed, err := tx.SuppressAtNight(now.Unix(), w.s.o.QuietHour, tidyStep)
		if err != nil || suppressed == tidyStep || n == 0 {
			return n == 0 && suppressed < tidyStep, err
		}
		claims, err = tx.Claim(now.Unix(), store.Claimant{
			Gateway: w.g.Name, RoutePrefixes: w.openPrefixes(), Back: w.s.backGateways(now),
			Max: n, Lease: lease, AtMostOnce: !w.g.Idempotent,
			Segments: w.s.o.Segments, Price: w.g.SegmentPrice,
			All: storeLimits(w.s.o.Limits), Own: storeLimits(w.g.Limits), Number: storeLimits(w.s.o.NumberLimits),
		})
		// After leases have ended, the looks come again before their texts are claimed.
		return !claims.Ended || len(claims.Texts) > 0, err
	})
	if err != nil {
		return nil, until, err
	}
	if n > 0 {
		w.s.logOperatorHold(ctx, w.g.Name, claims.OperatorHold)
	}
	for _, d := range claims.Deferred {
		w.s.logDeferred(w.g.Name, now, d)
	}
	w.rate.AllowN(now, len(claims.Texts))
	return claims.Texts, time.Unix(claims.Until, 0).Add(-settleTime), nil
}

// rateAllows returns the size of the batch that the rate allows now.
func (w *worker) rateAllows(now time.Time) int {
	n := w.g.Concurrency * textsPerSender
	if w.rate.Limit() != rate.Inf {
		n = min(n, int(w.rate.TokensAt(now)))
	}
	return n
}
