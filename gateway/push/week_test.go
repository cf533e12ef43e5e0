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
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"rowbell/engine"
	"rowbell/gateway"
	"rowbell/gateway/bell"
	"rowbell/gateway/profile"
	"rowbell/gateway/push"
	"rowbell/menu"
	"rowbell/menu/text"
	"rowbell/store"
)

// weekSeed is the seed of all faults in the week, so that every run has the same faults.
const weekSeed = 7

// luck returns a number in 0..99 that depends only on the words and weekSeed.
func luck(words ...any) int {
	h := fnv.New64a()
	fmt.Fprintln(h, append([]any{weekSeed}, words...)...)
	return int(h.Sum64() % 100)
}

// unruly is a network that fails in every way. It records the texts that it took.
type unruly struct {
	name       string
	idempotent bool
	mu         sync.Mutex
	dead, well bool                     // dead: it answers 500 to every request; well: it takes every text
	seen       map[string]int           // number of tries of each text, by key
	taken      map[string]int           // how often the network took each text, by key
	to         map[string]string        // phone number of each taken text, by key
	said       map[string][]store.State // states that receipts reported for each text, by key
	fresh      []string                 // keys of the texts taken since the last receipts
	went       map[string]int           // number of answers of each kind
	giveUp     map[string]func()        // ends the try of the text with this key, as the try's timeout would
}

