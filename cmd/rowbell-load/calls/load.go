package calls

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"time"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/store"
)

// Options say how the service is loaded.
type Options struct {
	Stack    stack.Options
	For      time.Duration // how long growers come
	Rate     float64       // calls a second outside of the burst
	Burst    float64       // how many times the rate comes at the height of the morning's burst; 1 = there is none
	Think    time.Duration // between an answer and the grower's next call
	Patience time.Duration // how long a grower waits for a text
	GiveUp   time.Duration // how long a call is tried; one that is not acknowledged by then ends the run
	Seed     uint64

	Disturb Disturb
	Watch   func(Status) // is called each second; may be nil
}

// Longest is the greatest Options.For: the growers' day may not end meanwhile.
const Longest = 10 * time.Hour

// Limits of the load.
const (
	mostWaiting = 20_000 // growers at the same time; more are not let in
	mostFaults  = 20     // that are told
	mostGrowers = 1_000_000
)

// again is the share of acknowledged calls that the network repeats at once.
const again = 0.02

// Status is how far a run is.
type Status struct {
	Elapsed        time.Duration
	Calls, Waiting int
	Faults         int
}

// load is one run.
type load struct {
	o       Options
	scripts []script
	stack   *stack.Stack
	net     *stack.Network
	giveUp  context.CancelCauseFunc // ends the run, which cannot go on
	begun   time.Time

	calls   atomic.Int64 // that were acknowledged
	lastAck atomic.Int64 // when the last call was acknowledged, in ns since begun
	waiting atomic.Int64 // growers who have not ended

	mu       sync.Mutex
	rnd      *rand.Rand
	growers  map[store.Phone]*grower
	ledger   []called // what was acknowledged, in order
	times    times    // of calls
	texts    times
	longest  time.Duration  // without an answer since the last disturbance
	tries    map[string]int // tries without an acknowledgement, by why
	faults   []string
	nFaults  int
	turned   int // growers who came when too many were waiting
	repeats  int
	troubles []Trouble
	states   map[store.State]int // of texts
}

// Run loads the service and looks at everything. An error means that the run could not be made; what the service did
// wrong stands in the result.
func Run(ctx context.Context, o Options) (Result, error) {
	ctx, giveUp := context.WithCancelCause(ctx)
	defer giveUp(nil)
	l, err := start(ctx, o)
	if err != nil {
		return Result{}, err
	}
	l.giveUp = giveUp
	l.calm(ctx)
	if l.nFaults > 0 {
		return l.result(), errors.Join(errors.New("without load, the service answers wrongly"), l.stack.Close())
	}
	l.loaded(ctx)
	l.askAgain(ctx)
	if err := l.waitForLate(ctx); err != nil {
		return l.result(), errors.Join(err, l.stack.Close())
	}
	running := l.result()
	if err := errors.Join(context.Cause(ctx), l.stack.Close(), l.writeLedger()); err != nil {
		return running, err
	}
	if err := l.look(context.WithoutCancel(ctx)); err != nil {
		return running, err
	}
	return l.result().with(running), nil
}

// start starts the service.
func start(ctx context.Context, o Options) (l *load, err error) {
	l = &load{o: o, rnd: rand.New(rand.NewPCG(o.Seed, 1)), growers: map[store.Phone]*grower{}, times: newTimes(),
		texts: newTimes(), tries: map[string]int{}, states: map[store.State]int{}}
	now := time.Now().UTC()
	zone, offset := morningZone(now)
	l.o.Stack.Zone = zone
	if l.scripts, err = scripts(now.Add(offset)); err != nil {
		return nil, err
	}
	l.net = &stack.Network{Arrived: l.arrived}
	l.stack, err = stack.Start(ctx, l.o.Stack, l.net)
	l.begun = time.Now()
	return l, err
}

// morningZone returns a time zone in which it is between nine and ten in the morning, so that no day ends soon.
func morningZone(now time.Time) (name string, offset time.Duration) {
	hours := 9 - now.Hour()
	if hours < -12 {
		hours += 24
	}
	// The sign of these names is the wrong way round: Etc/GMT-5 is east of Greenwich.
	return fmt.Sprintf("Etc/GMT%+d", -hours), time.Duration(hours) * time.Hour
}

