package push

import (
	"context"
	"errors"
	"net"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"rowbell/store"
)

// rounds is how many texts each sender gets in one batch, on the average.
const rounds = 4

// maxLease bounds how long texts are held back after a crash.
const maxLease = 5 * time.Minute

// settleTime is the part of a lease in which no try is on: a try that ended
// late is settled in it, before another worker may take its text for lost.
// Twice as long as a write waits for a locked database.
const settleTime = 10 * time.Second

// maxHush bounds how many reminders one transaction takes back at night.
const maxHush = 500

// worker sends through one network.
type worker struct {
	s       *Sender
	g       Gateway
	ways    []way
	breaker breaker
	limit   *rate.Limiter
	kicks   chan struct{}
	sending sync.Mutex // one Send at a time
	trouble string     // why texts do not go out, said once; "" = they do

	ended []store.Settlement // of tries, while the records do not take them
}

func newWorker(s *Sender, g Gateway) *worker {
	limit := rate.Inf
	if g.Rate > 0 {
		limit = rate.Limit(g.Rate)
	}
	// What may go out in one look at the outbox, and never nothing.
	burst := max(1, int(g.Rate*s.o.Every.Seconds()))
	return &worker{s: s, g: g, limit: rate.NewLimiter(limit, burst), kicks: make(chan struct{}, 1)}
}

func (w *worker) kick() {
	select {
	case w.kicks <- struct{}{}:
	default:
	}
}

