package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rowbell/engine"
)

// This file has the sections of the report about the plot, its windows and the end of its season.

// Title describes the plot, for the heading of a picture.
func (r Report) Title() string { return plotWords(r.Season.Plot) }

// Note is the sentence below the title of a picture: the day and the state of the plot.
func (r Report) Note() string {
	return fmt.Sprintf("On %s, day %d: %s.", Date(r.On), r.day(r.On), stateWords(r.Plan))
}

// day returns the days from planting to d.
func (r Report) day(d engine.Day) int { return int(d - r.Season.Plot.Planted) }

func (r Report) closed() bool { return r.State == engine.Closed }

func (r Report) plot() (s Section) {
	s.Say("Plot", "%s", plotWords(r.Season.Plot))
	s.Say("Tool", "%s", fitWords(r.Season, r.Fit))
	s.Put("fit", fitObject(r.Fit))
	s.Say("Today", "%s, day %d after planting", Date(r.On), r.day(r.On))
	s.Put("on", r.On, "days_after_planted", r.day(r.On))
	s.Say("State", "%s", stateWords(r.Plan))
	s.Put("state", r.State)
	if r.Weeded > 0 {
		s.Say("Weeded", "%.0f%% of the plot, the rest is due", 100*r.Weeded)
	}
	s.PutSet("weeded_share", Round(r.Weeded)) // weeded already in the next window
	if !r.Fit.Hand() && !r.closed() {
		s.Say("Weeds", "%s", weedWords(r.Plan))
	}
	s.Put("weed_leaves", Round(r.WeedLeaves))
	kept := r.Season.KeptChance(r.On)
	if !r.Fit.Hand() && !r.closed() {
		s.Say("Ground", "kept under water with a chance of %.0f%%, %s", 100*kept, keptFrom(r.Season))
	}
	s.Put("kept_chance_share", Round(kept))
	s.Say("Crop", "shades %.0f%% of the ground (by the model)", 100*r.Shade)
	s.Put("crop_shade_share", Round(r.Shade), "passes", r.Passes)
	return s
}

func fitObject(f engine.Fit) (o Object) {
	o.Put("verdict", f.Verdict)
	o.PutSet("width_cm", Round(f.WidthCM), "clearance_cm", Round(f.ClearanceCM),
		"smallest_row_cm", Round(f.SmallestRowCM), "largest_row_cm", Round(f.LargestRowCM))
	o.Put("square", f.Square, "cross_fits", f.CrossFits)
	o.PutSet("swept_once_share", Round(f.SweptOnce), "swept_crossed_share", Round(f.SweptCrossed),
		"hills_per_m2", Round(f.HillsPerM2), "walk_km_per_ha", Round(f.WalkKMPerHa), "walk_km", Round(f.WalkKM),
		"hours_per_ha", Round(f.HoursPerHa), "hours", Round(f.Hours), "hours_crossed", Round(f.HoursCrossed))
	return o
}

// windows lists the next window and the later ones. "later" assumes weeding on each best day. If the grower was told
// other days, "moved" has the newly computed days of the next window.
func (r Report) windows() (s Section) {
	later := []Object{}
	for _, w := range r.Later {
		later = append(later, windowObject(w))
	}
	var next any // null in the JSON if there is no further window
	if r.Next.Exists() {
		next = windowObject(r.Next)
	}
	s.Put("next", next, "later", later)
	if r.Moved.Exists() {
		s.Put("moved", windowObject(r.Moved))
	}
	if !r.Next.Exists() {
		s.Line("No further window.")
		return s
	}
	s.Line("Window\tOpens\tBest\tCloses\tDays\tChance\tLook on\tWith\tWhy")
	for i, w := range append([]engine.Window{r.Next}, r.Later...) {
		name, why := fmt.Sprint(w.Number), whyWords(w.Why)
		if i > 0 {
			name = "about " + name
			why += ", if the plan is kept"
		}
		chance, look := "-", "-"
		if w.Chance > 0 {
			chance = fmt.Sprintf("%.0f%%", 100*w.Chance)
		}
		if w.AsksLook() && w.AskOn >= r.On {
			look = ShortDate(w.AskOn)
		}
		s.Line(fmt.Sprintf("%s\t%s\t%s\t%s\t%d-%d\t%s\t%s\t%s\t%s", name, ShortDate(w.Opens), ShortDate(w.Best),
			ShortDate(w.Closes), r.day(w.Opens), r.day(w.Closes), chance, look, w.With, why))
	}
	if r.Next.With == engine.ByTool {
		s.Align()
		s.Line("Chance: that most weeds have two to four leaves on the best day.")
	}
	switch {
	case r.Next.Why == engine.WhySeenBig || !r.Next.Guess():
	case r.tooBigByThen():
		s.Line("By then most weeds are probably too big for the tool. Look at them, and pull them by hand before.")
	default:
		s.Line("The days are a guess. Look at the weeds between the rows, and tell it with --saw.")
	}
	return s
}