func newUnruly(name string, idempotent bool) *unruly {
	return &unruly{
		name: name, idempotent: idempotent, seen: map[string]int{}, taken: map[string]int{}, to: map[string]string{},
		said: map[string][]store.State{}, went: map[string]int{}, giveUp: map[string]func(){},
	}
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
	what := "ok"
	for _, below := range []struct {
		n    int
		what string
	}{{60, "refused"}, {58, "reset"}, {55, "taken, then silent"}, {53, "taken, then reset"}, {45, "500"}} {
		if n < below.n {
			what = below.what
		}
	}
	if u.dead {
		what = "dead"
	} else if u.well {
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
	giveUp := u.giveUp[in.ID]
	u.mu.Unlock()
	switch what {
	case "dead", "500":
		w.WriteHeader(http.StatusInternalServerError)
	case "refused":
		w.WriteHeader(http.StatusBadRequest)
	case "taken, then silent":
		giveUp()
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

// impatient is a Network whose tries time out at once when u gives up, so that the test does not wait.
type impatient struct {
	push.Network
	u *unruly
}

func (n impatient) Push(ctx context.Context, m store.Message) (string, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	n.u.mu.Lock()
	n.u.giveUp[m.Key] = func() { cancel(context.DeadlineExceeded) }
	n.u.mu.Unlock()
	return n.Network.Push(ctx, m)
}

// week contains the whole service, two unruly networks, and growers who send texts.
type week struct {
	*outbox
	bell     *bell.Bell
	gateway  *gateway.Gateway
	networks []*unruly
	options  push.Options
	sender   *push.Sender
	forged   int
	restarts int
	cut      int // number of texts that crash claimed without storing an outcome
}

const weekToken = "river-stone"

func newWeek(t *testing.T) *week {
	routes := []push.Route{
		{Prefix: fmt.Sprintf("+44%d", 77009000), Through: []string{"heron"}},
		{Prefix: fmt.Sprintf("+44%d", 77009001), Through: []string{"tern"}},
		{Prefix: "", Through: []string{"heron", "tern"}},
	}
	w := &week{
		outbox:   newOutbox(t, routes...),
		networks: []*unruly{newUnruly("heron", true), newUnruly("tern", false)},
	}
	w.clock.Set(time.Date(2026, 11, 23, 5, 0, 0, 0, time.UTC))
	m := must(menu.New(must(text.Default()), menu.Options{}))
	w.options = w.outbox.options()
	w.options.Routes, w.options.Log, w.options.Jitter = routes, zerolog.Nop(), func() float64 { return 0.5 }
	var profiles []profile.Profile
	for _, u := range w.networks {
		server := httptest.NewServer(u)
		t.Cleanup(server.Close)
		p := profile.Default(u.name)
		p.Token, p.Push.URL, p.Push.Idempotent = profile.HashToken(weekToken), server.URL, u.idempotent
		profiles = append(profiles, p)
		h := must(push.NewHTTP(p, w.clock, zerolog.Nop()))
		t.Cleanup(h.Close)
		w.options.Gateways = append(w.options.Gateways, push.Gateway{
			Name: u.name, Network: impatient{h, u}, Rate: 50, Concurrency: 3, Idempotent: u.idempotent,
			SegmentPrice: 30_000,
		})
	}
	w.sender = push.New(w.options)
	w.bell = bell.New(bell.Options{Store: w.store, QuietHour: 20, Menu: m, Clock: w.clock, Log: zerolog.Nop()})
	w.gateway = must(gateway.New(gateway.Options{
		Store: w.store, Menu: m, Clock: w.clock, Log: zerolog.Nop(), Networks: profiles,
		Health: gateway.Health{QuietHour: 20},
	}))
	return w
}

// growers registers 120 growers, 40 with numbers of each of the three routes. Each grower has one plot, planted 5 to 24
// days ago.
func (w *week) growers() (numbers []int) {
	for i := range 120 {
		n := i/40*100 + i%40
		numbers = append(numbers, n)
		w.tx(func(tx *store.Tx) error {
			l, err := tx.Ledger(number(n), w.clock.Now().Unix())
			if err != nil {
				return err
			}
			if err := l.Consent("en", "1", "ussd"); err != nil {
				return err
			}
			_, err = l.AddPlot(engine.Plot{
				Method: engine.Transplanted, Planted: l.Today() - engine.Day(5+i%20),
				RowSpacingCM: 20, HillSpacingCM: 20,
			}, engine.Tool{WidthCM: 15})
			return err
		})
	}
	return numbers
}

// call posts a callback to the gateway as a network would.
func (w *week) call(gateway, kind string, body map[string]string) {
	w.t.Helper()
	r := httptest.NewRequest(http.MethodPost, "/in/"+gateway+"/"+kind, bytes.NewReader(must(json.Marshal(body))))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Authorization", "Bearer "+weekToken)
	rec := httptest.NewRecorder()
	w.gateway.ServeHTTP(rec, r)
	if rec.Code/100 != 2 {
		w.t.Fatalf("%s %s: %d %s", gateway, kind, rec.Code, rec.Body)
	}
}

var wireStates = map[string]store.State{"delivered": store.Delivered, "failed": store.Refused, "expired": store.Expired}

// receipts sends the networks' receipts. A text may get no receipt, one, or several that contradict each other. Each
// network also sends forged receipts for texts that the other network took; they must change nothing.
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
			case n < 15: // the network sends no receipt for this text
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

// crash claims texts for a network and begins and pushes every second one, but stores no outcome, as if the worker
// crashed. Then a new sender replaces the old one.
func (w *week) crash(i int) {
	g := w.options.Gateways[i]
	var list []store.Message
	w.tx(func(tx *store.Tx) error {
		claims, err := tx.Claim(w.clock.Now().Unix(), store.Claimant{
			Gateway: g.Name, RoutePrefixes: []string{w.options.Routes[i].Prefix}, Max: 8, Lease: time.Minute,
			AtMostOnce: !g.Idempotent,
		})
		list = claims.Texts
		return err
	})
	w.cut += len(list)
	for j, m := range list {
		if j%2 == 0 {
			if !g.Idempotent {
				w.tx(func(tx *store.Tx) error { _, err := tx.Begin(m, w.clock.Now().Unix()); return err })
			}
			_, _ = g.Network.Push(w.t.Context(), m)
		}
	}
	w.sender = push.New(w.options)
	w.restarts++
}

// The service runs for a week with two unruly networks, growers who send texts, outages and crashes. At the end each
// text's state is final and true, and no phone got a text twice.
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
					w.call(from, "sms", map[string]string{
						"id": fmt.Sprint("in-", n, "-", i), "phone": number(n).E164(), "text": "menu",
					})
				}
			}
		}
		must(w.bell.Ring(t.Context(), w.clock.Now()))
		if luck("crash", i) < 15 {
			w.crash(i / 2 % 2)
		}
		w.send(w.sender)
		w.receipts()
		w.clock.Advance(step)
	}
	for _, u := range w.networks {
		u.dead, u.well = false, true
	}
	for range 40 { // until no text is useful any more; the bell does not run, so no new texts appear
		w.clock.Advance(12 * time.Hour)
		w.send(w.sender)
		w.receipts()
	}
	w.check(growers, asked)
}

