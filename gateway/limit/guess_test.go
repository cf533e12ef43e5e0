package limit

import (
	"net/netip"
	"runtime"
	"testing"
	"time"
)

const right, wrong = true, false

var home = netip.MustParseAddr("192.0.2.7")

// judge checks how long a call is refused; 0 means that its secret counts.
func judge(t *testing.T, g *Guesses, from netip.Addr, secret bool, now time.Time, want time.Duration) Judged {
	t.Helper()
	j := g.Judge("heron", from, secret, now)
	if j.Paused != want {
		t.Fatalf("%v at %v: paused for %v, want %v", from, now.Format(time.TimeOnly), j.Paused, want)
	}
	return j
}

func TestPausesGrow(t *testing.T) {
	g, now := NewGuesses(), noon
	for i := range freeGuesses {
		if j := judge(t, g, home, wrong, now, 0); j.Began != (i == freeGuesses-1) {
			t.Errorf("guess %d: %+v", i, j)
		}
	}
	for _, pause := range []time.Duration{1, 2, 4, 8, 16, 30, 30, 30} {
		pause *= time.Second
		judge(t, g, home, right, now, pause) // in a pause the right secret is refused too
		judge(t, g, home, wrong, now.Add(pause/2), pause/2)
		now = now.Add(pause)
		judge(t, g, home, wrong, now, 0)
	}
	judge(t, g, netip.MustParseAddr("192.0.2.8"), right, now, 0)
	if j := g.Judge("tern", home, right, now); j.Paused != 0 {
		t.Errorf("another network: %+v", j)
	}
	judge(t, g, home, right, now.Add(longestPause), 0)
	judge(t, g, home, wrong, now.Add(longestPause), 0) // the right secret set the count back to 0
	judge(t, g, home, right, now.Add(longestPause), 0)
}

func TestGuesserIsForgotten(t *testing.T) {
	g, now := NewGuesses(), noon
	for range 100 {
		judge(t, g, home, wrong, now, 0)
		now = now.Add(longestPause)
	}
	for range freeGuesses {
		judge(t, g, home, wrong, now.Add(guesserForgotten+time.Second), 0)
	}
	// A clock that was set back by an hour does not make a pause of an hour.
	judge(t, g, home, right, now, 0)
}

// One subscriber has 64 bits of IPv6 addresses (RFC 6177 section 2: a site gets more than one network of 64 bits). An
// IPv4 address written as IPv6 is the IPv4 address.
func TestSameSubscriber(t *testing.T) {
	for addr, same := range map[string]string{
		"2001:db8::1": "2001:db8::ffff:1", "192.0.2.7": "::ffff:192.0.2.7", "fe80::1%eth0": "fe80::2",
	} {
		if a, b := sameSubscriber(netip.MustParseAddr(addr)), sameSubscriber(netip.MustParseAddr(same)); a != b {
			t.Errorf("%s is %v, %s is %v", addr, a, same, b)
		}
	}
	if a, b := netip.MustParseAddr("2001:db8:0:1::1"), netip.MustParseAddr("2001:db8::1"); sameSubscriber(a) ==
		sameSubscriber(b) {
		t.Error("two networks of 64 bits are one subscriber")
	}
}

// A million addresses get a hundred guesses a minute together, an address with the right secret is let in, and the
// memory is bounded.
func TestGuessesFromAMillionAddresses(t *testing.T) {
	before := heap()
	g := NewGuesses()
	judge(t, g, home, right, noon, 0)
	checked := 0
	const addresses, perMinute = 1_000_000, 10_000
	for i := range addresses {
		now := noon.Add(time.Duration(i/perMinute) * time.Minute)
		from := netip.AddrFrom16([16]byte{0x20, 1, 0x0d, 0xb8, 1, byte(i >> 16), byte(i >> 8), byte(i)})
		if g.Judge("heron", from, wrong, now).Paused == 0 {
			checked++
		}
		if i%1000 == 999 {
			judge(t, g, home, right, now, 0)
		}
	}
	if most := addresses / perMinute * guessesAMinute; checked != most {
		t.Errorf("%d guesses were checked, want %d", checked, most)
	}
	for i := range addresses { // one network after the other gets a hundred, so that addresses are remembered
		from := netip.AddrFrom16([16]byte{0x20, 1, 0x0d, 0xb8, 2, byte(i >> 16), byte(i >> 8), byte(i)})
		g.Judge([]string{"a", "b"}[i%2], from, wrong, noon.Add(time.Duration(i)*time.Second/2))
	}
	if n := g.guessers.len(); n > maxGuessers {
		t.Errorf("%d addresses are remembered", n)
	}
	if grown := heap() - before; grown > 32<<20 {
		t.Errorf("%d MB are in use", grown>>20)
	}
	runtime.KeepAlive(g)
}
