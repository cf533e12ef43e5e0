package push_test

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/store"
	"rowbell/store/testrun"
)

var noon = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

const phone = store.Phone("+447700900123")

// outbox is the fixture of these tests: a store, a manual clock and a log.
type outbox struct {
	t     *testing.T
	db    string // path of the database file
	store *store.Store
	clock *clock.Manual
	log   *bytes.Buffer
}

func newOutbox(t *testing.T, routes ...push.Route) *outbox {
	t.Helper()
	return newOutboxOn(t, store.Options{RoutePrefixes: push.RoutePrefixes(routes)})
}

// newOutboxOn is newOutbox for records that are opened with these options.
func newOutboxOn(t *testing.T, options store.Options) *outbox {
	t.Helper()
	db := testrun.Records(t, makeRecords)
	s := must(store.Open(t.Context(), db, options))
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return &outbox{t, db, s, clock.New(noon), new(bytes.Buffer)}
}

func makeRecords(address string) error {
	s, err := store.Open(context.Background(), address, store.Options{})
	if err != nil {
		return err
	}
	return s.Close()
}

func (o *outbox) queue(key string, useful time.Duration) {
	o.t.Helper()
	o.queueTo(phone, key, useful)
}

func (o *outbox) queueTo(phone store.Phone, key string, useful time.Duration) {
	o.t.Helper()
	now := o.clock.Now()
	o.tx(func(tx *store.Tx) error {
		_, err := tx.Enqueue(store.Message{Key: key, To: phone, Reminder: engine.KindOpen, Text: "Weed plot 1 now.",
			CreatedAt: now.Unix(), DueAt: now.Unix(), UsefulUntil: now.Add(useful).Unix()})
		return err
	})
}

// tx runs fn in a transaction. It may be called on any goroutine.
func (o *outbox) tx(fn func(*store.Tx) error) {
	o.t.Helper()
	if err := o.store.InTx(context.Background(), fn); err != nil {
		o.t.Error(err)
	}
}

// message returns the text to phone with this key.
func (o *outbox) message(key string) store.Message {
	o.t.Helper()
	return o.messageTo(phone, key)
}

func (o *outbox) messageTo(phone store.Phone, key string) store.Message {
	o.t.Helper()
	var found store.Message
	err := o.store.View(o.t.Context(), func(tx *store.Tx) error {
		list, err := tx.Inbox(phone, 0)
		for _, m := range list {
			if m.Key == key {
				found = m
			}
		}
		return err
	})
	if err != nil || found.ID == 0 {
		o.t.Fatalf("message %s: %v", key, err)
	}
	return found
}

// is checks the state of a text.
func (o *outbox) is(phone store.Phone, key string, want store.State) {
	o.t.Helper()
	if m := o.messageTo(phone, key); m.State != want {
		o.t.Errorf("%s is %s (%s), want %s", key, m.State, m.Reason, want)
	}
}

// worker returns a sender with one idempotent network.
func (o *outbox) worker(n push.Network) *push.Sender { return o.sender(push.Gateway{Network: n}) }

// sender returns a sender with these networks and makes all of them idempotent. A network without a name is
// called local.
func (o *outbox) sender(gateways ...push.Gateway) *push.Sender {
	for i := range gateways {
		gateways[i].Name, gateways[i].Idempotent = cmp.Or(gateways[i].Name, "local"), true
	}
	return push.New(o.options(gateways...))
}

// options returns the options of a sender with these networks. It leaves Idempotent as each Gateway has it.
func (o *outbox) options(gateways ...push.Gateway) push.Options {
	return push.Options{
		Store: o.store, QuietHour: 20, Clock: o.clock, Log: zerolog.New(o.log), Gateways: gateways,
		Jitter: func() float64 { return 0 },
	}
}

func (o *outbox) send(w *push.Sender) int {
	o.t.Helper()
	return must(w.Send(o.t.Context()))
}

