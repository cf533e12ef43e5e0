package picture

import "rowbell/engine"

// seasonView is what the picture shows of a season.
type seasonView struct {
	engine.Season // only passes and sightings from planting to today
	plan          engine.Plan
	first, last   engine.Day      // first and last day of the picture
	past          []engine.Window // windows of the passes that were made
	growth        []dayGrowth     // by day, from the day first on
	depths        []float64       // of the water in mm, by day from the day first until the work ends; -1 = not known
	looked        bool            // depths begin with water that the grower saw, not with water as it should be kept
	effort        engine.Work     // hours and days of work in the next window
}

// dayGrowth is one day by the model.
type dayGrowth struct {
	leaves float64 // of most weeds
	shade  float64 // share of the ground that the crop shades, 0 to 1
}

const (
	maxDays        = 250 // greatest number of days in the picture
	daysAfterWork  = 4   // days of the picture after the end of the work
	maxDaysToToday = 30  // today is in the picture if it is at most this many days before or after the season
)

func readSeason(s engine.Season, today engine.Day) (seasonView, error) {
	plan, err := s.Plan(today)
	if err != nil {
		return seasonView{}, err
	}
	v := seasonView{Season: s, plan: plan}
	v.Passes, v.Sightings = nil, nil
	v.first, v.last = s.Plot.Planted, max(plan.Closure.LastToolDay, s.Plot.Planted)
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
	if v.past, err = v.pastWindows(); err != nil {
		return seasonView{}, err
	}
	v.growth = v.expectedGrowth()
	v.depths = s.WaterDepths(v.first, min(v.over()-1, v.last), today)
	v.looked = s.Water(today, engine.Window{}).FromSeen
	v.effort = s.Work(today, plan.Next)
	return v, nil
}

// closedByGrower reports whether the grower has ended the season by today.
func (v *seasonView) closedByGrower() bool { return v.ClosedOn != 0 && v.ClosedOn <= v.plan.On }

// over is the first day after the last tool day, or the day on which the grower closed the season, if earlier.
func (v *seasonView) over() engine.Day {
	over := v.plan.Closure.LastToolDay + 1
	if v.closedByGrower() {
		over = min(over, v.ClosedOn)
	}
	return max(over, v.first)
}

// pastWindows returns the windows in which passes were made, each as it was planned on the day before the pass.
func (v *seasonView) pastWindows() ([]engine.Window, error) {
	var past []engine.Window
	seen := map[int]bool{v.plan.Next.Number: true}
	for _, p := range v.Passes {
		before, err := v.Windows(p.On - 1)
		if err != nil {
			return nil, err
		}
		if w := before.Next; v.overlaps(w) && !seen[w.Number] {
			seen[w.Number] = true
			past = append(past, w)
		}
	}
	return past, nil
}

// expectedGrowth returns the growth of each day. After today it assumes that the plan is kept: a pass on the best day
// of each window.
func (v *seasonView) expectedGrowth() []dayGrowth {
	kept := v.Season
	kept.Passes = append([]engine.Pass(nil), v.Passes...)
	for _, w := range v.coming() {
		kept.Passes = append(kept.Passes, engine.Pass{On: max(w.Best, v.plan.On+1), With: w.With, Left: engine.Few})
	}
	var growth []dayGrowth
	for d := v.first; d <= v.last; d++ {
		g := dayGrowth{shade: v.Shade(d)}
		if d >= v.Plot.Planted {
			g.leaves = kept.WeedLeaves(d)
		}
		growth = append(growth, g)
	}
	return growth
}

// coming returns the windows of the plan that the picture shows.
func (v *seasonView) coming() []engine.Window {
	var coming []engine.Window
	for _, w := range append([]engine.Window{v.plan.Next}, v.plan.Later...) {
		if v.overlaps(w) {
			coming = append(coming, w)
		}
	}
	return coming
}

// overlaps reports whether a day of the window is in the picture.
func (v *seasonView) overlaps(w engine.Window) bool {
	return w.Exists() && w.Opens <= v.last && w.Closes >= v.first
}

// shows reports whether a day is in the picture.
func (v *seasonView) shows(d engine.Day) bool { return v.first <= d && d <= v.last }

// panicles returns the day from which the tool must be pushed gently because panicles form, and whether to show this
// day: only if the tool is used until then.
func (v *seasonView) panicles() (engine.Day, bool) {
	pi := v.plan.Closure.PanicleStarts
	return pi, v.shows(pi) && !v.plan.Fit.Hand() && pi <= v.plan.Closure.LastToolDay
}
