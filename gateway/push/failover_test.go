package push_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rowbell/engine"
	"rowbell/gateway/limit"
	"rowbell/gateway/push"
	"rowbell/store"
)

// fickle is a Network that a test switches off and on, and that notes what it got.
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

// got are the texts that were tried since the last time, failed ones marked.
func (n *fickle) got() string {
	s := strings.Join(n.keys, " ")
	n.keys = nil
	return s
}

var busy = &push.Refusal{Again: true, Reason: "the network answered 503"}

// routed is an outbox whose store knows the lanes of these routes, and a sender
// over heron and tern.
func routed(t *testing.T, heron, tern *fickle, routes ...push.Route) (*outbox, *push.Sender) {
	t.Helper()
	o := newOutbox(t)
	s, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "routed.db"), store.Options{RoutePrefixes: push.RoutePrefixes(routes)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	o.store = s
	opts := o.options(
		push.Gateway{Name: "heron", Network: heron, Concurrency: 1, Idempotent: true},
		push.Gateway{Name: "tern", Network: tern, Concurrency: 1, Idempotent: true})
	opts.Routes = routes
	return o, push.New(opts)
}

func number(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+n)) }

// Each number goes by its route; a network that fails is left alone and its
// texts go by the next, untried ones without a try more; one probe brings it
// back.
func TestFailover(t *testing.T) {
	var heron, tern fickle
	o, s := routed(t, &heron, &tern,
		push.Route{Prefix: fmt.Sprintf("+44%d", 77009001), Through: []string{"tern"}},
		push.Route{Prefix: "+44", Through: []string{"heron", "tern"}})
	o.queueTo(number(1), "a", time.Hour)
	o.queueTo(number(101), "b", time.Hour)
	o.send(s)
	if h, tn := heron.got(), tern.got(); h != "a" || tn != "b" {
		t.Errorf("heron got %q, tern %q", h, tn)
	}
	heron.err = busy
	for i := range 7 {
		o.queueTo(number(10+i), fmt.Sprint("k", i), 24*time.Hour)
	}
	o.send(s)
	if h, tn := heron.got(), tern.got(); h != "!k0 !k1 !k2 !k3 !k4" || tn != "k5 k6" {
		t.Errorf("heron got %q, tern %q", h, tn)
	}
	for key, tries := range map[string]int{"k4": 1, "k5": 1} {
		if m := o.messageTo(number(10+int(key[1]-'0')), key); m.Tries != tries {
			t.Errorf("%s was tried %d times", key, m.Tries)
		}
	}
	o.clock.Advance(10 * time.Second) // those that failed are due, heron is left alone
	o.send(s)
	if h, tn := heron.got(), tern.got(); h != "" || tn != "k0 k1 k2 k3 k4" {
		t.Errorf("heron got %q, tern %q", h, tn)
	}
	// A probe that fails, and then one that does not.
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
	if left, back := strings.Count(o.log.String(), "is paused"), strings.Count(o.log.String(), "answers again"); left != 1 || back != 1 {
		t.Errorf("said %d times that it is left alone, %d that it is back:\n%s", left, back, o.log)
	}
}

