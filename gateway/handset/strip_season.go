package handset

import (
	"cmp"
	"fmt"
	"strings"

	"rowbell/engine"
)

// stripSeason is what of a season is drawn.
type stripSeason struct {
	engine.Season // with what was known today
	plan          engine.Plan
	first, last   engine.Day // of the strip
	past          []engine.Window
	points        []stripPoint // a day each, from first on
	depths        []float64    // of the water in mm, a day each, as long as the tool works; -1 = not known
	looked        bool         // the grower saw water lately
	effort        engine.Work
}

// stripPoint is one day's growth by the model.
type stripPoint struct {
	leaves, shade float64
}

const (
	stripMostDays  = 250 // longest strip
	stripAfterDays = 4   // shown after the end of the work
	stripTodayDays = 30  // today is shown if it lies no further from the season
)

func stripRead(s engine.Season, today engine.Day) (stripSeason, error) {
	plan, err := s.Plan(today)
	if err != nil {
		return stripSeason{}, err
	}
	x := stripSeason{Season: s, plan: plan}
	x.Passes, x.Sightings = nil, nil
	for _, p := range s.Passes {
		if s.Plot.Planted <= p.On && p.On <= today {
			x.Passes = append(x.Passes, p)
		}
	}
	for _, seen := range s.Sightings {
		if s.Plot.Planted <= seen.On && seen.On <= today {
			x.Sightings = append(x.Sightings, seen)
		}
	}
	x.first, x.last = s.Plot.Planted, max(plan.Closure.LastToolDay, s.Plot.Planted)
	if today >= x.first-stripTodayDays && today <= x.last+stripTodayDays {
		x.first, x.last = min(x.first, today), max(x.last, today)
	}
	for _, p := range x.Passes {
		x.last = max(x.last, p.On)
	}
	for _, seen := range x.Sightings {
		x.last = max(x.last, seen.On)
	}
	x.last = min(x.last+stripAfterDays, x.first+stripMostDays)
	if x.past, err = x.pastWindows(); err != nil {
		return stripSeason{}, err
	}
	x.grow()
	x.depths = s.WaterDepths(x.first, min(x.over()-1, x.last), today)
	x.looked = s.Water(today, engine.Window{}).FromSeen
	x.effort = s.Work(today, plan.Next)
	return x, nil
}

// over is the first day after the work.
func (x *stripSeason) over() engine.Day {
	over := x.plan.Closure.LastToolDay + 1
	if x.ClosedOn != 0 && x.ClosedOn <= x.plan.On {
		over = min(over, x.ClosedOn)
	}
	return max(over, x.first)
}

// pastWindows are those that the passes were made for, as they were told the
// day before.
func (x *stripSeason) pastWindows() ([]engine.Window, error) {
	var past []engine.Window
	seen := map[int]bool{x.plan.Next.Number: true}
	for _, p := range x.Passes {
		before, err := x.Windows(p.On - 1)
		if err != nil {
			return nil, err
		}
		if w := before.Next; w.Exists() && w.Opens <= x.last && w.Closes >= x.first && !seen[w.Number] {
			seen[w.Number] = true
			past = append(past, w)
		}
	}
	return past, nil
}

// grow works out the curves. After today they suppose that the plan is kept,
// a pass on each window's best day; after the last tool day weeds no longer
// matter and their curve ends.
func (x *stripSeason) grow() {
	kept := x.Season
	kept.Passes = append([]engine.Pass(nil), x.Passes...)
	for _, w := range x.coming() {
		kept.Passes = append(kept.Passes, engine.Pass{On: max(w.Best, x.plan.On+1), With: w.With, Left: engine.Few})
	}
	for d := x.first; d <= x.last; d++ {
		p := stripPoint{shade: x.Shade(d)}
		if d >= x.Plot.Planted {
			p.leaves = kept.WeedLeaves(d)
		}
		x.points = append(x.points, p)
	}
}

// coming are the windows still ahead, as far as the strip goes.
func (x *stripSeason) coming() []engine.Window {
	var coming []engine.Window
	for _, w := range append([]engine.Window{x.plan.Next}, x.plan.Later...) {
		if w.Exists() && w.Opens <= x.last && w.Closes >= x.first {
			coming = append(coming, w)
		}
	}
	return coming
}

