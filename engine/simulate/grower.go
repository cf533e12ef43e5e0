package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"rowbell/engine"
)

// grower simulates one grower with one plot, from planting to the last day on which the tool can be used.
type grower struct {
	r      *rand.Rand
	nature Nature
	heeds  bool
	habit  engine.Day // day on which the grower makes the next pass out of habit, without a text
	due    engine.Day // day on which the grower has decided to weed; 0 = the grower has not decided

	truth    engine.Season // the passes that were really made, and the weeds as they really grow
	window   engine.Window // window of the next pass, computed from truth
	last     engine.Day    // last day on which the tool can be used
	untold   []engine.Pass // passes that the grower has not yet told to the service
	known    engine.Season // the season as the service knows it
	measured engine.Daily  // measured weather, to which each simulated day adds one day
	told     []engine.Told // texts that were sent to the grower
	next     engine.Day    // day on which the service next checks whether a text is due

	inTime      int     // number of passes that were in time
	firstInTime bool    // the first pass was in time
	missBy      float64 // sum of the errors, in days, of the predicted first days of windows
	foretold    int     // number of windows whose first day was predicted
}

// grower makes grower number i from random numbers. With and without the bell the grower has the same plot, tool and
// nature.
func (o *Options) grower(i int) *grower {
	g := &grower{r: rand.New(rand.NewPCG(o.Seed, uint64(i))), nature: o.Nature}
	plot, tool, rate := o.plot(g.r)
	weeds := *o.Place
	weeds.WeedRate = rate
	g.truth = engine.Season{Plot: plot, Tool: tool, Weather: o.Weather, Local: &weeds}
	g.known = engine.Season{Plot: plot, Tool: tool, Weather: o.Weather, Local: o.Place}
	g.known.Weather.Daily = engine.Daily{}
	if o.Measured {
		g.measured = o.Weather.Daily
	}
	g.heeds = g.chance(o.Nature.Heeds)
	g.habit = plot.Planted + engine.Day(habitFirst.draw(g.r))
	begin := windows(g.truth, plot.Planted)
	g.window, g.last = begin.Next, begin.Closure.LastToolDay
	return g
}

// windows returns the plan of a season. The options were checked, so the engine accepts the season.
func windows(s engine.Season, on engine.Day) engine.Plan {
	p, err := s.Windows(on)
	if err != nil {
		panic("simulate: " + err.Error())
	}
	return p
}

// chance returns true with the probability p, from 0 to 1.
func (g *grower) chance(p float64) bool { return g.r.Float64() < p }

// byHabit plays the season of a grower who gets no texts from the bell.
func (g *grower) byHabit() {
	for g.habit <= g.last {
		g.weed(g.habit)
	}
}

// withBell plays the season with the bell. Each day has the morning's text, the grower's answer, and the day's work.
func (g *grower) withBell() {
	g.compare(g.truth.Plot.Planted)
	for d := g.truth.Plot.Planted; d <= g.last; d++ {
		g.learnWeather(d)
		if d >= g.next {
			g.ring(d)
		}
		if g.due == d || g.due == 0 && d >= g.habit+g.patience() {
			g.weed(d)
			if g.chance(g.nature.Answers) {
				g.tell()
				g.compare(d)
			}
		}
	}
}

// ring sends the text that is due on the day d, if a text is due.
func (g *grower) ring(d engine.Day) {
	plan := windows(g.known, d)
	r, silence := plan.Reminder(g.told)
	g.next = d + 1
	switch silence {
	case engine.SilentNothingNew, engine.SilentTold, engine.SilentKnown:
		if plan.LookAgain > d && len(g.measured.Days) == 0 {
			g.next = plan.LookAgain // no text is due before this day, unless the grower tells the service something new
		}
		return
	case engine.NotSilent:
	default:
		return
	}
	g.told = append(g.told, engine.Told{Kind: r.Kind, Window: r.Window.Number, Edition: r.Window.Edition, On: d})
	if r.Window.Exists() {
		g.known.Announced = r.Window
	}
	if r.Asks() {
		g.answer(r, d)
	}
}

// patience returns for how many days a grower who waits for texts delays a pass that is due by habit.
func (g *grower) patience() engine.Day {
	if g.heeds {
		return patienceDays
	}
	return 0
}

// learnWeather gives the service the measured weather of the days before d.
func (g *grower) learnWeather(d engine.Day) {
	days := min(max(0, int(d-g.measured.From)), len(g.measured.Days))
	g.known.Weather.Daily = engine.Daily{From: g.measured.From, Days: g.measured.Days[:days]}
}