func (w *worker) run(ctx context.Context) {
	ticks, stop := w.s.o.Clock.Every(w.s.o.Every)
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

// Send sends what is due and has this network's way.
func (w *worker) Send(ctx context.Context) (taken int, err error) {
	w.sending.Lock()
	defer w.sending.Unlock()
	if taken, err = w.send(ctx); err != nil && ctx.Err() == nil {
		w.say(err.Error())
	}
	return taken, err
}

func (w *worker) send(ctx context.Context) (taken int, err error) {
	for ctx.Err() == nil {
		if err := w.settle(ctx); err != nil { // those of the last time
			return taken, err
		}
		now := w.s.o.Clock.Now()
		batch, until, err := w.claim(ctx, now)
		if err != nil || len(batch) == 0 {
			return taken, err
		}
		done, n := w.try(ctx, batch, until)
		taken += n
		w.ended = done
		if err := w.settle(ctx); err != nil {
			return taken, err
		}
	}
	return taken, ctx.Err()
}

// settle writes down how tries ended, also while stopping. What the records do
// not take now, on a full disk, is kept for the next time: otherwise, when the
// lease ends, nothing would be known but that the network may have the text.
func (w *worker) settle(ctx context.Context) error {
	if len(w.ended) == 0 {
		return nil
	}
	err := w.s.o.Store.InTx(context.WithoutCancel(ctx), func(tx *store.Tx) error {
		return tx.Settle(w.s.o.Clock.Now().Unix(), w.ended...)
	})
	if err == nil {
		w.ended = nil
	}
	return err
}

// claim takes what is due, as many as rate and breaker allow. Tries must end
// by until, so that they are settled before the lease is over. It also ends what
// is over, whether or not anything can be sent.
func (w *worker) claim(ctx context.Context, now time.Time) (batch []store.Message, until time.Time, err error) {
	n := w.g.Concurrency * rounds
	if w.limit.Limit() != rate.Inf {
		n = min(n, int(w.limit.TokensAt(now)))
	}
	n = w.breaker.allows(now, n)
	// As long as the batch can last when all of it is for one phone and every
	// try runs into its timeout: no other worker takes a text that is still on
	// its way. What would last longer than the longest lease goes back untried.
	lease := min(time.Duration(n+1)*w.g.Timeout+settleTime, max(maxLease, 2*w.g.Timeout+settleTime))
	var claims store.Claims
	for hushed := maxHush; hushed == maxHush; {
		err = w.s.o.Store.InTx(ctx, func(tx *store.Tx) (err error) {
			if _, err = tx.ExpireStale(now.Unix()); err != nil {
				return err
			}
			hushed, err = tx.SuppressAtNight(now.Unix(), w.s.o.QuietHour, maxHush)
			if err != nil || hushed == maxHush || n == 0 {
				return err
			}
			claims, err = tx.Claim(now.Unix(), store.Claimant{
				Gateway: w.g.Name, RoutePrefixes: w.lanes(), Max: n, Lease: lease, AtMostOnce: !w.g.Idempotent,
				Segments: w.s.o.Segments, Price: w.g.SegmentPrice,
				All: limits(w.s.o.Limits), Own: limits(w.g.Limits), Number: limits(w.s.o.NumberLimits),
			})
			return err
		})
		if err != nil {
			return nil, until, err
		}
	}
	if n > 0 {
		w.s.sayHeld(ctx, w.g.Name, claims.OperatorHold)
	}
	for _, h := range claims.Deferred {
		w.s.sayLimit(w.g.Name, now, h)
	}
	w.limit.AllowN(now, len(claims.Texts))
	return claims.Texts, time.Unix(claims.Until, 0).Add(-settleTime), nil
}

// try sends a batch, a few at once but each phone's texts one after the other,
// and returns how each ended and how many were taken.
func (w *worker) try(ctx context.Context, batch []store.Message, until time.Time) (done []store.Settlement, taken int) {
	done = make([]store.Settlement, len(batch))
	errs := make([]error, len(batch))
	phones := byPhone(batch)
	next := make(chan []int)
	var senders sync.WaitGroup
	for range min(w.g.Concurrency, len(phones)) {
		senders.Go(func() {
			for texts := range next {
				waits := false // one before it is to be tried again
				for _, i := range texts {
					if waits {
						done[i], errs[i] = batch[i].Back(w.s.o.Clock.Now().Unix(), "not tried: one before it is to be tried again"), errLeft
						continue
					}
					done[i], errs[i] = w.one(ctx, batch[i], until)
					waits = done[i].Waits()
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
		if errors.As(err, &no) && final(no) {
			w.s.o.Log.Warn().Int64("message", batch[i].ID).Str("gateway", w.g.Name).Str("kind", batch[i].Kind()).Str("reason", no.Reason).
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

// final reports that a refusal is about this text, and for good.
func final(r *Refusal) bool { return !r.Unsure && (r.Number || !r.Again) }

// errLeft says that a text was not tried, and that nothing is wrong.
var errLeft = errors.New("push: not tried")

// one tries one text once, if there is time for it until the lease ends.
func (w *worker) one(ctx context.Context, m store.Message, until time.Time) (store.Settlement, error) {
	now := w.s.o.Clock.Now()
	switch {
	case ctx.Err() != nil:
		return m.Back(now.Unix(), "not tried: stopping"), ctx.Err()
	case now.Add(w.g.Timeout).After(until):
		return m.Back(now.Unix(), "not tried: others took too long"), errLeft
	case w.breaker.allows(now, 1) == 0:
		return m.Back(now.Unix(), "not tried: the network fails"), errLeft
	}
	holds, held := false, false
	err := w.s.o.Store.View(ctx, func(tx *store.Tx) (err error) {
		if holds, err = tx.StillClaimed(m, now.Unix()); err == nil {
			_, held, err = tx.SendingHeld()
		}
		return err
	})
	switch {
	case err != nil:
		return m.Back(Next(now, m.Tries, 0, w.s.o.Jitter()).Unix(), "not tried: the records cannot be read"), err
	case held:
		return m.Back(now.Unix(), "not tried: an operator holds all texts"), errLeft
	case !holds: // what was withdrawn meanwhile stays so
		return m.Expire("not useful any more"), errLeft
	}
	id, no := w.push(ctx, m)
	after := w.s.o.Clock.Now()
	w.s.o.Meter.Pushed(w.g.Name, outcome(no), after.Sub(now))
	if no == nil {
		w.worked()
		return m.Took(id), nil
	}
	if final(no) {
		w.worked() // the network is well
		if no.Number {
			return m.NoSuchNumber(no.Reason), no
		}
		return m.Refuse(no.Reason), no
	}
	if ctx.Err() == nil {
		w.failed(after, no)
	}
	// Past its useful time the store ends it instead.
	next := Next(after, m.Tries, no.After, w.s.o.Jitter()).Unix()
	switch {
	case !no.Unsure:
		return m.Again(next, no.Reason), no
	case w.g.Idempotent:
		return m.Unsure(next, no.Reason), no
	}
	return m.LostTrack(no.Reason), no
}

// push hands one text over. A network that would send it twice is heard out
// also while stopping: what is broken off there is lost track of.
func (w *worker) push(ctx context.Context, m store.Message) (id string, no *Refusal) {
	if !w.g.Idempotent {
		ctx = context.WithoutCancel(ctx)
	}
	ctx, cancel := context.WithTimeout(ctx, w.g.Timeout)
	defer cancel()
	id, err := w.g.Network.Push(ctx, m)
	if err == nil {
		return id, nil
	}
	if errors.As(err, &no) {
		return "", no
	}
	return "", &Refusal{Again: true, Unsure: !neverLeft(err), Reason: reason(err)}
}

// neverLeft reports that no connection was made: nothing can have arrived.
func neverLeft(err error) bool {
	var op *net.OpError
	return errors.As(err, &op) && op.Op == "dial"
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

// outcome is how a try ended, as the meter counts.
func outcome(no *Refusal) string {
	switch {
	case no == nil:
		return "taken"
	case no.Unsure:
		return "unsure"
	case no.Number:
		return "number"
	case no.Again:
		return "again"
	}
	return "never"
}
