package push

import (
	"context"
	"errors"
	"net"
	"sync"
	"time"

	"rowbell/store"
)

// errNotTried is the error of a text of a batch for which no try was made. It is not logged as a failure.
var errNotTried = errors.New("push: not tried")

// try sends a batch, to several phones at once but to one phone in order. It returns the outcomes that are not stored
// yet, and how many texts the network took.
func (w *worker) try(ctx context.Context, batch []store.Message, until time.Time) ([]store.Settlement, int) {
	errs := make([]error, len(batch))
	var mu sync.Mutex
	var unstored []store.Settlement // outcomes of senders that have ended
	phones := byPhone(batch)
	next := make(chan []int)
	var senders sync.WaitGroup
	for range min(w.g.Concurrency, len(phones)) {
		senders.Go(func() {
			var own []store.Settlement // outcomes of this sender that are not stored yet
			for texts := range next {
				retried := false // true after a text to this phone failed and will be tried again
				for _, i := range texts {
					if retried {
						now := w.s.o.Clock.Now().Unix()
						own = append(own, batch[i].Back(now, "not tried: one before it is to be tried again"))
						errs[i] = errNotTried
						continue
					}
					outcome, err := w.tryOne(ctx, batch[i], until, &own)
					own, errs[i], retried = append(own, outcome), err, outcome.Waits()
				}
			}
			mu.Lock()
			defer mu.Unlock()
			unstored = append(unstored, own...)
		})
	}
	for _, texts := range phones {
		next <- texts
	}
	close(next)
	senders.Wait()
	return unstored, w.logBatch(ctx, batch, errs)
}

// byPhone groups the indexes of a batch by phone, in order, because a text must not overtake an earlier one to its
// phone.
func byPhone(batch []store.Message) [][]int {
	var groups [][]int
	group := map[store.Phone]int{}
	for i, m := range batch {
		at, ok := group[m.To]
		if !ok {
			at = len(groups)
			group[m.To] = at
			groups = append(groups, nil)
		}
		groups[at] = append(groups[at], i)
	}
	return groups
}

// tryOne tries one text once. It makes no try that might end after until, or of a text that should not go out any more.
// The outcomes in unstored may be stored before the try; then unstored is empty.
func (w *worker) tryOne(ctx context.Context, m store.Message, until time.Time, unstored *[]store.Settlement) (
	store.Settlement, error) {
	now := w.s.o.Clock.Now()
	switch {
	case ctx.Err() != nil:
		return m.Back(now.Unix(), "not tried: stopping"), ctx.Err()
	case w.s.stopped():
		return m.Back(now.Unix(), "not tried: the configuration changes"), errNotTried
	case now.Add(w.g.Timeout).After(until):
		return m.Back(now.Unix(), "not tried: others took too long"), errNotTried
	case w.breaker.allows(now, 1) == 0:
		return m.Back(now.Unix(), "not tried: the network fails"), errNotTried
	}
	begins, hold, err := w.begin(ctx, m, now, unstored)
	switch {
	case err != nil:
		next := NextTry(now, m.Tries, 0, w.s.o.Jitter())
		return m.Later(next.Unix(), "not tried: the records cannot be used"), err
	case hold:
		return m.Back(now.Unix(), "not tried: an operator holds all texts"), errNotTried
	case !begins: // if the text was withdrawn in the meantime, the store ignores this outcome
		return m.Expire("not useful any more"), errNotTried
	}
	id, refusal := w.push(ctx, m)
	after := w.s.o.Clock.Now()
	if refusal == nil {
		w.s.o.Meter.Pushed(w.g.Name, "taken", after.Sub(now))
		w.record.took(after)
		w.succeeded()
		return m.Took(id), nil
	}
	w.record.failed(after, refusal.Reason)
	settlement, label := w.refused(ctx, m, after, refusal)
	w.s.o.Meter.Pushed(w.g.Name, label, after.Sub(now))
	return settlement, refusal
}

