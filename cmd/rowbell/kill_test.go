package main

import (
	"bytes"
	"cmp"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
)

// These variables set how often TestKilledServiceLosesNoAnswer kills the service, and the seed of its random numbers.
const (
	envKills = "ROWBELL_TEST_KILLS"
	envSeed  = "ROWBELL_TEST_SEED"
)

// onceInFlight is how many texts the network once gets at the same time. A kill may leave as many in doubt.
const onceInFlight = 3

// killedNetworks returns the configuration of three networks: local speaks rowbell's format and is idempotent, once is
// not, and batch sends several texts of growers in one request. The reminded growers (numbers from 500 on) get their
// texts by once; those with numbers from 700 on send theirs by batch.
func killedNetworks(push string) string {
	s := fmt.Sprintf(`
[gateways.local]
trust = { by = "bearer", secrets = ["KILL_TOKEN"] }
push = { url = "%s", concurrency = 4 }
[gateways.once.push]
url = "%s"
type = "application/json"
body = '{"ID":"{{.ID}}","To":"{{.To}}","Text":"{{.Text}}"}'
concurrency = %d
idempotent = false
[gateways.batch]
trust = { by = "bearer", secrets = ["KILL_TOKEN"] }
sms = { body = "json", each = "/texts", id = "/id", phone = "/phone", text = "/text" }
[[routes]]
prefix = ""
through = ["local"]
`, push, push, onceInFlight)
	for hundred := 5; hundred < 10; hundred++ {
		s += fmt.Sprintf("[[routes]]\nprefix = \"+44%d\"\nthrough = [\"once\"]\n", 77009000+hundred)
	}
	return s
}

