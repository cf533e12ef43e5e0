package push_test

import (
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/gateway/limit"
	"rowbell/gateway/push"
	"rowbell/store"
	"rowbell/store/testrun"
)

// fickle is a Network that fails with err if err is set. It records the keys of the texts that it gets, one text at a
// time.
type fickle struct {
	err  error
	keys []string
}

func (n *fickle) Push(_ context.Context, m store.Message) (string, error) {
	if n.err != nil {
		n.keys = append(n.keys, "!"+m.Key)
		return "", n.err
	}
	n.keys = append(n.keys, m.Key)
	return "", nil
}

// got returns the keys of the texts that were tried since the last call of got. A "!" marks a failed try.
func (n *fickle) got() string {
	s := strings.Join(n.keys, " ")
	n.keys = nil
	return s
}

// gotBoth checks which texts the network heron got and which the network tern got since the last check.
func gotBoth(t *testing.T, heron, tern *fickle, fromHeron, fromTern string) {
	t.Helper()
	if h, n := heron.got(), tern.got(); h != fromHeron || n != fromTern {
		t.Errorf("heron got %q, tern %q; want %q and %q", h, n, fromHeron, fromTern)
	}
}

var busy = &push.Refusal{Again: true, Reason: "the network answered 503"}

// routed returns an outbox with these routes, and a sender over the networks heron and tern. The limits apply
// to tern only.
func routed(t *testing.T, heron, tern *fickle, limits limit.Set, routes ...push.Route) (*outbox, *push.Sender) {
	t.Helper()
	o := newOutbox(t, routes...)
	opts := o.options(
		push.Gateway{Name: "heron", Network: heron, Concurrency: 1, Idempotent: true},
		push.Gateway{Name: "tern", Network: tern, Concurrency: 1, Idempotent: true, Limits: limits})
	opts.Routes = routes
	return o, push.New(opts)
}

func number(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))) }

// A number's texts go through the first network of its route. While that network's breaker is open, they go through the
// next one, in the same Send. One successful probe closes the breaker.
func TestFailover(t *testing.T) {
	var heron, tern fickle
	o, s := routed(t, &heron, &tern, limit.Set{},
		push.Route{Prefix: fmt.Sprintf("+44%d", 77009001), Through: []string{"tern"}},
		push.Route{Prefix: "+44", Through: []string{"heron", "tern"}})
	o.queueTo(number(1), "a", time.Hour)
	o.queueTo(number(101), "b", time.Hour)
	o.send(s)
	gotBoth(t, &heron, &tern, "a", "b")
	heron.err = busy
	for i := range 7 {
		o.queueTo(number(10+i), fmt.Sprint("k", i), 24*time.Hour)
	}
	o.send(s)
	gotBoth(t, &heron, &tern, "!k0 !k1 !k2 !k3 !k4", "k5 k6")
	for key, tries := range map[string]int{"k4": 1, "k5": 1} {
		if m := o.messageTo(number(10+int(key[1]-'0')), key); m.Tries != tries {
			t.Errorf("%s was tried %d times", key, m.Tries)
		}
	}
	o.clock.Advance(10 * time.Second) // tern gets the failed texts, because heron's breaker is open
	o.send(s)
	gotBoth(t, &heron, &tern, "", "k0 k1 k2 k3 k4")
	// The first probe (p0) fails, so q0 goes through tern. The second probe (p1) succeeds, so q1 goes through heron.
	for i, want := range []string{"!p0", "p0 p1 q1"} {
		o.clock.Advance(5 * time.Minute)
		if i == 1 {
			heron.err = nil
		}
		o.queueTo(number(30+i), fmt.Sprint("p", i), time.Hour)
		o.queueTo(number(40+i), fmt.Sprint("q", i), time.Hour)
		o.send(s)
		if h, tn := heron.got(), tern.got(); h != want || (tn == "q0") != (i == 0) {
			t.Errorf("probe %d: heron got %q, tern %q", i, h, tn)
		}
	}
	o.queueTo(number(50), "last", time.Hour)
	o.send(s)
	if h := heron.got(); h != "last" {
		t.Errorf("back again, heron got %q", h)
	}
	log := o.log.String()
	if paused, back := strings.Count(log, "is paused"), strings.Count(log, "answers again"); paused != 1 || back != 1 {
		t.Errorf("logged %d pauses, %d recoveries:\n%s", paused, back, log)
	}
}

