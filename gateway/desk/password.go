package desk

import (
	"encoding/base64"
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"

	"rowbell/store"
)

// Bounds of a password in characters. OWASP ASVS 5.0, requirement 6.2.1, asks for at least 8 and recommends 15 (from
// memory); there are no other rules, so that people can use sentences.
const (
	minPassword = 12
	maxPassword = 128
)

// passwordMistake says what is wrong with a new password; "" if nothing is.
func passwordMistake(password, name string) string {
	n := utf8.RuneCountInString(password)
	switch {
	case n < minPassword:
		return fmt.Sprintf("This has %s. It needs at least %d: three or four words that nobody would guess are good.",
			plural(n, "character", "characters"), minPassword)
	case n > maxPassword:
		return fmt.Sprintf("This is longer than %d characters.", maxPassword)
	case strings.Contains(strings.ToLower(password), strings.ToLower(name)):
		return "This has the name in it, so it is easy to guess."
	case strings.Count(password, password[:1]) == len(password):
		return "This is one letter again and again."
	}
	return ""
}

// hash returns the hash of a password. Only a few are made at a time.
func (d *Desk) hash(password string) (string, error) {
	d.hashing <- struct{}{}
	defer func() { <-d.hashing }()
	return argon2id.CreateHash(password, d.o.HashCost)
}

// hashOfNobody returns a hash of this cost that no password has. Its salt and its key are zeros; the
// version is 0x13 (RFC 9106, 3.1).
func hashOfNobody(cost *argon2id.Params) string {
	zeros := func(n uint32) string { return base64.RawStdEncoding.EncodeToString(make([]byte, n)) }
	return fmt.Sprintf("$argon2id$v=19$m=%d,t=%d,p=%d$%s$%s", cost.Memory, cost.Iterations, cost.Parallelism,
		zeros(cost.SaltLength), zeros(cost.KeyLength))
}

// matches reports whether a password has a hash. An account without a password takes as long and never matches.
func (d *Desk) matches(password, hash string) (bool, error) {
	d.hashing <- struct{}{}
	defer func() { <-d.hashing }()
	known := hash != ""
	if !known {
		hash = d.nobody
	}
	same, err := argon2id.ComparePasswordAndHash(password, hash)
	return same && known, err
}

// Delays after wrong passwords in a row: none for the first two, then 5 seconds, doubled each time, at most 15 minutes.
const (
	freeTries   = 2
	firstWait   = 5 * time.Second
	longestWait = 15 * time.Minute
)

// waitAfter returns for how long no password is checked after so many wrong ones in a row.
func waitAfter(wrong int) time.Duration {
	if wrong <= freeTries {
		return 0
	}
	return min(longestWait, firstWait<<min(wrong-freeTries-1, 20))
}

// afterTry returns how many wrong passwords in a row an account has, and until when no more are checked, if the next
// one is wrong. If wait is above zero, the next one may not be checked yet.
func afterTry(s store.Staff, now time.Time) (wrong int, until int64, wait time.Duration) {
	if left := s.LockedUntil - now.Unix(); left > 0 {
		return s.Wrong, s.LockedUntil, time.Duration(left) * time.Second
	}
	return s.Wrong + 1, now.Add(waitAfter(s.Wrong + 1)).Unix(), 0
}

// wrongNames counts log-ins with names that no account has, so that they are delayed as known ones are: otherwise the
// delay would tell which names exist.
type wrongNames struct {
	mu    sync.Mutex
	names map[string]store.Staff
}

const maxWrongNames = 1000

func newWrongNames() *wrongNames { return &wrongNames{names: map[string]store.Staff{}} }

// count counts a try with a name. If wait is above zero, the next password may not be checked yet.
func (w *wrongNames) count(name string, now time.Time) (wait time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if len(w.names) >= maxWrongNames {
		clear(w.names)
	}
	wrong, until, wait := afterTry(w.names[name], now)
	w.names[name] = store.Staff{Wrong: wrong, LockedUntil: until}
	return wait
}