// tooBigByThen reports whether most weeds are probably too big already when the plants stand firm enough for the tool.
func (r Report) tooBigByThen() bool {
	const middle = (engine.WindowOpensLeaves + engine.WindowClosesLeaves) / 2
	w := r.Next
	return w.Why != engine.WhyManyLeft && w.Chance < engine.GuessChance && r.Season.WeedLeaves(w.Best) > middle
}

func windowObject(w engine.Window) (o Object) {
	o.Put("number", w.Number)
	o.PutSet("edition", w.Edition) // number of sightings of weeds since the last pass
	o.Put("opens", w.Opens, "best", w.Best, "closes", w.Closes, "with", w.With, "why", w.Why)
	// The chance is that of the day best. The day look_on may be after the day opens; then there is no text before it.
	o.PutSet("chance_share", Round(w.Chance), "look_on", w.AskOn, "seen_on", w.SeenOn)
	o.Put("guess", w.Guess())
	return o
}

// end adds the last day of the tool and the weather of the plan.
func (r Report) end() (s Section) {
	c := r.Closure
	name := "Last tool day"
	if r.Fit.Hand() {
		name = "Last weeding"
	}
	s.Say(name, "%s, day %d: %s", Date(c.LastToolDay), r.day(c.LastToolDay), c.Why)
	s.Put("last_tool_day", c.LastToolDay, "last_tool_day_why", c.Why)
	s.PutSet("rows_close", c.RowsClose, "plants_big", c.PlantsBig, "pull_until", c.PullUntil)
	s.Put("panicle_starts", c.PanicleStarts)
	if !r.Fit.Hand() && !r.closed() {
		s.Say("Ends", "%s", r.endsWords())
		if c.PullUntil != 0 {
			s.Say("After it", "pull weeds by hand before they seed, until %s, day %d: the rows are open, and the "+
				"critical period lasts", Date(c.PullUntil), r.day(c.PullUntil))
		}
	}
	s.handWeedings(r)
	s.Say("Reckoned with", "%s", r.Weather)
	s.Put("weather", r.Weather, "latitude_deg", r.Season.Weather.LatitudeDeg)
	if r.LookAgain != 0 {
		s.Say("Plan again", "%s", Date(r.LookAgain))
	}
	s.PutSet("look_again", r.LookAgain)
	return s
}

// endsWords lists, in order of day, what ends the work with the tool. Whichever is first ends it.
func (r Report) endsWords() string {
	type end struct {
		on  engine.Day
		why engine.EndWhy
	}
	c := r.Closure
	ends := []end{{c.RowsClose, engine.EndRowsClose}, {c.PlantsBig, engine.EndPlantsBig},
		{c.PanicleStarts, engine.EndPanicle}}
	slices.SortStableFunc(ends, func(a, b end) int { return cmp.Compare(a.on, b.on) })
	words := make([]string, len(ends))
	for i, e := range ends {
		words[i] = fmt.Sprintf("%s about %s, day %d", e.why, ShortDate(e.on), r.day(e.on))
	}
	return strings.Join(words, "; ")
}

