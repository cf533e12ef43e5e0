package picture

import (
	"slices"

	"rowbell/engine"
)

// seasonView is the part of a season that the picture shows.
type seasonView struct {
	engine.Season // its passes and sightings are only those from planting to today
	plan          engine.Plan
	first, last   engine.Day          // first and last day of the picture
	past          []engine.PastWindow // without those outside the days of the picture
	growth        []dayGrowth         // weeds and crop on each day, from the day first on
	chances       []float64           // chance of two to four leaves on each day from the day first on; nil = by hand
	depths        []float64           // water depth in mm on each day from the day first on; -1 = unknown
	looked        bool                // depths starts from a depth that the grower saw; if false, from the usual depth
	effort        engine.Work         // hours and days of work in the next window
}

// dayGrowth is how far weeds and crop have grown on one day, by the model.
type dayGrowth struct {
	leaves engine.LeafRange // leaves of most weeds; after today as if nobody weeds
	shade  float64          // share of the ground that the crop shades, 0 to 1
}

// bandShare is the share of the chances that the band of uncertainty around the weeds' leaves holds.
const bandShare = 0.8

const (
	maxDays        = 250 // most days that the picture can show
	daysAfterWork  = 4   // days that the picture shows after the end of the work
	maxDaysToToday = 30  // the picture shows today only if today is at most this many days before or after the season
	maxDaysToEnds  = 14  // the picture shows other ends at most this many days after the end of the work
)

func readSeason(s engine.Season, today engine.Day) (seasonView, error) {
	plan, err := s.Plan(today)
	if err != nil {
		return seasonView{}, err
	}
	v := seasonView{Season: s, plan: plan}
	v.Passes, v.Sightings = nil, nil
	v.first, v.last = s.Plot.Planted, max(plan.Closure.LastToolDay, s.Plot.Planted)
	for _, end := range []engine.Day{plan.Closure.PanicleStarts, plan.Closure.PullUntil} {
		if end <= plan.Closure.LastToolDay+maxDaysToEnds && !plan.Fit.Hand() {
			v.last = max(v.last, end)
		}
	}
	if today >= v.first-maxDaysToToday && today <= v.last+maxDaysToToday {
		v.first, v.last = min(v.first, today), max(v.last, today)
	}
	known := func(d engine.Day) bool { return s.Plot.Planted <= d && d <= today }
	for _, p := range s.Passes {
		if known(p.On) {
			v.Passes = append(v.Passes, p)
			v.last = max(v.last, p.On)
		}
	}
	for _, seen := range s.Sightings {
		if known(seen.On) {
			v.Sightings = append(v.Sightings, seen)
			v.last = max(v.last, seen.On)
		}
	}
	v.last = min(v.last+daysAfterWork, v.first+maxDays)
	if v.past, err = s.Past(today); err != nil {
		return seasonView{}, err
	}
	v.past = slices.DeleteFunc(v.past, func(w engine.PastWindow) bool { return !v.overlaps(w.Window) })
	v.growth, v.chances = v.expectedGrowth(), v.expectedChances()
	v.depths = s.WaterDepths(v.first, min(v.over()-1, v.last), today)
	v.looked = s.Water(today, engine.Window{}).FromSeen
	v.effort = s.Work(today, plan.Next)
	return v, nil
}

// closedByGrower reports whether the grower has ended the season by today.
func (v *seasonView) closedByGrower() bool { return v.ClosedOn != 0 && v.ClosedOn <= v.plan.On }

// over returns the first day on which there is no more weeding: the day after Closure.LastToolDay or, if it is earlier,
// the day on which the grower ended the season.
func (v *seasonView) over() engine.Day {
	over := v.plan.Closure.LastToolDay + 1
	if v.closedByGrower() {
		over = min(over, v.ClosedOn)
	}
	return max(over, v.first)
}

// supposedPass is a pass of the picture: made, or supposed to be made.
type supposedPass struct {
	engine.Pass
	planned bool // in a coming window
}

