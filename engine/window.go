package engine

import "slices"

// Why says which rule set the days of a window.
type Why uint8

const (
	WhyWeedClock Why = iota + 1 // degree-days since the last puddling
	WhyRegrowth                 // degree-days since the last pass
	WhyManyLeft                 // many weeds left by the last pass: AgainOpensDays to AgainClosesDays after it
	WhySeen                     // the grower's leaf count
	WhySeenBig                  // the grower saw weeds with four leaves or more
	WhyHandDates                // no tool can be used: the usual hand-weeding days
	WhyAnchored                 // sown rice stands firm enough for the tool
)

func (w Why) String() string {
	return name(w, "", "weed clock", "regrowth since the pass", "many weeds left", "what the grower saw",
		"weeds seen too big", "usual hand-weeding days", "sown rice stands firm")
}

// Window is the range of days for the next pass: most weeds have two leaves (BBCH 12) when it opens and four (BBCH 14)
// when it closes, both days included.
type Window struct {
	Number int // number of the pass, 1 = the first of the season; 0 = there is no window
	// Edition counts the sightings of weeds since the last pass. A text about an earlier edition is out of date.
	Edition             int
	Opens, Best, Closes Day
	Chance              float64 // chance that the weeds have two to four leaves on day Best; 0 = not computed
	AskOn               Day     // day on which the grower is asked to look at the weeds; 0 = no look is needed
	SeenOn              Day     // day of the grower's last leaf count since the last pass; 0 = none
	With                Means
	Why                 Why
}

// Exists reports whether there is a window.
func (w Window) Exists() bool { return w.Number > 0 }

// Contains reports whether d is a day of the window.
func (w Window) Contains(d Day) bool { return w.Exists() && w.Opens <= d && d <= w.Closes }

// EndedBy reports whether a pass ended the window: it was made after the window opened, or at most PrepareDays days
// before.
func (w Window) EndedBy(p Pass) bool { return p.On >= w.Opens-PrepareDays }

// AsksLook reports whether the grower is asked to look at the weeds before the window opens. A look on a later day is
// left to the text that says that the window is open.
func (w Window) AsksLook() bool { return w.AskOn != 0 && w.AskOn < w.Opens }

// Guess reports whether the days of the window are a guess: the grower did not look at the weeds since the last pass,
// or the chance that the weeds have two to four leaves on the best day is under GuessChance.
func (w Window) Guess() bool {
	return w.With == ByTool && (w.SeenOn == 0 || w.Chance < GuessChance)
}

// begins returns the day on which the grower is told to prepare for the window, or is asked to look at the weeds.
func (w Window) begins() Day {
	if w.AsksLook() {
		return w.AskOn
	}
	return w.Opens - PrepareDays
}

// NudgeOn returns the day on which a grower who has not answered gets one reminder, the nudge: half-way through the
// window, and after the best day, so that a grower who weeds on the best day has answered.
func (w Window) NudgeOn() Day { return max(w.Opens+(w.Closes-w.Opens)/2, w.Best+1) }

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
	looks, amount := 0, AmountUnknown
	var look Sighting // the last leaf count
	for _, seen := range s.freshSightings() {
		if seen.ofWeeds() {
			looks++
		}
		amount = or(seen.Amount, amount)
		if seen.Leaves != LeavesUnknown {
			look = seen
		}
	}
	var w Window
	if passed && last.Left == Many && look.On == 0 {
		w = Window{Opens: last.On + AgainOpensDays, Best: last.On + AgainBestDays, Closes: last.On + AgainClosesDays,
			Why: WhyManyLeft}
		if first := s.firstToolDay(); w.Opens < first {
			w.Opens, w.Best, w.Closes = first, max(w.Best, first), max(w.Closes, first)
		}
		w.AskOn = w.Opens - PrepareDays
	} else {
		w = s.leafWindow(look)
	}
	if w.Why != WhySeenBig {
		switch amount {
		case Many:
			w.Best = max(w.Opens, look.On)
		case Few:
			w.Best = max(w.LastDays(), w.Best)
		}
	}
	w.Number, w.Edition, w.With, w.SeenOn = len(s.Passes)+1, looks, ByTool, look.On
	if s.neverLooks() {
		w.AskOn = 0
	}
	return w
}