// handWeedings adds the published days of hand-weeding sown rice, because the tool comes later to sown rice than hands.
func (s *Section) handWeedings(r Report) {
	p := r.Season.Plot
	if p.Method != engine.RowSown || r.closed() {
		return
	}
	s.Say("Hand weedings", "published for sown rice: day %d to %d, %d to %d and %d to %d after sowing",
		engine.HandFirstFrom, engine.HandFirstTo, engine.HandSecondDASFrom, engine.HandSecondDASTo,
		engine.HandThirdDASFrom, engine.HandThirdDASTo)
	days := []Object{}
	for _, span := range [][2]engine.Day{{engine.HandFirstFrom, engine.HandFirstTo},
		{engine.HandSecondDASFrom, engine.HandSecondDASTo}, {engine.HandThirdDASFrom, engine.HandThirdDASTo}} {
		var o Object
		o.Put("from", p.Planted+span[0], "to", p.Planted+span[1])
		days = append(days, o)
	}
	s.Put("published_hand_weedings", days)
}

// cautions lists the usual warnings to growers.
func (r Report) cautions() Section {
	if r.closed() {
		return Section{}
	}
	s := Section{Title: "Take care"}
	if !r.Fit.Hand() {
		s.Line("Keep fingers off the turning teeth; lift the tool by its handle.")
	}
	s.Line("Work in the cool hours, drink often, rest in the shade, stop if dizzy. " +
		"No work in lightning or deep water.")
	s.Line("Cover cuts, wear shoes where you can, wash after wading; " +
		"for fever after it see a health worker and say that you work in rice fields.")
	return s
}

// keptFrom says from what the chance follows that the ground is kept under water.
func keptFrom(s engine.Season) string {
	told := map[engine.Flood]string{engine.FloodUnknown: "as nothing was told",
		engine.FloodKept: "as water always stands there", engine.FloodOnOff: "as water comes and goes",
		engine.FloodMoist: "as it is only wet"}[s.Plot.Flood]
	if slices.ContainsFunc(s.Sightings, func(x engine.Sighting) bool { return x.Water != engine.StandsUnknown }) {
		return told + ", and by the water that was seen"
	}
	return told
}

func plotWords(p engine.Plot) string {
	planted := map[engine.Method]string{
		engine.Transplanted: "Transplanted", engine.RowSown: "Sown in rows", engine.Broadcast: "Scattered"}
	words := []string{planted[p.Method] + " " + Date(p.Planted)}
	switch {
	case p.Method == engine.Broadcast:
	case p.HillSpacingCM > 0:
		words = append(words, fmt.Sprintf("rows %g cm, plants %g cm", p.RowSpacingCM, p.HillSpacingCM),
			fmt.Sprintf("%.3g hills/m2", p.HillsPerM2()))
	default:
		words = append(words, fmt.Sprintf("rows %g cm", p.RowSpacingCM))
	}
	if p.AreaM2 > 0 {
		words = append(words, fmt.Sprintf("%.10g m2", p.AreaM2))
	}
	return strings.Join(words, ", ")
}

func fitWords(s engine.Season, f engine.Fit) string {
	row, tool, set := s.Plot.RowSpacingCM, fmt.Sprintf("%g cm", s.Tool.WidthCM), ""
	if s.Tool.Adjustable() {
		tool = fmt.Sprintf("%g to %g cm", s.Tool.WidthCM, s.Tool.MaxWidthCM)
		set = fmt.Sprintf("set to %g cm, ", f.WidthCM)
	}
	swept := ""
	switch {
	case f.CrossFits:
		swept = fmt.Sprintf("; may go across too and then sweeps %.0f%% of the ground, one way %.0f%%",
			100*f.SweptCrossed, 100*f.SweptOnce)
	case f.SweptOnce > 0:
		swept = fmt.Sprintf("; one way only, sweeps %.0f%% of the ground", 100*f.SweptOnce)
	}
	switch f.Verdict {
	case engine.FitGood:
		return fmt.Sprintf("%s: fits, %s%.3g cm free on each side%s", tool, set, f.ClearanceCM, swept)
	case engine.FitLoose:
		return fmt.Sprintf("%s: passes, %sbut leaves %.3g cm on each side to pull by hand%s",
			tool, set, f.ClearanceCM, swept)
	case engine.FitTooWide:
		return fmt.Sprintf("%s: too wide for rows of %g cm, it needs %g cm; weed by hand", tool, row, f.SmallestRowCM)
	case engine.FitNoRows:
		return "no rows for a tool; weed by hand"
	}
	if widest := row - 2*engine.SideClearanceCM; widest >= engine.MinToolCM {
		return fmt.Sprintf("none yet; up to %g cm wide fits these rows", widest)
	}
	return "none yet, and the rows are too narrow for one"
}

