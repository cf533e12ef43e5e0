package push_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"maps"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/bell"
	"rowbell/gateway/clock"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// weekSeed decides all that goes wrong in the week.
const weekSeed = 7

// luck is a number in 0..99, the same for the same words in each run.
func luck(words ...any) int {
	h := fnv.New64a()
	fmt.Fprintln(h, append([]any{weekSeed}, words...)...)
	return int(h.Sum64() % 100)
}

// unruly is a network that does what networks do on bad days. It remembers what
// it took, and so knows the truth.
type unruly struct {
	name       string
	idempotent bool
	mu         sync.Mutex
	dead, well bool
	seen       map[string]int           // tries by key
	taken      map[string]int           // texts that it will send, by key
	to         map[string]string        // their numbers
	said       map[string][]store.State // by genuine receipts
	fresh      []string                 // taken since receipts were last sent
	went       map[string]int           // what happened, how often
}

func newUnruly(name string, idempotent bool) *unruly {
	return &unruly{name: name, idempotent: idempotent, seen: map[string]int{}, taken: map[string]int{}, to: map[string]string{},
		said: map[string][]store.State{}, went: map[string]int{}}
}

func (u *unruly) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	var in struct{ ID, To string }
	if err := json.NewDecoder(r.Body).Decode(&in); err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	u.mu.Lock()
	u.seen[in.ID]++
	n := luck(u.name, in.ID, u.seen[in.ID])
	what := ""
	switch {
	case u.dead:
		what = "dead"
	case u.well:
		what = "ok"
	case n < 45:
		what = "500"
	case n < 53:
		what = "taken, then reset"
	case n < 55:
		what = "taken, then silent"
	case n < 58:
		what = "reset"
	case n < 60:
		what = "refused"
	default:
		what = "ok"
	}
	u.went[what]++
	if what == "ok" || what == "taken, then reset" || what == "taken, then silent" {
		if u.taken[in.ID] == 0 || !u.idempotent {
			u.taken[in.ID]++
			u.fresh = append(u.fresh, in.ID)
		}
		u.to[in.ID] = in.To
	}
	u.mu.Unlock()
	switch what {
	case "dead", "500":
		w.WriteHeader(http.StatusInternalServerError)
	case "refused":
		w.WriteHeader(http.StatusBadRequest)
	case "taken, then silent":
		<-r.Context().Done()
	case "reset", "taken, then reset":
		if conn, _, err := http.NewResponseController(w).Hijack(); err == nil {
			conn.Close()
		}
	default:
		w.WriteHeader(http.StatusAccepted)
		fmt.Fprintf(w, `{"id":"%s-%s"}`, u.name, in.ID)
	}
}

// once posts to a network that knows no keys. The body cannot be read twice, so
// that nothing below sends it again either.
type once struct {
	url    string
	client *http.Client
}

func (o once) Push(ctx context.Context, m store.Message) (string, error) {
	body, _ := json.Marshal(map[string]string{"id": m.Key, "to": m.To.E164()})
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, o.url, bytes.NewReader(body))
	if err != nil {
		return "", err
	}
	req.GetBody = nil
	resp, err := o.client.Do(req)
	if err != nil {
		return "", err
	}
	defer resp.Body.Close()
	if resp.StatusCode/100 == 2 {
		return "tern-" + m.Key, nil
	}
	return "", &push.Refusal{Again: resp.StatusCode >= 500, Reason: fmt.Sprintf("the network answered %d", resp.StatusCode)}
}

// week is the service, two networks, and growers who text.
type week struct {
	t        *testing.T
	clock    *clock.Manual
	store    *store.Store
	bell     *bell.Bell
	door     *gateway.Gateway
	networks []*unruly
	options  push.Options
	sender   *push.Sender
	forged   int
	restarts int
	cut      int // texts that were claimed by who died
}

const weekToken = "river-stone"

