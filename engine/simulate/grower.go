package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"rowbell/engine"
)

// grower is one grower with one plot, from planting to the last day on which
// the tool could be used.
type grower struct {
	r      *rand.Rand
	nature Nature
	heeds  bool
	habit  engine.Day // would weed then, left alone
	due    engine.Day // has made up the mind to weed then; 0 = not

	truth    engine.Season // what was done, on weeds as they are
	window   engine.Window // true window of the next pass
	last     engine.Day    // last day that matters
	untold   []engine.Pass // done, and not told yet
	known    engine.Season // what the service knows
	measured engine.Daily  // what it may come to know of the weather
	told     []engine.Told
	next     engine.Day // day on which the bell looks at the plot again

	inTime      int
	firstInTime bool
	missBy      float64 // days by which openings were foretold wrongly, summed
	foretold    int
}

// grower draws the i-th grower. What they are and have does not depend on the
// bell.
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

// windows is the plan of a season that the options have been checked to allow.
func windows(s engine.Season, on engine.Day) engine.Plan {
	p, err := s.Windows(on)
	if err != nil {
		panic("simulate: " + err.Error())
	}
	return p
}

func (g *grower) chance(p float64) bool { return g.r.Float64() < p }

// byHabit plays the season without the bell.
func (g *grower) byHabit() {
	for g.habit <= g.last {
		g.weed(g.habit)
	}
}

// withBell plays it with the bell, day by day: the text of the morning, what
// the grower makes of it, and the work of the day.
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

// ring sends the text that is due on day d, if any.
func (g *grower) ring(d engine.Day) {
	plan := windows(g.known, d)
	r, silence := plan.Reminder(g.told)
	g.next = d + 1
	switch silence {
	case engine.SilentNothingNew, engine.SilentTold, engine.SilentKnown:
		if plan.LookAgain > d && len(g.measured.Days) == 0 {
			g.next = plan.LookAgain // nothing changes before, but by news
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

func (g *grower) patience() engine.Day {
	if g.heeds {
		return patienceDays
	}
	return 0
}

// learnWeather lets the service have the weather up to the day before d.
func (g *grower) learnWeather(d engine.Day) {
	days := min(max(0, int(d-g.measured.From)), len(g.measured.Days))
	g.known.Weather.Daily = engine.Daily{From: g.measured.From, Days: g.measured.Days[:days]}
}

// answer is what the grower does on a text that asks.
func (g *grower) answer(r engine.Reminder, d engine.Day) {
	switch {
	case len(g.untold) > 0:
		if g.chance(g.nature.Answers) {
			g.tell()
		}
	case g.due != 0: // has made up the mind
	case g.chance(g.nature.Lies):
		g.lie(d)
	case g.chance(g.nature.Looks):
		g.look(d)
	case g.heeds && g.chance(g.moved(r.Kind)):
		g.decide(d)
	}
}

// moved is the chance that a text of this kind gets the grower to weed.
func (g *grower) moved(k engine.Kind) float64 {
	if k == engine.KindOpen {
		return g.nature.Acts
	}
	return g.nature.ActsLater
}

func (g *grower) decide(d engine.Day) {
	g.due = d + engine.Day(g.r.IntN(int(math.Round(2*g.nature.DelayDays))+1))
}

// look counts leaves and tells them. Weeds of one leaf are left to grow; one
// who has seen them ready or too big is the likelier to weed.
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

// lie says that the plot was weeded, or that the weeds are too big.
func (g *grower) lie(d engine.Day) {
	if g.chance(liesSayingWeeded) {
		g.note(engine.Pass{On: d, With: engine.ByTool, Left: engine.Few})
		return
	}
	g.known.Sightings = append(g.known.Sightings, engine.Sighting{On: d, Leaves: engine.FourPlus})
}

// weed weeds the plot: with the tool, or by hand where the weeds are past it.
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

// tell tells the service of all passes that it has not heard of.
func (g *grower) tell() {
	for _, p := range g.untold {
		g.note(p)
	}
	g.untold = g.untold[:0]
}

// note puts a pass among those that the service knows, in order of day. A day
// has one: the later word holds.
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

// compare sets the opening that the service foretells beside the true one,
// where the weed clock decides and the last pass is known.
func (g *grower) compare(d engine.Day) {
	foretold := windows(g.known, d).Next
	if !foretold.Exists() || !g.window.Exists() || foretold.Why != engine.WhyWeedClock &&
		foretold.Why != engine.WhyRegrowth {
		return
	}
	g.missBy += math.Abs(float64(foretold.Opens - g.window.Opens))
	g.foretold++
}
