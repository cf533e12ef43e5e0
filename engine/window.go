package engine

// Why says which rule set the days of a window.
type Why uint8

const (
	WhyWeedClock Why = iota + 1 // degree-days since the last puddling
	WhyRegrowth                 // degree-days since the last pass
	WhyManyLeft                 // many weeds left by the last pass: AgainOpensDays to AgainClosesDays after it
	WhySeen                     // the grower's leaf count
	WhySeenBig                  // the grower saw weeds with four leaves or more
	WhyHandDates                // no tool can be used: the usual hand-weeding days
)

func (w Why) String() string {
	return name(w, "", "weed clock", "regrowth since the pass", "many weeds left", "what the grower saw",
		"weeds seen too big", "usual hand-weeding days")
}

// Window is the range of days for the next pass: most weeds have two leaves (BBCH 12) when it opens and four (BBCH 14)
// when it closes, both days included.
type Window struct {
	Number int // number of the pass, 1 = the first of the season; 0 = there is no window
	// Edition counts the sightings of weeds since the last pass. A text about an earlier edition is out of date.
	Edition             int
	Opens, Best, Closes Day
	With                Means
	Why                 Why
}

// Exists reports whether there is a window.
func (w Window) Exists() bool { return w.Number > 0 }

// Contains reports whether d is a day of the window.
func (w Window) Contains(d Day) bool { return w.Exists() && w.Opens <= d && d <= w.Closes }

// Middle returns the day half-way through the window, on which a grower without an answer gets the nudge.
func (w Window) Middle() Day { return w.Opens + (w.Closes-w.Opens)/2 }

// LastDays returns the first of the last two days; in a window of three days the third, so that the texts for the first
// day and for the last days are not on consecutive days.
func (w Window) LastDays() Day {
	if w.Closes-w.Opens == 2 {
		return w.Closes
	}
	return max(w.Opens, w.Closes-1)
}

// nextWindow returns the window of the next pass. It ignores that rows close; clip cuts the window there.
func (s Season) nextWindow(today Day) Window {
	if s.fit().Hand() {
		return s.handWindow(today)
	}
	last, passed := s.lastPass()
	var w Window
	switch {
	case passed && last.Left == Many:
		w = Window{Opens: last.On + AgainOpensDays, Best: last.On + AgainBestDays, Closes: last.On + AgainClosesDays,
			Why: WhyManyLeft}
	case passed:
		w = s.leafWindow(s.weedClock(), AmountUnknown, WhyRegrowth)
	default:
		w = s.leafWindow(s.weedClock(), AmountUnknown, WhyWeedClock)
	}
	for _, seen := range s.freshSightings() {
		if seen.ofWeeds() {
			edition := w.Edition + 1
			w = s.seenWindow(w, seen)
			w.Edition = edition
		}
	}
	if w.Why != WhySeenBig {
		// Before FirstPassDays the tool would uproot the plants.
		w.Opens = max(w.Opens, s.Plot.Planted+FirstPassDays)
		w.Closes = max(w.Closes, w.Opens)
		w.Best = max(w.Best, w.Opens)
	}
	w.Number, w.With = len(s.Passes)+1, ByTool
	return w
}

// weedClock returns the clock since the last puddling or pass. A flood delays weeds by FloodDelay degree-days, also
// after a pass that left few weeds. Weeds that a pass left have emerged already: after some there is no delay, after
// many the clock is set to two leaves AgainOpensDays days after the pass.
func (s Season) weedClock() weedClock {
	last, passed := s.lastPass()
	c := weedClock{from: s.Plot.puddled(), heat: -HalfEmergence, rate: s.local().WeedRate}
	if passed {
		c.from = last.On
	}
	switch {
	case passed && last.Left == Many:
		c.heat = WindowOpensLeaves * WeedPhyllochron
		for d := c.from + 1; d <= c.from+AgainOpensDays; d++ {
			c.heat -= c.rate * s.Weather.weedHeat(d)
		}
	case passed && last.Left == Some:
	case s.Plot.Method == Transplanted && s.Plot.Flood != FloodMoist:
		c.heat -= FloodDelay
	}
	return c
}

// seenClock returns the weed clock, set to a leaf count of the grower.
func (s *Season) seenClock(seen Sighting) weedClock {
	return weedClock{from: seen.On, heat: seen.Leaves.number() * WeedPhyllochron, rate: s.local().WeedRate}
}

// leafWindow returns the window in which weeds have two to four leaves. The best day is the first for many weeds; for
// few weeds it is near the end, when more have emerged.
func (s Season) leafWindow(c weedClock, amount Amount, why Why) Window {
	days := c.reach(&s.Weather, [...]float64{WindowOpensLeaves, WindowBestLeaves, WindowClosesLeaves})
	w := Window{Opens: days[0], Best: days[1], Closes: days[2], Why: why}
	switch amount {
	case Many:
		w.Best = w.Opens
	case Few:
		w.Best = w.LastDays()
	}
	return w
}

// seenWindow returns window w, corrected by a sighting.
func (s Season) seenWindow(w Window, seen Sighting) Window {
	switch seen.Leaves {
	case OneLeaf, TwoThree:
		return s.leafWindow(s.seenClock(seen), seen.Amount, WhySeen)
	case FourPlus:
		w.Opens, w.Best, w.Closes, w.Why = min(w.Opens, seen.On), seen.On, seen.On, WhySeenBig
	default:
		if seen.Amount == Many {
			w.Best = w.Opens
		}
	}
	return w
}

// freshSightings returns the sightings after the last pass; earlier ones say nothing about the present weeds.
func (s Season) freshSightings() []Sighting {
	fresh := s.Sightings
	if last, passed := s.lastPass(); passed {
		for len(fresh) > 0 && fresh[0].On <= last.On {
			fresh = fresh[1:]
		}
	}
	return fresh
}

// WeedLeaves returns the leaves of most weeds on day d, modelled from the last puddling, pass or leaf count; 0 until
// half of the weeds have emerged.
func (s Season) WeedLeaves(d Day) float64 {
	s = s.asOf(d)
	c := s.weedClock()
	for _, seen := range s.freshSightings() {
		if seen.Leaves != LeavesUnknown {
			c = s.seenClock(seen)
		}
	}
	return c.leaves(&s.Weather, d)
}

// handWindow returns the next of the usual hand-weedings of a plot without a tool. A weeding up to HandEarlyDays days
// early counts as the hand-weeding. One that was not done stays the next until PrepareDays days before the one after
// it. Weeds with four leaves are big enough to pull: seen up to HandEarlyDays days early, they open the window.
func (s Season) handWindow(today Day) Window {
	last, passed := s.lastPass()
	days := handDays(s.Plot.Method)
	for i, span := range days {
		opens, closes := s.Plot.Planted+span.From, s.Plot.Planted+span.To
		done := passed && last.On >= opens-HandEarlyDays
		over := i+1 < len(days) && today >= s.Plot.Planted+days[i+1].From-PrepareDays
		if !done && !over {
			w := Window{Number: i + 1, Opens: opens, Best: opens, Closes: closes, With: ByHand, Why: WhyHandDates}
			for _, seen := range s.freshSightings() {
				if seen.Leaves == FourPlus && opens-HandEarlyDays <= seen.On && seen.On < w.Opens {
					w.Opens, w.Best, w.Why = seen.On, seen.On, WhySeen
					w.Edition++
				}
			}
			return w
		}
	}
	return Window{}
}
