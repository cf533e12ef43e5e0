package push

import (
	"slices"
	"sync"
	"time"
)

// Health is how a network does, as this process has seen it since it started.
type Health struct {
	Name   string
	Paused time.Time // end of the pause after failures; zero: texts go out
	Failed int       // failures in a row
	TookAt time.Time // when the network last took a text; zero: not yet
	Errors []Failure // the last ones, newest first
	Routes []string  // prefixes of the numbers to which texts may go through the network; "" = all
}

// Failure is a reason why tries did not succeed.
type Failure struct {
	Last   time.Time // when it was seen last
	Reason string    // a few words, without a phone number or a text
	Times  int       // how often it was seen, with no other between
}

// maxFailures is how many failures of a network are remembered.
const maxFailures = 5

// record remembers what a network answered. A successor of the sender takes it over with the breaker.
type record struct {
	mu       sync.Mutex
	tookAt   time.Time
	failures []Failure // oldest first
}

func (r *record) took(at time.Time) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.tookAt = at
}

func (r *record) failed(at time.Time, reason string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if n := len(r.failures); n > 0 && r.failures[n-1].Reason == reason {
		r.failures[n-1].Last = at
		r.failures[n-1].Times++
		return
	}
	r.failures = append(r.failures, Failure{at, reason, 1})
	if len(r.failures) > maxFailures {
		r.failures = slices.Delete(r.failures, 0, 1)
	}
}

// Health returns how each network does, in the order of Options.Gateways.
func (s *Sender) Health() (list []Health) {
	for _, w := range s.workers {
		h := Health{Name: w.g.Name}
		for _, r := range w.routes {
			h.Routes = append(h.Routes, r.prefix)
		}
		h.Paused, h.Failed = w.breaker.state()
		w.record.mu.Lock()
		h.TookAt, h.Errors = w.record.tookAt, slices.Clone(w.record.failures)
		w.record.mu.Unlock()
		slices.Reverse(h.Errors)
		list = append(list, h)
	}
	return list
}
