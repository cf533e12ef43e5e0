package main

import (
	"fmt"
	"math/rand/v2"
	"net/http/httptest"
	"slices"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"rowbell/store"
	"rowbell/store/testrun"
)

// processes is a set of processes that share the records on a server. A slot is nil while its process does not run.
type processes struct {
	t     testing.TB
	first *process // never runs; it has the database and the networks of all
	slots []atomic.Pointer[process]

	program string // path of the binary that start runs; "" = that of this version
}

// startProcesses starts as many processes as size says. Their clocks are set to the time at.
func startProcesses(t testing.TB, size int, at time.Time) *processes {
	t.Helper()
	if !testrun.OnServer() {
		t.Skip("about a server: .ci/postgres go test ./cmd/rowbell -run Processes")
	}
	first := &process{t: t, languages: []string{"en"}, env: []string{"KILL_TOKEN=" + testToken}, token: testToken,
		inbox: newInbox(), db: testrun.Database(t, makeRecords)}
	first.push = httptest.NewServer(first.inbox)
	t.Cleanup(first.push.Close)
	first.settings = killedNetworks(first.push.URL)
	f := &processes{t: t, first: first, slots: make([]atomic.Pointer[process], size)}
	for i := range f.slots {
		f.start(i, at)
	}
	return f
}

// start starts a process, which has the same name each time.
func (f *processes) start(i int, at time.Time) *process {
	f.t.Helper()
	p := bareProcess(f.t)
	p.languages, p.token, p.inbox, p.push = f.first.languages, f.first.token, f.first.inbox, f.first.push
	p.db, p.env, p.settings, p.name = f.first.db, f.first.env, f.first.settings, fmt.Sprintf("slot-%d", i)
	p.program = f.program
	p.start(at)
	f.slots[i].Store(p)
	return p
}

// replace stops a process and starts it again, perhaps with another program.
func (f *processes) replace(i int, at time.Time) {
	f.t.Helper()
	f.slots[i].Swap(nil).stop()
	f.start(i, at)
}

func (f *processes) kill(i int) { f.slots[i].Swap(nil).kill() }

// some returns a process that runs.
func (f *processes) some(rnd *rand.Rand) *process {
	for {
		if p := f.slots[rnd.IntN(len(f.slots))].Load(); p != nil {
			return p
		}
	}
}

// each calls fn for all processes at the same time.
func (f *processes) each(fn func(i int, p *process)) {
	var all sync.WaitGroup
	for i := range f.slots {
		p := f.slots[i].Load()
		all.Go(func() { fn(i, p) })
	}
	all.Wait()
}

// settle writes the reminders and sends the texts that are due, on all processes.
func (f *processes) settle() { f.each(func(_ int, p *process) { p.settle() }) }

// open opens the records.
func (f *processes) open() *store.Store {
	f.t.Helper()
	return openRecords(f.t, f.first.db)
}

// remindedGrowers returns growers of the network once to whom a reminder is due in the morning.
func (f *processes) remindedGrowers(n int) (growers []*scripted) {
	f.t.Helper()
	for i := range n {
		growers = append(growers, reminded(f.slots[i%len(f.slots)].Load(), 500+i/2+i%2*200))
	}
	return growers
}

// Three processes work. One after the other is killed and started again, and the network sends its calls to another
// one. Each callback with an answer is recorded once, also if it is repeated at another process. A network that does
// not recognise a repeated text gets no text twice. Each grower is reminded once, although one process dies while all
// of them write reminders.
//
//revive:disable-next-line:function-length one course of events, read from top to bottom
func TestKilledProcessesLoseNoAnswer(t *testing.T) {
	const size, kills, registered, withReminder = 3, 9, 14, 10
	day := aDay
	f := startProcesses(t, size, day)
	v := &victims{p: f.first, now: day.Add(22 * time.Hour)} // seven in the morning
	v.growers = f.remindedGrowers(withReminder)
	dead := make(chan struct{})
	f.settle()
	var rung atomic.Int64
	f.first.inbox.setHook(func(string) bool {
		if rung.Add(1) == 5 {
			go func() { f.kill(0); close(dead) }()
		}
		return true
	})
	f.each(func(_ int, p *process) { _, _, _ = p.try("clock", map[string]any{"set": v.now.Format(time.RFC3339)}) })
	if n := rung.Load(); n < 5 {
		t.Fatalf("only %d texts were sent in the morning", n)
	}
	<-dead
	f.first.inbox.setHook(nil)
	f.start(0, v.now)
	f.settle()
	s := f.open()
	read(t, s, func(tx *store.Tx) error {
		for _, g := range v.growers {
			if got, err := found(tx, g.phone, v.now.Unix()); err != nil || got != g.want() {
				t.Errorf("%v: %+v after the morning, want %+v (%v)", g.phone, got, g.want(), err)
			}
		}
		return v.checkTexts(t, tx, onceInFlight)
	})

	v.now = v.now.Add(2 * time.Hour) // plots that are registered now are looked at tomorrow
	f.each(func(_ int, p *process) { p.set(v.now) })
	for i := range registered {
		v.growers = append(v.growers, registering(i))
	}
	left := make(chan *scripted, len(v.growers))
	total := 0
	for _, g := range v.growers {
		total += len(g.steps) - g.answered()
		left <- g
	}
	answers := make(chan struct{}, total)
	var callers sync.WaitGroup
	var cut atomic.Int64
	for i := range 8 {
		rnd := rand.New(rand.NewPCG(uint64(i), 0))
		callers.Go(func() {
			for {
				var g *scripted
				select {
				case g = <-left:
				default:
					return
				}
				for n := 0; g.answered() < len(g.steps); {
					if !send(f.some(rnd), g) {
						if !g.cutOff {
							return // send has said why
						}
						cut.Add(1)
						continue
					}
					answers <- struct{}{}
					if n++; n%20 == 0 {
						_, _, _ = f.some(rnd).try("clock", map[string]any{"advance": "0s"})
					}
				}
			}
		})
	}
	ended := make(chan struct{})
	go func() { callers.Wait(); close(ended) }()
	// Between two events, this many answers come. The number of events is even: killed, started, killed, started.
	between := total / (2*kills + 1)
	for event := range 2 * kills {
		for range between {
			select {
			case <-answers:
			case <-ended:
			}
		}
		if i := event / 2 % size; event%2 == 0 {
			f.kill(i)
		} else {
			f.start(i, v.now)
		}
	}
	<-ended
	f.settle()
	f.settle() // the texts that one process had claimed and gave back
	// How many there are is a matter of chance: a kill may come between two callbacks.
	if cut.Load() == 0 {
		t.Errorf("no callback was cut off in %d kills: the processes are not killed at work", kills)
	}
	read(t, s, func(tx *store.Tx) error {
		for _, g := range v.growers {
			if got, err := found(tx, g.phone, v.now.Unix()); err != nil || got != g.want() {
				t.Errorf("%v: %+v after %d answers, want %+v (%v)", g.phone, got, g.answered(), g.want(), err)
			}
		}
		return v.checkTexts(t, tx, kills*onceInFlight)
	})
	for i, g := range v.growers {
		v.p = f.slots[i%size].Load()
		for n := range g.answered() {
			v.again(t, g, n)
		}
	}
	t.Logf("%d answers, %d kills; %d callbacks were cut off; %d texts in doubt, %d of them had not arrived",
		total, kills, cut.Load(), v.unknown, v.neverLeft)
}