func newWeek(t *testing.T) *week {
	w := &week{t: t, clock: clock.New(time.Date(2026, 11, 23, 5, 0, 0, 0, time.UTC)),
		networks: []*unruly{newUnruly("heron", true), newUnruly("tern", false)}}
	routes := []push.Route{
		{Prefix: fmt.Sprintf("+44%d", 77009000), Through: []string{"heron"}},
		{Prefix: fmt.Sprintf("+44%d", 77009001), Through: []string{"tern"}},
		{Prefix: "", Through: []string{"heron", "tern"}},
	}
	var err error
	if w.store, err = store.Open(t.Context(), filepath.Join(t.TempDir(), "rowbell.db"), store.Options{RoutePrefixes: push.RoutePrefixes(routes)}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { w.store.Close() })
	cat, err := text.Default()
	if err != nil {
		t.Fatal(err)
	}
	m, err := menu.New(cat, menu.Options{})
	if err != nil {
		t.Fatal(err)
	}
	const patience = 300 * time.Millisecond
	var profiles []profile.Profile
	for _, u := range w.networks {
		server := httptest.NewServer(u)
		t.Cleanup(server.Close)
		p := profile.Default(u.name)
		p.Token, p.Push.URL = profile.HashToken(weekToken), server.URL
		profiles = append(profiles, p)
		g := push.Gateway{Name: u.name, Rate: 50, Concurrency: 3, Timeout: patience, Idempotent: u.idempotent, SegmentPrice: 30_000}
		if u.idempotent {
			h := push.NewHTTP(p, w.clock)
			t.Cleanup(h.Close)
			g.Network = h
		} else {
			client := &http.Client{Transport: &http.Transport{}}
			t.Cleanup(client.CloseIdleConnections)
			g.Network = once{server.URL, client}
		}
		w.options.Gateways = append(w.options.Gateways, g)
	}
	w.options.Store, w.options.Clock, w.options.Log, w.options.Routes = w.store, w.clock, zerolog.Nop(), routes
	w.options.Jitter, w.options.QuietHour = func() float64 { return 0.5 }, 20
	w.sender = push.New(w.options)
	w.bell = bell.New(bell.Options{Store: w.store, QuietHour: 20, Menu: m, Clock: w.clock, Log: zerolog.Nop()})
	if w.door, err = gateway.New(gateway.Options{Store: w.store, Health: gateway.Health{QuietHour: 20}, Menu: m, Clock: w.clock, Log: zerolog.Nop(), Networks: profiles}); err != nil {
		t.Fatal(err)
	}
	return w
}

func (w *week) tx(fn func(*store.Tx) error) {
	w.t.Helper()
	if err := w.store.InTx(context.Background(), fn); err != nil {
		w.t.Fatal(err)
	}
}

// growers are numbers of all three routes, each with a plot of another age.
func (w *week) growers() (numbers []int) {
	for _, from := range []int{0, 100, 200} {
		for n := from; n < from+40; n++ {
			numbers = append(numbers, n)
		}
	}
	for i, n := range numbers {
		w.tx(func(tx *store.Tx) error {
			l, err := tx.Ledger(number(n), w.clock.Now().Unix())
			if err != nil {
				return err
			}
			if err := l.Consent("en", "1", "ussd"); err != nil {
				return err
			}
			p := engine.Plot{Method: engine.Transplanted, Planted: l.Today() - engine.Day(5+i%20), RowSpacingCM: 20, HillSpacingCM: 20}
			_, err = l.AddPlot(p, engine.Tool{WidthCM: 15})
			return err
		})
	}
	return numbers
}

// call posts to the door as a network does.
func (w *week) call(gateway, kind string, body map[string]string) {
	w.t.Helper()
	b, _ := json.Marshal(body)
	r := httptest.NewRequest(http.MethodPost, "/in/"+gateway+"/"+kind, bytes.NewReader(b))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Authorization", "Bearer "+weekToken)
	rec := httptest.NewRecorder()
	w.door.ServeHTTP(rec, r)
	if rec.Code/100 != 2 {
		w.t.Fatalf("%s %s: %d %s", gateway, kind, rec.Code, rec.Body)
	}
}

