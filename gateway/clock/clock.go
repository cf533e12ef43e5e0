// Package clock is the interface between rowbell and time. Every package gets its Clock from its caller, and none calls
// time.Now. Manual is a clock moved by hand, for tests and practice. The clock of the system is in the command.
//
//	c := clock.New(time.Date(2026, 6, 1, 6, 0, 0, 0, time.UTC))
//	ticks, stop := c.Every(time.Hour)
//	defer stop()
//	c.Advance(3 * time.Hour) // ticks contains one tick now
package clock

import (
	"sync"
	"time"
)

// Clock returns the time and sends ticks.
type Clock interface {
	// Now returns the present instant, in UTC.
	Now() time.Time
	// Every returns a channel that gets a tick after each interval d, which must be positive. While a tick waits to be
	// received, further ticks are dropped. stop ends the ticks; the channel is never closed.
	Every(d time.Duration) (ticks <-chan time.Time, stop func())
}

// Manual is a clock that stands still until it is moved. It is safe for concurrent use.
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

// New returns a clock set to t.
func New(t time.Time) *Manual {
	return &Manual{now: t.UTC(), tickers: map[*ticker]struct{}{}}
}

// Now returns the clock's time.
func (m *Manual) Now() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.now
}

// Every returns a channel that gets a tick when the clock is moved to or past one of the instants now+d, now+2d and so
// on, where now is the clock's time at the call of Every. It panics if d is not positive.
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

// Advance moves the clock by d and returns the new time. If several ticks of a channel were due in d, the channel gets
// only the last of them.
func (m *Manual) Advance(d time.Duration) time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.move(m.now.Add(d))
	return m.now
}

// Set moves the clock to t. If t is earlier than now, each ticker's next tick comes one interval after t.
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
			default: // an earlier tick was not received yet, so this tick is dropped
			}
		}
	}
}