// check compares the state of each text in the records with what the networks took and reported, and the number of
// charged texts with the number of texts that the networks took.
func (w *week) check(growers []int, asked int) {
	t := w.t
	heron, tern := w.networks[0], w.networks[1]
	texts := map[string]store.Message{}
	for _, n := range growers {
		w.tx(func(tx *store.Tx) error {
			list, err := tx.Inbox(number(n), 0)
			for _, m := range list {
				texts[m.Key] = m
			}
			return err
		})
	}
	states := map[store.State]int{}
	for _, key := range slices.Sorted(maps.Keys(texts)) {
		m := texts[key]
		states[m.State]++
		if !w.stateIsTrue(m) || m.EndedAt == 0 && m.State != store.Accepted {
			t.Errorf("%s ended as %s (%s) by %q: taken %d times by heron, %d by tern, receipts %v %v",
				key, m.State, m.Reason, m.Gateway, heron.taken[key], tern.taken[key], heron.said[key], tern.said[key])
		}
		if heron.taken[key]+tern.taken[key] > 1 {
			t.Errorf("%s went out twice: %d by heron, %d by tern", key, heron.taken[key], tern.taken[key])
		}
	}
	handed := 0
	for _, u := range w.networks {
		for _, key := range slices.Sorted(maps.Keys(u.taken)) {
			handed++
			if m, known := texts[key]; !known || m.To.E164() != u.to[key] {
				t.Errorf("%s took %s, which is not in the outbox or is for another number", u.name, key)
			}
		}
	}
	spent := w.textsPaid()
	t.Logf("%d texts (%d calls), %d restarts with %d texts claimed, %d forged receipts; states %v; heron %v, tern %v",
		len(texts), asked, w.restarts, w.cut, w.forged, states, heron.went, tern.went)
	// A text that a network took is charged once. A text in state unknown is charged at most once.
	if spent < int64(handed) || spent > int64(handed+states[store.Unknown]) {
		t.Errorf("%d texts are charged, %d taken, %d unknown", spent, handed, states[store.Unknown])
	}
	if len(texts) < 300 || w.restarts < 10 || w.cut < 20 || w.forged < 50 {
		t.Errorf("too little happened: %d texts, %d restarts, %d forged receipts", len(texts), w.restarts, w.forged)
	}
	for _, state := range []store.State{
		store.Accepted, store.Delivered, store.Refused, store.Unknown, store.Withdrawn,
	} {
		if states[state] == 0 {
			t.Errorf("no text ended as %s: the week does not test that", state)
		}
	}
}

// stateIsTrue compares a text's state with what the networks took and reported.
func (w *week) stateIsTrue(m store.Message) bool {
	heron, tern := w.networks[0], w.networks[1]
	by := map[string]*unruly{"heron": heron, "tern": tern}[m.Gateway]
	taken := heron.taken[m.Key] + tern.taken[m.Key]
	reported := slices.Concat(heron.said[m.Key], tern.said[m.Key])
	switch m.State {
	case store.Accepted:
		return by != nil && by.taken[m.Key] > 0 && len(reported) == 0
	case store.Delivered:
		return by != nil && by.taken[m.Key] > 0 && slices.Contains(by.said[m.Key], store.Delivered)
	case store.Refused, store.Expired:
		if m.AcceptedAt == 0 {
			return taken == 0
		}
		return taken > 0 && by != nil && slices.Contains(by.said[m.Key], m.State) &&
			!slices.Contains(reported, store.Delivered)
	case store.Withdrawn:
		return taken == 0
	case store.Unknown:
		return by != nil && len(reported) == 0
	}
	return false
}

// textsPaid returns the number of texts charged in November and December 2026, the months of the test.
func (w *week) textsPaid() (texts int64) {
	w.tx(func(tx *store.Tx) error {
		for _, lastDay := range []time.Time{
			time.Date(2026, 11, 30, 0, 0, 0, 0, time.UTC), time.Date(2026, 12, 31, 0, 0, 0, 0, time.UTC),
		} {
			list, err := tx.Spends(lastDay.Unix())
			if err != nil {
				return err
			}
			texts += list[0].MonthTexts
		}
		return nil
	})
	return texts
}
