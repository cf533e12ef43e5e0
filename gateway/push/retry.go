package push

import (
	"net/http"
	"strconv"
	"time"
)

// The waits between tries: 15 s after the first, doubled each time, at most an hour. That is short enough for
// a gateway's restart and long enough not to overload one that is down (common practice, no source).
const (
	firstWait   = 15 * time.Second
	longestWait = time.Hour
	// longestAfter bounds the Retry-After of a network.
	longestAfter = 24 * time.Hour
)

// NextTry returns the instant of the next try after tries failed ones (at least 1). Half of the wait is
// multiplied by jitter, in [0, 1), so that texts that failed together are not tried together. after is what
// the network asked for; the longer of both counts.
func NextTry(now time.Time, tries int, after time.Duration, jitter float64) time.Time {
	wait := longestWait
	if doublings := max(tries, 1) - 1; doublings < 8 { // 2^8 * 15 s is more than an hour
		wait = min(firstWait<<doublings, longestWait)
	}
	wait = wait/2 + time.Duration(jitter*float64(wait/2))
	return now.Add(max(wait, min(after, longestAfter)))
}

// retryable reports whether a status means that the same text may be taken later: such a status is about the moment, or
// about an address or a password that the operator can correct, and not about this text.
func retryable(status int) bool {
	switch status {
	case http.StatusRequestTimeout, http.StatusTooEarly, http.StatusTooManyRequests,
		http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusProxyAuthRequired:
		return true
	}
	return status < 400 || status >= 500
}

// retryAfter parses a Retry-After header: seconds or a date (RFC 9110 section
// 10.2.3). It returns 0 if there is none, if it is invalid, or if it is past.
func retryAfter(header string, now time.Time) time.Duration {
	if seconds, err := strconv.Atoi(header); err == nil {
		return min(time.Duration(max(seconds, 0)), longestAfter/time.Second) * time.Second
	}
	if at, err := http.ParseTime(header); err == nil {
		return max(at.Sub(now), 0)
	}
	return 0
}
