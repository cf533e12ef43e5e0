package push_test

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/gateway/push"
	"rowbell/store"
)

// held is a network whose tries end when the test lets them.
type held struct {
	began, end     chan string
	inFlight, most atomic.Int32
}

func newHeld() *held { return &held{began: make(chan string), end: make(chan string)} }

func (h *held) Push(_ context.Context, m store.Message) (string, error) {
	if n := h.inFlight.Add(1); n > h.most.Load() {
		h.most.Store(n)
	}
	defer h.inFlight.Add(-1)
	h.began <- m.Key
	<-h.end
	return "", nil
}

// A sender with other settings takes over while texts are being sent: the tries that have begun end, what was claimed
// and not tried is sent by the new sender, and a network that stays gets no more texts at once than it may. A network
// that is gone ends the text that it was sending.
func TestSenderTakesOver(t *testing.T) {
	routes := []push.Route{{Prefix: "+44", Through: []string{"heron"}},
		{Prefix: fmt.Sprintf("+44%d", 77009005), Through: []string{"wren"}}}
	o := newOutbox(t, routes...)
	after := []push.Route{routes[0], {Prefix: fmt.Sprintf("+44%d", 77009006), Through: []string{"tern"}}}
	heron, wren, tern := newHeld(), newHeld(), newHeld()
	options := func(routes []push.Route, gateways ...push.Gateway) push.Options {
		opts := o.options(gateways...)
		opts.Routes = routes
		return opts
	}
	heronGateway := push.Gateway{Name: "heron", Network: heron, Concurrency: 1, Idempotent: true}
	const other = store.Phone("+447700900501")
	for i := range 3 {
		o.queue(fmt.Sprint("h", i), time.Hour)
		o.queueTo(other, fmt.Sprint("w", i), time.Hour)
	}
	ctx, cancel := context.WithCancel(t.Context())
	old := push.New(options(routes, heronGateway, push.Gateway{Name: "wren", Network: wren, Concurrency: 1}))
	oldEnded, newEnded := make(chan struct{}), make(chan struct{})
	go func() { defer close(oldEnded); old.Run(ctx) }()
	if h, w := <-heron.began, <-wren.began; h != "h0" || w != "w0" {
		t.Errorf("first %s and %s were tried", h, w)
	}
	o.queueTo("+447700900124", "h3", time.Hour) // which the old sender has not claimed

	ok(t, o.store.Reconfigure(ctx, push.RoutePrefixes(after), func(*store.Tx) error { return nil }))
	next := push.New(options(after, heronGateway, push.Gateway{Name: "tern", Network: tern, Concurrency: 1}))
	next.Continue(old)
	old.Stop()
	go func() { defer close(newEnded); next.Run(ctx) }()
	wren.end <- ""
	for i := range 5 { // meanwhile heron's new worker has its turns at the outbox, if it does not wait
		o.queueTo("+447700900600", fmt.Sprint("t", i), time.Hour)
		next.Kick()
		<-tern.began
		tern.end <- ""
	}
	heron.end <- ""
	<-oldEnded
	o.is(phone, "h0", store.Accepted)
	o.is(other, "w0", store.Accepted)
	sent := map[string]int{}
	for range 5 { // all go by heron now
		next.Kick()
		sent[<-heron.began]++
		heron.end <- ""
	}
	for _, key := range []string{"h1", "h2", "h3", "w1", "w2"} {
		if sent[key] != 1 {
			t.Errorf("%s was sent %d times: %v", key, sent[key], sent)
		}
	}
	cancel()
	<-newEnded
	if heron.most.Load() != 1 {
		t.Errorf("heron got %d texts at once", heron.most.Load())
	}
	o.is(phone, "h2", store.Accepted)
	o.is(other, "w2", store.Accepted)
}
