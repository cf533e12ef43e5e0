package calls

import (
	"math"
	"math/rand/v2"
	"time"
)

// arrivals is when growers come: at random, independently of each other, and more of them in the burst.
type arrivals struct {
	rate   float64 // growers a second outside of the burst
	burst  float64 // how many times the rate comes at its height
	length time.Duration
	rnd    *rand.Rand

	at float64 // s
}

// The burst is at its height after a quarter of the time, and a third of it remains after a further tenth: a morning's
// texts go out at one hour, and growers answer when they read them.
const (
	burstAt  = 0.25
	burstFor = 0.1
)

// next returns the instant of the next arrival, counted from the begin; more is false after the last one.
func (a *arrivals) next() (at time.Duration, more bool) {
	// Thinning: arrivals of the greatest rate, of which each is kept with the probability of the present rate (Lewis
	// and Shedler, Simulation of nonhomogeneous Poisson processes by thinning, 1979).
	length := a.length.Seconds()
	most := a.rate * max(a.burst, 1)
	for {
		if a.at += a.rnd.ExpFloat64() / most; a.at >= length {
			return 0, false
		}
		if a.rnd.Float64()*most < a.now(a.at/length) {
			return time.Duration(a.at * float64(time.Second)), true
		}
	}
}

// now returns the rate at a part of the time, 0 to 1.
func (a *arrivals) now(part float64) float64 {
	if part < burstAt {
		return a.rate
	}
	return a.rate * (1 + max(a.burst-1, 0)*math.Exp(-(part-burstAt)/burstFor))
}
