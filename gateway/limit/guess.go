package limit

import (
	"net/netip"
	"sync"
	"time"
)

// Guesses slows down a caller that guesses the secret of a network. After freeGuesses wrong secrets from one address,
// its calls are refused for a pause, whether their secret is right or not, and each further wrong secret doubles the
// pause. After the pause the right secret sets the count back to 0. Calls that come in a pause do not make it longer,
// so a network with the right secret that shares the address waits at most for longestPause after the last wrong one.
//
// Somebody may guess from very many addresses. So if a network gets more than guessesAMinute wrong secrets in a minute,
// its calls are refused for the rest of the minute, except from addresses that had the right secret in the last day.
//
// Guesses remembers a bounded number of addresses, in memory only, and each process its own: a wrong secret must not
// cost a write. It is safe for concurrent use.
type Guesses struct {
	mu       sync.Mutex
	guessers *lru[guessKey, guesser]
	known    *lru[guessKey, struct{}] // addresses that had the right secret
	networks minutes                  // wrong secrets
}

// Judgement (no source): nobody mistypes a secret ten times, and a weak password of a million possible ones lasts for a
// year at two guesses a minute from one address, and for a week at the hundred of a network.
const (
	freeGuesses    = 10
	firstPause     = time.Second
	longestPause   = 30 * time.Second
	guessesAMinute = 100

	guesserForgotten = time.Hour
	knownForgotten   = 24 * time.Hour
	maxGuessers      = 1 << 16
	maxKnown         = 1 << 12
)

// guessKey is a network and an address. In IPv6 it has the first 64 bits only, because one subscriber has all the rest.
type guessKey struct {
	network string
	from    netip.Prefix
}

// guesser counts the wrong secrets of an address.
type guesser struct {
	wrong int
	until time.Time // end of the pause
}

// NewGuesses returns Guesses with all counts at 0.
func NewGuesses() *Guesses {
	return &Guesses{guessers: newLRU[guessKey, guesser](maxGuessers, nil), networks: minutes{},
		known: newLRU[guessKey, struct{}](maxKnown, nil)}
}

// Judged says what becomes of a call with a secret.
type Judged struct {
	Paused time.Duration // not 0: the call is refused, whether its secret is right or not
	Began  bool          // a pause began with this call; the caller logs it
	From   netip.Prefix  // the paused addresses; the zero Prefix: all without the right secret, or an unknown address
}

// Judge counts a secret in a call of a configured network. from is the caller's address; the zero Addr: it is unknown.
func (g *Guesses) Judge(network string, from netip.Addr, right bool, now time.Time) Judged {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.guessers.expire(now.Add(-guesserForgotten))
	g.known.expire(now.Add(-knownForgotten))
	k := guessKey{network, sameSubscriber(from)}
	was, _ := g.guessers.get(k)
	// If the rest of the pause is longer than the longest pause, the clock was set back. Then the pause is ignored.
	if rest := was.until.Sub(now); rest > 0 && rest <= longestPause {
		return Judged{Paused: rest, From: k.from}
	}
	_, known := g.known.get(k)
	all := g.networks.of(network)
	if rest, ok := all.allows(guessesAMinute, now); !ok && !known {
		return Judged{Paused: rest, Began: all.shouldLog(now)}
	}
	if right {
		g.guessers.remove(k)
		g.known.put(k, struct{}{}, now)
		return Judged{}
	}
	all.calls++
	was.wrong++
	if was.wrong >= freeGuesses {
		pause := longestPause
		if doublings := was.wrong - freeGuesses; doublings < 8 {
			pause = min(firstPause<<doublings, longestPause)
		}
		was.until = now.Add(pause)
	}
	g.guessers.put(k, was, now)
	return Judged{Began: was.wrong == freeGuesses, From: k.from}
}

// sameSubscriber returns the addresses that count as one.
func sameSubscriber(addr netip.Addr) netip.Prefix {
	addr = addr.Unmap().WithZone("")
	p, _ := addr.Prefix(min(addr.BitLen(), 64)) // the zero Prefix for the zero Addr
	return p
}
