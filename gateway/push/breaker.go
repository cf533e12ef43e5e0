package push

import (
	"sync"
	"time"
)

// A network that fails this often in a row is left alone: for the first of
// these waits, doubled each time that a probe fails too, at most for the last.
// A failure more than the texts on the way at once by default, so that one bad
// moment is not an outage; five minutes, so that a network that is back is
// found soon (common practice, no source).
const (
	breakAfter   = 5
	firstRest    = 15 * time.Second
	longestRest  = 5 * time.Minute
	longestAsked = time.Hour // what a network may ask for
)

// breaker leaves a network alone that fails. Closed it lets all through; open
// it lets nothing through until its time, and then one text, whose luck
// decides.
type breaker struct {
	mu     sync.Mutex
	failed int // in a row
	rest   time.Duration
	until  time.Time // open until then; the zero time: closed
	turns  int       // times it opened or closed
}

// allows is how many of n texts may be tried: all, one, or none.
func (b *breaker) allows(now time.Time, n int) int {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.until.IsZero():
		return n
	case now.Before(b.until):
		return 0
	}
	return min(n, 1)
}

func (b *breaker) closed() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.until.IsZero()
}

// turned counts how often it opened or closed.
func (b *breaker) turned() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.turns
}

// worked notes that the network answered for itself, if only to refuse a text.
func (b *breaker) worked() (closed bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	closed = !b.until.IsZero()
	b.failed, b.rest, b.until = 0, 0, time.Time{}
	if closed {
		b.turns++
	}
	return closed
}

// failedAt notes a try that failed by the network's fault. It tells whether
// that opened the breaker, which was closed.
func (b *breaker) failedAt(now time.Time, after time.Duration) (opened bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.failed++
	open := !b.until.IsZero()
	if b.failed < breakAfter || open && now.Before(b.until) { // one that was on its way when it opened
		return false
	}
	b.rest = min(max(2*b.rest, firstRest), longestRest)
	b.until = now.Add(max(b.rest, min(after, longestAsked)))
	if !open {
		b.turns++
	}
	return !open
}