// What the limit of a network that stands in holds goes through the preferred
// one as soon as that is back, and not only on the limit's next day.
func TestHeldByTheOneThatStandsIn(t *testing.T) {
	heron, tern := fickle{err: busy}, fickle{}
	o, _ := routed(t, &heron, &tern, push.Route{Through: []string{"heron", "tern"}})
	opts := o.options(
		push.Gateway{Name: "heron", Network: &heron, Concurrency: 1, Idempotent: true},
		push.Gateway{Name: "tern", Network: &tern, Concurrency: 1, Idempotent: true, Limits: limit.Set{TextsADay: 1}})
	opts.Routes = []push.Route{{Through: []string{"heron", "tern"}}}
	s := push.New(opts)
	for i := range 9 {
		o.queueTo(number(i), fmt.Sprint("k", i), time.Hour)
	}
	o.send(s)
	o.clock.Advance(20 * time.Second) // also those that heron did not take are due
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

// With no other network texts wait untried, and nothing is lost.
func TestNoOtherWay(t *testing.T) {
	n := fickle{err: busy}
	o := newOutbox(t)
	s := o.sender(push.Gateway{Network: &n, Concurrency: 1})
	for i := range 20 {
		o.queueTo(number(i), fmt.Sprint("k", i), 24*time.Hour)
	}
	for range 60 {
		o.send(s)
		o.clock.Advance(time.Minute)
	}
	if tries := strings.Fields(n.got()); len(tries) > 5+60/5+3 {
		t.Errorf("%d tries in an hour", len(tries))
	}
	if m := o.messageTo(number(19), "k19"); m.Tries != 0 || m.State != store.Queued {
		t.Errorf("what was not tried: %+v", m)
	}
	n.err = nil
	for range 20 {
		o.clock.Advance(5 * time.Minute)
		o.send(s)
	}
	if got := strings.Fields(n.got()); len(got) != 20 {
		t.Errorf("after the outage %q", got)
	}
}

// What is in doubt waits for its network, whatever other way there is; a phone's
// next text does not.
func TestUnsureWaitsForItsNetwork(t *testing.T) {
	heron, tern := fickle{err: errors.New("connection reset")}, fickle{}
	o, s := routed(t, &heron, &tern, push.Route{Prefix: "", Through: []string{"heron", "tern"}})
	for i := range 5 {
		o.queueTo(number(i), fmt.Sprint("k", i), 3*time.Hour)
	}
	o.send(s)
	o.queueTo(number(0), "next", 3*time.Hour)
	o.clock.Advance(10 * time.Second)
	o.send(s)
	if h, tn := heron.got(), tern.got(); h != "!k0 !k1 !k2 !k3 !k4" || tn != "next" {
		t.Errorf("heron got %q, tern %q", h, tn)
	}
	heron.err = nil
	for range 3 {
		o.clock.Advance(5 * time.Minute)
		o.send(s)
	}
	if h, tn := heron.got(), tern.got(); h != "k0 k1 k2 k3 k4" || tn != "" {
		t.Errorf("then heron got %q, tern %q", h, tn)
	}
}

// A network that sends twice what it gets twice gets nothing twice.
func TestOnce(t *testing.T) {
	for name, tt := range map[string]struct {
		err  error
		want store.State
	}{
		"no answer":           {context.DeadlineExceeded, store.Unknown},
		"told that it is so":  {&push.Refusal{Again: true, MaybeSent: true, Reason: "the answer broke off"}, store.Unknown},
		"surely not":          {busy, store.Queued},
		"never":               {&push.Refusal{Reason: "the network answered 400"}, store.Refused},
		"no such number":      {&push.Refusal{UnknownNumber: true, Again: true, Reason: "no such number"}, store.Refused},
		"unsure of a refusal": {&push.Refusal{MaybeSent: true, Reason: "the answer cannot be read"}, store.Unknown},
	} {
		t.Run(name, func(t *testing.T) {
			o := newOutbox(t)
			n := fickle{err: tt.err}
			s := push.New(o.options(push.Gateway{Name: "local", Network: &n}))
			o.queue("k1", time.Hour)
			o.send(s)
			if m := o.message("k1"); m.State != tt.want {
				t.Errorf("it is %s, want %s", m.State, tt.want)
			}
			o.clock.Advance(30 * time.Minute)
			o.send(s)
			if got := n.got(); tt.want == store.Unknown && got != "!k1" {
				t.Errorf("it was handed over %q", got)
			}
		})
	}
}

// What is on its way to such a network when the service stops is heard out.
func TestOnceIsHeardOut(t *testing.T) {
	o := newOutbox(t)
	ctx, cancel := context.WithCancel(t.Context())
	o.queue("k1", time.Hour)
	o.queue("k2", time.Hour)
	s := push.New(o.options(push.Gateway{Name: "local", Network: networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
		cancel()
		return "n-1", ctx.Err()
	})}))
	if _, err := s.Send(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("Send returned %v", err)
	}
	if first, second := o.message("k1"), o.message("k2"); first.State != store.Accepted || second.State != store.Queued || second.Tries != 0 {
		t.Errorf("%+v\n%+v", first, second)
	}
}

// While one of a phone's texts is to be tried again, the rest of the batch
// waits untried.
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

