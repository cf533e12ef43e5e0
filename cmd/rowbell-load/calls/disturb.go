package calls

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"strings"
	"time"
)

// Disturb says what happens to the service meanwhile. A duration of 0 means that it does not happen.
type Disturb struct {
	Kill       time.Duration // between two kills of a process, which is started again at once
	Suspend    time.Duration // between two suspensions of a process
	SuspendFor time.Duration
	Run        time.Duration // between two runs of Command
	Command    string        // a line for the shell, such as one that kills the database and starts it again
}

// Trouble is what was done to the service, and how long no call was answered.
type Trouble struct {
	At      float64 `json:"at_s"`
	What    string  `json:"what"`
	Without float64 `json:"without_answer_ms"`
}

// disturb disturbs the service until the returned function is called, which waits for the service to be as before.
func (l *load) disturb(ctx context.Context) (stop func()) {
	ctx, quit := context.WithCancel(ctx)
	ended := make(chan struct{})
	d := l.o.Disturb
	rnd := rand.New(rand.NewPCG(l.o.Seed, 3))
	some := func() int { return rnd.IntN(l.stack.Size()) }
	kinds := []struct {
		every time.Duration
		what  string
		do    func(context.Context) error
	}{
		{d.Kill, "a process is killed", func(ctx context.Context) error { return l.kill(ctx, some()) }},
		{d.Suspend, "a process is suspended", func(ctx context.Context) error { return l.suspend(some()) }},
		{d.Run, d.Command, l.command},
	}
	go func() {
		defer close(ended)
		next := make([]time.Time, len(kinds))
		for i, k := range kinds {
			next[i] = l.begun.Add(k.every)
		}
		for {
			first := -1
			for i, k := range kinds {
				if k.every > 0 && (first < 0 || next[i].Before(next[first])) {
					first = i
				}
			}
			if first < 0 || !wait(ctx, next[first]) {
				return
			}
			k := kinds[first]
			l.trouble(ctx, k.what, func() error { return k.do(context.WithoutCancel(ctx)) })
			next[first] = next[first].Add(k.every)
		}
	}()
	return func() { quit(); <-ended }
}

// trouble does something to the service, and notes how long no call was answered from then on until one was.
func (l *load) trouble(ctx context.Context, what string, do func() error) {
	t := Trouble{At: time.Since(l.begun).Seconds(), What: what}
	l.mu.Lock()
	l.longest = 0
	l.mu.Unlock()
	before := l.calls.Load()
	if err := do(); err != nil {
		l.giveUp(fmt.Errorf("%s, and then: %w", what, err))
		return
	}
	// The calls that were under way are answered, and some more; at the end of the run, none may come.
	for l.calls.Load() < before+afterTrouble && wait(ctx, time.Now().Add(time.Millisecond)) {
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	t.Without = float64(l.longest) / float64(time.Millisecond)
	l.troubles = append(l.troubles, t)
}

// afterTrouble is how many calls must be answered before the next trouble comes.
const afterTrouble = 20

func (l *load) kill(ctx context.Context, i int) error {
	if err := l.stack.Kill(i); err != nil {
		return err
	}
	return l.stack.Start(ctx, i)
}

func (l *load) suspend(i int) error {
	if err := l.stack.Suspend(i); err != nil {
		return err
	}
	time.Sleep(l.o.Disturb.SuspendFor)
	return l.stack.Resume(i)
}

func (l *load) command(ctx context.Context) error {
	out, err := exec.CommandContext(ctx, "sh", "-c", l.o.Disturb.Command).CombinedOutput()
	if err != nil {
		return fmt.Errorf("%w: %s", err, strings.TrimSpace(string(out)))
	}
	return nil
}