// A limit of the second network defers texts. They go through the preferred network as soon as it works again, before
// the limit ends.
func TestDeferredTextsAreReleased(t *testing.T) {
	heron, tern := fickle{err: busy}, fickle{}
	o, s := routed(t, &heron, &tern, limit.Set{TextsADay: 1}, push.Route{Through: []string{"heron", "tern"}})
	for i := range 9 {
		o.queueTo(number(i), fmt.Sprint("k", i), time.Hour)
	}
	o.send(s)
	o.clock.Advance(20 * time.Second) // the texts that heron did not take are due again
	o.send(s)
	if got := strings.Fields(tern.got()); len(got) != 1 {
		t.Fatalf("tern got %q", got)
	}
	heron.got()
	heron.err = nil
	o.clock.Advance(5 * time.Minute)
	o.queueTo(number(20), "probe", time.Hour)
	o.send(s)
	if got := strings.Fields(heron.got()); len(got) != 9 {
		t.Errorf("heron got %q", got)
	}
}

// A text that may have been sent waits for its network, although another network works. The phone's next text does not
// wait.
func TestMaybeSentWaitsForItsNetwork(t *testing.T) {
	heron, tern := fickle{err: errors.New("connection reset")}, fickle{}
	o, s := routed(t, &heron, &tern, limit.Set{}, push.Route{Prefix: "", Through: []string{"heron", "tern"}})
	for i := range 5 {
		o.queueTo(number(i), fmt.Sprint("k", i), 3*time.Hour)
	}
	o.send(s)
	o.queueTo(number(0), "next", 3*time.Hour)
	o.clock.Advance(10 * time.Second)
	o.send(s)
	gotBoth(t, &heron, &tern, "!k0 !k1 !k2 !k3 !k4", "next")
	heron.err = nil
	for range 3 {
		o.clock.Advance(5 * time.Minute)
		o.send(s)
	}
	gotBoth(t, &heron, &tern, "k0 k1 k2 k3 k4", "")
}

// A network that is not idempotent gets a text again only if the first try surely did not deliver it.
func TestAtMostOnce(t *testing.T) {
	for name, tt := range map[string]struct {
		err  error
		want store.State
	}{
		"no answer":   {context.DeadlineExceeded, store.Unknown},
		"cut answer":  {&push.Refusal{Again: true, MaybeSent: true, Reason: "the answer broke off"}, store.Unknown},
		"unconnected": {&net.OpError{Op: "dial", Err: errors.New("refused")}, store.Queued},
		"broken":      {&net.OpError{Op: "read", Err: errors.New("reset")}, store.Unknown},
		"surely not":  {busy, store.Queued},
		"never":       {&push.Refusal{Reason: "the network answered 400"}, store.Refused},
		"no number":   {&push.Refusal{UnknownNumber: true, Again: true, Reason: "no such number"}, store.Refused},
		"unclear":     {&push.Refusal{MaybeSent: true, Reason: "the answer cannot be read"}, store.Unknown},
	} {
		t.Run(name, func(t *testing.T) {
			o := newOutbox(t)
			n := fickle{err: tt.err}
			s := push.New(o.options(push.Gateway{Name: "local", Network: &n}))
			o.queue("k1", time.Hour)
			o.send(s)
			o.is(phone, "k1", tt.want)
			o.clock.Advance(30 * time.Minute)
			o.send(s)
			if got := n.got(); tt.want == store.Unknown && got != "!k1" {
				t.Errorf("it was handed over %q", got)
			}
		})
	}
}

