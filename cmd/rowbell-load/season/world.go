package season

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"rowbell/cmd/rowbell-load/stack"
	"rowbell/engine"
	"rowbell/store"
)

// world is the growers, the process that they call and the network that carries it.
type world struct {
	o       Options
	zone    *time.Location
	first   engine.Day // first day that is played
	net     *stack.Network
	stack   *stack.Stack
	growers []*grower
	byPhone map[store.Phone]*grower
	now     atomic.Int64 // the moved clock, in Unix seconds

	calls, sms, receipts, texts atomic.Int64

	samples []Sample
	found   findings
}

func newWorld(o Options) (*world, error) {
	zone, err := time.LoadLocation(zoneName)
	if err != nil {
		return nil, err
	}
	w := &world{o: o, zone: zone, first: engine.DayOf(start, zone) + 1, byPhone: map[store.Phone]*grower{}}
	w.now.Store(start.Unix())
	w.net = &stack.Network{Arrived: w.arrived}
	for i := range o.Growers {
		g := newGrower(o.Seed, i, w.first)
		w.growers = append(w.growers, g)
		w.byPhone[g.phone] = g
	}
	return w, nil
}

// arrived puts a text on the phone of its grower.
func (w *world) arrived(t stack.Text) {
	w.texts.Add(1)
	g := w.byPhone[t.To]
	if g == nil {
		w.found.add("a text came to %s, which nobody has: %q", t.To, t.Text)
		return
	}
	if t.Network != stack.NetworkOf(t.To) {
		w.found.add("%s: a text came by %s: %q", g, t.Network, t.Text)
	}
	g.arrive(arrival{at: w.now.Load(), id: t.ID, text: t.Text})
}

// play plays the season.
func (w *world) play(ctx context.Context) (err error) {
	if w.stack, err = stack.Start(ctx, w.o.stack(), w.net); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.stack.Close()) }()
	for i := range w.o.Days {
		if err := w.day(ctx, w.first+engine.Day(i)); err != nil {
			return fmt.Errorf("day %d: %w", i+1, err)
		}
		if w.o.Step != nil {
			w.o.Step("days", i+1, w.o.Days)
		}
	}
	for _, fault := range w.net.Faults() {
		w.found.add("%s", fault)
	}
	return nil
}

// day plays a day: the night, which must stay quiet; the morning, in which the bell rings; the hours at which growers
// read, weed, answer and call.
func (w *world) day(ctx context.Context, d engine.Day) error {
	if err := errors.Join(w.set(ctx, d.At(5, w.zone)), w.stack.Upkeep(ctx)); err != nil {
		return err
	}
	texts, calls, sms, begun := w.texts.Load(), w.calls.Load(), w.sms.Load(), w.o.Now()
	if err := w.set(ctx, d.At(morningHour, w.zone)); err != nil {
		return err
	}
	s := Sample{Day: int(d-w.first) + 1, Morning: w.o.Now().Sub(begun).Seconds(), Rung: w.texts.Load() - texts}
	for _, hour := range []int{9, 17} {
		if err := w.act(ctx, d, hour); err != nil {
			return err
		}
	}
	s.Texts, s.Calls, s.SMS = w.texts.Load()-texts, w.calls.Load()-calls, w.sms.Load()-sms
	s.Seconds = w.o.Now().Sub(begun).Seconds()
	return w.measure(s)
}

func (w *world) set(ctx context.Context, to time.Time) error {
	w.now.Store(to.Unix())
	return w.stack.SetClock(ctx, to)
}

// maxRounds is how often growers may answer each other's turn at one stop of the clock.
const maxRounds = 12

// act lets the growers act at an hour. Those who wrote read the answer a minute later, and may go on.
func (w *world) act(ctx context.Context, d engine.Day, hour int) error {
	at := d.At(hour, w.zone)
	if err := w.set(ctx, at); err != nil {
		return err
	}
	for round := range maxRounds {
		var acted atomic.Int64
		err := w.each(func(g *grower) error {
			busy, err := g.act(ctx, w, d, hour, round)
			if busy {
				acted.Add(1)
			}
			return err
		})
		if err != nil || acted.Load() == 0 {
			return err
		}
		at = at.Add(time.Minute)
		if err := w.set(ctx, at); err != nil {
			return err
		}
	}
	return nil
}

// each calls fn for each grower, for some of them at once.
func (w *world) each(fn func(*grower) error) error {
	var next atomic.Int64
	var group sync.WaitGroup
	errs := make([]error, callers)
	for c := range callers {
		group.Go(func() {
			for errs[c] == nil {
				i := int(next.Add(1)) - 1
				if i >= len(w.growers) {
					return
				}
				errs[c] = fn(w.growers[i])
			}
		})
	}
	group.Wait()
	return errors.Join(errs...)
}
