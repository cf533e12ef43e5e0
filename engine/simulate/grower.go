package simulate

import (
	"math"
	"math/rand/v2"
	"slices"

	"rowbell/engine"
)

// grower simulates one grower with one plot, from planting to the last day on which the tool can be used.
//
// With and without the bell a grower has the same plot, weeds and habit, and the same luck in acting: how many days
// pass until a planned pass is made, which days are let pass, and how many weeds a pass leaves. Only what the service
// tells changes the day that the grower plans.
type grower struct {
	Growers
	of     *Options
	number int
	r      *rand.Rand // reading, looking and answering
	heeds  bool       // plans the day that the service names
	only   bool       // answers about leaves only if the weeds are too big

	field        field
	weeds        weeds
	rooted, last engine.Day // first and last day on which the tool can be used
	passes       []engine.Pass
	turn         turn

	untold   []engine.Pass // passes that the service does not know yet
	known    engine.Season // the season as the service knows it
	measured engine.Daily  // measured weather, which the service gets once a week
	told     []engine.Told // texts that were sent to the grower
	next     engine.Day    // day on which the service next checks whether a text is due

	out Outcome
}

// turn is the time from one pass to the next.
type turn struct {
	luck  *rand.Rand
	plan  engine.Day    // day on which the grower wants to weed
	due   engine.Day    // day on which the grower weeds; 0 = not decided
	delay engine.Day    // days from plan to due
	left  float64       // draw that decides how many weeds the pass leaves
	named engine.Window // window that the service has named
}