// When the service stops, a try on a network that is not idempotent is not cancelled.
func TestAtMostOnceIsNotCancelled(t *testing.T) {
	o := newOutbox(t)
	ctx, cancel := context.WithCancel(t.Context())
	o.queue("k1", time.Hour)
	o.queue("k2", time.Hour)
	s := push.New(o.options(push.Gateway{Name: "local",
		Network: networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
			cancel()
			return "n-1", ctx.Err()
		})}))
	if _, err := s.Send(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("Send returned %v", err)
	}
	first, second := o.message("k1"), o.message("k2")
	if first.State != store.Accepted || second.State != store.Queued || second.Tries != 0 {
		t.Errorf("%+v\n%+v", first, second)
	}
}

// A text that will be tried again holds back the later texts to its phone.
func TestBatchKeepsAPhonesOrder(t *testing.T) {
	o := newOutbox(t)
	fails := 1
	var got []string
	s := o.worker(networkFunc(func(_ context.Context, m store.Message) (string, error) {
		if fails--; fails >= 0 {
			return "", busy
		}
		got = append(got, m.Key)
		return "", nil
	}))
	for i := range 4 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	o.send(s)
	if m := o.message("k3"); len(got) > 0 || m.Tries != 0 || m.State != store.Queued {
		t.Errorf("sent %q; the last is %+v", got, m)
	}
	o.clock.Advance(time.Minute)
	o.send(s)
	if !slices.Equal(got, []string{"k0", "k1", "k2", "k3"}) {
		t.Errorf("sent %q", got)
	}
}

// So does a text that was not tried because the records could not be read before its try.
func TestFailedRecordsKeepAPhonesOrder(t *testing.T) {
	if testrun.OnServer() {
		t.Skip("about a file")
	}
	views := 0
	o := newOutboxOn(t, store.Options{Fault: func(p store.Point) error {
		if p != store.AtView {
			return nil
		}
		if views++; views == 1 {
			return errors.New("the disk is gone")
		}
		return nil
	}})
	var got []string
	s := o.sender(push.Gateway{Concurrency: 1,
		Network: networkFunc(func(_ context.Context, m store.Message) (string, error) {
			got = append(got, m.Key)
			return "", nil
		})})
	for i := range 3 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	views = 0 // the next one is that before the first try
	if o.send(s); len(got) > 0 {
		t.Errorf("sent %q before the first text", got)
	}
	o.clock.Advance(time.Minute)
	if o.send(s); !slices.Equal(got, []string{"k0", "k1", "k2"}) {
		t.Errorf("sent %q", got)
	}
}

// While the operator stops all sending, no text goes out, not even a claimed one. The log has one line for the begin
// and one for the end.
func TestOperatorHold(t *testing.T) {
	o := newOutbox(t)
	hold := func(tx *store.Tx) error { return tx.HoldSending("a wrong text is out", o.clock.Now().Unix()) }
	n := 0
	s := o.sender(push.Gateway{Concurrency: 1,
		Network: networkFunc(func(context.Context, store.Message) (string, error) {
			if n++; n == 1 {
				o.tx(hold)
			}
			return "", nil
		})})
	o.queueTo(number(1), "a", time.Hour)
	o.queueTo(number(2), "b", time.Hour)
	o.queueTo(number(3), "c", 2*time.Hour)
	for range 3 {
		o.send(s)
	}
	if m := o.messageTo(number(2), "b"); n != 1 || m.State != store.Queued || m.Tries != 0 {
		t.Errorf("%d texts went out; the second is %+v", n, m)
	}
	o.clock.Advance(time.Hour + time.Second)
	o.send(s)
	o.is(number(2), "b", store.Expired)
	o.tx(func(tx *store.Tx) error { _, err := tx.ReleaseSending(); return err })
	o.send(s)
	if n != 2 {
		t.Errorf("after the release %d texts have gone out", n)
	}
	log := o.log.String()
	if strings.Count(log, "a wrong text is out") != 1 || strings.Count(log, "the operator hold is over") != 1 {
		t.Errorf("log:\n%s", log)
	}
}

