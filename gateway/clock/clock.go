// Package clock is the one seam between rowbell and time. The rest of the
// program is handed a Clock; the system's own stands in the command, and Manual
// is moved by hand, in tests and in practice alike.
//
//	c := clock.New(time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC))
//	ticks, stop := c.Every(time.Hour)
//	defer stop()
//	c.Advance(3 * time.Hour) // one tick is waiting in ticks
package clock

import (
	"sync"
	"time"
)

// Clock tells the time and ticks.
type Clock interface {
	// Now is the present instant, in UTC.
	Now() time.Time
	// Every returns ticks d apart, the first one d from now. A tick that
	// nobody has taken yet is not doubled: who comes late gets one. d must be
	// positive. After stop no tick is sent any more; ticks is never closed.
	Every(d time.Duration) (ticks <-chan time.Time, stop func())
}

// Manual is a clock that stands still until it is moved. Safe for concurrent
// use.
type Manual struct {
	mu      sync.Mutex
	now     time.Time
	tickers map[*ticker]struct{}
}

type ticker struct {
	every time.Duration
	next  time.Time
	ticks chan time.Time
}

var _ Clock = (*Manual)(nil)

// New returns a clock that stands at t.
func New(t time.Time) *Manual {
	return &Manual{now: t.UTC(), tickers: map[*ticker]struct{}{}}
}

// Now is where the clock stands.
func (m *Manual) Now() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.now
}

// Every ticks when the clock is moved past a multiple of d from now.
func (m *Manual) Every(d time.Duration) (<-chan time.Time, func()) {
	if d <= 0 {
		panic("clock: Every needs a positive duration")
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	t := &ticker{every: d, next: m.now.Add(d), ticks: make(chan time.Time, 1)}
	m.tickers[t] = struct{}{}
	return t.ticks, func() {
		m.mu.Lock()
		defer m.mu.Unlock()
		delete(m.tickers, t)
	}
}

// Advance moves the clock by d and returns where it stands then. Each ticker
// that came due has one tick waiting when Advance returns, however many of its
// ticks were passed.
func (m *Manual) Advance(d time.Duration) time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.move(m.now.Add(d))
	return m.now
}

// Set moves the clock to t. Moved back, it counts every ticker from t anew.
func (m *Manual) Set(t time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.move(t.UTC())
}

func (m *Manual) move(to time.Time) {
	back := to.Before(m.now)
	m.now = to
	for t := range m.tickers {
		switch {
		case back:
			t.next = to.Add(t.every)
		case !t.next.After(to):
			passed := to.Sub(t.next) / t.every
			last := t.next.Add(passed * t.every)
			t.next = last.Add(t.every)
			select {
			case t.ticks <- last:
			default: // the one before was not taken yet
			}
		}
	}
}
