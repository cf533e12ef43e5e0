package plan

import (
	"fmt"
	"math"

	"rowbell/engine"
)

// This file has the sections of the report about water and work. Their sentences say "about", because the engine
// estimates the numbers.

// water reports the depth of water and how much to let in or out for the next pass.
func (r Report) water() Section {
	s := Section{Title: "Water", Key: "water"}
	w, plot := r.Water, r.Season.Plot
	missed := r.State == engine.Missed && r.Next.SeenOn != 0 // where nobody looked, the tool may still do
	toolPass := r.Next.Exists() && r.Next.With == engine.ByTool && !missed
	s.Put("known", w.Known)
	switch {
	case !w.Known:
		s.Say("Today", "not known: tell how the water stands with --saw or --flood")
	case r.On >= plot.Planted:
		s.Say("Today", "about %s, %s", Depth(w.DepthMM), waterFrom(w, plot.Flood))
	default:
		s.Say("At planting", "about %s", Depth(w.DepthMM))
	}
	if w.Known {
		s.Put("depth_mm", Round(w.DepthMM), "from", w.From, "from_seen", w.FromSeen) // from: first day of the balance
	}
	if toolPass && w.ShortOn != 0 && (w.ShortOn > r.On || w.DepthMM < w.LeastMM) {
		from := "from about " + Date(w.ShortOn)
		if w.ShortOn == r.On {
			from = "today"
		}
		s.Say("Too little", "%s: under the %s that a pass needs at the least", from, Depth(w.LeastMM))
	}
	s.Put("need_mm", w.NeedMM, "least_mm", w.LeastMM, "most_mm", w.MostMM)
	s.PutSet("short_on", w.ShortOn) // the first day on which the plot has less water than least_mm

	if toolPass {
		s.Say("For the pass", "%s", letInWords(w, r.Next, r.On))
		s.Put("advice", w.Advice(r.Next))
	}
	s.Put("on", w.On) // the day of the next pass
	if w.Known {
		r.waterObject(&s)
	}
	s.Say("A day takes", "about %.0f mm into the air, about %.0f mm into the ground", w.ETcMM, w.LossMM)
	s.Put("crop_takes_mm_per_day", Round(w.ETcMM), "ground_takes_mm_per_day", Round(w.LossMM))
	if r.closed() {
		return s.onlyJSON()
	}
	return s
}

// waterObject adds what is known about the water on the day of the next pass. The member bring_mm is the water to let
// in for that day, of which the soil takes up soil_mm; lower_mm is the water to let out. The day falls_on is the first
// one with at most most_mm, if it is deeper on the day of the pass.
func (r Report) waterObject(s *Section) {
	w, plot := r.Water, r.Season.Plot
	s.Put("on_depth_mm", Round(w.OnDepthMM), "soil_mm", Round(w.SoilMM), "bring_mm", Round(w.BringMM),
		"lower_mm", Round(w.LowerMM), "heavy_rain_or_a_hand", w.Heavy)
	s.PutSet("falls_on", w.FallsOn)
	if plot.AreaM2 > 0 {
		s.Put("bring_m3", Round(w.M3), "bring_litres", Round(w.Litres))
		if plot.InflowLS > 0 {
			if !w.InletWeak {
				s.Put("inflow_hours", Round(w.InflowHours))
			}
			s.Put("inlet_is_weak", w.InletWeak)
		}
	}
}

// waterFrom says what the depth of today is computed from.
func waterFrom(w engine.Water, flood engine.Flood) string {
	switch {
	case w.FromSeen:
		return "from what was seen on " + Date(w.From)
	case flood == engine.FloodMoist:
		return "as it is not kept under water"
	case flood == engine.FloodOnOff:
		return "as water comes and goes"
	}
	return "if about 5 cm were kept until now"
}

