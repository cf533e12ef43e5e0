package main

import (
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"rowbell/store"
)

// records counts what the database has about a grower.
type records struct {
	plots  int
	passes [3]int // passes (weedings) by plot number; plot numbers begin at 1
	texts  int    // texts in the outbox, both sent and waiting
}

// step is one callback.
type step struct {
	call  string
	body  map[string]any
	after records // what the records must have of the grower after the answer
}

// scripted is a grower who sends a fixed sequence of callbacks.
type scripted struct {
	phone   store.Phone
	before  records
	steps   []step
	replies [][]byte // the answers so far, one for each answered step
	cutOff  bool     // the next step was sent, but the service was killed before its answer
	counted bool     // check has counted the step that was cut off
}

// batched reports whether the next step is a text that comes by the network batch.
func (g *scripted) batched() bool {
	return g.phone >= fictional(700) && g.steps[g.answered()].call == "sms"
}

func (g *scripted) answered() int { return len(g.replies) }

// want returns what the records must contain after the answers so far.
func (g *scripted) want() records { return g.after(g.answered()) }

// after returns what the records must contain after this number of answered steps.
func (g *scripted) after(steps int) records {
	if steps == 0 {
		return g.before
	}
	return g.steps[steps-1].after
}

// ussd adds a USSD session with these entries. "dial" and "end" begin and end the session. The changes that an entry
// makes in the records follow the entry: "600 +plot" enters 600, which adds a plot; "0 -pass1" removes a pass from plot
// 1.
func (g *scripted) ussd(entries ...string) {
	session := fmt.Sprintf("%s-%d", g.phone.E164(), len(g.steps))
	for i, e := range entries {
		entry, changes, _ := strings.Cut(e, " ")
		body := map[string]any{"phone": g.phone.E164(), "session": session, "step": i, "event": "entry", "entry": entry}
		switch entry {
		case "dial":
			body["event"], body["entry"], body["dialled"] = "begin", "", "*123#"
		case "end":
			body["event"], body["entry"] = "end", ""
		}
		g.add("ussd", body, changes)
	}
}

// sms adds texts from the grower, with their changes as in ussd. The service answers each text with a text.
func (g *scripted) sms(texts ...string) {
	for _, s := range texts {
		text, changes, _ := strings.Cut(s, " ")
		g.add("sms", map[string]any{"id": fmt.Sprintf("%s-%d", g.phone.E164(), len(g.steps)), "phone": g.phone.E164(),
			"text": text}, changes+" +text")
	}
}

func (g *scripted) add(call string, body map[string]any, changes string) {
	r := g.after(len(g.steps))
	for change := range strings.FieldsSeq(changes) {
		switch change {
		case "+plot":
			r.plots++
		case "+text":
			r.texts++
		case "+pass1":
			r.passes[1]++
		case "-pass1":
			r.passes[1]--
		case "+pass2":
			r.passes[2]++
		default:
			panic("no such change: " + change)
		}
	}
	g.steps = append(g.steps, step{call, body, r})
}

func fictional(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+int64(n))) }

// registering returns a grower who registers two plots and logs passes on both plots, by USSD and by text.
func registering(n int) *scripted { return registeringOn(aDay, n) }

// registeringOn is registering on another day than aDay. The plots were planted 20 and 19 days before that day.
func registeringOn(day time.Time, n int) *scripted {
	g := &scripted{phone: fictional(n)}
	g.ussd("dial", "1 +text", "1", "1", before(day, 20), "1", "1", "1", "1", "600 +plot", "00", "3", "2",
		"1 +pass1", "1")
	g.ussd("dial", "1", "1", before(day, 19), "1", "1", "2", "1", "20x30 +plot", "end")
	g.ussd("dial", "3", "2", "1", "1 +pass2", "2")
	g.sms("menu", "3", "1", "1", "1 +pass1", "1")
	return g
}

// before returns a date that is some days before the day, as growers type it.
func before(day time.Time, days int) string { return day.AddDate(0, 0, -days).Format("2/1") }

// reminded returns a grower who has a plot. By texts of one digit, the grower logs a pass, says how many weeds are left
// and undoes the pass, 20 times.
func reminded(p *process, n int) *scripted {
	p.t.Helper()
	return remindedOn(p, aDay, n)
}

