package push

import (
	"context"
	"maps"
)

// Continue makes s the successor of old, which has other settings. A network that both have keeps its breaker and its
// rate, and gets texts from s after the tries of old have ended. After Continue the caller calls Stop of old and Run of
// s.
func (s *Sender) Continue(old *Sender) {
	successors := map[string]*worker{}
	for _, w := range s.workers {
		successors[w.g.Name] = w
	}
	for _, before := range old.workers {
		w := successors[before.g.Name]
		if w == nil {
			s.removed = append(s.removed, before)
			continue
		}
		w.before = before
		if !old.runs.Load() {
			w.inherit()
		}
		limit, burst := w.rate.Limit(), w.rate.Burst()
		w.breaker, w.record, w.rate = before.breaker, before.record, before.rate
		now := s.o.Clock.Now()
		w.rate.SetLimitAt(now, limit)
		w.rate.SetBurstAt(now, burst)
	}
	old.mu.Lock()
	defer old.mu.Unlock()
	s.operatorHold, s.limitUntil = old.operatorHold, maps.Clone(old.limitUntil)
}

// Stop makes Run end when the tries that have begun have ended. Texts that were claimed and not tried go back to the
// outbox.
func (s *Sender) Stop() { close(s.stop) }

func (s *Sender) stopped() bool {
	select {
	case <-s.stop:
		return true
	default:
		return false
	}
}

// inherit takes over the outcomes that the previous worker could not store. That worker has ended, or never ran.
func (w *worker) inherit() {
	w.sending.Lock()
	defer w.sending.Unlock()
	w.before.sending.Lock()
	defer w.before.sending.Unlock()
	w.unsettled, w.trouble = w.before.unsettled, w.before.trouble
	w.before = nil
}

// settleRest waits until w has ended, and then stores the outcomes that w could not store. It tries until ctx ends. The
// next sender has no worker for the network of w.
func (w *worker) settleRest(ctx context.Context) {
	if !w.s.runs.Load() {
		return
	}
	<-w.ended
	ticks, stop := w.s.o.Clock.Every(lookEvery)
	defer stop()
	for w.settle(ctx) != nil {
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
	}
}
