package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// The test kills the service many times while the service works, as in a power cut. Each callback with an answer is
// recorded exactly once. A callback without an answer is sent again and is then also recorded exactly once.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestKilledServiceLosesNoAnswer(t *testing.T) {
	t.Parallel()
	const seed, maxAnswers = 20261125, 100 // maxAnswers is the greatest number of answers between two kills
	kills := 50
	if testing.Short() {
		kills = 8
	}
	rnd := rand.New(rand.NewPCG(seed, 0))
	day := aDay
	v := &victims{p: startProcess(t, day), rnd: rnd}
	for i := range 80 {
		v.growers = append(v.growers, registering(i))
	}
	// Forty more growers already have a reminder to weed. Each of their texts is one digit: an answer to the reminder
	// or to a later question.
	for i := range 40 {
		v.growers = append(v.growers, reminded(v.p, 500+i))
	}
	v.p.set(day.Add(22 * time.Hour))
	v.now = day.Add(24 * time.Hour)
	v.p.set(v.now)

	cut, found := 0, 0
	for round := range kills {
		v.work(1 + rnd.IntN(maxAnswers))
		v.p.start(v.now)
		c, f := v.check(t)
		cut, found = cut+c, found+f
		for range 10 {
			if g := v.growers[rnd.IntN(len(v.growers))]; g.answered() > 0 {
				v.again(t, g, rnd.IntN(g.answered()))
			}
		}
		if t.Failed() {
			t.Fatalf("after kill %d, seed %d", round+1, seed)
		}
	}
	answers := 0
	for _, g := range v.growers {
		g.run(v.p, 1) // sends the callback again that got no answer because of the kill
		answers += g.answered()
	}
	t.Logf("%d kills, %d answers; %d callbacks were cut off, %d of them were recorded", kills, answers, cut, found)
	if cut < kills/2 {
		t.Errorf("only %d callbacks were cut off in %d kills: the service is not killed at work", cut, kills)
	}

	var wg sync.WaitGroup
	for part := range 8 {
		wg.Go(func() {
			for i := part; i < len(v.growers); i += 8 {
				for n := range v.growers[i].answered() {
					v.again(t, v.growers[i], n)
				}
			}
		})
	}
	wg.Wait()
	v.check(t)

	// The killed service leaves its claim on a text that it was sending. The text is sent again when the claim has
	// expired, within two hours.
	v.p.set(v.now.Add(2 * time.Hour))
	for _, g := range v.growers {
		if got := len(v.p.inbox.take(g.phone.E164())); got != g.want().texts {
			t.Errorf("%v got %d texts, want %d", g.phone, got, g.want().texts)
		}
	}
}

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

func fictional(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+n)) }

// registering returns a grower who registers two plots and logs passes on both plots, by USSD and by text.
func registering(n int) *scripted {
	g := &scripted{phone: fictional(n)}
	g.ussd("dial", "1 +text", "1", "1", "5/11", "1", "1", "1", "1", "600 +plot", "00", "3", "2", "1 +pass1", "1")
	g.ussd("dial", "1", "1", "6/11", "1", "1", "2", "1", "20x30 +plot", "end")
	g.ussd("dial", "3", "2", "1", "1 +pass2", "2")
	g.sms("menu", "3", "1", "1", "1 +pass1", "1")
	return g
}

// reminded returns a grower who has a plot. By texts of one digit, the grower logs a pass, says how many weeds are left
// and undoes the pass, 20 times.
func reminded(p *process, n int) *scripted {
	p.t.Helper()
	g := &scripted{phone: fictional(n)}
	g.ussd("dial", "1 +text", "1", "1", "12/11", "1", "1", "1", "1", "600 +plot")
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
		s := g.steps[g.answered()]
		reply, status, err := p.try(s.call, s.body)
		if g.cutOff, g.counted = err != nil, false; g.cutOff {
			return false
		}
		if status != statusOf(s.call) {
			p.t.Errorf("%s %v: %d %s", s.call, s.body, status, reply)
			return false
		}
		g.replies = append(g.replies, reply)
	}
	return true
}

func statusOf(call string) int {
	if call == "sms" {
		return http.StatusAccepted
	}
	return http.StatusOK
}

// victims are the growers of a kill test and the service that is killed.
type victims struct {
	p       *process
	rnd     *rand.Rand
	now     time.Time
	growers []*scripted
}

// work sends steps of many growers concurrently and kills the service at the n-th answer.
func (v *victims) work(n int) {
	busy := make(chan *scripted, len(v.growers))
	v.rnd.Shuffle(len(v.growers), func(i, j int) { v.growers[i], v.growers[j] = v.growers[j], v.growers[i] })
	// Callbacks without an answer are sent again first.
	first := func(g *scripted) int {
		if g.cutOff {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(v.growers, func(g, h *scripted) int { return first(g) - first(h) })
	for _, g := range v.growers {
		if g.answered() < len(g.steps) {
			busy <- g
		}
	}
	var answers atomic.Int64
	enough := make(chan struct{})
	var callers sync.WaitGroup
	for range 8 {
		callers.Go(func() {
			for g := range busy {
				if !g.run(v.p, 1) {
					return
				}
				// Moving the clock by 0 seconds makes the service push the texts that wait. Thus a kill also interrupts
				// some pushes.
				made := answers.Add(1)
				if made%20 == 0 {
					_, _, _ = v.p.try("clock", map[string]any{"advance": "0s"})
				}
				if made == int64(n) {
					close(enough)
				}
				if g.answered() < len(g.steps) {
					busy <- g
				}
			}
		})
	}
	<-enough
	v.p.kill()
	callers.Wait()
}

// check compares the records of all growers with the answers that the growers got. It returns how many callbacks the
// last kill left without an answer (cut), and how many of these callbacks are recorded (done).
func (v *victims) check(t *testing.T) (cut, done int) {
	t.Helper()
	s := openRecords(t, filepath.Join(v.p.dir, config.DefaultDB))
	read(t, s, func(tx *store.Tx) error {
		for _, g := range v.growers {
			got, err := found(tx, g.phone, v.now.Unix())
			if err != nil {
				return err
			}
			recorded := g.cutOff && got == g.after(g.answered()+1)
			if got != g.want() && !recorded {
				t.Errorf("%v: %+v after %d answers, want %+v", g.phone, got, g.answered(), g.want())
			}
			if g.cutOff && !g.counted {
				g.counted = true
				cut++
				if recorded && got != g.want() {
					done++
				}
			}
		}
		return nil
	})
	must(t, s.Close())
	return cut, done
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

// again sends the n-th callback of a grower a second time, and wants the same answer.
func (v *victims) again(t *testing.T, g *scripted, n int) {
	t.Helper()
	s := g.steps[n]
	switch reply, status, err := v.p.try(s.call, s.body); {
	case err != nil:
		t.Error(err)
	case status != statusOf(s.call) || !bytes.Equal(reply, g.replies[n]):
		t.Errorf("%s %v, repeated: %d %q, want %q", s.call, s.body, status, reply, g.replies[n])
	}
}