// neverLooks reports whether the grower was asked to look at weeds that are gone by now, and has not given a leaf count
// in this season. Such a grower is not asked again: the text that says that the window is open says that its days are a
// guess. A leaf count, given with any answer, ends this.
func (s *Season) neverLooks() bool {
	return s.AskedOn != 0 && s.AskedOn < s.grown() && !slices.ContainsFunc(s.Sightings, Sighting.ofLeaves)
}

// firstToolDay returns the first day on which the plants have rooted so well that the tool does not uproot them.
func (s *Season) firstToolDay() Day {
	if s.Plot.Method == RowSown {
		return s.anchored()
	}
	return s.Plot.Planted + FirstPassDays
}

// anchored returns the first day on which row-sown rice stands firm enough for the tool: SownFirstFromDays days after
// sowing, and not before the rice has SownFirstLeaves leaves by the clock of seedlings.
func (s *Season) anchored() Day {
	for d, leaves := range s.Weather.seedling(s.Plot.Planted) {
		if leaves >= SownFirstLeaves {
			return max(d, s.Plot.Planted+SownFirstFromDays)
		}
	}
	return s.Plot.Planted + horizon
}

// leafWindow returns the days on which the weeds have two to four leaves, by what is known about them. look is the last
// leaf count of the grower since the last pass, if there is one. The best day has the greatest chance. The window is
// the run of days around it on which the chance is at least WindowRunShare of the greatest.
func (s Season) leafWindow(look Sighting) Window {
	weeds := s.weeds()
	chance, first := weeds.inWindow(), s.firstToolDay()
	on := func(d Day) float64 {
		if i := int(d - weeds.from); i >= 0 && i < len(chance) {
			return chance[i]
		}
		return 0
	}
	first = max(first, s.grown(), s.earliest(look))
	w := Window{Best: first, Why: WhyWeedClock}
	if len(s.Passes) > 0 {
		w.Why = WhyRegrowth
	}
	for d := first; d < weeds.from+Day(len(chance)); d++ {
		if on(d) > on(w.Best)+chanceStep {
			w.Best = d
		}
	}
	w.Chance = on(w.Best)
	w.Opens, w.Closes = w.Best, w.Best
	for least := WindowRunShare * w.Chance; w.Opens > first && on(w.Opens-1) >= least; {
		w.Opens--
	}
	for least := WindowRunShare * w.Chance; w.Chance > 0 && on(w.Closes+1) >= least; {
		w.Closes++
	}
	if look.On != 0 {
		w.Why = WhySeen
	} else if s.Plot.Method == RowSown && len(s.Passes) == 0 {
		// The weeds came up with the rice. They cannot wait, and the tool cannot come earlier.
		w.Opens, w.Best, w.Closes, w.Why = first, first, first+SownFirstDays, WhyAnchored
		w.Chance = on(first)
	}
	switch look.Leaves {
	case FourPlus:
		w.Opens, w.Best, w.Closes, w.Chance = look.On, look.On, look.On, on(look.On)
		if look.On < s.firstToolDay() || w.Chance < GuessChance {
			w.Why = WhySeenBig
		}
	case TwoThree:
		if look.On >= first {
			w.Opens, w.Closes = min(w.Opens, look.On), max(w.Closes, s.latest(look))
		}
	default:
		w.AskOn = s.askOn(weeds, w, look)
		if w.AskOn >= w.Opens && w.AskOn < w.Best { // the days follow from this look
			w.Opens = w.AskOn + 1
		}
	}
	return w
}