// letInWords says how much water to let in or out, for which day, and for how long.
func letInWords(w engine.Water, next engine.Window, today engine.Day) string {
	want := fmt.Sprintf("%.0f to %s", engine.WeedingFromMM/10, Depth(w.MostMM))
	words := "today"
	if w.On > today {
		words = fmt.Sprintf("about %s on %s if nothing is let in", Depth(w.OnDepthMM), Date(w.On))
	}
	switch w.Advice(next) {
	case engine.WaterAsk:
		return want
	case engine.WaterRight:
		return words + ": enough"
	case engine.WaterLower:
		return words + ": too deep, let it down to " + want
	case engine.WaterWait:
		return fmt.Sprintf("%s: too deep, wait until it stands at %s, about %s", words, want, Date(w.FallsOn))
	}
	words += fmt.Sprintf(": let in about %s to have %s", Depth(w.BringMM), Depth(w.NeedMM))
	if w.SoilMM >= engine.DepthRoundMM {
		words += fmt.Sprintf(", as dry soil takes up %s", Depth(w.SoilMM))
	}
	if w.M3 > 0 {
		words += fmt.Sprintf(", %s m3 here", Figures(w.M3))
	}
	switch {
	case w.InletWeak:
		words += "; the inlet is too weak for it"
	case w.InflowHours > 0:
		words += ", about " + hoursWords(w.InflowHours)
	}
	return words
}

// work reports the hours and days of the next weeding. JSON has the hours of one person who works alone.
func (r Report) work() Section {
	s := Section{Title: "Work of one person", Key: "work"}
	w, f := r.Work, r.Fit
	r.workHours(&s)
	if !f.Hand() {
		s.Say("Pace", "%s", paceWords(w.Pace))
	}
	s.Put("pace", paceObject(w.Pace))
	if w.HandPace.Logged > 0 || f.Hand() {
		s.Say("Pace by hand", "%s", paceWords(w.HandPace))
	}
	s.Put("hand_pace", paceObject(w.HandPace))
	if r.Next.Exists() || f.Hand() {
		s.Say("To do", "%s", r.crewWords(w.Crew))
	}
	s.Put("hours_per_day", w.HoursADay)
	if w.OneWay != engine.WayUnknown {
		s.Put("one_way", w.OneWay) // along or across the rows: the direction of a pass in one direction only
	}
	low, high := w.TotalRange()
	s.PutSet("total_hours", Round(w.Total()), "total_low_hours", Round(low), "total_high_hours", Round(high))
	s.Object = append(s.Object, crewObject(w.Crew)...)
	r.workInTime(&s)

	switch {
	// Without a season, or without any hours to give, the table has no section about work.
	case r.closed(), w.HandHours == 0 && (f.Hand() || f.HoursPerHa == 0):
		return s.onlyJSON()
	case w.HandHours == 0: // the area is not known
		s = s.onlyJSON()
		s.Title = "Work"
		s.Say("With the tool", "%.0f km and about %.0f hours a hectare for one person, one way",
			f.WalkKMPerHa, f.HoursPerHa)
	}
	return s
}

// workHours reports the hours of each way of weeding with their ranges. The hours of pulling are included in
// total_hours.
func (r Report) workHours(s *Section) {
	w := r.Work
	if w.Rest != 1 {
		s.Say("Of the rest", "%.0f%% of the plot; a part was weeded on %s", 100*w.Rest, w.PartOn)
		s.Put("rest_share", Round(w.Rest), "part_on", w.PartOn) // share of the plot that the hours are for
	}
	pullWords := func(hours float64) string {
		return "then about " + rangeWords(hours, w.HandPace) + " to pull by hand"
	}
	if w.AlongHours > 0 {
		s.Say("One way", "%.1f km, about %s, %s", w.Rest*r.Fit.WalkKM, rangeWords(w.AlongHours, w.Pace),
			pullWords(w.PullHours))
	}
	low, high := w.Pace.Around(w.AlongHours)
	s.PutSet("along_hours", Round(w.AlongHours), "across_hours", Round(w.AcrossHours),
		"along_low_hours", Round(low), "along_high_hours", Round(high), "pull_hours", Round(w.PullHours))
	if w.BothHours > 0 {
		s.Say("Both ways", "about %s, %s", rangeWords(w.BothHours, w.Pace), pullWords(w.PullBothHours))
	}
	s.PutSet("both_hours", Round(w.BothHours), "pull_both_hours", Round(w.PullBothHours))
	s.Say("All by hand", "about %s, %s a season", rangeWords(w.HandHours, w.HandPace),
		roundsWords(r.Costs.RoundsLow, r.Costs.RoundsHigh))
	low, high = w.HandPace.Around(w.HandHours)
	s.PutSet("hand_hours", Round(w.HandHours), "hand_low_hours", Round(low), "hand_high_hours", Round(high))
	s.Say("In brackets", "what eight of ten such weedings take")
}

