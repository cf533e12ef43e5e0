package engine

// Why says what a window rests on.
type Why uint8

const (
	WhyWeedClock Why = iota + 1 // degree-days since the last puddling
	WhyRegrowth                 // degree-days since the last pass
	WhyManyLeft                 // many weeds left after the last pass: the published interval
	WhySeen                     // the grower's own leaf count
	WhySeenBig                  // the grower saw weeds past four leaves
	WhyHandDates                // no tool can pass: the usual hand-weeding days
)

func (w Why) String() string {
	return name(w, "", "weed clock", "regrowth since the pass", "many weeds left", "what the grower saw",
		"weeds seen too big", "usual hand-weeding days")
}

// Window is the days in which the next pass does the most for the least.
// Opens is when most weeds have two leaves (BBCH 12), Closes when they have
// four (BBCH 14); both days belong to the window.
type Window struct {
	Number  int // 1 = the first pass of the season; 0 = there is no window
	Edition int // sightings of weeds since the last pass: what was told of an earlier edition no longer holds
	Opens   Day
	Best    Day
	Closes  Day
	With    Means
	Why     Why
}

// Exists reports whether there is a window at all.
func (w Window) Exists() bool { return w.Number > 0 }

// Contains reports whether d is a day of the window.
func (w Window) Contains(d Day) bool { return w.Exists() && w.Opens <= d && d <= w.Closes }

// Middle is the day between opening and closing, when a silent grower is
// reminded once.
func (w Window) Middle() Day { return w.Opens + (w.Closes-w.Opens)/2 }

// LastDays is the first of the window's last two days; of three days the last
// one alone, so that two texts do not come on two days running.
func (w Window) LastDays() Day {
	if w.Closes-w.Opens == 2 {
		return w.Closes
	}
	return max(w.Opens, w.Closes-1)
}

// nextWindow is the window of the next pass as seen on a day, before the end
// of the tool's season is looked at.
func (s Season) nextWindow(today Day) Window {
	if s.fit().Hand() {
		return s.handWindow(today)
	}
	last, passed := s.lastPass()
	var w Window
	switch {
	case passed && last.Left == Many:
		w = Window{Opens: last.On + AgainOpensDays, Best: last.On + AgainBestDays, Closes: last.On + AgainClosesDays, Why: WhyManyLeft}
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
		// Whatever the weeds do, the tool waits until the plants have rooted.
		w.Opens = max(w.Opens, s.Plot.Planted+FirstPassDays)
		w.Closes = max(w.Closes, w.Opens)
		w.Best = max(w.Best, w.Opens)
	}
	w.Number, w.With = len(s.Passes)+1, ByTool
	return w
}

// weedClock runs from the last puddling or pass; a kept flood holds it back,
// and so does ground from which a pass left few weeds. Where some were left,
// those are up already and the flood does not matter; many are taken to have
// two leaves when the published interval begins.
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

// seenClock is the weed clock set to what the grower saw.
func (s *Season) seenClock(seen Sighting) weedClock {
	return weedClock{from: seen.On, heat: seen.Leaves.number() * WeedPhyllochron, rate: s.local().WeedRate}
}

// leafWindow is the days from two to four leaves by a clock. amount moves the
// best day: many weeds are taken early, few may wait until more of them are
// up.
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

// seenWindow moves a window to what the grower saw, which beats the model.
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

// freshSightings are those since the last pass, which changed everything.
func (s Season) freshSightings() []Sighting {
	fresh := s.Sightings
	if last, passed := s.lastPass(); passed {
		for len(fresh) > 0 && fresh[0].On <= last.On {
			fresh = fresh[1:]
		}
	}
	return fresh
}

// WeedLeaves is the model's leaf count of most weeds on day d, counted from
// the last puddling, pass or leaf count; 0 until half of them are up.
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

// handWindow is the next of the usual hand-weeding days of a plot where no
// tool can pass. A weeding up to HandEarlyDays before one counts for it; one
// that is not done is missed until the next comes near. Weeds that the grower
// sees past four leaves in those HandEarlyDays are big enough to pull: the
// days begin with them.
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
