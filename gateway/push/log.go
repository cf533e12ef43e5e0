package push

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"rowbell/store"
)

// The functions in this file log what happens to outgoing texts. They log a condition, such as a network that fails,
// when it begins and when it ends. They name a text by its id and kind, and never log its phone number or its words.

// succeeded tells the breaker that the network answered. If that closes the breaker, succeeded logs it and makes the
// waiting texts due again.
func (w *worker) succeeded() {
	if !w.breaker.succeeded() {
		return
	}
	w.s.o.Meter.Breaker(w.g.Name, false)
	w.s.o.Log.Info().Str("gateway", w.g.Name).Msg("push: the network answers again; texts go through it")
	w.s.releaseDeferred()
	w.s.Kick()
}

// failed tells the breaker about a try that failed because of the network, not of the text. If that opens the breaker,
// failed logs it and lets the workers of other networks send the texts.
func (w *worker) failed(now time.Time, r *Refusal) {
	if !w.breaker.failedAt(now, r.After, r.Hold) {
		return
	}
	w.s.o.Meter.Breaker(w.g.Name, true)
	if r.Hold {
		w.s.o.Log.Warn().Str("gateway", w.g.Name).Str("reason", r.Reason).
			Str("pause", min(r.After, longestAsked).String()).
			Msg("push: the network asks for a pause; texts go through the next network of their route, or wait")
	} else {
		w.s.o.Log.Error().Str("gateway", w.g.Name).Str("reason", r.Reason).
			Msg("push: the network failed several times in a row and is paused, except for a probe now and then; " +
				"texts go through the next network of their route, or wait; " +
				"check its address, and ask its operator")
	}
	w.s.Kick()
}

// logBatch logs the texts that were refused for good, and when texts stop or start to go out. It returns how many texts
// the network took.
func (w *worker) logBatch(ctx context.Context, batch []store.Message, errs []error) (taken int) {
	trouble, unsure := "", ""
	for i, err := range errs {
		var refusal *Refusal
		switch {
		case err == nil:
			taken++
		case errors.Is(err, errNotTried):
		case errors.As(err, &refusal) && final(refusal):
			w.s.o.Log.Warn().Int64("message", batch[i].ID).Str("gateway", w.g.Name).
				Str("kind", batch[i].Kind()).Str("reason", refusal.Reason).
				Msg("the network refused a text")
		case errors.As(err, &refusal) && refusal.MaybeSent && !w.g.Idempotent:
			trouble = err.Error()
			w.s.o.Log.Warn().Int64("message", batch[i].ID).Str("gateway", w.g.Name).
				Str("kind", batch[i].Kind()).Str("reason", refusal.Reason).
				Msg("push: nobody knows whether the network took a text; it is unknown, and is not sent again")
		case errors.As(err, &refusal) && refusal.MaybeSent:
			trouble, unsure = err.Error(), refusal.Reason
		default:
			trouble = err.Error()
		}
	}
	switch {
	case ctx.Err() != nil: // the service is stopping, so the errors do not come from the network
	case taken > 0:
		w.logTrouble("")
		w.logUnsure(unsure)
	case trouble != "":
		w.logTrouble(trouble)
	}
	return taken
}

// logUnsure logs the reason why a network that took some texts of a batch may have taken others too. It logs a reason
// only once until another reason follows.
func (w *worker) logUnsure(reason string) {
	if reason == "" || reason == w.unsure {
		return
	}
	w.unsure = reason
	w.s.o.Log.Warn().Str("gateway", w.g.Name).Str("reason", reason).
		Msg("push: nobody knows whether the network took some texts; they are sent again with the same ids")
}

// logTrouble logs the reason why texts do not go out, each reason once. "" means that they go out again. While the
// breaker is open, logTrouble logs no reason, because failed has logged it.
func (w *worker) logTrouble(trouble string) {
	switch {
	case trouble == w.trouble:
		return
	case trouble == "":
		w.s.o.Log.Info().Str("gateway", w.g.Name).Msg("push: texts go out again")
	case !w.breaker.closed():
		return
	default:
		w.s.o.Log.Error().Str("gateway", w.g.Name).Str("reason", trouble).
			Msg("push: texts do not go out; trying again")
	}
	w.trouble = trouble
}

// logOperatorHold logs when the operator stops all sending and when the operator allows sending again.
func (s *Sender) logOperatorHold(ctx context.Context, gateway string, hold bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if hold == s.operatorHold {
		return
	}
	s.operatorHold = hold
	if !hold {
		s.o.Log.Info().Msg("push: the operator hold is over; texts that are still useful go out")
		return
	}
	s.o.Meter.Limited(gateway, "all", "switch")
	var why store.SendingHold
	_ = s.o.Store.View(ctx, func(tx *store.Tx) (err error) { // if the reason cannot be read, the line has no reason
		why, _, err = tx.SendingHeld()
		return err
	})
	s.o.Log.Warn().Str("why", why.Why).Time("since", time.Unix(why.Since, 0).UTC()).
		Msg("push: an operator holds all texts; rowbell sending go releases them")
}

// limitKeys gives the key in rowbell.toml of each limit of texts or money, so that a log line names the limit as the
// operator wrote it.
var limitKeys = map[string]string{"texts": "texts_a_day", "money-day": "money_a_day", "money-month": "money_a_month"}

// logDeferred logs that a limit defers texts. The limit is logged only once until it is over.
func (s *Sender) logDeferred(gateway string, now time.Time, d store.Deferred) {
	for range d.Texts {
		s.o.Meter.Limited(gateway, d.Scope, d.Limit)
	}
	key := limitKeys[d.Limit] + " of " + d.Scope
	if d.Scope == "gateway" {
		key += " " + gateway
	}
	s.mu.Lock()
	logged := now.Unix() < s.limitUntil[key]
	s.limitUntil[key] = d.Until
	s.mu.Unlock()
	if !logged {
		s.o.Log.Warn().Str("gateway", gateway).Str("scope", d.Scope).Str("limit", limitKeys[d.Limit]).
			Time("until", time.Unix(d.Until, 0).UTC()).
			Msg("push: a limit is reached; texts over it are deferred, and expire if they are not useful by then; " +
				"see rowbell sending")
	}
}

// Limits lists the limits that defer texts at the instant now, with their ends, except the limits of single numbers.
func (s *Sender) Limits(now time.Time) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var list []string
	for key, until := range s.limitUntil {
		if now.Unix() < until && !strings.HasSuffix(key, " of number") {
			list = append(list, key+" until "+time.Unix(until, 0).UTC().Format("2 Jan 15:04 UTC"))
		}
	}
	slices.Sort(list)
	return list
}