// ok ends the test if there is an error.
func ok(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// must returns v. It panics if there is an error, because the set-up of a test must not fail.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// networkFunc is a function that implements Network.
type networkFunc func(ctx context.Context, m store.Message) (string, error)

func (f networkFunc) Push(ctx context.Context, m store.Message) (string, error) { return f(ctx, m) }

// The timeout ends a try that the network never answers.
func TestHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOutbox(t)
		o.queue("k1", time.Hour)
		began := time.Now()
		w := o.worker(networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
			<-ctx.Done()
			return "", ctx.Err()
		}))
		if got := o.send(w); got != 0 {
			t.Errorf("%d texts taken", got)
		}
		if took := time.Since(began); took != profile.DefaultTimeout {
			t.Errorf("gave up after %v, want %v", took, profile.DefaultTimeout)
		}
		if m := o.message("k1"); m.State != store.Queued || m.Reason != "no answer in time" {
			t.Errorf("message %s, %q", m.State, m.Reason)
		}
	})
}

// A try that is cancelled because the service stops puts its text back into the outbox. The text keeps its key.
func TestStopped(t *testing.T) {
	o := newOutbox(t)
	ctx, cancel := context.WithCancel(t.Context())
	for i := range 6 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	w := o.sender(push.Gateway{Concurrency: 1,
		Network: networkFunc(func(ctx context.Context, _ store.Message) (string, error) {
			cancel()
			<-ctx.Done()
			return "", ctx.Err()
		})})
	if _, err := w.Send(ctx); err != context.Canceled {
		t.Errorf("Send returned %v", err)
	}
	for i := range 6 {
		o.is(phone, fmt.Sprint("k", i), store.Queued)
	}
	o.clock.Advance(time.Minute)
	if got := o.send(o.worker(push.Log{})); got != 6 {
		t.Errorf("after the stop %d texts went out, want 6", got)
	}
}

// No text is tried after its lease has ended, because another worker could claim it then. After a crash no text stays
// claimed for longer than five minutes.
func TestLongBatch(t *testing.T) {
	o := newOutbox(t)
	const texts = 64 // all of them fit into one batch
	for i := range texts {
		o.queue(fmt.Sprintf("k%02d", i), 24*time.Hour)
	}
	claimable := func(at time.Time) (n int) {
		undo := errors.New("only looked")
		err := o.store.InTx(context.Background(), func(tx *store.Tx) error {
			claims, err := store.Claims{Ended: true}, error(nil)
			for err == nil && claims.Ended {
				claims, err = tx.Claim(at.Unix(), store.Claimant{
					Gateway: "local", RoutePrefixes: []string{""}, Max: texts, Lease: time.Minute,
				})
				n += len(claims.Texts)
			}
			return errors.Join(err, undo)
		})
		if !errors.Is(err, undo) {
			t.Error(err)
		}
		return n
	}
	var keys []string
	w := o.sender(push.Gateway{Concurrency: 16, Timeout: 10 * time.Second,
		Network: networkFunc(func(_ context.Context, m store.Message) (string, error) {
			keys = append(keys, m.Key)
			if n := claimable(o.clock.Now().Add(9 * time.Second)); n != 0 {
				t.Errorf("%s: another could take %d texts", m.Key, n)
			}
			if n := claimable(o.clock.Now().Add(5 * time.Minute)); n == 0 {
				t.Errorf("%s: claimed for longer than five minutes", m.Key)
			}
			o.clock.Advance(10 * time.Second)
			return "", nil
		})})
	if got := o.send(w); got != texts || !slices.IsSorted(keys) || len(slices.Compact(keys)) != texts {
		t.Errorf("%d texts: %v", got, keys)
	}
	if o.log.Len() > 0 {
		t.Errorf("log: %s", o.log)
	}
}