// grower makes grower number i.
func (o *Options) grower(i int, c *clock, heat *warmth) *grower {
	r := rand.New(rand.NewPCG(o.Seed, uint64(i)))
	plot, tool := o.plot(r)
	g := &grower{Growers: o.Growers, of: o, number: i, r: r, field: newField(r, c, 1/o.Rate, o.Scatter, o.Water, heat)}
	g.known = engine.Season{Plot: plot, Tool: tool, Weather: o.Weather, Local: o.Place}
	begin := windows(g.known, plot.Planted)
	g.rooted, g.last = plot.Planted+engine.FirstPassDays, begin.Closure.LastToolDay
	g.known.Weather.Daily = engine.Daily{}
	if o.Measured {
		g.measured = o.Weather.Daily
	}
	g.heeds, g.only = g.chance(o.Growers.Heeds), g.chance(o.Growers.OnlyBig)
	g.begin(plot.Planted, false)
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

// begin starts a turn on the day of planting or of a pass. Its draws depend only on the grower and on the number of the
// turn.
func (g *grower) begin(from engine.Day, emerged bool) {
	luck := rand.New(rand.NewPCG(g.of.Seed^turnSeed, uint64(g.number*maxTurns+len(g.passes))))
	late := startScatter * luck.NormFloat64()
	g.turn = turn{luck: luck, plan: from + g.of.Habit.draw(luck), left: luck.Float64(),
		delay: engine.Day(luck.IntN(int(math.Round(2*g.DelayDays)) + 1))}
	g.weeds = g.field.grow(from, late, emerged)
}

const (
	turnSeed = 0x7475726e // separates the draws of turns from the draws of growers
	maxTurns = 1 << 10
)

// play plays the season. Each day has the morning's text, the grower's answer, and the day's work.
func (g *grower) play(bell bool) {
	planted := g.known.Plot.Planted
	if bell {
		g.name(windows(g.known, planted).Next, planted, true) // the service names days when the plot is registered
	}
	for d := planted; d <= g.last; d++ {
		if bell {
			if d%weatherDays == 0 {
				g.learnWeather(d)
			}
			if d >= g.next {
				g.ring(d)
			}
		}
		if !g.work(d) {
			continue
		}
		if bell && g.chance(g.Answers) {
			g.tell(d)
		}
	}
	g.end(0)
}

// weatherDays is the number of days after which the service gets measured weather again.
const weatherDays = 7

// work reports whether the grower weeds on day d. On the planned day the grower decides to weed, or lets the day pass.
func (g *grower) work(d engine.Day) bool {
	t := &g.turn
	if t.due == 0 && d >= t.plan {
		if t.luck.Float64() < g.Acts {
			t.due = d + t.delay
		} else {
			t.plan = d + againDays
		}
	}
	if t.due == 0 || d < t.due {
		return false
	}
	g.weed(d)
	return true
}

// weed makes a pass: with the tool, or by hand if the weeds are too big for it.
func (g *grower) weed(d engine.Day) {
	pass := engine.Pass{On: d, With: engine.ByTool, Left: engine.Many}
	few, some := lateLeavesFew, lateLeavesSome
	if g.inTime(d) {
		few, some = inTimeLeavesFew, inTimeLeavesSome
		g.out.PassesInTime++
		if len(g.passes) == 0 {
			g.out.PlotsFirstInTime = 1
		}
	} else if g.weeds.leaves(d) > 4 {
		pass.With = engine.ByHand
	}
	if g.turn.left < few {
		pass.Left = engine.Few
	} else if g.turn.left < few+some {
		pass.Left = engine.Some
	}
	g.end(d)
	g.passes = append(g.passes, pass)
	g.untold = append(g.untold, pass)
	g.begin(d, pass.Left != engine.Few)
}

// inTime reports whether a pass with the tool on day d is in time.
func (g *grower) inTime(d engine.Day) bool {
	return g.rooted <= d && d <= g.last && g.weeds.rightSize(d)
}

// canBeInTime reports whether a pass of this turn can be in time.
func (g *grower) canBeInTime() bool {
	opens := max(g.rooted, g.field.heat.from+engine.Day(math.Ceil(min(g.weeds.have(2), longest))))
	return g.inTime(opens)
}

// end counts the turn that a pass on day d ends, or the last turn if d is 0.
func (g *grower) end(d engine.Day) {
	if w := g.turn.named; w.Exists() && w.With == engine.ByTool && g.canBeInTime() {
		g.out.Advised++
		if w.Why != engine.WhySeenBig && g.inTime(w.Best) {
			g.out.AdvisedInTime++
		}
		if w.Contains(d) {
			g.out.Followed++
		}
	}
}

// count adds the grower's season to an outcome.
func (g *grower) count(o *Outcome) {
	o.Passes += len(g.passes)
	o.PassesInTime += g.out.PassesInTime
	o.PlotsFirstInTime += g.out.PlotsFirstInTime
	if n := g.out.PassesInTime; n > 0 && n == len(g.passes) && !g.canBeInTime() {
		o.PlotsAllInTime++
	}
	o.Advised += g.out.Advised
	o.AdvisedInTime += g.out.AdvisedInTime
	o.Followed += g.out.Followed
	o.Looks += g.out.Looks
	o.Texts += len(g.told)
}

// ring sends the text that is due on day d, if a text is due.
func (g *grower) ring(d engine.Day) {
	plan := windows(g.known, d)
	r, silence := plan.Reminder(g.told)
	g.next = d + 1
	switch silence {
	case engine.SilentNothingNew, engine.SilentTold, engine.SilentKnown:
		if plan.LookAgain > d {
			g.next = plan.LookAgain // no text is due before this day, unless the service gets to know something new
		}
		return
	case engine.NotSilent:
	default:
		return
	}
	g.told = append(g.told, engine.Told{Kind: r.Kind, Window: r.Window.Number, Edition: r.Window.Edition, On: d})
	if r.Tells() {
		g.known.Announced = r.Window
	}
	if r.Question() == engine.AskLook && g.known.AskedOn == 0 {
		g.known.AskedOn = d
	}
	reads := g.chance(g.Reads)
	g.name(r.Window, d, reads)
	if reads && r.Asks() {
		g.answer(r.Question() == engine.AskLook, d)
	}
}

// name records the window that the service names on day d. A grower who reads it and heeds the service plans its best
// day, and pulls by hand at once where the window is over.
func (g *grower) name(w engine.Window, d engine.Day, reads bool) {
	if !w.Exists() || len(g.untold) > 0 {
		return
	}
	over := d > w.Closes
	// Weeds that grew too big because the grower let the named day pass do not make this day a bad one.
	letPass := w.Why == engine.WhySeenBig && g.turn.named.Exists() && d > g.turn.named.Best
	if !over && !letPass {
		g.turn.named = w
	}
	if reads && g.heeds && g.turn.due == 0 {
		g.turn.plan = d
		if !over {
			g.turn.plan = max(d, w.Best)
		}
	}
}

// answer simulates the answer to a text that asks. looks says that it asks about the leaves.
func (g *grower) answer(looks bool, d engine.Day) {
	switch {
	case len(g.untold) > 0:
		if g.chance(g.Answers) {
			g.tell(d)
		}
	case g.chance(g.Lies):
		g.lie(d)
	case g.chance(g.Looks):
		seen := see(g.weeds.leaves(d), g.Misreads, g.r)
		if seen == engine.FourPlus || looks && !g.only { // "too big" is an answer to every text that asks
			g.sight(d, seen)
		}
	}
}

// sight tells the service a leaf count. The answer of the service names the days that follow from it.
func (g *grower) sight(d engine.Day, seen engine.Leaves) {
	g.out.Looks++
	g.known.Sightings = append(g.known.Sightings, engine.Sighting{On: d, Leaves: seen})
	g.next = d + 1
	g.name(windows(g.known, d).Next, d, true)
}

// lie tells the service something untrue: that the plot was weeded, or that the weeds are too big.
func (g *grower) lie(d engine.Day) {
	if g.chance(liesSayingWeeded) {
		g.note(engine.Pass{On: d, With: engine.ByTool, Left: engine.Few})
		return
	}
	g.known.Sightings = append(g.known.Sightings, engine.Sighting{On: d, Leaves: engine.FourPlus})
	g.next = d + 1
}

// tell tells the service all passes that it does not know yet. The answer of the service names the next days.
func (g *grower) tell(d engine.Day) {
	for _, p := range g.untold {
		g.note(p)
	}
	g.untold = g.untold[:0]
	g.name(windows(g.known, d).Next, d, true)
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

// learnWeather gives the service the measured weather of the days before d.
func (g *grower) learnWeather(d engine.Day) {
	days := min(max(0, int(d-g.measured.From)), len(g.measured.Days))
	if days > len(g.known.Weather.Daily.Days) {
		g.known.Weather.Daily = engine.Daily{From: g.measured.From, Days: g.measured.Days[:days]}
		g.next = d
	}
}