// A process is suspended while it sends, for longer than its claims last. Another process sends what the first one had
// not begun. The first one goes on afterwards, and sends none of these texts again.
func TestSuspendedProcessesSendNothingTwice(t *testing.T) {
	day := aDay
	f := startProcesses(t, 2, day)
	a, b := f.slots[0].Load(), f.slots[1].Load()
	v := &victims{p: f.first, now: day.Add(22 * time.Hour)}
	v.growers = f.remindedGrowers(4 * onceInFlight) // as many as a process claims at once
	f.settle()
	var came atomic.Int64
	full, goOn := make(chan struct{}), make(chan struct{})
	f.first.inbox.setHook(func(string) bool {
		n := came.Add(1)
		if n == onceInFlight {
			close(full)
		}
		if n <= onceInFlight {
			<-goOn
		}
		return true
	})
	ended := make(chan error, 1)
	go func() {
		_, _, err := a.try("clock", map[string]any{"set": v.now.Format(time.RFC3339)})
		ended <- err
	}()
	select {
	case <-full:
	case err := <-ended:
		t.Fatalf("the process sent only %d texts at once (%v)", came.Load(), err)
	}
	must(t, a.cmd.Process.Signal(syscall.SIGSTOP))
	b.set(v.now)
	if n := came.Load(); n != onceInFlight {
		t.Errorf("while the claims last, another process sent %d texts", n-onceInFlight)
	}
	b.set(v.now.Add(time.Hour))
	sent := came.Load()
	if want := int64(len(v.growers)); sent != want {
		t.Errorf("after the claims have ended, %d texts were sent, want %d", sent, want)
	}
	must(t, a.cmd.Process.Signal(syscall.SIGCONT))
	close(goOn)
	must(t, <-ended)
	f.settle()
	if n := came.Load(); n != sent {
		t.Errorf("the process that was suspended sent %d more texts", n-sent)
	}
	s := f.open()
	read(t, s, func(tx *store.Tx) error { return v.checkTexts(t, tx, 0) })
}

// register lets 16 callers register growers with numbers from first on, each several in a row, each step at the next
// process. It returns the number of steps.
func (f *processes) register(first, each int) (steps int64) {
	f.t.Helper()
	var callers sync.WaitGroup
	var all atomic.Int64
	for i := range 16 {
		callers.Go(func() {
			for n := range each {
				g := registering(first + each*i + n)
				for at := 0; g.answered() < len(g.steps); at++ {
					if !g.run(f.slots[(i+at)%len(f.slots)].Load(), 1) {
						f.t.Errorf("no answer to step %d", g.answered())
						return
					}
				}
				all.Add(int64(len(g.steps)))
			}
		})
	}
	callers.Wait()
	return all.Load()
}

// BenchmarkStepsOfProcesses measures how many callbacks a second one process and three answer on one server, in turns:
//
//	.ci/postgres go test ./cmd/rowbell -run xxx -bench StepsOfProcesses -benchtime 3x
func BenchmarkStepsOfProcesses(b *testing.B) {
	took := map[int][]float64{}
	for b.Loop() {
		for _, size := range []int{1, 3} {
			f := startProcesses(b, size, aDay)
			f.register(0, 3) // opens the connections
			begun := time.Now()
			steps := f.register(200, 6)
			took[size] = append(took[size], float64(steps)/time.Since(begun).Seconds())
			f.each(func(_ int, p *process) { p.stop() })
		}
	}
	for size, list := range took {
		slices.Sort(list)
		b.ReportMetric(list[len(list)/2], fmt.Sprintf("steps/s-by-%d", size))
	}
	b.ReportMetric(0, "ns/op")
}