// A try that ends at the last instant of its lease has its outcome stored before the worker of another network (tern)
// sees the lease end and treats the text as lost. The network heron answers "try later", so the text must wait in the
// outbox.
func TestLeaseOutlastsItsTries(t *testing.T) {
	for _, fraction := range []time.Duration{0, 900 * time.Millisecond} {
		o := newOutbox(t)
		o.clock.Advance(fraction)
		for i := range 4 {
			o.queueTo(number(i), fmt.Sprint("k", i), time.Hour)
		}
		const timeout = 100 * time.Second // long enough that the longest lease ends before the whole batch is tried
		tern := o.sender(push.Gateway{Name: "tern", Concurrency: 1, Network: &fickle{err: busy}})
		heron := push.New(o.options(push.Gateway{Name: "heron", Concurrency: 1, Timeout: timeout,
			Network: networkFunc(func(ctx context.Context, m store.Message) (string, error) {
				o.clock.Advance(timeout)
				_, err := tern.Send(ctx)
				return "", errors.Join(err, busy)
			})}))
		o.send(heron)
		for i := range 4 {
			if m := o.messageTo(number(i), fmt.Sprint("k", i)); m.State != store.Queued || m.MaybeSent {
				t.Errorf("begun %v after the second: text %d is %s (%s), maybe sent %v",
					fraction, i, m.State, m.Reason, m.MaybeSent)
			}
		}
	}
}

// A STOP that comes while a batch is being sent withdraws the rest of the batch.
func TestStopWhileSending(t *testing.T) {
	o := newOutbox(t)
	for i := range 3 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	pushed := 0
	w := o.sender(push.Gateway{Network: networkFunc(func(context.Context, store.Message) (string, error) {
		pushed++
		return "", o.store.InTx(context.Background(), func(tx *store.Tx) error {
			l, err := tx.Ledger(phone, noon.Unix())
			if err == nil {
				err = l.Stop()
			}
			return err
		})
	})})
	if got := o.send(w); got != 1 || pushed != 1 {
		t.Errorf("%d texts went out after all, %d were tried; want 1", got, pushed)
	}
	for key, want := range map[string]store.State{"k0": store.Accepted, "k1": store.Withdrawn, "k2": store.Withdrawn} {
		if got := o.message(key).State; got != want {
			t.Errorf("%s is %s, want %s", key, got, want)
		}
	}
	if o.log.Len() > 0 {
		t.Errorf("log: %s", o.log)
	}
}

func TestRate(t *testing.T) {
	o := newOutbox(t)
	for i := range 25 {
		o.queue(fmt.Sprint("k", i), time.Hour)
	}
	w := o.sender(push.Gateway{Network: push.Log{}, Rate: 10})
	for i, want := range []int{10, 10, 5, 0} {
		if got := o.send(w); got != want {
			t.Errorf("second %d: %d texts, want %d", i, got, want)
		}
		if got := o.send(w); got != 0 {
			t.Errorf("second %d: %d more in the same second", i, got)
		}
		o.clock.Advance(time.Second)
	}
	slow := o.sender(push.Gateway{Network: push.Log{}, Rate: 0.1})
	o.queue("s1", time.Hour)
	o.queue("s2", time.Hour)
	if first, second := o.send(slow), o.send(slow); first != 1 || second != 0 {
		t.Errorf("one in ten seconds: %d, then %d at once", first, second)
	}
	o.clock.Advance(10 * time.Second)
	if got := o.send(slow); got != 1 {
		t.Errorf("after ten seconds %d texts, want 1", got)
	}
}

// Several phones get texts at the same time. The texts to one phone are sent in their order.
func TestConcurrency(t *testing.T) {
	o := newOutbox(t)
	for i := range 40 {
		o.queueTo(store.Phone("+44"+fmt.Sprintf("77009001%02d", i%5)), fmt.Sprintf("k%02d", i), time.Hour)
	}
	var mu sync.Mutex
	at, most := 0, 0
	got := map[store.Phone][]string{}
	busy := map[store.Phone]bool{}
	three := make(chan struct{})
	w := o.sender(push.Gateway{Concurrency: 3,
		Network: networkFunc(func(_ context.Context, m store.Message) (string, error) {
			mu.Lock()
			if busy[m.To] {
				t.Errorf("two texts to %s at once", m.To)
			}
			busy[m.To] = true
			got[m.To] = append(got[m.To], m.Key)
			if at++; at > most {
				if most = at; most == 3 {
					close(three)
				}
			}
			mu.Unlock()
			<-three // wait until all three senders are sending
			mu.Lock()
			at--
			busy[m.To] = false
			mu.Unlock()
			return "", nil
		})})
	if got := o.send(w); got != 40 || most != 3 {
		t.Errorf("%d texts, at most %d at once; want 40 and 3", got, most)
	}
	for phone, keys := range got {
		if len(keys) != 8 || !slices.IsSorted(keys) {
			t.Errorf("%s got %v", phone, keys)
		}
	}
}

