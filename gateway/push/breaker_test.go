package push

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestBreaker(t *testing.T) {
	var b breaker
	now := noon
	fail := func(times int, after time.Duration) (opened bool) {
		for range times {
			opened = b.failedAt(now, after) || opened
		}
		return opened
	}
	allows := func(want int) {
		t.Helper()
		if got := b.allows(now, 16); got != want {
			t.Errorf("at +%s it allows %d texts, want %d", now.Sub(noon), got, want)
		}
	}
	fail(breakAfter-1, 0)
	b.succeeded()
	if fail(breakAfter-1, 0) {
		t.Error("it opened although the failures were not in a row")
	}
	allows(16)
	if !fail(1, 0) || b.closed() {
		t.Error("it did not open")
	}
	allows(0)
	if fail(3, 0) { // tries that began before the breaker opened
		t.Error("it opened twice")
	}
	now = now.Add(firstPause - 1)
	allows(0)
	now = now.Add(1)
	allows(1) // the probe
	if fail(1, 0) {
		t.Error("a failed probe opens it a second time")
	}
	now = now.Add(2*firstPause - 1)
	allows(0)
	now = now.Add(1)
	allows(1)
	fail(1, 20*time.Minute) // the network asks for longer
	now = now.Add(20*time.Minute - 1)
	allows(0)
	now = now.Add(1)
	if !b.succeeded() || b.succeeded() {
		t.Error("it did not close exactly once")
	}
	allows(16)
	if fail(breakAfter-1, 0) || !fail(1, 0) {
		t.Error("it does not count from 0 again")
	}
	now = now.Add(firstPause)
	allows(1)
}

// However often a network fails, its breaker lets one text through as a probe within five minutes, if the
// network asks for no pause.
func TestBreakerProbes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b breaker
		now := noon
		for range breakAfter {
			b.failedAt(now, 0)
		}
		for range rapid.IntRange(1, 20).Draw(t, "probes") {
			began := now
			for b.allows(now, 16) == 0 {
				now = now.Add(time.Second)
			}
			if wait := now.Sub(began); wait < firstPause || wait > longestPause || b.allows(now, 16) != 1 {
				t.Fatalf("probed after %s with %d texts", wait, b.allows(now, 16))
			}
			b.failedAt(now, 0)
		}
	})
}