// stateWords says what the grower should do now.
func stateWords(p engine.Plan) string {
	w := p.Next
	hand := p.Fit.Hand()
	switch p.State {
	case engine.TooEarly:
		if w.AsksLook() {
			return fmt.Sprintf("too early, look at the weeds on %s", Date(w.AskOn))
		}
		return "too early, the window opens on " + Date(w.Opens)
	case engine.Prepare:
		if hand {
			return "get ready to weed by hand from " + Date(w.Opens)
		}
		if w.AsksLook() && p.On >= w.AskOn {
			return fmt.Sprintf("look at the weeds: most have no leaf yet, one, two or three, or more? "+
				"The window opens about %s: have 3 to 5 cm of water then", Date(w.Opens))
		}
		return fmt.Sprintf("get ready, the window opens on %s: have 3 to 5 cm of water and try the tool on a strip",
			Date(w.Opens))
	case engine.Open, engine.LastDays:
		words := "weed now"
		if p.State == engine.LastDays {
			words = "last days, weed now"
		}
		if w.Guess() {
			words += " if most weeds have two or three leaves"
		}
		words += ", until " + Date(w.Closes)
		if !hand {
			words += ", in 3 to 5 cm of water"
		}
		if w.SeenOn == w.Closes && w.Opens == w.Closes { // the grower saw four leaves or more on this day
			words += "; pull the bigger ones by hand"
		}
		return words
	case engine.Missed:
		if hand {
			return fmt.Sprintf("the usual days ended on %s: weed as soon as you can", Date(w.Closes))
		}
		if w.SeenOn == 0 {
			return fmt.Sprintf("missed by the clocks, the window closed on %s: look, weed today if most weeds have "+
				"two or three leaves, pull bigger ones by hand", Date(w.Closes))
		}
		return "missed, weeds are too big for the tool: pull them by hand now"
	case engine.FollowUp:
		if w.Exists() {
			return "just weeded: pull what stands in the rows; the next window opens on " + Date(w.Opens)
		}
		return "no further pass: pull what stands in the rows"
	}
	if p.Pulls() {
		return "closed for the tool: pull weeds by hand before they seed, until " + Date(p.Closure.PullUntil)
	}
	return "closed, the work is over"
}

func weedWords(p engine.Plan) string {
	switch {
	case p.WeedLeaves <= 0:
		return "most are not up yet (by the model)"
	case p.WeedLeaves >= engine.WindowClosesLeaves:
		return fmt.Sprintf("past %g leaves on most (by the model)", engine.WindowClosesLeaves)
	}
	return fmt.Sprintf("about %.1f leaves on most (by the model)", p.WeedLeaves)
}

func whyWords(w engine.Why) string {
	switch w {
	case engine.WhyWeedClock:
		return "two to four leaves by the heat since puddling"
	case engine.WhyRegrowth:
		return "two to four leaves again by the heat since the pass"
	case engine.WhyManyLeft:
		return fmt.Sprintf("many were left: again in %d to %d days", engine.AgainOpensDays, engine.AgainClosesDays)
	case engine.WhyAnchored:
		return "sown rice has three leaves and stands firm"
	case engine.WhySeen:
		return "from the leaves that were seen"
	case engine.WhySeenBig:
		return "weeds were seen past four leaves"
	}
	return w.String()
}