// A limit that is reached defers texts until the next day (UTC). It is logged once a day.
func TestLimitsDefer(t *testing.T) {
	o := newOutbox(t)
	var n fickle
	opts := o.options(push.Gateway{Name: "heron", Network: &n, Concurrency: 1, Idempotent: true, SegmentPrice: 250_000})
	opts.Limits, opts.NumberLimits = limit.Set{MoneyADay: 1.5}, limit.Set{TextsADay: 2}
	s := push.New(opts)
	for i := range 4 {
		o.queueTo(number(1), fmt.Sprint("k", i), 40*time.Hour)
	}
	for i := range 6 {
		o.queueTo(number(10+i), fmt.Sprint("m", i), time.Duration(20-i)*time.Hour)
	}
	for range 3 {
		o.send(s)
	}
	// Six texts at 0.25 use up the limit of 1.50. The texts to number(1) are useful for longest, so they come last and
	// are deferred.
	if got := n.got(); got != "m5 m4 m3 m2 m1 m0" {
		t.Errorf("first day: %q", got)
	}
	if got := s.Limits(o.clock.Now()); fmt.Sprint(got) != "[money_a_day of all until 2 Jun 00:00 UTC]" {
		t.Errorf("the first day's limits: %q", got)
	}
	o.clock.Advance(12*time.Hour - time.Second)
	o.send(s)
	if got := n.got(); got != "" {
		t.Errorf("before midnight: %q", got)
	}
	o.clock.Advance(time.Second)
	o.send(s)
	o.send(s)
	if got := n.got(); got != "k0 k1" {
		t.Errorf("second day: %q", got)
	}
	if got := s.Limits(o.clock.Now()); len(got) != 0 {
		t.Errorf("a single number's limit is listed: %q", got)
	}
	o.clock.Advance(28*time.Hour + time.Second)
	o.send(s)
	m := o.messageTo(number(1), "k3")
	if m.State != store.Expired || m.Reason != "deferred: texts a day to one number" {
		t.Errorf("the last is %s, %q", m.State, m.Reason)
	}
	if got := strings.Count(o.log.String(), "a limit is reached"); got != 2 {
		t.Errorf("logged %d times, want once for each limit:\n%s", got, o.log)
	}
}

// A network fails for a day and is probed every five minutes. When the network works again, the texts that are still
// useful go out at the allowed rate, in the order in which they expire. All other texts have expired.
func TestDeadForADay(t *testing.T) {
	n := fickle{err: busy}
	o := newOutbox(t)
	s := o.sender(push.Gateway{Network: &n, Concurrency: 1, Rate: 5})
	const texts = 120
	for i := range texts { // the texts are useful for 4 h, 8 h, ... 40 h
		o.queueTo(number(i), fmt.Sprintf("k%03d", i), time.Duration(4+i%10*4)*time.Hour)
	}
	for range 24 * 12 {
		o.send(s)
		o.clock.Advance(5 * time.Minute)
	}
	if tries := len(strings.Fields(n.got())); tries > 24*12+10 {
		t.Errorf("%d tries in a day", tries)
	}
	n.err = nil
	last := ""
	sent := 0
	for second := range 400 {
		o.send(s)
		got := strings.Fields(n.got())
		if len(got) > 5 {
			t.Fatalf("%d texts in second %d", len(got), second)
		}
		for _, key := range got {
			// The larger the last digit of a key, the later the text expires.
			end := key[len(key)-1:]
			if sent++; end < last && sent > 1 {
				t.Errorf("%s after one that is useful for longer", key)
			}
			last = end
		}
		o.clock.Advance(time.Second)
	}
	states := map[store.State]int{}
	for i := range texts {
		m := o.messageTo(number(i), fmt.Sprintf("k%03d", i))
		states[m.State]++
		if stale := i%10 < 5; stale != (m.State == store.Expired) && i%10 != 5 {
			t.Errorf("%s is %s", m.Key, m.State)
		}
	}
	if states[store.Accepted] != sent || states[store.Accepted]+states[store.Expired] != texts {
		t.Errorf("%d sent, states %v", sent, states)
	}
}

