package push

import (
	"sync"
	"time"
)

// The breaker opens after breakAfter failures in a row: one more than profile.DefaultConcurrency, so that the failure
// of all texts that are sent at the same moment does not open it. The first pause lasts firstPause, and each failed
// probe doubles it, up to longestPause. So a network that works again is found within five minutes (common practice, no
// source).
const (
	breakAfter   = 5
	firstPause   = 15 * time.Second
	longestPause = 5 * time.Minute
	longestAsked = time.Hour // longest pause that a network may ask for
)

// breaker is the circuit breaker of a network. Each process has its own, because the connection of only one process may
// fail. Closed, it lets all texts through. Open, it lets none through until the pause is over, and then one as a probe.
// A probe that succeeds closes the breaker; one that fails doubles the pause.
type breaker struct {
	mu      sync.Mutex
	failed  int // failures in a row
	pause   time.Duration
	until   time.Time // end of the pause; zero: the breaker is closed
	changes int       // how often the breaker opened or closed
}

// allows returns how many of n texts may be tried now: all while the breaker is closed; while it is open, one as a
// probe after the pause, and none during the pause.
func (b *breaker) allows(now time.Time, n int) int {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.until.IsZero():
		return n
	case b.pauses(now):
		return 0
	}
	return min(n, 1)
}

// pauses reports whether the pause is not over. If its rest is longer than the longest pause, the clock was set back.
// Then the pause is over, also when that time comes again.
func (b *breaker) pauses(now time.Time) bool {
	if b.until.Sub(now) > longestAsked {
		b.until = now
	}
	return b.until.After(now)
}

func (b *breaker) closed() bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.until.IsZero()
}

// mayTry reports whether a text may be tried now, at least as a probe.
func (b *breaker) mayTry(now time.Time) bool { return b.allows(now, 1) > 0 }

// state returns the end of the pause, zero if the breaker is closed, and the failures in a row.
func (b *breaker) state() (until time.Time, failed int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.until, b.failed
}

func (b *breaker) changeCount() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.changes
}

// succeeded records that the network answered, even with the refusal of a text. It reports whether the answer closed
// the breaker.
func (b *breaker) succeeded() (closed bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	closed = !b.until.IsZero()
	b.failed, b.pause, b.until = 0, 0, time.Time{}
	if closed {
		b.changes++
	}
	return closed
}

// failedAt records a try that failed because of the network, which asked for the pause after; with hold, for all texts.
// It reports whether the failure opened the breaker.
func (b *breaker) failedAt(now time.Time, after time.Duration, hold bool) (opened bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.failed++
	open := !b.until.IsZero()
	// A try that fails during the pause began before the breaker opened, so it does not make the pause longer.
	if b.failed < breakAfter && !open && !hold || open && b.pauses(now) {
		return false
	}
	if b.failed >= breakAfter || open {
		b.pause = min(max(2*b.pause, firstPause), longestPause)
	}
	b.until = now.Add(max(b.pause, min(after, longestAsked)))
	if !open {
		b.changes++
	}
	return !open
}