// An operator holds all texts, also what is claimed already; each way is said once.
func TestSwitch(t *testing.T) {
	o := newOutbox(t)
	set := func(fn func(*store.Tx) error) {
		t.Helper()
		if err := o.store.InTx(context.Background(), fn); err != nil {
			t.Error(err)
		}
	}
	hold := func(tx *store.Tx) error { return tx.HoldSending("a wrong text is out", o.clock.Now().Unix()) }
	n := 0
	s := o.sender(push.Gateway{Concurrency: 1, Network: networkFunc(func(context.Context, store.Message) (string, error) {
		if n++; n == 1 {
			set(hold)
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
	if m := o.messageTo(number(2), "b"); m.State != store.Expired {
		t.Errorf("while held the second is %s", m.State)
	}
	set(func(tx *store.Tx) error { _, err := tx.ReleaseSending(); return err })
	o.send(s)
	if n != 2 {
		t.Errorf("after the release %d texts have gone out", n)
	}
	log := o.log.String()
	if strings.Count(log, "a wrong text is out") != 1 || strings.Count(log, "the operator hold is over") != 1 {
		t.Errorf("log:\n%s", log)
	}
}

// Limits of the configuration hold texts until the next day (UTC), and say so
// once a day.
func TestLimitsHold(t *testing.T) {
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
	// Six texts are 1.50, and the phone's own limit is behind them all.
	if got := n.got(); got != "m5 m4 m3 m2 m1 m0" {
		t.Errorf("first day: %q", got)
	}
	if got := s.Limits(o.clock.Now()); len(got) != 1 || !strings.HasPrefix(got[0], "money_a_day of all until ") || !strings.HasSuffix(got[0], " 00:00 UTC") {
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
		t.Errorf("the phone's own limit is told: %q", got)
	}
	o.clock.Advance(28*time.Hour + time.Second)
	o.send(s)
	if m := o.messageTo(number(1), "k3"); m.State != store.Expired || m.Reason != "deferred: texts a day to one number" {
		t.Errorf("the last is %s, %q", m.State, m.Reason)
	}
	if got := strings.Count(o.log.String(), "a limit is reached"); got != 2 {
		t.Errorf("said %d times, want once for each limit:\n%s", got, o.log)
	}
}

// A gateway dead for a day: what is still useful goes out when it is back, the
// most urgent first and no faster than ever; the rest ends as expired, tried or
// not.
func TestDeadForADay(t *testing.T) {
	n := fickle{err: busy}
	o := newOutbox(t)
	s := o.sender(push.Gateway{Network: &n, Concurrency: 1, Rate: 5})
	const texts = 120
	for i := range texts { // useful for 4 h, 8 h, ... 40 h
		o.queueTo(number(i), fmt.Sprintf("k%03d", i), time.Duration(4+i%10*4)*time.Hour)
	}
	for range 24 * 60 {
		o.send(s)
		o.clock.Advance(time.Minute)
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
			// By the end of their useful time: the digit of ten says when it is.
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

// What is superseded while its network is left alone goes by no other way.
func TestSupersededAcrossGateways(t *testing.T) {
	heron, tern := fickle{err: busy}, fickle{}
	o, s := routed(t, &heron, &tern, push.Route{Prefix: "", Through: []string{"heron", "tern"}})
	var plot int64
	tx := func(fn func(*store.Tx) error) {
		t.Helper()
		if err := o.store.InTx(t.Context(), fn); err != nil {
			t.Fatal(err)
		}
	}
	now := o.clock.Now().Unix()
	tx(func(tx *store.Tx) error {
		l, err := tx.Ledger(phone, now)
		if err == nil {
			err = l.Consent("en", "1", "sms")
		}
		if err == nil {
			_, err = l.AddPlot(engine.Plot{Method: engine.Transplanted, Planted: l.Today() - 20, RowSpacingCM: 20, HillSpacingCM: 20}, engine.Tool{WidthCM: 15})
		}
		if err == nil {
			plot, err = l.PlotID(1)
		}
		return err
	})
	ring := func(key string) {
		t.Helper()
		tx(func(tx *store.Tx) error {
			if err := tx.Supersede(plot, now, time.UTC, now); err != nil {
				return err
			}
			_, err := tx.Enqueue(store.Message{Key: key, GrowerID: 1, PlotIDs: []int64{plot}, To: phone, Reminder: engine.KindOpen, Text: "Weed.",
				CreatedAt: now, DueAt: now, UsefulUntil: now + 86400})
			return err
		})
	}
	ring("old")
	o.send(s) // fails, to be tried again
	ring("new")
	for range 4 {
		o.clock.Advance(time.Minute)
		o.queueTo(number(1), fmt.Sprint("other ", o.clock.Now().Unix()), time.Hour)
		o.send(s)
	}
	if got := tern.got(); strings.Contains(got, "old") || !strings.Contains(heron.got()+got, "new") {
		t.Errorf("tern got %q", got)
	}
	if m := o.message("old"); m.State != store.Withdrawn {
		t.Errorf("the old text is %s", m.State)
	}
}
