package main

import "time"

// present is the instant at which a command does its work: now, or the one of
// a test.
func present(w *world, test time.Time) time.Time {
	if !test.IsZero() {
		return test
	}
	return w.now()
}
