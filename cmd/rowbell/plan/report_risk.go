package plan

import (
	"fmt"
	"strings"

	"rowbell/engine"
)

// risk says how much of the harvest may be lost without weeding.
func (r Report) risk() Section {
	s := Section{Title: "Risk of waiting (" + RiskNote + ")", Key: "risk"}
	k := r.Risk
	s.Say("Level", "%s", k.Level)
	s.Put("level", k.Level)
	s.Say("Harvest", "weeds left for good may cost about %s of it", Percents(k.LowPct, k.HighPct))
	s.Put("loss_low_pct", Round(k.LowPct), "loss_high_pct", Round(k.HighPct))
	if k.BoundPct > k.HighPct+1 {
		s.Say("At the worst", "about %.0f%%, had the weeds come up together with the rice", k.BoundPct)
	}
	s.Put("loss_bound_pct", Round(k.BoundPct)) // the loss if the weeds had come up together with the rice
	period, now := engine.CriticalPeriodOf(r.Season.Plot.Method), "not now"
	if k.Critical {
		now = "now"
	}
	s.Say("Critical period", "%s: day %d to %d after planting", now, period.From, period.To)
	s.Put("critical", k.Critical, "weeds_low_per_m2", Round(k.WeedsPerM2Low),
		"weeds_high_per_m2", Round(k.WeedsPerM2High), "head_start_days", k.HeadStartDays)
	s.Put("score", Round(k.Score), "note", RiskNote) // grows until the weeds are too big
	if r.closed() {
		return s.onlyJSON()
	}
	return s
}

// minWBGTC and maxWBGTC are the range of an instrument for heat at work, in °C WBGT (common practice, no source).
const minWBGTC, maxWBGTC = 10, 45

// heat says how many minutes of an hour a person may work at the measured wet bulb globe temperature (WBGT).
func (r Report) heat() Section {
	if r.WBGTC == nil {
		return Section{}
	}
	s := Section{Title: "Heat (by instrument only; ask your health worker)", Key: "heat"}
	work, words := engine.PushingRotary, "pushing the rotary weeder"
	if r.Fit.Hand() {
		work, words = engine.PullingByHand, "weeding by hand"
	}
	// The minutes are rounded down, so that nobody works too long.
	men := int(60 * engine.HeatShare(*r.WBGTC, work.MenW()))
	women := int(60 * engine.HeatShare(*r.WBGTC, work.WomenW()))
	s.Say(fmt.Sprintf("At %g °C WBGT", *r.WBGTC), "%s, a man used to the heat may work about %d minutes of an hour, "+
		"a woman about %d; the rest of it in the shade", words, men, women)
	s.Put("wbgt_c", *r.WBGTC, "work", work, "men_minutes_per_hour", men, "women_minutes_per_hour", women)
	s.Say("Trust", "the work was measured on a few people; such figures err by up to 30%%. "+
		"Stop before you are dizzy, whatever they say")
	s.Put("note", "instrument only; ask your health worker")
	if r.closed() {
		return s.onlyJSON()
	}
	return s
}

func (r Report) soFar() Section {
	m := r.Summary
	if m.Passes == 0 {
		return Section{}
	}
	s := Section{Title: "Season so far", Key: "summary"}
	days, hand := Date(m.FirstDay), ""
	if m.LastDay > m.FirstDay {
		days += " to " + Date(m.LastDay)
	}
	if m.ByHand > 0 {
		hand = fmt.Sprintf(", %d by hand", m.ByHand)
	}
	s.Say("Weeded", "%s, %d in the window%s: %s", Count(m.Passes, "time", "times"), m.InWindow, hand, days)
	s.PutSet("part_share", Round(m.Part)) // weeded of the last pass, whose rest is due
	s.Put("passes", m.Passes, "by_hand", m.ByHand, "in_window", m.InWindow, "first", m.FirstDay, "last", m.LastDay)
	if m.LoggedHours > 0 {
		s.Say("Hours", "%s, of all people together, told for %d of %d", Figures(m.Hours), m.LoggedHours, m.Passes)
		s.Put("hours", Round(m.Hours)) // person-hours, only of the passes with known hours
	}
	s.Put("passes_with_hours", m.LoggedHours, "rounds", m.Rounds)
	if m.Cost > 0 {
		s.Say("Cost", "about %s, with your own work",
			strings.TrimSpace(aboutMoney(m.Cost)+" "+r.Season.Local.Prices.Currency))
		s.Put("cost_money", Round(m.Cost))
	}
	if m.HandHours > 0 {
		s.Say("By hand", "as many rounds would have taken about %s hours", Figures(m.HandHours))
		s.Put("hand_hours", Round(m.HandHours))
	}
	switch {
	case m.SavedHours > 0:
		s.Say("Saved", "about %s hours with the tool", Figures(m.SavedHours))
	case m.SavedHours < 0:
		s.Say("Lost", "about %s hours more with the tool than by hand", Figures(-m.SavedHours))
	}
	s.PutSet("saved_hours", Round(m.SavedHours)) // negative if the tool took longer than weeding by hand
	return s
}
