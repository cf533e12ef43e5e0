package engine

import "slices"

// A grower may weed a plot in parts, on several days or never the last one. While a part is left in its window, the
// window goes on: nothing changes for the weeds of the rest. With the last part the passes become one weeding. When the
// next window comes first, half of the plot or more counts as the pass, on its own day, because most of the weeds that
// grow now began to grow then; less than half counts as no pass. Either way the rest is to be pulled by hand, as after
// every missed window.

// joined holds the passes of a season joined to weedings of the plot.
type joined struct {
	logged   []Pass // the passes as they were logged; nil = Season.Passes, because none was over a part
	weedings []Pass // one for each window, also if it ended with a part; nil = Season.Passes
	part     Pass   // what is weeded in the window that goes on; the zero Pass if no part is left in it
	window   int    // number of the window of part
}

// noParts is the result of join for a season without parts.
var noParts joined

// isPart reports whether the pass left a part of the plot unweeded.
func (p Pass) isPart() bool { return p.Share > 0 && p.Share < 1 }

// covered returns the share of the plot that was weeded, above 0 to 1.
func (p Pass) covered() float64 { return or(p.Share, 1) }

// counts reports whether a part is large enough to count as a pass over the plot when its window is over.
func (p Pass) counts() bool { return p.Share >= PartCounts }

// logged returns the passes as they were logged, up to the day of asOf.
func (s *Season) logged() []Pass {
	if s.joined == nil || s.joined.logged == nil {
		return s.Passes
	}
	return s.joined.logged
}

// weedings returns the passes joined to weedings, without the part of the window that goes on.
func (s *Season) weedings() []Pass {
	if s.joined == nil || s.joined.weedings == nil {
		return s.Passes
	}
	return s.joined.weedings
}

// allWeedings returns the passes joined to weedings, with the part of the window that goes on.
func (s *Season) allWeedings() []Pass {
	if part := s.part(); part.isPart() {
		return append(slices.Clip(s.weedings()), part)
	}
	return s.weedings()
}

// part returns what is weeded in the window that goes on.
func (s *Season) part() Pass {
	if s.joined == nil {
		return Pass{}
	}
	return s.joined.part
}

// join joins the passes of each window to one weeding: on the last day, with the means and the way of the larger part,
// the most weeds left, and the hours of all people added. Shares of one window that add up to more than the plot are
// the whole plot. Only what counts as a pass over the plot stays in Passes.
func (s *Season) join(today Day) {
	if !slices.ContainsFunc(s.Passes, Pass.isPart) {
		s.joined = &noParts
		return
	}
	j := &joined{logged: s.Passes, weedings: make([]Pass, 0, len(s.Passes))}
	s.Passes, s.joined = make([]Pass, 0, len(s.Passes)), j
	for _, p := range j.logged {
		late := false
		if j.part.isPart() {
			w := s.windowOfPart(p.On)
			if late = w.Exists() && p.On > w.Closes; !w.Exists() {
				s.endPart()
			}
		}
		if j.part.isPart() {
			j.part = j.part.and(p, late)
		} else {
			if p.isPart() {
				j.window = s.shownOn(p.On).Number
			}
			j.part = p
		}
		if !j.part.isPart() {
			s.endPart()
		}
	}
	if j.part.isPart() && !(s.Announced.Number <= j.window && s.windowOfPart(today).Exists()) {
		s.endPart()
	}
}

// and returns a part of a weeding and another pass in its window as one. late says that the window was over: then a
// rest that was pulled by hand does not move the day, if the part before counts.
func (p Pass) and(q Pass, late bool) Pass {
	sum := q
	if q.covered() < p.Share {
		sum.With, sum.Way = p.With, p.Way
	}
	if late && p.counts() && q.isPart() {
		sum.On = p.On
	}
	a, b := p.hoursOfAll(), q.hoursOfAll()
	sum.Hours, sum.People = 0, 0
	if a > 0 && b > 0 {
		sum.Hours, sum.People = a+b, 1
	}
	sum.Left = max(p.Left, q.Left)
	if sum.Share = p.Share + q.covered(); float32(sum.Share) >= 1 { // thirds may add up to a little less
		sum.Share = 0
	}
	return sum
}

// endPart ends the weeding that goes on.
func (s *Season) endPart() {
	j := s.joined
	if !j.part.isPart() || j.part.counts() {
		s.Passes = append(s.Passes, j.part)
	}
	j.weedings = append(j.weedings, j.part)
	j.part = Pass{}
}

// windowOfPart returns the window of which a part is weeded, if it is still shown on day d; otherwise the zero Window.
// What the grower saw after another window was shown says nothing about this one.
func (s *Season) windowOfPart(d Day) Window {
	number := s.joined.window
	for _, seen := range s.Sightings {
		if seen.On > s.joined.part.On && seen.On <= d && seen.MovesWindows() {
			if s.before(seen.On).shownOn(seen.On).Number != number {
				return Window{}
			}
		}
	}
	if w := s.shownOn(d); w.Number == number {
		return w
	}
	return Window{}
}

// before returns the season without the sightings from day d on.
func (s *Season) before(d Day) *Season {
	c := *s
	n := 0
	for n < len(s.Sightings) && s.Sightings[n].On < d {
		n++
	}
	c.Sightings = s.Sightings[:n]
	return &c
}

// shownOn returns the window that was shown on day d, as if no window after that of the part was announced; the zero
// Window when the season is over.
func (s *Season) shownOn(d Day) Window {
	c := s.before(d + 1)
	if c.Announced.Number > s.joined.window {
		c.Announced = Window{}
	}
	end := c.closure()
	w, _ := c.upcoming(d, end)
	if d > max(end.LastToolDay, w.Closes) || c.ClosedOn != 0 && d >= c.ClosedOn {
		return Window{}
	}
	return w
}