// workInTime says when to start so that the work ends inside the window, or what to do instead.
func (r Report) workInTime(s *Section) {
	w := r.Work
	switch {
	case w.StartBy != 0:
		s.Say("Start by", "%s", r.startWords(w.Crew))
	case w.Instead != engine.NoAlternative:
		s.Say("Too long", "the window has %s, and by %s about %.0f%% gets done", Count(w.WindowDays, "day", "days"),
			Date(r.Next.Closes), math.Floor(100*w.Share))
		s.Say("Do instead", "%s", r.insteadWords())
	}
	s.PutSet("window_days", w.WindowDays)
	if w.Fits || w.Instead != engine.NoAlternative { // the plot has a next window
		s.Put("fits", w.Fits, "done_share", Round(w.Share)) // done_share: weeded when the window closes
	}
	if w.Instead != engine.NoAlternative {
		var o Object
		o.Put("what", w.Instead)
		s.Put("instead", append(o, crewObject(w.Then)...))
	}
}

// crewObject has people, tools and days of a way to weed. most_days are enough in nine of ten cases.
func crewObject(c engine.Crew) (o Object) {
	o.Put("do", c.Do, "people", c.People)
	o.PutSet("tools", c.Tools, "tool_share", Round(c.ToolShare), "days", c.Days, "most_days", c.MostDays,
		"start_by", c.StartBy)
	return o
}

// crewWords says how to weed, with how many people and tools, and in how many days.
func (r Report) crewWords(c engine.Crew) string {
	with := Count(c.People, "person", "people")
	if c.Tools > 0 {
		with += " and " + Count(c.Tools, "tool", "tools")
	}
	words := doWords(c.Do)
	if c.ToolShare > 0 && c.ToolShare < 1 {
		words = fmt.Sprintf("one way on about %.0f%% of the plot, on the same days the rest by hand", 100*c.ToolShare)
	}
	words += fmt.Sprintf(": about %s for %s, %g hours a day", Count(c.Days, "day", "days"), with, r.Work.HoursADay)
	if c.MostDays > c.Days {
		words += fmt.Sprintf("; nine times in ten at most %d", c.MostDays)
	}
	return words
}

// startWords says on which day to start at the latest, and how sure the end is.
func (r Report) startWords(c engine.Crew) string {
	if c.MostDays > r.Work.WindowDays {
		return fmt.Sprintf("%s, at once: the work may take longer than the window", Date(c.StartBy))
	}
	return Date(c.StartBy) + ": then nine times in ten the work ends inside the window"
}

// insteadWords says what to do if the work takes longer than the window.
func (r Report) insteadWords() string {
	w := r.Work
	if w.Instead == engine.ByHandRest {
		words := "begin where the weeds are worst, and pull the rest by hand after the window"
		if w.Then.Do != w.Do {
			words = "one way only: " + words
		}
		return words
	}
	words := r.crewWords(w.Then) + "; start by " + r.startWords(w.Then)
	if w.Instead == engine.HandsBeside {
		words += ", with the tools where the weeds are worst"
	}
	return words
}

func paceWords(p engine.Pace) string {
	if p.Logged == 0 {
		return "the usual; log hours and people, and it becomes your own"
	}
	return fmt.Sprintf("your own, %.2g times the usual hours, from %s "+
		"(eight in ten such weedings take %.2g to %.2g times)",
		p.Factor, Count(p.Logged, "weeding", "weedings"), p.Low, p.High)
}

func paceObject(p engine.Pace) (o Object) {
	o.Put("factor", Round(p.Factor), "logged", p.Logged, "low", Round(p.Low), "high", Round(p.High))
	return o
}

func doWords(do engine.Advice) string {
	switch do {
	case engine.WeedBoth:
		return "along and across"
	case engine.WeedOneWay:
		return "one way, then pull by hand"
	}
	return "by hand"
}