var wireStates = map[string]store.State{"delivered": store.Delivered, "failed": store.Refused, "expired": store.Expired}

// receipts sends what the networks tell of what they took: some never, some
// twice, some that contradict each other, and some of another's texts.
func (w *week) receipts() {
	for i, u := range w.networks {
		other := w.networks[1-i]
		u.mu.Lock()
		fresh := u.fresh
		u.fresh = nil
		u.mu.Unlock()
		slices.Sort(fresh)
		for _, key := range fresh {
			n := luck("receipt", key)
			var tells []string
			switch {
			case n < 15: // says nothing
			case n < 70:
				tells = []string{"delivered"}
			case n < 80:
				tells = []string{"delivered", "delivered", "failed"}
			case n < 88:
				tells = []string{"failed", "delivered"}
			case n < 95:
				tells = []string{"failed", "failed"}
			default:
				tells = []string{"expired"}
			}
			for _, state := range tells {
				u.said[key] = append(u.said[key], wireStates[state])
				w.call(u.name, "receipt", map[string]string{"id": key, "state": state})
			}
			if luck("forged", key) < 30 {
				w.forged++
				w.call(other.name, "receipt", map[string]string{"id": key, "state": "delivered"})
				w.call(other.name, "receipt", map[string]string{"id": u.name + "-" + key, "state": "failed"})
				w.call(other.name, "receipt", map[string]string{"id": "nobody's", "state": "delivered"})
			}
		}
	}
}

// crash has somebody claim texts for a network, hand some over, and die; then a
// new service takes over.
func (w *week) crash(i int) {
	g := w.options.Gateways[i]
	var list []store.Message
	w.tx(func(tx *store.Tx) error {
		lanes := []string{w.options.Routes[i].Prefix}
		claims, err := tx.Claim(w.clock.Now().Unix(), store.Claimant{Gateway: g.Name, RoutePrefixes: lanes, Max: 8, Lease: time.Minute, AtMostOnce: !g.Idempotent})
		list = claims.Texts
		return err
	})
	w.cut += len(list)
	for j, m := range list {
		if j%2 == 0 {
			ctx, cancel := context.WithTimeout(context.Background(), g.Timeout)
			_, _ = g.Network.Push(ctx, m)
			cancel()
		}
	}
	w.sender = push.New(w.options)
	w.restarts++
}

func (w *week) ring() {
	w.t.Helper()
	if _, err := w.bell.Ring(w.t.Context(), w.clock.Now()); err != nil {
		w.t.Fatal(err)
	}
}

func (w *week) send() {
	w.t.Helper()
	if _, err := w.sender.Send(w.t.Context()); err != nil {
		w.t.Fatal(err)
	}
}

// A week with two unruly networks, growers who text, outages and crashes. In the
// end each text is in a final state that is true, and nobody got one twice but
// by a network that knows keys and saw the same one.
func TestWeek(t *testing.T) {
	w := newWeek(t)
	growers := w.growers()
	const step = 30 * time.Minute
	asked := 0
	for i := range int(7 * 24 * time.Hour / step) {
		day, hour := i/48, i/2%24+5
		w.networks[0].dead = day == 2 || day == 4 && hour < 16
		w.networks[1].dead = day == 3 && hour > 8
		if i%2 == 0 && hour%24 > 5 && hour%24 < 19 {
			for _, n := range growers {
				if luck("asks", n, i) < 2 {
					asked++
					from := w.networks[min(n/100%3, 1)].name
					w.call(from, "sms", map[string]string{"id": fmt.Sprint("in-", n, "-", i), "phone": number(n).E164(), "text": "menu"})
				}
			}
		}
		w.ring()
		if luck("crash", i) < 15 {
			w.crash(i / 2 % 2)
		}
		w.send()
		w.receipts()
		w.clock.Advance(step)
	}
	for _, u := range w.networks {
		u.dead, u.well = false, true
	}
	for range 40 { // until nothing of it is useful any more; the bell is quiet
		w.clock.Advance(12 * time.Hour)
		w.send()
		w.receipts()
	}
	w.check(growers, asked)
}

