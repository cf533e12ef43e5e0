package main

import (
	"fmt"
	"math"
	"strings"

	"rowbell/engine"
)

// What has to be decided around a window: the sections of the table below it.
// They are soft ("about") where the engine's figures are.

// water says what stands, and what to let in for the next pass.
func (t planSheet) water(p planned) {
	w := p.Water
	t.section("Water")
	from := "if about 5 cm were kept until now"
	switch {
	case w.FromSeen:
		from = "from what was seen on " + planDate(w.From)
	case p.season.Plot.Flood == engine.FloodMoist:
		from = "as it is not kept under water"
	}
	if p.On >= p.season.Plot.Planted {
		t.item("Today", "about %s, %s", planDepth(w.DepthMM), from)
	} else {
		t.item("At planting", "about %s", planDepth(w.DepthMM))
	}
	if p.Next.Exists() && p.Next.With == engine.ByTool && p.State != engine.Missed {
		if w.ShortOn != 0 && (w.ShortOn > p.On || w.DepthMM < w.LeastMM) {
			t.item("Too little", "%s: under the %s that a pass needs at the least", planFrom(w.ShortOn, p.On), planDepth(w.LeastMM))
		}
		t.item("For the pass", "%s", planLetIn(w, p.On))
	}
	t.item("A day takes", "about %.0f mm into the air, about %.0f mm into the ground", w.ETcMM, w.LossMM)
}

// planLetIn says what to let in, when, and how long it takes.
func planLetIn(w engine.Water, today engine.Day) string {
	words := "today"
	if w.On > today {
		words = fmt.Sprintf("about %s on %s if nothing is let in", planDepth(w.OnDepthMM), planDate(w.On))
	}
	if w.BringMM < planEnoughMM {
		return words + ": enough"
	}
	words += fmt.Sprintf(": let in about %s to have %s", planDepth(w.BringMM), planDepth(w.NeedMM))
	if w.M3 > 0 {
		words += fmt.Sprintf(", %s m3 here", planFigures(w.M3))
	}
	switch {
	case w.InletWeak:
		words += "; the inlet is too weak for it"
	case w.InflowHours > 0:
		words += ", about " + planHours(w.InflowHours)
	}
	return words
}

// planEnoughMM is less water than anybody would let in for a pass.
const planEnoughMM = 5

// work says what the next weeding takes.
func (t planSheet) work(p planned) {
	w, f := p.Work, p.Fit
	switch {
	case w.HandHours == 0 && (f.Hand() || f.HoursPerHa == 0):
		return // neither area nor rows
	case w.HandHours == 0:
		t.section("Work")
		t.item("With the tool", "%.0f km and about %.0f hours a hectare for one person, one way", f.WalkKMPerHa, f.HoursPerHa)
		return
	}
	t.section("Work of one person")
	if w.AlongHours > 0 {
		t.item("One way", "%.1f km, about %s (%s to %s hours), then about %s to pull by hand",
			f.WalkKM, planHours(w.AlongHours), planFigures(w.LowHours), planFigures(w.HighHours), planHours(w.PullHours))
	}
	if w.BothHours > 0 {
		t.item("Both ways", "about %s, then about %s to pull by hand", planHours(w.BothHours), planHours(w.PullBothHours))
	}
	t.item("All by hand", "about %s", planHours(w.HandHours))
	if !f.Hand() {
		t.item("Pace", "%s", planPace(w.Pace))
	}
	if w.HandPace.Logged > 0 || f.Hand() {
		t.item("Pace by hand", "%s", planPace(w.HandPace))
	}
	if p.Next.Exists() || f.Hand() {
		t.item("To do", "%s: about %s for %s", planDo(w), planCount(w.Days, "day", "days"), planTeam(w))
	}
	if w.StartBy != 0 {
		t.item("Start by", "%s, to be done when the window closes", planDate(w.StartBy))
	} else if w.Instead != engine.NoAlternative {
		t.item("Too long", "by %s about %.0f%% gets done; %s", planDate(p.Next.Closes), math.Floor(100*w.Share), planInstead(w))
	}
}

func planPace(p engine.Pace) string {
	if p.Logged == 0 {
		return "the usual; log hours and people, and it becomes your own"
	}
	return fmt.Sprintf("your own, %.2g times the usual hours, from %s (eight in ten such growers take %.2g to %.2g times)",
		p.Factor, planCount(p.Logged, "weeding", "weedings"), p.Low, p.High)
}

// planDo says how to weed.
func planDo(w engine.Work) string {
	switch w.Do {
	case engine.WeedBoth:
		return "along and across"
	case engine.WeedOneWay:
		return "one way, then pull by hand"
	}
	return "by hand"
}

func planTeam(w engine.Work) string {
	return fmt.Sprintf("%s of %g hours a day", planCount(w.People, "person", "people"), w.HoursADay)
}

