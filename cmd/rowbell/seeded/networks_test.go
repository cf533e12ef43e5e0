package seeded

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"runtime/debug"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rowbell/store"
)

// mood is what a network does with texts.
type mood uint8

const (
	well   mood = iota
	down        // it answers 500
	flaky       // sometimes this, sometimes that
	mute        // it takes texts, and breaks the connection off
	strict      // it refuses texts for good
	hasty       // it reports a text as delivered before it says that it took it
)

var moods = []mood{well, well, down, flaky, flaky, mute, strict, hasty}

// network takes texts. It is called by one goroutine at a time.
type network struct {
	name       string
	index      int
	idempotent bool
	url        string

	w        *world
	mood     mood
	dark     bool // it answers 500 and notes nothing
	rnd      *rand.Rand
	taken    map[string]int           // how often it took a text, by key
	fresh    []string                 // keys of texts without a receipt
	said     map[string][]store.State // by receipts
	unsure   map[string]bool          // texts of whose receipt the records may not know
	problems []string
}

func newNetworks(t *testing.T) []*network {
	list := []*network{{name: "heron", idempotent: true}, {name: "tern", index: 1}}
	for _, n := range list {
		server := httptest.NewServer(n)
		t.Cleanup(server.Close)
		n.url = server.URL
	}
	return list
}

// begin forgets the last season.
func (n *network) begin(w *world) {
	n.w, n.mood, n.dark, n.rnd = w, well, false, rand.New(rand.NewPCG(1, 1))
	n.taken, n.said, n.unsure = map[string]int{}, map[string][]store.State{}, map[string]bool{}
	n.fresh, n.problems = nil, nil
}

// networkChanges gives a network another mood.
func (w *world) networkChanges() {
	n := w.networks[rapid.IntRange(0, 1).Draw(w.t, "network")]
	n.mood = rapid.SampledFrom(moods).Draw(w.t, "mood")
	n.rnd = rand.New(rand.NewPCG(rapid.Uint64().Draw(w.t, "of the mood"), 1))
}

func (n *network) ServeHTTP(rw http.ResponseWriter, r *http.Request) {
	defer func() {
		if v := recover(); v != nil {
			n.problem("the test fails: %v\n%s", v, debug.Stack())
		}
	}()
	var in struct{ ID, To, Text string }
	err := json.NewDecoder(r.Body).Decode(&in)
	does := n.mood
	if does == flaky {
		does = []mood{well, down, mute, strict, hasty}[n.rnd.IntN(5)]
	}
	switch {
	case err != nil:
		n.problem("a request that cannot be read: %v", err)
		rw.WriteHeader(http.StatusBadRequest)
	case n.dark || does == down:
		rw.WriteHeader(http.StatusInternalServerError)
	case does == strict:
		rw.WriteHeader(http.StatusBadRequest)
	default:
		n.take(in.ID, in.To, in.Text)
		if does == hasty {
			n.reportNow(in.ID)
		}
		if does == mute {
			if conn, _, err := http.NewResponseController(rw).Hijack(); err == nil {
				conn.Close()
			}
			return
		}
		rw.WriteHeader(http.StatusAccepted)
		fmt.Fprintf(rw, `{"id":"%s-%s"}`, n.name, in.ID)
	}
}

func (n *network) problem(format string, a ...any) {
	n.problems = append(n.problems, n.name+": "+fmt.Sprintf(format, a...))
}

// take takes a text, and looks whether it may go out now.
func (n *network) take(key, to, text string) {
	n.w.seen["texts taken"]++
	if n.taken[key]++; n.taken[key] > 1 {
		if !n.idempotent {
			n.problem("got %s %d times", key, n.taken[key])
		}
		return
	}
	n.fresh = append(n.fresh, key)
	n.w.mayGo(n, key, to, text)
}

// reportNow reports a text as delivered, by the network's own id; tern has none. If the records fail now, or when the
// answer with that id comes, nobody can know of the receipt, and no other one comes.
func (n *network) reportNow(key string) {
	id := key
	if n.idempotent {
		id = n.name + "-" + key
		n.unsure[key] = true
	}
	status, _ := n.w.post(n, "receipt", map[string]any{"id": id, "state": "delivered"}, token)
	if status/100 != 2 {
		n.unsure[key] = true
		return
	}
	n.said[key] = append(n.said[key], store.Delivered)
	n.w.seen["early receipts"]++
}

// networkReports has a network send receipts: none, one, or several that contradict each other.
func (w *world) networkReports() {
	for _, n := range w.networks {
		fresh := n.fresh
		n.fresh = nil
		for _, key := range fresh {
			tells := rapid.SampledFrom([][]string{{}, {"delivered"}, {"delivered"}, {"delivered", "failed"},
				{"failed", "delivered"}, {"failed", "failed"}, {"expired"}}).Draw(w.t, "receipts")
			for _, state := range tells {
				n.said[key] = append(n.said[key], map[string]store.State{
					"delivered": store.Delivered, "failed": store.Refused, "expired": store.Expired}[state])
				w.report(n, key, state)
				w.seen["receipts"]++
			}
		}
	}
}

// allSaid returns what all networks reported of a text.
func (w *world) allSaid(key string) []store.State {
	return slices.Concat(w.networks[0].said[key], w.networks[1].said[key])
}
