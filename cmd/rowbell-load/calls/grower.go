package calls

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"time"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/store"
)

// grower plays a script once.
type grower struct {
	load    *load
	phone   store.Phone
	script  *script
	arrived chan string // texts
	missing []string    // texts that did not come
	wrong   bool        // an answer was wrong, so the dialogue was given up

	session, step int
}

// Pauses between two tries of a call that was not acknowledged.
const (
	firstPause = 20 * time.Millisecond
	mostPause  = 500 * time.Millisecond
)

// play plays the script from an instant on.
func (g *grower) play(ctx context.Context, due time.Time) {
	for i := range g.script.acts {
		a := &g.script.acts[i]
		if !wait(ctx, due) {
			return
		}
		if !g.act(ctx, i, a, due) {
			g.wrong = true
			return
		}
		due = time.Now().Add(g.load.o.Think)
	}
}

// wait waits until an instant. It returns false if ctx has ended.
func wait(ctx context.Context, until time.Time) bool {
	timer := time.NewTimer(time.Until(until))
	defer timer.Stop()
	select {
	case <-timer.C:
		return true
	case <-ctx.Done():
		return false
	}
}

// act makes one call and looks at what comes of it. It returns false if that is wrong, or if ctx has ended.
func (g *grower) act(ctx context.Context, no int, a *act, due time.Time) bool {
	c := called{network: stack.NetworkOf(g.phone), call: a.call, body: g.body(no, a)}
	if !g.untilAcknowledged(ctx, &c) {
		return false
	}
	acked := time.Now()
	g.load.answered(&c, acked.Sub(due))
	if a.call == "ussd" && a.event != "end" {
		var shown struct {
			Text string
			More bool
		}
		if err := json.Unmarshal(c.answer, &shown); err != nil || shown.Text != a.shows || shown.More == a.ends {
			g.load.fault("%s, act %d, %q: shown %q (%v), want %q", g.script.name, no+1, a.says, c.answer, err, a.shows)
			return false
		}
	}
	return g.texts(ctx, no, a, acked)
}

// body is what the network posts.
func (g *grower) body(no int, a *act) map[string]any {
	if a.call == "sms" {
		return map[string]any{"id": fmt.Sprintf("%s-%d", g.phone.E164(), no), "phone": g.phone.E164(), "to": "12345",
			"text": a.says}
	}
	if g.step++; a.event == "begin" {
		g.session, g.step = g.session+1, 0
	}
	b := map[string]any{"phone": g.phone.E164(), "session": fmt.Sprintf("%s-%d", g.phone.E164(), g.session),
		"step": g.step, "event": a.event}
	if b["entry"] = a.says; a.event == "begin" {
		b["dialled"], b["entry"] = a.says, ""
	}
	return b
}

// called is a call that was acknowledged.
type called struct {
	network, call string
	body          map[string]any
	answer        []byte
	at            time.Time
}

// untilAcknowledged posts a call until it is acknowledged. It returns false if it is refused, if ctx has ended, or
// after Options.GiveUp, which ends the run: a service that does not come back would keep it for ever.
func (g *grower) untilAcknowledged(ctx context.Context, c *called) bool {
	began := time.Now()
	for pause := firstPause; ; pause = min(2*pause, mostPause) {
		a, err := g.load.stack.Post(ctx, c.network, c.call, c.body)
		switch {
		case err == nil && (a.Status == http.StatusOK || a.Status == http.StatusAccepted):
			c.answer = a.Body
			return true
		case err == nil && a.Status/100 != 5:
			g.load.fault("%s %v: %s", c.call, c.body, whyNot(a, nil))
			return false
		case ctx.Err() != nil:
			return false
		}
		g.load.repeated(a.Status, err)
		if tried := time.Since(began); tried >= g.load.o.GiveUp {
			g.load.giveUp(fmt.Errorf("a call was not acknowledged for %v, at last: %s", tried.Round(time.Second),
				whyNot(a, err)))
			return false
		}
		if !wait(ctx, time.Now().Add(pause)) {
			return false
		}
	}
}

// whyNot says what came instead of an acknowledgement.
func whyNot(a stack.Answer, err error) string {
	if err != nil {
		return err.Error()
	}
	return fmt.Sprintf("%d %s", a.Status, bytes.TrimSpace(a.Body))
}

// texts waits for the texts that follow an act. A text that does not come is noted: a network that takes texts twice
// gets none again whose fate is unknown.
func (g *grower) texts(ctx context.Context, no int, a *act, since time.Time) bool {
	want := slices.Clone(a.texts)
	patience := time.NewTimer(g.load.o.Patience)
	defer patience.Stop()
	for len(want) > 0 {
		select {
		case got := <-g.arrived:
			if i := slices.Index(g.missing, got); i >= 0 { // it is late
				g.missing = slices.Delete(g.missing, i, i+1)
				continue
			}
			i := slices.Index(want, got)
			if i < 0 {
				g.load.fault("%s, act %d, %q: got the text %q, want %q", g.script.name, no+1, a.says, got, want)
				return false
			}
			want = slices.Delete(want, i, i+1)
			g.load.textCame(time.Since(since))
		case <-patience.C:
			g.missing = append(g.missing, want...)
			return true
		case <-ctx.Done():
			return false
		}
	}
	return true
}