// shows reports that a day is on the strip.
func (x *stripSeason) shows(d engine.Day) bool { return x.first <= d && d <= x.last }

// panicles is the day from which the tool must be pushed gently; it does not
// matter where no tool is used by then.
func (x *stripSeason) panicles() (engine.Day, bool) {
	pi := x.plan.Closure.PanicleStarts
	return pi, x.shows(pi) && !x.plan.Fit.Hand() && pi <= x.plan.Closure.LastToolDay
}

// stripDate is a day as it stands on the strip.
func stripDate(d engine.Day) string {
	_, m, day := d.Date()
	return fmt.Sprintf("%d %s", day, m.String()[:3])
}

// stripSpan names the days from one to another shortly.
func stripSpan(from, to engine.Day) string {
	_, m1, day := from.Date()
	switch _, m2, _ := to.Date(); {
	case from == to:
		return stripDate(from)
	case m1 == m2:
		return fmt.Sprintf("%d to %s", day, stripDate(to))
	}
	return stripDate(from) + " to " + stripDate(to)
}

// why says what ended the work with the tool, or will.
func (x *stripSeason) why() string {
	switch {
	case x.ClosedOn != 0 && x.ClosedOn <= x.plan.On:
		return "closed by the grower"
	case x.plan.Fit.Hand():
		return "after the usual hand weedings"
	}
	switch x.plan.Closure.Why {
	case engine.EndSeen:
		return "rows seen closed"
	case engine.EndPlantsBig:
		return "plants too big for the tool"
	}
	return "rows closed"
}

func stripPassWords(p engine.Pass) string {
	words := []string{stripDate(p.On)}
	switch p.With {
	case engine.ByTool:
		words = append(words, "tool")
	case engine.ByHand:
		words = append(words, "by hand")
	default:
		words = append(words, "weeded")
	}
	if p.Way == engine.Both {
		words = append(words, "both ways")
	}
	if p.Left != engine.AmountUnknown {
		words = append(words, p.Left.String()+" left")
	}
	return strings.Join(words, ", ")
}

func stripSeenWords(s engine.Sighting) string {
	var words []string
	if s.Leaves != engine.LeavesUnknown {
		words = append(words, s.Leaves.String())
	}
	if s.Amount != engine.AmountUnknown {
		words = append(words, s.Amount.String())
	}
	if s.Rows != engine.RowsUnknown {
		words = append(words, "rows "+s.Rows.String())
	}
	if s.Water != engine.StandsUnknown {
		words = append(words, stripStands(s.Water))
	}
	return cmp.Or(strings.Join(words, ", "), "looked")
}

// title is the line above the strip where no other is given.
func (x *stripSeason) title() string {
	y, m, d := x.Plot.Planted.Date()
	return fmt.Sprintf("%s, planted %d %s %d", cmp.Or(x.Plot.Label, "Season"), d, m, y)
}

// desc tells the picture to those who cannot see it.
func (x *stripSeason) desc() string {
	var b strings.Builder
	fmt.Fprintf(&b, "Planted on %s. On %s: %s.", x.Plot.Planted, x.plan.On, x.plan.State)
	for _, p := range x.Passes {
		fmt.Fprintf(&b, " Weeded on %s.", stripPassWords(p))
	}
	for _, s := range x.Sightings {
		fmt.Fprintf(&b, " Seen on %s: %s.", stripDate(s.On), stripSeenWords(s))
	}
	for _, w := range x.coming() {
		fmt.Fprintf(&b, " Window %d: %s, best %s.", w.Number, stripSpan(w.Opens, w.Closes), stripDate(w.Best))
	}
	if words := x.waterWords(); words != "" {
		fmt.Fprintf(&b, " %s.", words)
	}
	if bar, ok := x.workBar(); ok {
		fmt.Fprintf(&b, " %s.", bar.words)
	}
	fmt.Fprintf(&b, " Last tool day %s: %s.", stripDate(x.plan.Closure.LastToolDay), x.why())
	return b.String()
}
