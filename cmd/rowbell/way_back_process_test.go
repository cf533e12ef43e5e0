package main

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"sync/atomic"
	"testing"
)

// second starts a further network, which refuses all texts while fails is true.
func (p *process) second() (in *inbox, url string, fails *atomic.Bool) {
	in, fails = newInbox(), &atomic.Bool{}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if fails.Load() {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		in.ServeHTTP(w, r)
	}))
	p.t.Cleanup(server.Close)
	return in, server.URL, fails
}

// With back, the answer to a text goes by the network that brought the text, also if the route prefers another network.
// Reminders go by the route. An answer also goes by the route if its network fails, has an open breaker or is at a
// limit of its own.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestAnswersGoBack(t *testing.T) {
	t.Parallel()
	p := newProcess(t)
	tern, url, fails := p.second()
	p.env = []string{"OWN_FORMAT_SECRET=" + testToken}
	p.startConfigured(aDay, "", "[texts]\nlanguages = [\"en\"]\n"+
		ownFormat(map[string]string{"heron": p.push.URL, "tern": url})+
		"[gateways.tern.limits]\ntexts_a_day = 20\n"+
		fmt.Sprintf("[[routes]]\nprefix = \"+44%d\"\nthrough = [\"heron\"]\nback = true\n", 770090)+
		fmt.Sprintf("[[routes]]\nprefix = \"+44%d\"\nthrough = [\"heron\"]\n", 77009006))
	n := 0
	sends := func(network, phone string) {
		t.Helper()
		p.network = network
		n++
		p.post("sms", map[string]any{"id": fmt.Sprint("t", n), "phone": phone, "text": "help"}, http.StatusAccepted)
		p.settle()
	}
	got := func(when string, byHeron, byTern []string) {
		t.Helper()
		p.settle() // a text whose way has changed goes out with the next round of the sender
		if h, other := p.inbox.phones(), tern.phones(); !slices.Equal(h, byHeron) || !slices.Equal(other, byTern) {
			t.Errorf("%s: heron sent to %q, tern to %q; want %q and %q", when, h, other, byHeron, byTern)
		}
	}
	phones := func(list ...int) (numbers []string) {
		for _, n := range list {
			numbers = append(numbers, fictional(n).E164())
		}
		return numbers
	}
	sends("tern", fictional(1).E164())
	sends("heron", fictional(2).E164())
	got("both work", phones(2), phones(1))
	sends("tern", fictional(600).E164())
	got("a route without back", phones(600), nil)

	// A grower who registered by tern gets reminders by the route.
	p.network = "tern"
	registering(3).run(p, 300)
	p.settle()
	p.inbox.phones()
	tern.phones()
	for day := range 20 {
		p.set(aDay.AddDate(0, 0, day+1))
	}
	got("reminders", phones(3), nil)

	fails.Store(true)
	sends("tern", fictional(4).E164())
	got("a try failed", nil, nil)
	p.clock(map[string]any{"advance": "2m"})
	got("a text after a failed try", phones(4), nil)
	for i := range 5 {
		sends("tern", fictional(10+i).E164())
	}
	p.inbox.phones()
	sends("tern", fictional(20).E164())
	if h := p.inbox.phones(); !slices.Contains(h, fictional(20).E164()) {
		t.Errorf("with the breaker open, heron sent to %q", h)
	}
	fails.Store(false)
	p.clock(map[string]any{"advance": "1h"})
	p.inbox.phones()
	tern.phones()
	for i := range 21 {
		sends("tern", fictional(30+i).E164())
	}
	p.settle()
	h, other := p.inbox.phones(), tern.phones()
	if len(h) == 0 || len(other) == 0 || len(h)+len(other) != 21 || len(other) > 20 {
		t.Errorf("tern is at its limit: heron sent to %d, tern to %d", len(h), len(other))
	}
	p.stop()
}
