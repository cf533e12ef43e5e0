package push

import (
	"net/http"
	"regexp"
	"strconv"
	"time"
)

// The wait after the first try is 15 s, and each further wait is twice as long, up to an hour. That is short enough for
// a gateway that restarts, and long enough not to overload one that is down (common practice, no source).
const (
	firstWait   = 15 * time.Second
	longestWait = time.Hour
	// longestAfter is the longest accepted wait of a Retry-After. A longer one is taken for a mistake, such as an
	// instant in Unix seconds (judgement, no source).
	longestAfter = 30 * 24 * time.Hour
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

// RetryAfter parses a Retry-After header: seconds or a date (RFC 9110 section 10.2.3). A past date is no wait. If the
// header is wrong, or asks for a wait longer than longestAfter, there is no wait and wrong is true.
func RetryAfter(header string, now time.Time) (wait time.Duration, wrong bool) {
	if header == "" {
		return 0, false
	}
	const longest = longestAfter / time.Second
	if digits.MatchString(header) {
		seconds, err := strconv.Atoi(header)
		if err != nil || seconds > int(longest) { // err: more digits than an int has
			return 0, true
		}
		return time.Duration(seconds) * time.Second, false
	}
	at, err := http.ParseTime(header)
	if err != nil || at.Sub(now) > longestAfter {
		return 0, true
	}
	return max(at.Sub(now), 0), false
}

var digits = regexp.MustCompile("^[0-9]+$")
