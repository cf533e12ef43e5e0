package push

import "time"

// The waits between tries: 15 s after the first, doubled each time, an hour at
// most. Short enough for a gateway's restart, long enough not to press one
// that is down (common practice, no source).
const (
	firstWait   = 15 * time.Second
	longestWait = time.Hour
	// longestAfter bounds what a network may ask for.
	longestAfter = 24 * time.Hour
)

// Next is the instant of the next try after tries failed ones (at least 1).
// Half of the wait is spread by jitter, in [0, 1), so that texts that failed
// together do not come back together. The network's own wish, after, is kept
// where it is longer.
func Next(now time.Time, tries int, after time.Duration, jitter float64) time.Time {
	wait := longestWait
	if doublings := max(tries, 1) - 1; doublings < 8 { // 2^8 * 15 s is past the hour
		wait = min(firstWait<<doublings, longestWait)
	}
	wait = wait/2 + time.Duration(jitter*float64(wait/2))
	return now.Add(max(wait, min(after, longestAfter)))
}
