package season

import (
	"context"
	"fmt"
	"strings"
	"time"

	"rowbell/engine"
)

// act lets the grower read the phone and do something, and reports whether the grower did.
func (g *grower) act(ctx context.Context, w *world, d engine.Day, hour, round int) (busy bool, err error) {
	for _, a := range g.take() {
		if err := g.receive(ctx, w, a); err != nil {
			return false, err
		}
		g.reads(w, a)
	}
	if p := g.pending; p != nil {
		w.found.add("%s: %q of %s got no answer", g, p.text, p.on)
		g.pending = nil
	}
	switch {
	case d < g.joins || g.registered == 0 && (d > g.joins || hour != 9 || round > 0):
		return false, nil
	case g.registered == 0:
		return true, g.register(ctx, w, d)
	case g.habit.silent:
		return false, nil
	case round == 0 && hour == 17 && (d == g.habit.stopsOn || d == g.habit.startOn):
		return true, g.stopOrStart(ctx, w, d)
	case round == 0 && hour == 9 && g.chance(0.01):
		return true, g.browse(ctx, w)
	case round > 0 && !g.question.follows:
		return false, nil
	}
	s := g.decide(d)
	if s == nil {
		return false, nil
	}
	if s.does == doesPass && g.habit.calls && round == 0 {
		return true, g.logByCall(ctx, w, s)
	}
	return true, g.send(ctx, w, s)
}

// send writes a text, and waits for its answer. A question is answered once.
func (g *grower) send(ctx context.Context, w *world, s *sent) error {
	g.pending, g.question = s, question{}
	return g.write(ctx, w, s.text)
}

// reads takes a text for the answer to what was written, if it is one, and remembers what it asks.
func (g *grower) reads(w *world, a arrival) {
	d := engine.DayOf(time.Unix(a.at, 0), w.zone)
	q := read(a.text, d)
	if strings.HasPrefix(a.text, "Welcome to rowbell.") {
		if g.welcomed++; g.welcomed > 1 {
			w.found.add("%s was welcomed again on %s", g, d)
		}
		return
	}
	if a.at != d.At(morningHour, w.zone).Unix() && g.pending == nil {
		w.found.add("%s wrote nothing, and on %s came %q", g, d, a.text)
	}
	if s := g.pending; s != nil {
		g.pending = nil
		if !g.acknowledged(s, a.text) {
			w.found.add("%s: %q of %s (%d) was answered with %q", g, s.text, s.on, s.does, a.text)
		}
		if q.what == asksNothing || q.what == asksSure {
			q.plots = s.plots
		}
		if s.does == doesNotYet {
			q.plots = s.plots
		}
		if q.what == asksNothing && s.does != doesStop && s.does != doesStart {
			g.question = question{}
			return
		}
	}
	if q.what != asksNothing {
		g.question = q
	}
}

// stopOrStart ends the texts, or begins them again.
func (g *grower) stopOrStart(ctx context.Context, w *world, d engine.Day) error {
	s := &sent{does: doesStop, text: "STOP", on: d}
	if d == g.habit.startOn {
		s.does, s.text = doesStart, "START"
	}
	return g.send(ctx, w, s)
}

// browse looks at the plots in the menu, and hangs up.
func (g *grower) browse(ctx context.Context, w *world) error {
	screen, err := g.dial(ctx, w, "*123#")
	if err == nil && strings.Contains(screen, "Is it still the phone") { // not used for months
		screen, err = g.enter(ctx, w, "1")
	}
	if err == nil && !strings.Contains(screen, "What now?") {
		w.found.add("%s: dialled, and saw %q", g, screen)
	}
	for _, entry := range []string{"2", "1"} {
		if err == nil {
			_, err = g.enter(ctx, w, entry)
		}
	}
	if err != nil {
		return err
	}
	return g.hangUp(ctx, w)
}

// logByCall logs a weeding of the first plot of the question by one dialled code. The grower then leaves the question
// unanswered.
func (g *grower) logByCall(ctx context.Context, w *world, s *sent) error {
	no := s.plots[0]
	which, way, with := "", "1", engine.ByTool
	if len(g.plots) > 1 {
		which = fmt.Sprintf("*%d", no)
	}
	if g.plotNo(no).weeds.leaves(s.on) > 4 {
		way, with = "3", engine.ByHand
	}
	left := engine.Amount(1 + g.r.IntN(3))
	screen, err := g.dial(ctx, w, fmt.Sprintf("*123*3%s*1*%s*%d#", which, way, left))
	if err != nil {
		return err
	}
	g.question = question{}
	g.weeded(no, s.on)
	if !strings.HasPrefix(screen, fmt.Sprintf("Logged: Plot %d, ", no)) {
		w.found.add("%s: a weeding was not logged by a call: %q", g, screen)
		return nil
	}
	p := g.plotNo(no)
	p.passes = append(p.passes, logged{Pass: engine.Pass{On: s.on, With: with, Left: left}, leftOn: s.on})
	return nil
}

// weeded lets new weeds grow.
func (g *grower) weeded(no int, d engine.Day) {
	p := g.plotNo(no)
	p.weeds = g.grow(d)
}