// remindedOn is reminded on another day than aDay. The plot was planted 13 days before that day; the reminder comes on
// the next morning.
func remindedOn(p *process, day time.Time, n int) *scripted {
	p.t.Helper()
	g := &scripted{phone: fictional(n)}
	g.ussd("dial", "1 +text", "1", "1", before(day, 13), "1", "1", "1", "1", "600 +plot")
	if g.run(p, len(g.steps)); g.answered() != len(g.steps) {
		p.t.Fatal("a plot cannot be registered")
	}
	g.before = g.want()
	g.before.texts++ // counts the reminder of the next morning
	g.steps, g.replies = nil, nil
	for range 20 {
		g.sms("1 +pass1", "1", "0 -pass1")
	}
	return g
}

// run sends the next n steps. It returns false if the service does not answer.
func (g *scripted) run(p *process, n int) bool {
	for ; n > 0 && g.answered() < len(g.steps); n-- {
		if !send(p, g) {
			return false
		}
	}
	return true
}

// send sends the next step of a grower, or the next texts of several growers in one request of the network batch.
func send(p *process, growers ...*scripted) bool {
	s := growers[0].steps[growers[0].answered()]
	if growers[0].batched() {
		var texts []map[string]any
		for _, g := range growers {
			texts = append(texts, g.steps[g.answered()].body)
		}
		s = batch(texts...)
	}
	reply, status, err := p.try(s.call, s.body)
	for _, g := range growers {
		g.cutOff, g.counted = err != nil, false
	}
	if err != nil {
		return false
	}
	if status != statusOf(s.call) {
		p.t.Errorf("%s %v: %d %s", s.call, s.body, status, reply)
		return false
	}
	for _, g := range growers {
		g.replies = append(g.replies, reply)
	}
	return true
}

const batchCall = "/in/batch/sms"

func batch(texts ...map[string]any) step {
	return step{call: batchCall, body: map[string]any{"texts": texts}}
}

func statusOf(call string) int {
	if call == "sms" || call == batchCall {
		return http.StatusAccepted
	}
	return http.StatusOK
}

// found reads what the records contain about a grower, for the comparison with scripted.want.
func found(tx *store.Tx, phone store.Phone, now int64) (r records, err error) {
	l, err := tx.Ledger(phone, now)
	if err != nil {
		return r, err
	}
	plots, err := l.Plots()
	if err != nil {
		return r, err
	}
	r.plots = len(plots)
	for _, no := range plots {
		s, err := l.Season(no)
		if err != nil {
			return r, err
		}
		r.passes[no] = len(s.Passes)
	}
	texts, err := tx.Inbox(phone, 0)
	r.texts = len(texts)
	return r, err
}

// callers send the steps of growers concurrently, until stop is closed or the service does not answer.
type callers struct {
	single, batched chan *scripted // growers whose next step goes alone, or by the network batch
	stop            chan struct{}
	running         sync.WaitGroup
}

func newCallers(growers int) *callers {
	return &callers{single: make(chan *scripted, growers), batched: make(chan *scripted, growers),
		stop: make(chan struct{})}
}

func (c *callers) queue(g *scripted) {
	switch {
	case g.answered() == len(g.steps):
	case g.batched():
		c.batched <- g
	default:
		c.single <- g
	}
}

// start starts the callers. They call answered for each answer.
func (c *callers) start(p *process, answered func()) {
	for i := range 8 {
		next, most := c.single, 1
		if i >= 6 {
			next, most = c.batched, 5
		}
		c.running.Go(func() {
			for {
				group := take(next, most, c.stop)
				if len(group) == 0 || !send(p, group...) {
					return
				}
				for _, g := range group {
					answered()
					c.queue(g)
				}
			}
		})
	}
}

// take returns the next growers, at least one and at most as many as most says. It returns none when stop is closed.
func take(next <-chan *scripted, most int, stop <-chan struct{}) (group []*scripted) {
	select {
	case g := <-next:
		group = append(group, g)
	case <-stop:
		return nil
	}
	for len(group) < most {
		select {
		case g := <-next:
			group = append(group, g)
		default:
			return group
		}
	}
	return group
}