// Chances returns, for each of the days from-to, both included, the chance that most weeds have two to four leaves, as
// known on day today. The weeds are those that grow since the last puddling or pass up to today. On a day on which they
// cannot be on the plot yet, or on which the tool would uproot the plants, the chance is 0.
func (s Season) Chances(today, from, to Day) []float64 {
	if to < from {
		return nil
	}
	s = s.asOf(today)
	weeds := s.weeds()
	chance, first := weeds.inWindow(), max(s.firstToolDay(), s.grown())
	out := make([]float64, to-from+1)
	for i := range out {
		if d := from + Day(i); d >= first && int(d-weeds.from) < len(chance) {
			out[i] = chance[d-weeds.from]
		}
	}
	return out
}

// grown returns the day of the last puddling or pass, from which weeds grow that are on the plot now, except for a
// second flush that a pass left; see rewetted. After a pass it is the day after it.
func (s *Season) grown() Day {
	if last, passed := s.lastPass(); passed {
		return last.On + 1
	}
	return s.Plot.puddled()
}

// earliest returns the first day on which weeds that had at most the leaves of a leaf count can have two leaves, by the
// fastest clock. The distribution alone does not keep to this: it also allows for a misread count.
func (s *Season) earliest(look Sighting) Day {
	_, leaves := look.Leaves.stages()
	if look.On == 0 || leaves >= WindowOpensLeaves {
		return look.On
	}
	return s.grow(fastClock, look.On, WindowOpensLeaves-leaves)
}

// latest returns the last day on which weeds that had at most the leaves of a leaf count of two or three still have
// four leaves at most, by the clock of the low base.
func (s *Season) latest(look Sighting) Day {
	_, leaves := look.Leaves.stages()
	return s.grow(lowBaseClock, look.On, WindowClosesLeaves-leaves)
}

// grow returns the last day on which weeds have at most the given number of leaves more than on day from, by a clock.
func (s *Season) grow(clock clockIndex, from Day, leaves float64) Day {
	c, heat := &clocks[clock], s.heatSums()
	began := float64(from - heat.from)
	return heat.from + Day(heat.reach(c.leafBase, heat.at(c.leafBase, began)+leaves*c.leafHeat, began))
}

// chanceStep is the smallest difference between two chances that counts.
const chanceStep = 1e-9

// freshSightings returns the sightings after the last pass. Sightings before the pass say nothing about the weeds that
// are on the plot now.
func (s Season) freshSightings() []Sighting {
	fresh := s.Sightings
	if last, passed := s.lastPass(); passed {
		for len(fresh) > 0 && fresh[0].On <= last.On {
			fresh = fresh[1:]
		}
	}
	return fresh
}

// LeafRange is a number of weed leaves that is not known exactly: its mean, and the range that holds a share of the
// chances.
type LeafRange struct{ Low, Mean, High float64 }

// WeedLeafRanges returns, for each of the days from-to, both included, the number of leaves of the weeds, as known on
// day today. As many chances are below the range as above it. The weeds are those that grow since the last puddling or
// pass up to today, and grow on after today as if nobody weeded.
func (s Season) WeedLeafRanges(today, from, to Day, share float64) []LeafRange {
	if to < from {
		return nil
	}
	s = s.asOf(today)
	weeds := s.weeds()
	out := make([]LeafRange, to-from+1)
	for i := range out {
		d := from + Day(i)
		low, high := weeds.between(d, share)
		out[i] = LeafRange{low, weeds.leaves(d), high}
	}
	return out
}

// WeedLeaves returns the mean number of leaves that the weeds have on day d, from the clocks and from what the grower
// saw up to that day.
func (s Season) WeedLeaves(d Day) float64 {
	s = s.asOf(d)
	return s.weeds().leaves(d)
}

// handWindow returns the next of the usual hand-weedings of a plot without a tool. A weeding up to HandEarlyDays days
// early counts as the hand-weeding. One that was not done stays the next until PrepareDays days before the one after
// it. In a cool place the first one waits until most weeds have a leaf, because there is nothing to pull before. Weeds
// with four leaves are big enough to pull: seen up to HandEarlyDays days early, they open the window.
func (s Season) handWindow(today Day) Window {
	last, passed := s.lastPass()
	days := handDays(s.Plot.Method)
	if !passed {
		days[0] = days[0].waits(s.weeds().reached(1, 1.0/2) - s.Plot.Planted)
	}
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
