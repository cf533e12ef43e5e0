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

// The service is killed at work again and again, as by a power cut. Whatever
// it answered is there afterwards, once; whatever it did not answer is asked
// again, as a network would, and happens once.
func TestKilledServiceKeepsItsWord(t *testing.T) {
	const seed, most = 20261125, 100 // at most so many answers between two kills
	kills := 50
	if testing.Short() {
		kills = 8
	}
	rnd := rand.New(rand.NewPCG(seed, 0))
	day := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	v := &victims{p: startProcess(t, day), rnd: rnd}
	for i := range 80 {
		v.growers = append(v.growers, registering(i))
	}
	// Some have a plot in its window and were rung: their digits answer that.
	for i := range 40 {
		v.growers = append(v.growers, rung(v.p, 500+i))
	}
	v.p.set(day.Add(22 * time.Hour))
	v.now = day.Add(24 * time.Hour)
	v.p.set(v.now)

	cut, found := 0, 0
	for round := range kills {
		v.work(1 + rnd.IntN(most))
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
		g.run(v.p, 1) // what was cut off is asked again
		answers += g.answered()
	}
	t.Logf("%d kills, %d answers; %d callbacks were cut off, %d of them are known to have been done", kills, answers,
		cut, found)
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

	// Texts that were on their way at a kill wait for the end of their lease.
	v.p.set(v.now.Add(2 * time.Hour))
	for _, g := range v.growers {
		if got := len(v.p.inbox.take(g.phone.E164())); got != g.want().texts {
			t.Errorf("%v got %d texts, want %d", g.phone, got, g.want().texts)
		}
	}
}

// records are what a grower's answers leave behind.
type records struct {
	plots  int
	passes [3]int // by number of the plot
	texts  int    // in the outbox, sent or not
}

// step is one callback, and what there is once it was answered.
type step struct {
	call  string
	body  map[string]any
	after records
}

// diarist is a grower whose callbacks are written down beforehand.
type diarist struct {
	phone   store.Phone
	before  records
	steps   []step
	replies [][]byte // of the steps that were answered
	cutOff  bool     // the next step was sent and not answered
	counted bool     // and check has counted that
}

func (g *diarist) answered() int { return len(g.replies) }

// want is what there must be for the answers so far.
func (g *diarist) want() records { return g.after(g.answered()) }

func (g *diarist) after(steps int) records {
	if steps == 0 {
		return g.before
	}
	return g.steps[steps-1].after
}

// ussd adds a session. An entry may say what it leaves: "600 +plot",
// "1 +pass1", "1 +text".
func (g *diarist) ussd(entries ...string) {
	session := fmt.Sprintf("%s-%d", g.phone.E164(), len(g.steps))
	for i, e := range entries {
		entry, leaves, _ := strings.Cut(e, " ")
		body := map[string]any{"phone": g.phone.E164(), "session": session, "step": i, "event": "entry", "entry": entry}
		switch entry {
		case "dial":
			body["event"], body["entry"], body["dialled"] = "begin", "", "*123#"
		case "end":
			body["event"], body["entry"] = "end", ""
		}
		g.add("ussd", body, leaves)
	}
}

// sms adds texts. Each gets an answer.
func (g *diarist) sms(texts ...string) {
	for _, s := range texts {
		text, leaves, _ := strings.Cut(s, " ")
		g.add("sms", map[string]any{"id": fmt.Sprintf("%s-%d", g.phone.E164(), len(g.steps)), "phone": g.phone.E164(),
			"text": text}, leaves+" +text")
	}
}

func (g *diarist) add(call string, body map[string]any, leaves string) {
	r := g.after(len(g.steps))
	for l := range strings.FieldsSeq(leaves) {
		switch l {
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
			panic("a step leaves no " + l)
		}
	}
	g.steps = append(g.steps, step{call, body, r})
}

// fictional is the n-th number that is kept for fiction.
func fictional(n int) store.Phone { return store.Phone(fmt.Sprintf("+44%d", 7700900000+n)) }

// registering is a grower who registers two plots and logs passes on them,
// over USSD and by text.
func registering(n int) *diarist {
	g := &diarist{phone: fictional(n)}
	g.ussd("dial", "1 +text", "1", "1", "5/11", "1", "1", "1", "600 +plot", "00", "3", "2", "1 +pass1", "1")
	g.ussd("dial", "1", "1", "6/11", "2", "1", "1", "20x30 +plot", "end")
	g.ussd("dial", "3", "2", "1", "1 +pass2", "2")
	g.sms("menu", "3", "1", "1", "1 +pass1", "1")
	return g
}

// rung is a grower who has a plot by now, and will log a pass, say what is
// left, and take it back, with a digit each, over and over.
func rung(p *process, n int) *diarist {
	p.t.Helper()
	g := &diarist{phone: fictional(n)}
	g.ussd("dial", "1 +text", "1", "1", "5/11", "1", "1", "1", "600 +plot")
	if g.run(p, len(g.steps)); g.answered() != len(g.steps) {
		p.t.Fatal("a plot cannot be registered")
	}
	g.before = g.want()
	g.before.texts++ // in the morning
	g.steps, g.replies = nil, nil
	for range 20 {
		g.sms("1 +pass1", "1", "0 -pass1")
	}
	return g
}

// run sends up to n steps, beginning with the one that got no answer yet. It
// is false where the service is gone.
func (g *diarist) run(p *process, n int) bool {
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

// victims are the growers of a service that is killed.
type victims struct {
	p       *process
	rnd     *rand.Rand
	now     time.Time
	growers []*diarist
}

// work has many growers talk at once, and kills the service at the n-th answer.
func (v *victims) work(n int) {
	busy := make(chan *diarist, len(v.growers))
	v.rnd.Shuffle(len(v.growers), func(i, j int) { v.growers[i], v.growers[j] = v.growers[j], v.growers[i] })
	// What was cut off is asked again first.
	slices.SortStableFunc(v.growers, func(g, h *diarist) int {
		switch {
		case g.cutOff == h.cutOff:
			return 0
		case g.cutOff:
			return -1
		}
		return 1
	})
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
				// Texts go out meanwhile, so that some are cut off on their way.
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

// check reads the records. It counts the callbacks that the last kill cut
// off, and those of them that were seen to be done all the same.
func (v *victims) check(t *testing.T) (cut, done int) {
	t.Helper()
	s, err := store.Open(t.Context(), filepath.Join(v.p.dir, config.DefaultDB), store.Options{ReadConns: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	if err := s.IntegrityCheck(t.Context()); err != nil {
		t.Error(err)
	}
	err = s.View(t.Context(), func(tx *store.Tx) error {
		for _, g := range v.growers {
			got, err := found(tx, g.phone, v.now.Unix())
			if err != nil {
				return err
			}
			unheard := g.cutOff && got == g.after(g.answered()+1)
			if got != g.want() && !unheard {
				t.Errorf("%v: %+v after %d answers, want %+v", g.phone, got, g.answered(), g.want())
			}
			if g.cutOff && !g.counted {
				g.counted = true
				cut++
				if unheard && got != g.want() {
					done++
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return cut, done
}

// found is what there is of a phone.
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

// again repeats a callback that was answered: it must get that very answer.
func (v *victims) again(t *testing.T, g *diarist, n int) {
	t.Helper()
	s := g.steps[n]
	switch reply, status, err := v.p.try(s.call, s.body); {
	case err != nil:
		t.Error(err)
	case status != statusOf(s.call) || !bytes.Equal(reply, g.replies[n]):
		t.Errorf("%s %v, repeated: %d %q, want %q", s.call, s.body, status, reply, g.replies[n])
	}
}