// The test kills the service many times while the service works, as in a power cut. Each callback with an answer is
// recorded exactly once. A callback without an answer is sent again and is then also recorded exactly once. No network
// gets a text twice that it does not recognise, and a kill leaves at most the texts in flight in doubt.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestKilledServiceLosesNoAnswer(t *testing.T) {
	t.Parallel()
	seed, err := strconv.ParseUint(cmp.Or(os.Getenv(envSeed), "20261125"), 10, 64)
	must(t, err)
	maxAnswers := 100 // the greatest number of answers between two kills
	kills, registered, withReminder := 30, 80, 40
	if testing.Short() {
		kills = 8
	}
	if n, err := strconv.Atoi(os.Getenv(envKills)); err == nil {
		// The growers must have enough callbacks for all kills. There are numbers for about 600 kills.
		maxAnswers = 40
		kills, registered, withReminder = n, min(max(80, n*3/5), 400), min(max(40, n*4/5), 400)
	}
	rnd := rand.New(rand.NewPCG(seed, 0))
	day := aDay
	p := newProcess(t)
	p.env, p.settings = []string{"KILL_TOKEN=" + testToken}, killedNetworks(p.push.URL)
	p.start(day)
	v := &victims{p: p, rnd: rnd}
	for i := range registered {
		v.growers = append(v.growers, registering(i))
	}
	// These growers already have a reminder to weed. Each of their texts is one digit: an answer to the reminder or to
	// a later question.
	for i := range withReminder {
		v.growers = append(v.growers, reminded(v.p, 500+i/2+i%2*200))
	}
	v.p.set(day.Add(22 * time.Hour))
	v.now = day.Add(24 * time.Hour)
	v.p.set(v.now)

	cut, found := 0, 0
	for round := range kills {
		if left := v.stepsLeft(); left < 2*maxAnswers {
			t.Fatalf("after %d kills the growers have only %d callbacks left: ask for fewer kills", round, left)
		}
		switch round % 4 {
		case 0, 2:
			v.work(1+rnd.IntN(maxAnswers), 0, "")
		case 1:
			v.work(maxAnswers, 1+rnd.IntN(12), fictional(0))
		case 3:
			v.work(maxAnswers, 1+rnd.IntN(12), fictional(500))
		}
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
	t.Logf("%d kills, %d answers; %d callbacks were cut off, %d of them were recorded; %d texts in doubt, "+
		"at most %d after a kill, %d of them had not arrived",
		kills, answers, cut, found, v.unknown, v.mostUnknown, v.neverLeft)
	if cut < kills/2 || v.unknown == 0 {
		t.Errorf("only %d callbacks were cut off in %d kills, and %d texts are in doubt: "+
			"the service is not killed at work", cut, kills, v.unknown)
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
	v.p.settle()
	v.check(t)
	if told := v.p.log.count("although it was acknowledged"); told > 0 {
		t.Errorf("%d starts took the log that a kill left for damaged", told)
	}
	v.decide(t)
	for _, g := range v.growers {
		if got := len(v.p.inbox.take(g.phone.E164())); got != g.want().texts {
			t.Errorf("%v got %d texts, want %d", g.phone, got, g.want().texts)
		}
	}
}

// decide sends the texts in doubt again. Afterwards no text is in doubt.
func (v *victims) decide(t *testing.T) {
	t.Helper()
	inDoubt := fmt.Sprintf("texts in doubt: %d;", v.unknown)
	_, ready := v.p.get("/readyz")
	if !strings.Contains(ready, inDoubt) || !strings.Contains(v.p.log.String(), inDoubt) {
		t.Errorf("/readyz or the log does not say %q:\n%s", inDoubt, ready)
	}
	noted := fmt.Sprintf("texts that a network may have taken and did not say: %d", v.unknown)
	if out, _ := v.p.also("doctor", "--offline", "--config", "rowbell.toml", "--test-clock",
		v.now.Format(time.RFC3339)); !strings.Contains(out, noted) {
		t.Errorf("doctor does not say %q:\n%s", noted, out)
	}
	flags := "--db " + filepath.Join(v.p.dir, config.DefaultDB)
	runSteps(t, "--test-clock="+v.now.Format(time.RFC3339)+" sending unknown ", []shellStep{
		{flags, 0, "id number kind network in doubt since"},
		{"--again --all " + flags, 0, fmt.Sprintf("%d texts will be sent again", v.unknown)},
		{flags, 0, "No text is in doubt."},
	})
	v.p.settle()
	if _, ready := v.p.get("/readyz"); strings.Contains(ready, "in doubt") {
		t.Errorf("after the decision:\n%s", ready)
	}
}

// victims are the growers of a kill test and the service that is killed.
type victims struct {
	p       *process
	rnd     *rand.Rand
	now     time.Time
	growers []*scripted

	unknown, mostUnknown, neverLeft int // texts in doubt; the most after one kill; those of them that never arrived
}

// stepsLeft returns how many steps have no answer yet.
func (v *victims) stepsLeft() (n int) {
	for _, g := range v.growers {
		n += len(g.steps) - g.answered()
	}
	return n
}

// work sends steps of many growers concurrently and kills the service at the n-th answer or, if texts is not 0, while
// networks get texts: when as many texts as texts says have come that are to numbers from first on.
func (v *victims) work(n, texts int, first store.Phone) {
	v.rnd.Shuffle(len(v.growers), func(i, j int) { v.growers[i], v.growers[j] = v.growers[j], v.growers[i] })
	// Callbacks without an answer are sent again first.
	order := func(g *scripted) int {
		if g.cutOff {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(v.growers, func(g, h *scripted) int { return order(g) - order(h) })
	c := newCallers(len(v.growers))
	for _, g := range v.growers {
		c.queue(g)
	}
	var answers, pushed atomic.Int64
	enough := make(chan struct{})
	end := sync.OnceFunc(func() { close(enough) })
	if texts > 0 {
		v.p.inbox.setHook(func(to string) bool {
			if store.Phone(to) < first || pushed.Add(1) < int64(texts) {
				return true
			}
			end()
			return false
		})
	}
	// Moving the clock by 0 seconds makes the service push the texts that wait. So a kill also interrupts some pushes.
	c.start(v.p, func() {
		made := answers.Add(1)
		if made%20 == 0 {
			_, _, _ = v.p.try("clock", map[string]any{"advance": "0s"})
		}
		if made == int64(n) {
			end()
		}
	})
	<-enough
	v.p.kill()
	close(c.stop)
	c.running.Wait()
	v.p.inbox.setHook(nil)
}

// check compares the records of all growers with the answers that the growers got. It returns how many callbacks the
// last kill left without an answer (cut), and how many of these callbacks are recorded (done).
func (v *victims) check(t *testing.T) (cut, done int) {
	t.Helper()
	s := openRecords(t, filepath.Join(v.p.dir, config.DefaultDB))
	read(t, s, func(tx *store.Tx) error {
		if err := v.checkTexts(t, tx, onceInFlight); err != nil {
			return err
		}
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

// checkTexts compares the states of the texts with what the networks got. The network once must not have got a text
// that will be sent again. At most inDoubt more texts than before may be in doubt.
func (v *victims) checkTexts(t *testing.T, tx *store.Tx, inDoubt int) error {
	unknown, neverLeft := 0, 0
	for _, g := range v.growers {
		texts, err := tx.Inbox(g.phone, 0)
		if err != nil {
			return err
		}
		for _, m := range texts {
			got, once := v.p.inbox.requests(m.Key), g.phone >= fictional(500)
			wrong := once && got > 1
			switch m.State {
			case store.Accepted:
				wrong = wrong || got == 0
			case store.Queued:
				wrong = wrong || once && got > 0
			case store.Unknown:
				wrong = wrong || !once
				if unknown++; got == 0 {
					neverLeft++
				}
			default:
				wrong = true
			}
			if wrong {
				t.Errorf("text %s is %s (%s); its network got it %d times", m.Key, m.State, m.Reason, got)
			}
		}
	}
	if more := unknown - v.unknown; more > inDoubt {
		t.Errorf("%d more texts are in doubt, want at most %d", more, inDoubt)
	}
	v.mostUnknown = max(v.mostUnknown, unknown-v.unknown)
	v.unknown, v.neverLeft = unknown, neverLeft
	return nil
}

// again sends the n-th callback of a grower a second time, and wants the same answer.
func (v *victims) again(t *testing.T, g *scripted, n int) {
	t.Helper()
	s := g.steps[n]
	if g.phone >= fictional(700) && s.call == "sms" {
		s = batch(s.body)
	}
	switch reply, status, err := v.p.try(s.call, s.body); {
	case err != nil:
		t.Error(err)
	case status != statusOf(s.call) || !bytes.Equal(reply, g.replies[n]):
		t.Errorf("%s %v, repeated: %d %q, want %q", s.call, s.body, status, reply, g.replies[n])
	}
}
