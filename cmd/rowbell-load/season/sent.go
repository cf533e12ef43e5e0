package season

import (
	"slices"
	"strings"

	"rowbell/engine"
)

// does is what an answer is meant to do.
type does uint8

const (
	doesLook does = iota
	doesPass
	doesNotYet
	doesLeft
	doesHours
	doesUndo
	doesStop
	doesStart
)

// sent is a text of the grower that was not answered yet.
type sent struct {
	does  does
	text  string
	on    engine.Day
	plots []int
	seen  engine.Leaves
	left  engine.Amount
	hours float64
	// people who weeded during the hours
	people int
}

// acknowledged notes what a reply acknowledges. It returns false for a reply that is none of those that may come.
func (g *grower) acknowledged(s *sent, reply string) bool {
	has := func(part string) bool { return strings.Contains(reply, part) }
	switch {
	case has("Something was changed after our text"), has("is logged already"), has("No question is open"):
		return s.does != doesStop && s.does != doesStart
	case s.does == doesStop:
		g.stopped = g.stopped || has("No more texts")
		return has("No more texts")
	case s.does == doesStart:
		g.stopped = false
		return has("Texts will come again")
	case s.does == doesNotYet:
		return has("all right.")
	case s.does == doesLook:
		return has("noted") && g.notedLook(s)
	case s.does == doesPass:
		return has("is logged.") && g.notedPass(s, reply)
	case s.does == doesUndo:
		return has("is not logged any more") && g.notedUndo(s)
	case s.does == doesHours && has("is that right?"):
		return true
	}
	return has("noted") && g.notedMore(s)
}

func (g *grower) notedLook(s *sent) bool {
	p := g.plotNo(s.plots[0])
	if p == nil {
		return false
	}
	p.looks = append(p.looks, engine.Sighting{On: s.on, Leaves: s.seen})
	return true
}

func (g *grower) notedPass(s *sent, reply string) bool {
	label, _, _ := strings.Cut(reply, ":")
	nos := plotsIn(label)
	with := engine.ByTool
	if strings.Contains(reply, ": hand weeding of") {
		with = engine.ByHand
	}
	for _, no := range nos {
		p := g.plotNo(no)
		if p == nil || !slices.Contains(s.plots, no) {
			return false
		}
		p.passes = append(p.passes, logged{Pass: engine.Pass{On: s.on, With: with}})
	}
	return len(nos) > 0
}

// lastPass returns the last pass of a plot; nil if it has none.
func (g *grower) lastPass(no int) *logged {
	p := g.plotNo(no)
	if p == nil || len(p.passes) == 0 {
		return nil
	}
	return &p.passes[len(p.passes)-1]
}

// notedMore notes what was told of a pass after it was logged. The hours of two plots are shared out by their areas.
func (g *grower) notedMore(s *sent) bool {
	area := 0
	for _, no := range s.plots {
		if g.lastPass(no) == nil {
			return false
		}
		area += g.plotNo(no).area
	}
	for _, no := range s.plots {
		pass := g.lastPass(no)
		if s.does == doesLeft {
			pass.Left, pass.leftOn = s.left, s.on
			continue
		}
		pass.People, pass.hoursOn = s.people, s.on
		pass.Hours = s.hours * float64(g.plotNo(no).area) / float64(area)
	}
	return true
}

func (g *grower) notedUndo(s *sent) bool {
	for _, no := range s.plots {
		p := g.plotNo(no)
		if p == nil || len(p.passes) == 0 {
			return false
		}
		last := p.passes[len(p.passes)-1]
		last.undoneOn = s.on
		p.passes, p.undone = p.passes[:len(p.passes)-1], append(p.undone, last)
	}
	return true
}
