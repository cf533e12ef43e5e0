package seeded

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"time"

	"pgregory.net/rapid"

	"rowbell/store"
)

// call is what a network posts when a grower dials, enters something or writes a text.
type call struct {
	from  *grower
	kind  string // ussd or sms
	body  map[string]any
	at    int64 // when it was acknowledged
	reply string
}

// keys are what growers enter in a dialogue, in no order; texts are what they write.
var (
	keys = []string{"1", "1", "1", "2", "2", "3", "4", "5", "6", "9", "0", "00", "600", "20", "20x30", "15/11", "1/12",
		"0.5", "rice", "Uma", ""}
	texts = []string{"1", "1", "2", "3", "4", "5", "0", "menu", "help", "STOP", "stop", "START", "weeded", "1 2", "?",
		"2.5", "two leaves", "my tool is broken"}
)

// nextCall draws a call of a grower.
func (w *world) nextCall() call {
	g := w.someone()
	if rapid.IntRange(0, 2).Draw(w.t, "by text") == 0 {
		return w.nextText(g)
	}
	return w.nextKey(g)
}

func (w *world) nextText(g *grower) call {
	return w.textOf(g, rapid.SampledFrom(texts).Draw(w.t, "text"))
}

func (w *world) textOf(g *grower, text string) call {
	w.asked++
	return call{from: g, kind: "sms", body: map[string]any{"id": fmt.Sprint("in-", w.asked), "phone": g.phone.E164(),
		"text": text}}
}

func (w *world) nextKey(g *grower) call {
	w.asked++
	body := map[string]any{"phone": g.phone.E164(), "session": g.session, "step": g.step, "event": "entry"}
	if g.session == "" {
		body["session"], body["step"], body["event"], body["dialled"] = fmt.Sprint("s", w.asked), 0, "begin", "*123#"
	} else {
		body["entry"] = rapid.SampledFrom(keys).Draw(w.t, "key")
	}
	return call{from: g, kind: "ussd", body: body}
}

// post posts a call to the service, and returns the status and the answer.
func (w *world) post(network *network, kind string, body map[string]any, token string) (int, string) {
	octets, err := json.Marshal(body)
	w.must(err)
	r := httptest.NewRequest(http.MethodPost, "/in/"+network.name+"/"+kind, bytes.NewReader(octets))
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("Authorization", "Bearer "+token)
	rec := httptest.NewRecorder()
	w.service.Handler().ServeHTTP(rec, r)
	return rec.Code, rec.Body.String()
}

// send posts a call, and reports whether it was acknowledged.
func (w *world) send(c *call) bool {
	w.read = 0
	status, reply := w.post(c.from.network, c.kind, c.body, token)
	switch {
	case status/100 == 2:
		c.reply, c.at = reply, w.now()
		return true
	case status/100 != 5:
		w.t.Fatalf("%s %v: %d %s", c.kind, c.body, status, reply)
	case w.fault == nil:
		w.t.Fatalf("%s %v: %d %s, but nothing failed", c.kind, c.body, status, reply)
	}
	return false
}

// acknowledged notes a call that was acknowledged, and what the grower knows from it.
func (w *world) acknowledged(c call) {
	g := c.from
	w.view(func(tx *store.Tx) error {
		l, err := tx.Ledger(g.phone, w.now())
		if err == nil && !l.Known() { // erased, with the answers
			w.calls = slices.DeleteFunc(w.calls, func(c call) bool { return c.from == g })
		}
		return err
	})
	w.calls = append(w.calls, c)
	w.seen["calls"]++
	g.stopped = 0
	if c.kind == "sms" {
		if strings.EqualFold(c.body["text"].(string), "stop") {
			g.stopped = w.now()
		}
		return
	}
	var reply struct{ More bool }
	w.must(json.Unmarshal([]byte(c.reply), &reply))
	g.session, g.step = c.body["session"].(string), c.body["step"].(int)+1
	if !reply.More {
		g.session, g.step = "", 0
	}
}

func (w *world) growerCalls() {
	// Some keys in a row, as in a dialogue.
	g := w.someone()
	for range rapid.IntRange(1, 8).Draw(w.t, "keys") {
		c := w.nextKey(g)
		w.send(&c)
		w.acknowledged(c)
	}
}