// come lets a grower come who plays a script; ended is called when the grower has ended.
func (l *load) come(ctx context.Context, s *script, due time.Time, ended func()) {
	l.mu.Lock()
	phone := stack.Phone(len(l.growers))
	// A channel that nobody reads any more must hold all texts that may still come.
	g := &grower{load: l, phone: phone, script: s, arrived: make(chan string, 64)}
	l.growers[phone] = g
	l.mu.Unlock()
	l.waiting.Add(1)
	go func() {
		defer ended()
		defer l.waiting.Add(-1)
		g.play(ctx, due)
	}()
}

// calm has two growers play each script before the load, one in each network. What is recorded of them is what must be
// recorded of the others.
func (l *load) calm(ctx context.Context) {
	var all sync.WaitGroup
	for i := range l.scripts {
		for range 2 {
			all.Add(1)
			l.come(ctx, &l.scripts[i], time.Now(), all.Done)
		}
	}
	all.Wait()
}

// loaded lets growers come by the plan of arrivals, and waits for the last one to end.
func (l *load) loaded(ctx context.Context) {
	perGrower := 0.0
	for _, s := range l.scripts {
		perGrower += float64(len(s.acts)) / float64(len(l.scripts))
	}
	l.mu.Lock()
	l.times, l.texts = newTimes(), newTimes()
	l.mu.Unlock()
	l.begun = time.Now()
	l.lastAck.Store(0)
	l.calls.Store(0)
	var all sync.WaitGroup
	stop := l.watch()
	disturbed := l.disturb(ctx)
	a := arrivals{rate: l.o.Rate / perGrower, burst: l.o.Burst, length: l.o.For,
		rnd: rand.New(rand.NewPCG(l.o.Seed, 2))}
	for n := len(l.growers); n < mostGrowers; n++ {
		at, more := a.next()
		if !more || !wait(ctx, l.begun.Add(at)) {
			break
		}
		if l.waiting.Load() >= mostWaiting {
			l.turned++
			continue
		}
		all.Add(1)
		l.come(ctx, &l.scripts[n/2%len(l.scripts)], l.begun.Add(at), all.Done)
	}
	disturbed()
	all.Wait()
	stop()
}

// watch tells each second how far the run is, until the returned function is called.
func (l *load) watch() (stop func()) {
	ended, quit := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		ticks := time.NewTicker(time.Second)
		defer ticks.Stop()
		for {
			select {
			case <-ticks.C:
				if l.o.Watch != nil {
					l.o.Watch(l.status())
				}
			case <-quit:
				return
			}
		}
	}()
	return func() { close(quit); <-ended }
}

func (l *load) status() Status {
	l.mu.Lock()
	defer l.mu.Unlock()
	return Status{time.Since(l.begun), int(l.calls.Load()), int(l.waiting.Load()), l.nFaults}
}

// fault notes something that the service must not do.
func (l *load) fault(format string, a ...any) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.nFaults++; len(l.faults) < mostFaults {
		l.faults = append(l.faults, fmt.Sprintf(format, a...))
	}
}

// arrived hands a text to the grower.
func (l *load) arrived(t stack.Text) {
	l.mu.Lock()
	g := l.growers[t.To]
	l.mu.Unlock()
	if g == nil {
		l.fault("a text came for %v, who never called: %q", t.To, t.Text)
		return
	}
	select {
	case g.arrived <- t.Text:
	default:
		l.fault("%v got too many texts, at last %q", t.To, t.Text)
	}
}

// answered notes a call that was acknowledged, took after it was due. Some calls are repeated at once.
func (l *load) answered(c *called, took time.Duration) {
	at := int64(time.Since(l.begun))
	gap := time.Duration(at - l.lastAck.Swap(at))
	l.calls.Add(1)
	l.mu.Lock()
	l.times.add(took)
	l.longest = max(l.longest, gap)
	c.at = l.begun.Add(time.Duration(at))
	l.ledger = append(l.ledger, *c)
	repeat := l.rnd.Float64() < again
	l.mu.Unlock()
	if repeat {
		l.ask(context.Background(), c)
	}
}

func (l *load) textCame(after time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.texts.add(after)
}

// repeated notes a try that brought no acknowledgement.
func (l *load) repeated(status int, err error) {
	why := "no answer"
	if err == nil {
		why = fmt.Sprintf("status %d", status)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.tries[why]++
}
