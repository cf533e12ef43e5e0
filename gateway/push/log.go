package push

import (
	"context"
	"slices"
	"strings"
	"time"

	"rowbell/store"
)

// What an operator reads of sending stands in this file: each thing once when
// it begins and once when it is over.

// worked notes that the network answers.
func (w *worker) worked() {
	if !w.breaker.worked() {
		return
	}
	w.s.o.Meter.Breaker(w.g.Name, false)
	w.s.o.Log.Info().Str("gateway", w.g.Name).Msg("push: the network answers again; texts go through it")
	w.s.letGo()
	w.s.Kick()
}

// failed notes a try that failed by the network's fault.
func (w *worker) failed(now time.Time, no *Refusal) {
	if !w.breaker.failedAt(now, no.After) {
		return
	}
	w.s.o.Meter.Breaker(w.g.Name, true)
	w.s.o.Log.Error().Str("gateway", w.g.Name).Str("reason", no.Reason).
		Msg("push: the network failed several times in a row and is left alone, but for a probe now and then; texts go through the next of their route, or wait; is its address right, and its operator's side up?")
	w.s.Kick()
}

// say logs that texts do not go out, once for each reason, and once that they
// do again. Of a network that is left alone enough was said.
func (w *worker) say(trouble string) {
	switch {
	case trouble == w.trouble:
		return
	case trouble == "":
		w.s.o.Log.Info().Str("gateway", w.g.Name).Msg("push: texts go out again")
	case !w.breaker.closed():
		return
	default:
		w.s.o.Log.Error().Str("gateway", w.g.Name).Str("reason", trouble).Msg("push: texts do not go out; trying again")
	}
	w.trouble = trouble
}

// sayHeld tells that an operator holds all texts, and that it is over.
func (s *Sender) sayHeld(ctx context.Context, gateway string, held bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case held == s.held:
		return
	case !held:
		s.o.Log.Info().Msg("push: texts are not held any more; those that are still useful go out")
	default:
		s.o.Meter.Limited(gateway, "all", "switch")
		var hold store.SendingHold
		_ = s.o.Store.View(ctx, func(tx *store.Tx) (err error) { // what is not known stays unsaid
			hold, _, err = tx.SendingHeld()
			return err
		})
		s.o.Log.Warn().Str("why", hold.Why).Time("since", time.Unix(hold.Since, 0).UTC()).
			Msg("push: an operator holds all texts; rowbell sending go lets them out")
	}
	s.held = held
}

// limitWords are the keys of the limits in the configuration.
var limitWords = map[string]string{"texts": "texts_a_day", "money-day": "money_a_day", "money-month": "money_a_month"}

// sayLimit tells that a limit holds texts, once until it holds them no more.
func (s *Sender) sayLimit(gateway string, now time.Time, h store.Deferred) {
	for range h.Texts {
		s.o.Meter.Limited(gateway, h.Scope, h.Limit)
	}
	key := limitWords[h.Limit] + " of " + h.Scope
	if h.Scope == "gateway" {
		key += " " + gateway
	}
	s.mu.Lock()
	said := now.Unix() < s.limit[key]
	s.limit[key] = h.Until
	s.mu.Unlock()
	if !said {
		s.o.Log.Warn().Str("gateway", gateway).Str("scope", h.Scope).Str("limit", limitWords[h.Limit]).Time("until", time.Unix(h.Until, 0).UTC()).
			Msg("push: a limit is reached; texts over it are held, and expire if they are not useful by then; see rowbell sending")
	}
}

// Limits lists which limits hold texts at this instant and until when: those
// of all texts and of a network, and not those of single numbers.
func (s *Sender) Limits(now time.Time) []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var list []string
	for key, until := range s.limit {
		if now.Unix() < until && !strings.HasSuffix(key, " of number") {
			list = append(list, key+" until "+time.Unix(until, 0).UTC().Format("2 Jan 15:04 UTC"))
		}
	}
	slices.Sort(list)
	return list
}