// begin reports whether m may be sent now, and whether an operator holds all texts. Before a network that is not
// idempotent gets a text, the try is recorded, so that after a crash nobody takes the text for one that never left. The
// same transaction stores the outcomes of the sender's earlier tries, so that each sender leaves at most one text in
// doubt. The store commits the transactions of all senders together.
func (w *worker) begin(ctx context.Context, m store.Message, now time.Time, unstored *[]store.Settlement) (
	begins, hold bool, err error) {
	if w.g.Idempotent {
		err = w.s.o.Store.View(ctx, func(tx *store.Tx) (err error) {
			if begins, err = tx.StillClaimed(m, now.Unix()); err == nil {
				_, hold, err = tx.SendingHeld()
			}
			return err
		})
		return begins, hold, err
	}
	err = w.s.o.Store.InTx(ctx, func(tx *store.Tx) error {
		if err := tx.Settle(now.Unix(), *unstored...); err != nil {
			return err
		}
		_, held, err := tx.SendingHeld()
		if hold = held; err != nil || held {
			return err
		}
		begins, err = tx.Begin(m, now.Unix())
		return err
	})
	if err != nil {
		return false, false, err
	}
	*unstored = nil
	return begins, hold, nil
}

// refused returns the outcome of a try that did not succeed, and its label for the metrics. It counts the try as a
// failure for the breaker, unless the network refused only this text for good or the service is stopping.
func (w *worker) refused(ctx context.Context, m store.Message, now time.Time, r *Refusal) (store.Settlement, string) {
	switch {
	case final(r):
		w.succeeded() // a network that answers with a refusal of one text works
		if r.UnknownNumber {
			return m.NoSuchNumber(r.Reason), "number"
		}
		return m.Refuse(r.Reason), "never"
	case ctx.Err() == nil:
		w.failed(now, r)
	}
	if r.MaybeSent && !w.g.Idempotent {
		return m.LostTrack(r.Reason).Named(r.ID), "unsure"
	}
	asked := r.After
	if other := w.s.next(m.To); !r.MaybeSent && other != nil && other != w {
		asked = 0 // another network sends the text, and it asked for no wait
	}
	// If the next try is due after the text's useful time, the store ends the text now.
	next := NextTry(now, m.Tries, asked, w.s.o.Jitter())
	reason := r.Reason
	late := asked > 0 && now.Add(asked).Unix() > m.UsefulUntil
	if late {
		reason += "; it asks to wait for " + asked.Truncate(time.Second).String() +
			", and the text is of no use by then"
		w.s.o.Log.Warn().Int64("message", m.ID).Str("gateway", w.g.Name).Str("kind", m.Kind()).Str("reason", reason).
			Msg("push: a text expires now, or is unknown if the network may have it")
	}
	switch {
	case r.MaybeSent:
		return m.Unsure(next.Unix(), reason).Named(r.ID), "unsure"
	case late:
		return m.Again(next.Unix(), reason), "expired"
	}
	return m.Again(next.Unix(), reason), "again"
}

// push hands one text to the network. If the network is not idempotent, the end of ctx does not cancel the try, because
// after a cancelled try nobody would know whether the network took the text.
func (w *worker) push(ctx context.Context, m store.Message) (id string, refusal *Refusal) {
	if !w.g.Idempotent {
		ctx = context.WithoutCancel(ctx)
	}
	ctx, cancel := context.WithTimeout(ctx, w.g.Timeout)
	defer cancel()
	id, err := w.g.Network.Push(ctx, m)
	if err == nil {
		return id, nil
	}
	if errors.As(err, &refusal) {
		return "", refusal
	}
	return "", &Refusal{Again: true, MaybeSent: !neverConnected(err), Reason: transportReason(err)}
}

// final reports whether the network refused this text for good.
func final(r *Refusal) bool { return !r.MaybeSent && (r.UnknownNumber || !r.Again) }

// neverConnected reports that no connection was made, so that the network cannot have got the text.
func neverConnected(err error) bool {
	var op *net.OpError
	return errors.As(err, &op) && op.Op == "dial"
}

// transportReason describes an error of the HTTP transport in a few words for the log and the records. The words do not
// contain the network's address, the phone number or the text, which the error itself may contain.
func transportReason(err error) string {
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		return "no answer in time"
	case errors.Is(err, context.Canceled):
		return "broken off"
	default:
		return "not reached"
	}
}