func (w *world) growerTexts() {
	c := w.nextText(w.someone())
	w.send(&c)
	w.acknowledged(c)
}

func (w *world) writes(g *grower, text string) {
	c := w.textOf(g, text)
	w.send(&c)
	w.acknowledged(c)
}

// callFails has the records fail, or the process end, during a call. The network sends the call again until it is
// acknowledged. What is stored then, and what was answered, is the same as without the failure.
func (w *world) callFails() {
	c := w.nextCall()
	var undisturbed call
	want, passed := w.clone(func(copied *world) {
		undisturbed = call{from: c.from, kind: c.kind, body: maps.Clone(c.body)}
		copied.send(&undisturbed)
	})
	before, ids := w.contents(), w.sequences()
	w.fault = w.drawFault(passed)
	done := w.send(&c)
	w.seen["calls that met a failure"] += truth(w.fault.fired)
	if w.fault.crash && w.fault.fired {
		w.restart()
	}
	w.fault = nil
	if got := w.contents(); got != want && (done || got != before) {
		w.t.Fatalf("%s %v, acknowledged: %v; the records\n%s", c.kind, c.body, done, differences(got, want))
	}
	if !done {
		if w.contents() == before {
			w.setSequences("public", ids)
		}
		w.send(&c)
		if got := w.contents(); got != want {
			w.t.Fatalf("%s %v, sent again: the records\n%s", c.kind, c.body, differences(got, want))
		}
	}
	if c.reply != undisturbed.reply {
		w.t.Fatalf("%s %v: answered %q instead of %q", c.kind, c.body, c.reply, undisturbed.reply)
	}
	w.acknowledged(c)
}

func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}

// networkRepeats has a network send a call again that was acknowledged. It gets the same answer, and nothing changes.
func (w *world) networkRepeats() {
	var list []call
	for _, c := range w.calls {
		if age := w.now() - c.at; c.kind == "sms" && age < int64(7*24*time.Hour/time.Second) || age < 3000 {
			list = append(list, c)
		}
	}
	if len(list) == 0 {
		return
	}
	c := list[rapid.IntRange(0, len(list)-1).Draw(w.t, "call")]
	before := w.contents()
	again := c
	w.send(&again)
	if again.reply != c.reply {
		w.t.Fatalf("%s %v, repeated: answered %q, first %q", c.kind, c.body, again.reply, c.reply)
	}
	if got := w.contents(); got != before {
		w.t.Fatalf("%s %v, repeated: the records\n%s", c.kind, c.body, differences(got, before))
	}
	w.seen["repeats"]++
}

// networkForges posts calls without the secret, and receipts for texts of another network. Nothing changes.
func (w *world) networkForges() {
	before := w.contents()
	c := w.nextCall()
	if status, reply := w.post(c.from.network, c.kind, c.body, "guess"); status != http.StatusUnauthorized {
		w.t.Fatalf("a forged %s: %d %s", c.kind, status, reply)
	}
	for i, n := range w.networks {
		for key := range n.taken {
			if w.networks[1-i].taken[key] == 0 {
				w.report(w.networks[1-i], key, "failed")
			}
		}
	}
	w.report(w.networks[0], "nobody's", "delivered")
	if got := w.contents(); got != before {
		w.t.Fatalf("forged calls: the records\n%s", differences(got, before))
	}
	w.seen["forged"]++
}

// report posts a receipt.
func (w *world) report(n *network, key, state string) {
	if status, reply := w.post(n, "receipt", map[string]any{"id": key, "state": state}, token); status/100 != 2 {
		w.t.Fatalf("a receipt: %d %s", status, reply)
	}
}

// operatorHolds stops all texts, or lets them go again.
func (w *world) operatorHolds() {
	w.must(w.service.Store().InTx(context.Background(), func(tx *store.Tx) error {
		if w.held {
			_, err := tx.ReleaseSending()
			return err
		}
		return tx.HoldSending("a test", w.now())
	}))
	w.held = !w.held
	w.seen["holds"]++
}
