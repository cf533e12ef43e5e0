package push

import (
	"net/http"
	"strconv"
	"time"
)

// The wait after the first try is 15 s, and each further wait is twice as long, up to an hour. That is short enough for
// a gateway that restarts, and long enough not to overload one that is down (common practice, no source).
const (
	firstWait   = 15 * time.Second
	longestWait = time.Hour
	// longestAfter bounds the wait that a network may ask for with Retry-After.
	longestAfter = 24 * time.Hour
)

// NextTry returns the instant of the next try after this number of failed tries (at least 1). With jitter, a number in
// [0, 1), the wait is a half to a whole of its length, so that texts that failed together are not tried together. after
// is the wait that the network asked for; the longer of the two counts.
func NextTry(now time.Time, tries int, after time.Duration, jitter float64) time.Time {
	wait := longestWait
	if doublings := max(tries, 1) - 1; doublings < 8 { // 2^8 * 15 s is more than an hour
		wait = min(firstWait<<doublings, longestWait)
	}
	wait = wait/2 + time.Duration(jitter*float64(wait/2))
	return now.Add(max(wait, min(after, longestAfter)))
}

// retryAfter parses a Retry-After header: seconds or a date (RFC 9110 section 10.2.3). It returns 0 for any other value
// and for a past date.
func retryAfter(header string, now time.Time) time.Duration {
	if seconds, err := strconv.Atoi(header); err == nil {
		return min(time.Duration(max(seconds, 0)), longestAfter/time.Second) * time.Second
	}
	if at, err := http.ParseTime(header); err == nil {
		return max(at.Sub(now), 0)
	}
	return 0
}
