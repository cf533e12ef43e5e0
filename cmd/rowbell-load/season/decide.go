package season

import (
	"fmt"
	"slices"

	"rowbell/engine"
)

// decide returns what the grower writes now about the open question; nil: nothing.
func (g *grower) decide(d engine.Day) *sent {
	q := g.question
	if q.what == asksNothing || d < q.from || len(q.plots) == 0 ||
		slices.ContainsFunc(q.plots, func(no int) bool { return g.plotNo(no) == nil }) {
		return nil
	}
	switch q.what {
	case asksLook:
		return g.decideLook(q, d)
	case asksPass, asksDone:
		return g.decidePass(q, d)
	case asksBoth:
		return g.decideBoth(q, d)
	}
	return g.decideMore(q, d)
}

func (g *grower) decideLook(q question, d engine.Day) *sent {
	if !q.follows && !g.chance(g.habit.looks) {
		return nil
	}
	seen := g.see(g.plotNo(q.plots[0]), d)
	return &sent{does: doesLook, text: leafDigit[seen], on: d, plots: q.plots[:1], seen: seen}
}

// ready reports whether the grower weeds a plot today.
func (g *grower) ready(no int, d engine.Day) bool {
	p := g.plotNo(no)
	return p.weeds.leaves(d) >= 1.5 && g.chance(g.habit.weeds)
}

// lookedToday reports whether the grower told a leaf count of a plot today. A digit could then be read as a correction
// of it.
func (g *grower) lookedToday(no int, d engine.Day) bool {
	p := g.plotNo(no)
	return len(p.looks) > 0 && p.looks[len(p.looks)-1].On == d
}

func (g *grower) decidePass(q question, d engine.Day) *sent {
	no := q.plots[0]
	leaves := g.plotNo(no).weeds.leaves(d)
	pass := &sent{does: doesPass, text: "1", on: d, plots: q.plots}
	if g.chance(0.2) {
		pass.text = "1 done"
	}
	switch {
	case q.big && leaves > 4.5 && !g.lookedToday(no, d) && g.chance(0.5):
		return &sent{does: doesLook, text: "3", on: d, plots: q.plots[:1], seen: engine.FourPlus}
	case q.small && leaves < 1.5 && !g.lookedToday(no, d) && g.chance(0.3):
		return &sent{does: doesLook, text: "4", on: d, plots: q.plots[:1], seen: engine.OneLeaf}
	case g.ready(no, d):
		for _, no := range q.plots {
			g.weeded(no, d)
		}
		return pass
	case q.what == asksPass && g.chance(0.1):
		return &sent{does: doesNotYet, text: "2", on: d, plots: q.plots}
	}
	return nil
}

func (g *grower) decideBoth(q question, d engine.Day) *sent {
	if len(q.plots) != 2 {
		return nil
	}
	s := &sent{does: doesPass, on: d}
	for i, no := range q.plots {
		if g.ready(no, d) {
			s.plots = append(s.plots, no)
			s.text = fmt.Sprint(2 + i)
			g.weeded(no, d)
		}
	}
	switch {
	case len(s.plots) == 2:
		s.text = "1"
	case len(s.plots) == 0 && g.chance(0.1):
		return &sent{does: doesNotYet, text: "4", on: d, plots: q.plots}
	case len(s.plots) == 0:
		return nil
	}
	return s
}

// decideMore answers what is asked about a weeding that was just logged.
func (g *grower) decideMore(q question, d engine.Day) *sent {
	s := &sent{on: d, plots: q.plots}
	switch {
	case q.what == asksLeft && g.chance(0.03), q.what == asksHours && g.chance(0.01):
		s.does, s.text = doesUndo, "0"
	case q.what == asksLeft && g.chance(0.85):
		s.does, s.left = doesLeft, engine.Amount(1+g.r.IntN(3))
		s.text = fmt.Sprint(int(s.left))
	case q.what == asksHours && g.chance(g.habit.hours):
		s.does, s.hours, s.people = doesHours, float64(2+g.r.IntN(7)), 1+g.r.IntN(2)
		s.text = fmt.Sprintf("%gh", s.hours)
		if s.people > 1 {
			s.text += fmt.Sprint(s.people)
		}
		g.toldHours = s
	case q.what == asksSure && g.toldHours != nil:
		again := *g.toldHours
		again.text, again.on = "1", d
		return &again
	default:
		return nil
	}
	return s
}