func TestCheckRoutes(t *testing.T) {
	gateways := []string{"heron", "tern"}
	type through struct {
		prefix string
		names  []string
	}
	for _, tt := range []struct {
		name   string
		routes []through
		want   string // part of the error; "" = the routes are valid
	}{
		{"none", nil, ""},
		{"two and the rest", []through{{"+4477", gateways}, {"+44", gateways[1:]}, {"", gateways[:1]}}, ""},
		{"no plus", []through{{"4477", gateways}}, `routes[1]: prefix: "4477"`},
		{"letters", []through{{"+44", gateways}, {"+4x", gateways}}, "routes[2]: prefix"},
		{"a zero", []through{{"+0", gateways}}, "routes[1]: prefix"},
		{"too long", []through{{"+" + strings.Repeat("1", 16), gateways}}, "routes[1]: prefix"},
		{"twice", []through{{"+44", gateways}, {"+44", gateways}}, `there is a route for "+44" already`},
		{"nowhere", []through{{"+44", nil}}, "routes[1]: through: it needs"},
		{"unknown", []through{{"+44", []string{"heron", "adze"}}}, `there is no gateway "adze"`},
		{"through one twice", []through{{"+44", []string{"tern", "tern"}}}, `"tern" stands there twice`},
	} {
		var routes []push.Route
		for _, r := range tt.routes {
			routes = append(routes, push.Route{Prefix: r.prefix, Through: r.names})
		}
		err := push.CheckRoutes(routes, gateways)
		if (err == nil) != (tt.want == "") || err != nil && !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
	}
	if push.RoutePrefixes(nil) == nil {
		t.Error("nil would mean the prefixes that the records have")
	}
	got := push.RoutePrefixes([]push.Route{{Prefix: "+44", Through: gateways}, {Through: gateways}})
	if !slices.Equal(got, []string{"+44", ""}) {
		t.Errorf("prefixes %q", got)
	}
}

// A network that answers one text with 503 and a Retry-After gets no text until then. That text and all others go
// through the next network of their route. With 429 only the text waits.
func TestNetworkAsksForAPause(t *testing.T) {
	var heron, tern fickle
	o, s := routed(t, &heron, &tern, limit.Set{}, push.Route{Through: []string{"heron", "tern"}})
	heron.err = &push.Refusal{Again: true, After: 20 * time.Minute, Reason: "the network answered 429"}
	o.queueTo(number(1), "a", time.Hour)
	o.send(s)
	gotBoth(t, &heron, &tern, "!a", "")
	heron.err = &push.Refusal{Again: true, After: 2 * time.Hour, Hold: true, Reason: "the network answered 503"}
	o.queueTo(number(2), "b", time.Hour)
	o.queueTo(number(3), "c", time.Hour)
	o.send(s)
	gotBoth(t, &heron, &tern, "!b", "c")
	o.clock.Advance(10 * time.Second) // the first wait of b; the two hours are heron's, not tern's
	o.send(s)
	gotBoth(t, &heron, &tern, "", "b")
	heron.err = nil
	o.clock.Advance(20 * time.Minute)
	o.send(s)
	gotBoth(t, &heron, &tern, "", "a")
	o.clock.Advance(40 * time.Minute) // a pause lasts an hour at most
	o.queueTo(number(4), "d", time.Hour)
	o.send(s)
	gotBoth(t, &heron, &tern, "d", "")
	log := o.log.String()
	if strings.Count(log, "asks for a pause") != 1 || !strings.Contains(log, `"pause":"1h0m0s"`) {
		t.Errorf("logged:\n%s", log)
	}
}
