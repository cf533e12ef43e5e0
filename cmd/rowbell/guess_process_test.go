package main

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"
)

// guessing calls the networks of a running service with secrets, from addresses that a trusted proxy tells.
type guessing struct {
	*process
	calls int
}

// dials begins a session with an Authorization header, and checks the status and the header Retry-After, "" for none.
func (g *guessing) dials(network, from, authorization string, status int, retryAfter string) {
	g.t.Helper()
	g.calls++
	body := fmt.Sprintf(`{"phone":"%s","session":"%d","step":0,"event":"begin","dialled":"*123#"}`,
		fictional(1).E164(), g.calls)
	req, err := http.NewRequest(http.MethodPost, g.base+"/in/"+network+"/ussd", strings.NewReader(body))
	must(g.t, err)
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set("X-Forwarded-For", from)
	if authorization != "" {
		req.Header.Set("Authorization", authorization)
	}
	resp, err := g.http.Do(req)
	must(g.t, err)
	must(g.t, resp.Body.Close())
	if got := resp.Header.Get("Retry-After"); resp.StatusCode != status || got != retryAfter {
		g.t.Errorf("call %d from %s: %d, Retry-After %q; want %d, %q", g.calls, from, resp.StatusCode, got, status,
			retryAfter)
	}
}

// A caller who guesses the secret of a network gets a pause, which grows. During the pause, the right secret is refused
// too. Other addresses and networks are served meanwhile, and the pause is short. A caller without a secret gets no
// pause.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestGuessesAreSlowed(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	p.env = []string{"REED=" + testToken, "CLAY=clay-and-more-clay"}
	p.settings = `
[proxy]
trusted = ["127.0.0.1"]
[gateways.reed]
trust = { by = "bearer", secrets = ["REED"] }
[gateways.clay]
trust = { by = "basic", user = "kiln", secrets = ["CLAY"] }
`
	p.start(aDay)
	g := &guessing{process: p}
	const bearer, here, there, other = "Bearer " + testToken, "2001:db8::7", "2001:db8::ffff:8", "2001:db8:0:1::7"
	const basic = "Basic a2lsbjpjbGF5LWFuZC1tb3JlLWNsYXk=" // kiln:clay-and-more-clay
	now := aDay
	later := func(d time.Duration) {
		t.Helper()
		now = now.Add(d)
		p.set(now)
	}
	for range 30 {
		g.dials("reed", here, "", http.StatusUnauthorized, "")
	}
	for i := range 10 {
		g.dials("reed", here, fmt.Sprint("Bearer guess-", i), http.StatusUnauthorized, "")
	}
	for _, retry := range []string{"1", "2", "4", "8", "16", "30", "30"} {
		g.dials("reed", here, bearer, http.StatusTooManyRequests, retry)
		// This address is in the same network of 64 bits.
		g.dials("reed", there, "Bearer guess-there", http.StatusTooManyRequests, retry)
		g.dials("reed", other, bearer, http.StatusOK, "")
		g.dials("clay", here, basic, http.StatusOK, "")
		wait, err := time.ParseDuration(retry + "s")
		must(t, err)
		later(wait)
		g.dials("reed", here, "Bearer guess-later", http.StatusUnauthorized, "")
	}
	later(30 * time.Second)
	g.dials("reed", here, bearer, http.StatusOK, "")
	for range 9 { // the right secret ended it
		g.dials("reed", here, "Bearer guess-again", http.StatusUnauthorized, "")
		g.dials("clay", here, "Basic a2lsbjpndWVzcw==", http.StatusUnauthorized, "") // kiln:guess
	}
	g.dials("reed", here, bearer, http.StatusOK, "")
	g.dials("clay", here, "Basic a2lsbjpndWVzcw==", http.StatusUnauthorized, "")
	g.dials("clay", here, basic, http.StatusTooManyRequests, "1")

	later(time.Minute)
	for i := range 100 { // guesses from many addresses; those that had the right secret are served
		g.dials("reed", fmt.Sprintf("2001:db8:1:%d::1", i), "Bearer guess-many", http.StatusUnauthorized, "")
	}
	g.dials("reed", "2001:db8:2::1", bearer, http.StatusTooManyRequests, "60")
	g.dials("reed", other, bearer, http.StatusOK, "")
	later(time.Minute)
	g.dials("reed", "2001:db8:2::1", bearer, http.StatusOK, "")

	log := p.log.String()
	if strings.Contains(log, "guess-") || strings.Contains(log, testToken) {
		t.Error("a guess or the secret is in the log")
	}
	for _, line := range []string{`"gateway":"reed","from":"2001:db8::/64"`, `"gateway":"clay","from":"2001:db8::/64"`,
		`"gateway":"reed","from":"addresses that are not known"`} {
		if n := strings.Count(log, line); n != 1 {
			t.Errorf("the log has %d times %s", n, line)
		}
	}
	_, metrics := p.get("/metrics")
	for _, line := range []string{`rowbell_wrong_secrets_total{gateway="reed",outcome="wrong"} 126`,
		`rowbell_wrong_secrets_total{gateway="reed",outcome="paused"} 15`,
		`rowbell_wrong_secrets_total{gateway="clay",outcome="paused"} 1`} {
		if !strings.Contains(metrics, line) {
			t.Errorf("/metrics lacks %s", line)
		}
	}
}