// answer simulates what the grower does after a text that asks a question.
func (g *grower) answer(r engine.Reminder, d engine.Day) {
	switch {
	case len(g.untold) > 0:
		if g.chance(g.nature.Answers) {
			g.tell()
		}
	case g.due != 0: // the grower has already decided on a day to weed
	case g.chance(g.nature.Lies):
		g.lie(d)
	case g.chance(g.nature.Looks):
		g.look(d)
	case g.heeds && g.chance(g.actsOn(r.Kind)):
		g.decide(d)
	}
}

// actsOn returns the probability that the grower weeds after a text of this kind.
func (g *grower) actsOn(k engine.Kind) float64 {
	if k == engine.KindOpen {
		return g.nature.Acts
	}
	return g.nature.ActsLater
}

// decide chooses the day of the next pass, which is the day d or later.
func (g *grower) decide(d engine.Day) {
	g.due = d + engine.Day(g.r.IntN(int(math.Round(2*g.nature.DelayDays))+1))
}

// look counts the leaves of the weeds and tells the service the number. If the grower sees more than one leaf, the
// grower weeds with the higher one of the chances Acts and ActsLater.
func (g *grower) look(d engine.Day) {
	saw := engine.OneLeaf
	switch leaves := g.truth.WeedLeaves(d) + g.nature.Misreads*g.r.NormFloat64(); {
	case leaves >= engine.TwoThreeTo:
		saw = engine.FourPlus
	case leaves >= engine.OneLeafTo:
		saw = engine.TwoThree
	}
	g.known.Sightings = append(g.known.Sightings, engine.Sighting{On: d, Leaves: saw})
	if saw != engine.OneLeaf && g.heeds && g.chance(max(g.nature.Acts, g.nature.ActsLater)) {
		g.decide(d)
	}
}

// lie tells the service something untrue: that the plot was weeded, or that the weeds are too big.
func (g *grower) lie(d engine.Day) {
	if g.chance(liesSayingWeeded) {
		g.note(engine.Pass{On: d, With: engine.ByTool, Left: engine.Few})
		return
	}
	g.known.Sightings = append(g.known.Sightings, engine.Sighting{On: d, Leaves: engine.FourPlus})
}

// weed makes a pass: with the tool, or by hand if the window is over.
func (g *grower) weed(d engine.Day) {
	pass := engine.Pass{On: d, With: engine.ByTool, Left: engine.Many}
	few, some := lateLeavesFew, lateLeavesSome
	if g.window.Contains(d) {
		few, some = inTimeLeavesFew, inTimeLeavesSome
		g.inTime++
		g.firstInTime = g.firstInTime || len(g.truth.Passes) == 0
	} else if d > g.window.Closes {
		pass.With = engine.ByHand
	}
	switch x := g.r.Float64(); {
	case x < few:
		pass.Left = engine.Few
	case x < few+some:
		pass.Left = engine.Some
	}
	g.truth.Passes = append(g.truth.Passes, pass)
	g.untold = append(g.untold, pass)
	g.window = windows(g.truth, d).Next
	g.due, g.habit = 0, d+engine.Day(habitAgain.draw(g.r))
}

// tell tells the service all passes that it does not know yet.
func (g *grower) tell() {
	for _, p := range g.untold {
		g.note(p)
	}
	g.untold = g.untold[:0]
}

// note adds a pass to the passes that the service knows, sorted by day. If there is already a pass on the same day, the
// new pass replaces it.
func (g *grower) note(p engine.Pass) {
	g.next = 0
	at, there := slices.BinarySearchFunc(g.known.Passes, p.On,
		func(x engine.Pass, d engine.Day) int { return int(x.On - d) })
	if there {
		g.known.Passes[at] = p
		return
	}
	g.known.Passes = slices.Insert(g.known.Passes, at, p)
}

// compare adds the error of the window's first day as the service predicts it, if the service predicts this day from
// the growth of weeds.
func (g *grower) compare(d engine.Day) {
	foretold := windows(g.known, d).Next
	if !foretold.Exists() || !g.window.Exists() || foretold.Why != engine.WhyWeedClock &&
		foretold.Why != engine.WhyRegrowth {
		return
	}
	g.missBy += math.Abs(float64(foretold.Opens - g.window.Opens))
	g.foretold++
}