func (w *week) check(growers []int, asked int) {
	t := w.t
	heron, tern := w.networks[0], w.networks[1]
	ours := map[string]store.Message{}
	states := map[store.State]int{}
	for _, n := range growers {
		err := w.store.View(t.Context(), func(tx *store.Tx) error {
			list, err := tx.Inbox(number(n), 0)
			for _, m := range list {
				ours[m.Key] = m
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(ours)) {
		m := ours[key]
		states[m.State]++
		by := map[string]*unruly{"heron": heron, "tern": tern}[m.Gateway]
		taken := heron.taken[key] + tern.taken[key]
		told := slices.Concat(heron.said[key], tern.said[key])
		ok := false
		switch m.State {
		case store.Accepted:
			ok = by != nil && by.taken[key] > 0 && len(told) == 0
		case store.Delivered:
			ok = by != nil && by.taken[key] > 0 && slices.Contains(by.said[key], store.Delivered)
		case store.Refused, store.Expired:
			if m.AcceptedAt != 0 { // a receipt said so
				ok = taken > 0 && by != nil && slices.Contains(by.said[key], m.State) && !slices.Contains(told, store.Delivered)
			} else {
				ok = taken == 0
			}
		case store.Withdrawn:
			ok = taken == 0
		case store.Unknown:
			ok = by != nil && len(told) == 0
		}
		if !ok || m.EndedAt == 0 && m.State != store.Accepted {
			t.Errorf("%s ended as %s (%s) by %q: taken %d times by heron, %d by tern, receipts %v", key, m.State, m.Reason, m.Gateway, heron.taken[key], tern.taken[key], told)
		}
		if heron.taken[key] > 1 || tern.taken[key] > 1 || heron.taken[key]+tern.taken[key] > 1 {
			t.Errorf("%s went out twice: %d by heron, %d by tern", key, heron.taken[key], tern.taken[key])
		}
	}
	handed := 0
	for _, u := range w.networks {
		for _, key := range slices.Sorted(maps.Keys(u.taken)) {
			handed++
			if m, known := ours[key]; !known || m.To.E164() != u.to[key] {
				t.Errorf("%s took %s, which is not in the outbox, for another number", u.name, key)
			}
		}
	}
	var spent int64
	err := w.store.View(t.Context(), func(tx *store.Tx) (err error) {
		for _, last := range []time.Time{time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC), time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC)} {
			list, err := tx.Spends(last.Unix())
			if err != nil {
				return err
			}
			spent += list[0].MonthTexts
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d texts (%d calls), %d restarts with %d texts under way, %d forged receipts; states %v; heron %v, tern %v", len(ours), asked, w.restarts, w.cut, w.forged, states, heron.went, tern.went)
	// What was taken was paid for; what may have been, at most once.
	if spent < int64(handed) || spent > int64(handed+states[store.Unknown]) {
		t.Errorf("%d texts were paid for, %d taken, %d are unknown", spent, handed, states[store.Unknown])
	}
	if len(ours) < 300 || w.restarts < 10 || w.cut < 20 || w.forged < 50 {
		t.Errorf("the week was too quiet: %d texts, %d restarts, %d forged receipts", len(ours), w.restarts, w.forged)
	}
	for _, state := range []store.State{store.Accepted, store.Delivered, store.Refused, store.Unknown, store.Withdrawn} {
		if states[state] == 0 {
			t.Errorf("no text ended as %s: the week does not try that", state)
		}
	}
}
