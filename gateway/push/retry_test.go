package push

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	_ "rowbell/engine/rapidseed" // every run of the property tests draws the same values
)

var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

func TestNextTry(t *testing.T) {
	for _, tt := range []struct {
		name   string
		tries  int
		after  time.Duration
		jitter float64
		want   time.Duration
	}{
		{"first failure, least", 1, 0, 0, 7500 * time.Millisecond},
		{"first failure, half", 1, 0, 0.5, 11250 * time.Millisecond},
		{"second", 2, 0, 0, 15 * time.Second},
		{"fifth", 5, 0, 0, 2 * time.Minute},
		{"an hour at most", 9, 0, 0, 30 * time.Minute},
		{"far past the doublings", 1 << 30, 0, 0, 30 * time.Minute},
		{"none yet counts as one", 0, 0, 0, 7500 * time.Millisecond},
		{"the network's wish is longer", 1, time.Minute, 0.9, time.Minute},
		{"the network's wish is shorter", 5, time.Second, 0, 2 * time.Minute},
		{"a wish past all reason", 1, 1 << 60, 0, 30 * 24 * time.Hour},
		{"a wish for the past", 1, -time.Hour, 0, 7500 * time.Millisecond},
	} {
		if got := NextTry(noon, tt.tries, tt.after, tt.jitter).Sub(noon); got != tt.want {
			t.Errorf("%s: waits %v, want %v", tt.name, got, tt.want)
		}
	}
}

// The wait before the next try is at least half of firstWait and at least what the network asked for. If the network
// asked for nothing, the wait is at most an hour. With equal jitter the wait never gets shorter from one try to the
// next.
func TestNextTryBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tries := rapid.IntRange(1, 1000).Draw(t, "tries")
		after := time.Duration(rapid.Int64Range(0, int64(48*time.Hour)).Draw(t, "after"))
		jitter := rapid.Float64Range(0, 0.999999).Draw(t, "jitter")
		wait := NextTry(noon, tries, 0, jitter).Sub(noon)
		if wait < firstWait/2 || wait > longestWait {
			t.Fatalf("waits %v", wait)
		}
		if next := NextTry(noon, tries+1, 0, jitter).Sub(noon); next < wait {
			t.Fatalf("try %d waits %v, the one after it %v", tries, wait, next)
		}
		if asked := NextTry(noon, tries, after, jitter).Sub(noon); asked < min(after, longestAfter) || asked < wait {
			t.Fatalf("asked for %v, waits %v", after, asked)
		}
	})
}

func TestRetryAfter(t *testing.T) {
	for _, tt := range []struct {
		header string
		want   time.Duration
		wrong  bool
	}{
		{"", 0, false},
		{"120", 2 * time.Minute, false},
		{"0", 0, false},
		{"-5", 0, true}, // RFC 9110 section 10.2.3: delay-seconds = 1*DIGIT
		{"+5", 0, true},
		{"1.5", 0, true},
		{"soon", 0, true},
		{"60, 120", 0, true},
		{"2592000", 30 * 24 * time.Hour, false},
		{"2592001", 0, true},
		{"315360000", 0, true},  // ten years
		{"1780315200", 0, true}, // an instant in Unix seconds
		{"99999999999999999999", 0, true},
		{"Mon, 01 Jun 2026 12:03:00 GMT", 3 * time.Minute, false},
		{"Monday, 01-Jun-26 12:03:00 GMT", 3 * time.Minute, false}, // RFC 9110 section 5.6.7: the obsolete formats
		{"Mon Jun  1 12:03:00 2026", 3 * time.Minute, false},
		{"Mon, 01 Jun 2026 11:00:00 GMT", 0, false},
		{"Mon, 01 Jun 2036 12:00:00 GMT", 0, true},
	} {
		if got, wrong := RetryAfter(tt.header, noon); got != tt.want || wrong != tt.wrong {
			t.Errorf("Retry-After %q: %v, wrong %v; want %v, %v", tt.header, got, wrong, tt.want, tt.wrong)
		}
	}
}

func TestBreaker(t *testing.T) {
	var b breaker
	now := noon
	fail := func(times int, after time.Duration) (opened bool) {
		for range times {
			opened = b.failedAt(now, after, false) || opened
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
	if fail(3, 0) { // tries from before the opening must not open the breaker again
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
	// The network asks for a longer pause than the breaker's own. The longer pause counts.
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

// A breaker that opened while the clock was days ahead does not wait until then after the clock was set back: it lets a
// probe through, and pauses again by the right clock if the probe fails. If no text was due, it does not pause either
// when the time of the wrong clock comes.
func TestBreakerAfterTheClockWasSetBack(t *testing.T) {
	var b breaker
	now := noon.Add(48 * time.Hour)
	for range breakAfter {
		b.failedAt(now, 0, false)
	}
	now = noon
	for _, want := range []int{1, 0} {
		if got := b.allows(now, 16); got != want {
			t.Errorf("it allows %d texts, want %d", got, want)
		}
		b.failedAt(now, 0, false)
	}
	if got := b.allows(now.Add(longestPause), 16); got != 1 {
		t.Errorf("it allows %d texts after the longest pause, want 1", got)
	}
	b = breaker{}
	for range breakAfter {
		b.failedAt(noon.Add(48*time.Hour), 0, false)
	}
	for _, now := range []time.Time{noon, noon.Add(48 * time.Hour)} {
		if got := b.allows(now, 16); got != 1 {
			t.Errorf("%v: it allows %d texts, want 1", now, got)
		}
	}
}

// For any number of failures, a breaker lets one text through as a probe within five minutes, if the network asks for
// no pause.
func TestBreakerProbes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b breaker
		now := noon
		for range breakAfter {
			b.failedAt(now, 0, false)
		}
		for range rapid.IntRange(1, 20).Draw(t, "probes") {
			began := now
			for b.allows(now, 16) == 0 {
				now = now.Add(time.Second)
			}
			if wait := now.Sub(began); wait < firstPause || wait > longestPause || b.allows(now, 16) != 1 {
				t.Fatalf("probed after %s with %d texts", wait, b.allows(now, 16))
			}
			b.failedAt(now, 0, false)
		}
	})
}

// A network that asks for a pause of all texts gets it from its first failure on, an hour at most. Then one text is
// tried.
func TestBreakerHolds(t *testing.T) {
	for after, want := range map[time.Duration]time.Duration{
		2 * time.Second: 2 * time.Second, 20 * time.Minute: 20 * time.Minute, 3 * time.Hour: time.Hour,
	} {
		var b breaker
		if !b.failedAt(noon, after, true) || b.allows(noon.Add(want-1), 16) != 0 || b.allows(noon.Add(want), 16) != 1 {
			t.Errorf("%s: it did not open for %s", after, want)
		}
		if b.failedAt(noon.Add(want), 0, false) || b.allows(noon.Add(want+firstPause-1), 16) != 0 {
			t.Errorf("%s: the text that was tried first failed, and others were let through", after)
		}
		if !b.succeeded() || b.allows(noon, 16) != 16 {
			t.Errorf("%s: it did not close", after)
		}
	}
}
