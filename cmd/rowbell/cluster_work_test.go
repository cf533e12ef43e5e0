package main

import (
	"encoding/json"
	"net/http"
	"slices"
	"sync"
	"time"

	"rowbell/store"
)

// patience is how long the services and the databases have in all to get well again.
const patience = 3 * time.Minute

// work lets the growers dial and send texts, and does the harm when a third of the callbacks are answered. It returns
// when all callbacks are answered, all services are ready and no text waits.
func (c *cluster) work(harm func()) {
	c.t.Helper()
	c.rate = time.NewTicker(clusterRate)
	defer c.rate.Stop()
	all, third := 0, make(chan struct{})
	queue, left := make(chan *scripted, len(c.growers)), len(c.growers)
	for _, g := range c.growers {
		all += len(g.steps)
		queue <- g
	}
	var callers sync.WaitGroup
	for range clusterCallers {
		callers.Go(func() {
			for g := range queue {
				answered := c.step(g)
				c.mu.Lock()
				if answered {
					if c.answers++; c.answers == all/3 {
						close(third)
					}
				}
				if g.answered() < len(g.steps) {
					queue <- g
				} else if left--; left == 0 {
					close(queue)
				}
				c.mu.Unlock()
			}
		})
	}
	var watching sync.WaitGroup
	finished := make(chan struct{})
	watching.Go(func() { c.watch(finished) })
	<-third
	harm()
	callers.Wait()
	close(finished)
	watching.Wait()
}

// step sends the next callback of a grower, and reports whether it was answered.
func (c *cluster) step(g *scripted) bool {
	<-c.rate.C
	n := c.turn.Add(1)
	c.mu.Lock()
	p := c.services[n%clusterServices]
	c.mu.Unlock()
	s, begun := g.steps[g.answered()], time.Now()
	reply, status, err := p.try(s.call, s.body)

	c.mu.Lock()
	defer c.mu.Unlock()
	now := time.Now()
	switch {
	case err != nil:
		c.lost++
	case status == http.StatusServiceUnavailable:
		c.refused = append(c.refused, now.Sub(begun))
		var told struct{ Detail string }
		if err := json.Unmarshal(reply, &told); err != nil {
			c.t.Errorf("status 503 with %q: %v", reply, err)
		}
		c.details[told.Detail] = true
	case status != statusOf(s.call):
		c.t.Errorf("%s %v: %d %s", s.call, s.body, status, reply)
		fallthrough // the grower goes on, so that the test ends
	default:
		if !c.last.IsZero() {
			c.longest = max(c.longest, now.Sub(c.last))
		}
		c.last = now
		g.replies = append(g.replies, reply)
		return true
	}
	return false
}

// counts returns how many callbacks were answered and refused so far.
func (c *cluster) counts() (answered, refused int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.answers, len(c.refused)
}

// await waits until a condition holds.
func (c *cluster) await(holds func() bool) {
	c.t.Helper()
	ticks := time.NewTicker(50 * time.Millisecond)
	defer ticks.Stop()
	for end := time.Now().Add(patience); !holds(); <-ticks.C {
		if time.Now().After(end) {
			c.t.Fatalf("not after %v", patience)
		}
	}
}

// watch asks each service whether it is ready, and notes what is not. It returns when the callers have finished and all
// services are ready.
func (c *cluster) watch(finished <-chan struct{}) {
	ticks := time.NewTicker(250 * time.Millisecond)
	defer ticks.Stop()
	end := time.Now().Add(patience)
	for done := false; ; {
		ready := true
		for n := range clusterServices {
			ready = c.ready(n) && ready
		}
		if done && ready {
			return
		}
		if time.Now().After(end) {
			c.t.Errorf("not all services are ready after %v", patience)
			return
		}
		select {
		case <-finished:
			done = true
		default:
		}
		<-ticks.C
	}
}