func TestLogNetwork(t *testing.T) {
	o := newOutbox(t)
	o.queue("k1", time.Hour)
	o.send(o.worker(push.Log{Log: zerolog.New(o.log)}))
	o.is(phone, "k1", store.Accepted)
	log := o.log.String()
	if want := `{"level":"info","to":"+4477…123","kind":"open","message":"text"}` + "\n"; log != want {
		t.Errorf("log %q\nwant %q", log, want)
	}
}

// The log has one line for each reason why texts do not go out, and one when they go out again.
func TestSaysOnce(t *testing.T) {
	o := newOutbox(t)
	var fail error = &push.Refusal{Again: true, Reason: "the network answered 503"}
	w := o.worker(networkFunc(func(context.Context, store.Message) (string, error) { return "", fail }))
	o.queue("k1", 24*time.Hour)
	for range 3 {
		o.send(w)
		o.clock.Advance(time.Hour)
	}
	fail = nil
	o.send(w)
	o.queue("k2", time.Hour)
	o.send(w)
	log := o.log.String()
	want := regexp.MustCompile(`^.*do not go out.*\n.*go out again.*\n$`)
	if !want.MatchString(log) || strings.Contains(log, "+447700900123") || strings.Contains(log, "Weed") {
		t.Errorf("log:\n%s", log)
	}
}

// Run sends when it starts, on ticks and on kicks. It returns when its context ends.
func TestRun(t *testing.T) {
	o := newOutbox(t)
	sent := make(chan string)
	w := o.worker(networkFunc(func(_ context.Context, m store.Message) (string, error) {
		sent <- m.Key
		return "", nil
	}))
	o.queue("start", time.Hour)
	ctx, cancel := context.WithCancel(t.Context())
	over := make(chan struct{})
	go func() { defer close(over); w.Run(ctx) }()
	if got := <-sent; got != "start" {
		t.Errorf("sent %s", got)
	}
	o.queue("kick", time.Hour)
	w.Kick()
	w.Kick() // Kick never blocks
	if got := <-sent; got != "kick" {
		t.Errorf("sent %s", got)
	}
	o.queue("tick", time.Hour)
	o.clock.Advance(time.Second)
	if got := <-sent; got != "tick" {
		t.Errorf("sent %s", got)
	}
	cancel()
	<-over
}

// An outcome that cannot be written to the records is written later. The network in this test is not idempotent and
// answers "try again later". If the outcome were lost, the text would never be tried again.
func TestOutcomeIsWrittenLater(t *testing.T) {
	if testrun.OnServer() {
		t.Skip("about a file")
	}
	o := newOutbox(t)
	db := must(sql.Open("sqlite3", "file:"+o.db))
	defer db.Close()
	do := func(statement string) {
		if _, err := db.Exec(statement); err != nil {
			t.Error(err)
		}
	}
	tries := 0
	sender := push.New(o.options(push.Gateway{Name: "heron", Concurrency: 1,
		Network: networkFunc(func(context.Context, store.Message) (string, error) {
			if tries++; tries > 1 {
				return "", nil
			}
			do("CREATE TRIGGER full BEFORE UPDATE ON message WHEN OLD.state = 'claimed' " +
				"BEGIN SELECT RAISE(ABORT, 'no room'); END")
			return "", busy
		})}))
	o.queue("k", time.Hour)
	if _, err := sender.Send(t.Context()); err == nil || !strings.Contains(o.log.String(), "texts do not go out") {
		t.Error("the failed write is not reported")
	}
	o.is(phone, "k", store.Claimed)
	do("DROP TRIGGER full")
	for range 3 {
		o.clock.Advance(20 * time.Second)
		o.send(sender)
	}
	if m := o.message("k"); m.State != store.Accepted || tries != 2 {
		t.Errorf("it is %s after %d tries (%s)", m.State, tries, m.Reason)
	}
}