// supposedPasses returns the passes that were made, the weedings by hand that the plan supposes after a missed window,
// and a pass on the best day of each coming window that leaves few weeds.
func (v *seasonView) supposedPasses() []supposedPass {
	var passes []supposedPass
	for _, p := range v.Passes {
		passes = append(passes, supposedPass{Pass: p})
	}
	pulled := func(w engine.Window) {
		on := max(w.Closes+1, v.Since)
		if w.With == engine.ByTool && !slices.ContainsFunc(v.Passes, func(p engine.Pass) bool { return p.On == on }) {
			p := engine.Pass{On: on, With: engine.ByHand, Left: engine.Few}
			passes = append(passes, supposedPass{Pass: p})
		}
	}
	for _, w := range v.past {
		if w.End == engine.WindowMissed {
			pulled(w.Window)
		}
	}
	for i, w := range v.coming() {
		if i == 0 && v.plan.State == engine.Missed {
			pulled(w)
			continue
		}
		p := engine.Pass{On: max(w.Best, v.plan.On+1), With: w.With, Left: engine.Few}
		passes = append(passes, supposedPass{p, true})
	}
	slices.SortStableFunc(passes, func(a, b supposedPass) int { return int(a.On - b.On) })
	return passes
}

// expectedChances returns, for each day of the picture, the chance that most weeds have two to four leaves, by what the
// grower saw before the pass that ends their growth. The weeds of a coming window are shown up to the pass after it, so
// that the chance of all its days can be read. It assumes the passes of supposedPasses.
func (v *seasonView) expectedChances() []float64 {
	if v.plan.Fit.Hand() {
		return nil
	}
	last := min(v.over()-1, v.last)
	chances := make([]float64, max(0, last-v.first+1))
	supposed, from := v.supposedPasses(), v.first
	passes := make([]engine.Pass, 0, len(supposed))
	for i := range len(supposed) + 1 {
		ends := i // the pass after which these weeds are not shown any more
		if i < len(supposed) && supposed[i].planned {
			ends++
		}
		until, season := last, v.Season
		if ends < len(supposed) {
			until = min(until, supposed[ends].On)
		}
		season.Passes = passes
		for j, chance := range season.Chances(until, from, until) {
			d := int(from-v.first) + j
			chances[d] = max(chances[d], chance)
		}
		if i < len(supposed) {
			from, passes = max(from, supposed[i].On+1), append(passes, supposed[i].Pass)
		}
	}
	return chances
}

// expectedGrowth returns weeds and crop on each day of the picture. The weeds between two passes are as known on the
// day of the second. After today nobody weeds.
func (v *seasonView) expectedGrowth() []dayGrowth {
	growth := make([]dayGrowth, v.last-v.first+1)
	for i := range growth {
		growth[i].shade = v.Shade(v.first + engine.Day(i))
	}
	from := v.Plot.Planted
	for i := range len(v.Passes) + 1 {
		known, until, season := v.plan.On, v.last, v.Season
		if i < len(v.Passes) {
			known, until = v.Passes[i].On, v.Passes[i].On
		}
		season.Passes = v.Passes[:i]
		for j, leaves := range season.WeedLeafRanges(known, from, until, bandShare) {
			if d := int(from-v.first) + j; d >= 0 && d < len(growth) {
				growth[d].leaves = leaves
			}
		}
		from = until + 1
	}
	return growth
}

// coming returns the next window and the later windows of the plan, without those outside the days of the picture.
func (v *seasonView) coming() []engine.Window {
	var coming []engine.Window
	for _, w := range append([]engine.Window{v.plan.Next}, v.plan.Later...) {
		if v.overlaps(w) {
			coming = append(coming, w)
		}
	}
	return coming
}

func (v *seasonView) overlaps(w engine.Window) bool {
	return w.Exists() && w.Opens <= v.last && w.Closes >= v.first
}

func (v *seasonView) shows(d engine.Day) bool { return v.first <= d && d <= v.last }

// panicles returns the first day on which panicles form; false if the picture does not show that day.
func (v *seasonView) panicles() (engine.Day, bool) {
	pi := v.plan.Closure.PanicleStarts
	return pi, v.shows(pi) && !v.plan.Fit.Hand()
}

// look returns the day on which the grower is asked to look at the weeds before the next window; false if there is no
// such day, or if the picture does not show it.
func (v *seasonView) look() (engine.Day, bool) {
	w := v.plan.Next
	return w.AskOn, w.Exists() && w.AsksLook() && w.SeenOn < w.AskOn && v.shows(w.AskOn)
}
