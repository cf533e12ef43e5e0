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
	if fail(3, 0) { // these tries began before the breaker opened, so their failures must not open it again
		t.Error("it opened twice")
	}
	now = now.Add(firstPause - 1)
	allows(0)
	now = now.Add(1)
	allows(1) // the one text that is let through as a probe
	if fail(1, 0) {
		t.Error("a failed probe opens it a second time")
	}
	now = now.Add(2*firstPause - 1)
	allows(0)
	now = now.Add(1)
	allows(1)
	// The network asks for a pause longer than the breaker's own pause: the longer pause must count.
	fail(1, 20*time.Minute)
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

// However often a network fails, its breaker lets one text through as a probe within five minutes. The network
// in this test asks for no pause of its own.
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
