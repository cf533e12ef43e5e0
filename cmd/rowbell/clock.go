package main

import "time"

// systemClock is the machine's clock: the only one in the program that nobody
// moves by hand.
type systemClock struct{}

func (systemClock) Now() time.Time { return time.Now().UTC() }

func (systemClock) Every(d time.Duration) (ticks <-chan time.Time, stop func()) {
	t := time.NewTicker(d)
	return t.C, t.Stop
}

// present is the instant at which a command does its work: now, or the one of
// a test.
func present(w *world, test time.Time) time.Time {
	if !test.IsZero() {
		return test
	}
	return w.now()
}