// planInstead says what else can be done where the work is too long.
func planInstead(w engine.Work) string {
	people := planCount(w.NeedPeople, "person", "people")
	switch w.Instead {
	case engine.MoreHands:
		return "in time with " + people
	case engine.SecondTool:
		return "in time with a second tool and " + people
	case engine.OneWayThenHand:
		return "in time with " + people + " going one way and pulling the rest"
	}
	return "begin where it is worst, and pull the rest by hand afterwards"
}

// risk says what waiting may cost.
func (t planSheet) risk(p planned) {
	r := p.Risk
	t.section("Risk of waiting (a range from other fields, no promise)")
	t.item("Level", "%s", r.Level)
	t.item("Harvest", "weeds left for good may cost about %s of it", planPercents(r.LowPct, r.HighPct))
	if r.BoundPct > r.HighPct+1 {
		t.item("At the worst", "about %.0f%%, had the weeds come up together with the rice", r.BoundPct)
	}
	period := engine.CriticalPeriodOf(p.season.Plot.Method)
	now := "not now"
	if r.Critical {
		now = "now"
	}
	t.item("Critical period", "%s: day %d to %d after planting", now, period.From, period.To)
}

func planPercents(low, high float64) string {
	if math.Round(low) == math.Round(high) {
		return fmt.Sprintf("%.0f%%", high)
	}
	return fmt.Sprintf("%.0f to %.0f%%", low, high)
}

// heat says how long to work where an instrument tells how hot it is.
func (t planSheet) heat(p planned) {
	if p.wbgt == nil {
		return
	}
	work, what := planLabour(p.Fit)
	t.section("Heat (by instrument only; ask your health worker)")
	t.item(fmt.Sprintf("At %g °C WBGT", *p.wbgt), "%s, a man used to the heat may work about %d minutes of an hour, a woman about %d; the rest of it in the shade",
		what, planWorkMinutes(*p.wbgt, work.MenW()), planWorkMinutes(*p.wbgt, work.WomenW()))
	t.item("Trust", "the work was measured on a few people; such figures err by up to 30%%. Stop before you are dizzy, whatever they say")
}

// planLabour is the work that is to be done.
func planLabour(f engine.Fit) (work engine.Labour, words string) {
	if f.Hand() {
		return engine.PullingByHand, "weeding by hand"
	}
	return engine.PushingRotary, "pushing the rotary weeder"
}

// planWorkMinutes of an hour may be worked at so many watts; full minutes, so
// that it errs to the cool side.
func planWorkMinutes(wbgtC, watts float64) int {
	return int(60 * engine.HeatShare(wbgtC, watts))
}

// soFar sums up what was logged.
func (t planSheet) soFar(p planned) {
	s := p.summary
	if s.Passes == 0 {
		return
	}
	t.section("Season so far")
	days := planDate(s.FirstDay)
	if s.LastDay > s.FirstDay {
		days += " to " + planDate(s.LastDay)
	}
	hand := ""
	if s.ByHand > 0 {
		hand = fmt.Sprintf(", %d by hand", s.ByHand)
	}
	t.item("Weeded", "%s, %d in the window%s: %s", planCount(s.Passes, "time", "times"), s.InWindow, hand, days)
	if s.LoggedHours > 0 {
		t.item("Hours", "%s, of all people together, told for %d of %d", planFigures(s.Hours), s.LoggedHours, s.Passes)
	}
	if s.Cost > 0 {
		t.item("Cost", "about %s, with your own work", strings.TrimSpace(planAbout(s.Cost)+" "+p.season.Local.Prices.Currency))
	}
	if s.HandHours > 0 {
		t.item("By hand", "as many rounds would have taken about %s hours", planFigures(s.HandHours))
	}
	if s.SavedHours > 0 {
		t.item("Saved", "about %s hours with the tool", planFigures(s.SavedHours))
	} else if s.SavedHours < 0 {
		t.item("Lost", "about %s hours more with the tool than by hand", planFigures(-s.SavedHours))
	}
}

// planDepth is a depth of water as people tell it: whole centimetres, halves
// below two.
func planDepth(mm float64) string {
	cm := mm / 10
	if cm < 2 {
		return fmt.Sprintf("%g cm", math.Round(2*cm)/2)
	}
	return fmt.Sprintf("%.0f cm", cm)
}

// planFigures keeps two figures, or all before the point: more is not known.
func planFigures(x float64) string {
	if math.Abs(x) >= 10 {
		return fmt.Sprintf("%.0f", x)
	}
	return fmt.Sprintf("%.2g", x)
}

func planCount(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

// planFrom is from a day on, which may be today.
func planFrom(d, today engine.Day) string {
	if d == today {
		return "today"
	}
	return "from about " + planDate(d)
}