// ready asks a service whether it is ready.
func (c *cluster) ready(n int) bool {
	c.mu.Lock()
	p := c.services[n]
	c.mu.Unlock()
	req, err := http.NewRequest(http.MethodGet, p.base+"/readyz", nil)
	if err != nil {
		c.t.Error(err)
		return true
	}
	req.Header.Set("Accept", "application/json")
	resp, err := p.http.Do(req)
	if err != nil {
		return false
	}
	defer resp.Body.Close()
	var said struct {
		Checks []struct {
			Name   string
			OK     bool
			Reason string
		}
	}
	if err := json.NewDecoder(resp.Body).Decode(&said); err != nil {
		return false
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, check := range said.Checks {
		if !check.OK {
			c.unready[check.Name+": "+check.Reason]++
		}
	}
	return resp.StatusCode == http.StatusOK
}

// check compares the records and what the networks got with the answers that the growers got.
func (c *cluster) check() {
	c.t.Helper()
	s := openRecords(c.t, c.dsn)
	unknown := c.awaitTexts(s)
	read(c.t, s, func(tx *store.Tx) error {
		for _, g := range c.growers {
			got, err := found(tx, g.phone, time.Now().Unix())
			if err != nil {
				return err
			}
			if got != g.want() {
				c.t.Errorf("%v: %+v, want %+v", g.phone, got, g.want())
			}
		}
		return nil
	})
	c.t.Logf("texts: %d; in doubt: %d", c.services[0].inbox.count(), unknown)
	if most := clusterServices * onceInFlight; unknown > most {
		c.t.Errorf("%d texts are in doubt, want at most %d", unknown, most)
	}
	// Each callback once more, to any service, gets the answer that it got before.
	var repeats sync.WaitGroup
	for part := range clusterServices {
		v := &victims{p: c.services[part]}
		repeats.Go(func() {
			for i := part; i < len(c.growers); i += clusterServices {
				for n := range c.growers[i].answered() {
					v.again(c.t, c.growers[i], n)
				}
			}
		})
	}
	repeats.Wait()
}

// awaitTexts waits until no text waits, and compares their states with what the networks got. It returns how many texts
// are in doubt.
func (c *cluster) awaitTexts(s *store.Store) (unknown int) {
	c.t.Helper()
	inbox := c.services[0].inbox
	ticks := time.NewTicker(250 * time.Millisecond)
	defer ticks.Stop()
	for end := time.Now().Add(patience); ; <-ticks.C {
		var waiting, wrong []store.Message
		unknown = 0
		read(c.t, s, func(tx *store.Tx) error {
			for _, g := range c.growers {
				texts, err := tx.Inbox(g.phone, 0)
				if err != nil {
					return err
				}
				for _, m := range texts {
					got, once := inbox.requests(m.Key), g.phone >= fictional(500)
					switch {
					case once && got > 1, m.State == store.Accepted && got == 0, m.State == store.Unknown && !once:
						wrong = append(wrong, m)
					case m.State == store.Unknown:
						unknown++
					case m.State != store.Accepted:
						waiting = append(waiting, m)
					}
				}
			}
			return nil
		})
		if len(waiting) > 0 && time.Now().Before(end) {
			continue
		}
		for _, m := range slices.Concat(waiting, wrong) {
			c.t.Errorf("text %s is %s (%s); its network got it %d times", m.Key, m.State, m.Reason,
				inbox.requests(m.Key))
		}
		return unknown
	}
}

// report prints what was measured.
func (c *cluster) report() {
	c.t.Logf("%d callbacks were answered; the longest time without an answer was %.1f s", c.answers,
		c.longest.Seconds())
	if n := len(c.refused); n > 0 {
		slices.Sort(c.refused)
		c.t.Logf("%d callbacks got status 503, half of them within %v, all within %v", n,
			c.refused[n/2].Round(time.Millisecond), c.refused[n-1].Round(time.Millisecond))
	}
	c.t.Logf("%d callbacks got no answer, because their connection was lost or after 10 s", c.lost)
	for said, times := range c.unready {
		c.t.Logf("%d times not ready: %s", times, said)
	}
}
