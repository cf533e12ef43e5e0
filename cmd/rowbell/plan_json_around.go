package main

import (
	"rowbell/engine"
)

// The JSON of water, work, costs, risk, the season so far and the heat. As in
// planOut each figure's name ends in its unit: _mm, _m3, _hours, _per_ha,
// _pct; _money is in costs.currency. A figure that was not told or cannot be
// given is left out; 0 is a figure.
type planWaterOut struct {
	DepthMM     float64  `json:"depth_mm"`                // standing today
	From        string   `json:"from"`                    // day on which the balance starts
	FromSeen    bool     `json:"from_seen"`               // it starts from what was seen
	NeedMM      float64  `json:"need_mm"`                 // wanted for a pass
	LeastMM     float64  `json:"least_mm"`                // the least for a pass
	ShortOn     string   `json:"short_on,omitempty"`      // first day with less than that, in the days looked at
	On          string   `json:"on"`                      // day on which the water is needed
	OnDepthMM   float64  `json:"on_depth_mm"`             // standing then, if nothing is let in
	BringMM     float64  `json:"bring_mm"`                // to let in then
	BringM3     *float64 `json:"bring_m3,omitempty"`      // the same on this plot
	BringLitres *float64 `json:"bring_litres,omitempty"`  // the same
	Inflow      *float64 `json:"inflow_hours,omitempty"`  // time that it takes
	InletWeak   *bool    `json:"inlet_is_weak,omitempty"` // the inlet cannot do it
	ETcMM       float64  `json:"crop_takes_mm_per_day"`
	LossMM      float64  `json:"ground_takes_mm_per_day"`
}

func planWaterJSON(p planned) planWaterOut {
	w := p.Water
	out := planWaterOut{
		DepthMM: planRound(w.DepthMM), From: w.From.String(), FromSeen: w.FromSeen, NeedMM: w.NeedMM, LeastMM: w.LeastMM,
		ShortOn: planSometimes(w.ShortOn), On: w.On.String(), OnDepthMM: planRound(w.OnDepthMM), BringMM: planRound(w.BringMM),
		ETcMM: planRound(w.ETcMM), LossMM: planRound(w.LossMM),
	}
	if p.season.Plot.AreaM2 > 0 {
		out.BringM3, out.BringLitres = planKnown(w.M3), planKnown(w.Litres)
		if p.season.Plot.InflowLS > 0 {
			out.InletWeak = &w.InletWeak
			if !w.InletWeak {
				out.Inflow = planKnown(w.InflowHours)
			}
		}
	}
	return out
}

type planWorkOut struct {
	Along     float64      `json:"along_hours,omitempty"` // person-hours with the tool, one way
	Across    float64      `json:"across_hours,omitempty"`
	Both      float64      `json:"both_hours,omitempty"`
	Low       float64      `json:"along_low_hours,omitempty"` // what a pass along may take
	High      float64      `json:"along_high_hours,omitempty"`
	Pull      float64      `json:"pull_hours,omitempty"` // by hand after one way
	PullBoth  float64      `json:"pull_both_hours,omitempty"`
	Hand      float64      `json:"hand_hours,omitempty"` // all by hand
	Pace      planPaceOut  `json:"pace"`
	HandPace  planPaceOut  `json:"hand_pace"`
	People    int          `json:"people"`
	HoursADay float64      `json:"hours_per_day"`
	Do        string       `json:"do"`
	OneWay    string       `json:"one_way,omitempty"`     // which way a single pass goes
	Total     float64      `json:"total_hours,omitempty"` // person-hours of do, pulling included
	Days      int          `json:"days,omitempty"`        // that do takes
	StartBy   string       `json:"start_by,omitempty"`
	Fits      *bool        `json:"fits,omitempty"`       // do ends inside the window
	Share     *float64     `json:"done_share,omitempty"` // part of the plot done by then
	Instead   *planInstOut `json:"instead,omitempty"`    // where it does not fit
}

type planPaceOut struct {
	Factor float64 `json:"factor"` // own hours to the usual
	Logged int     `json:"logged"` // passes that it rests on
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
}

type planInstOut struct {
	What   string `json:"what"`
	Do     string `json:"do"`
	People int    `json:"people,omitempty"`
}

func planWorkJSON(w engine.Work) planWorkOut {
	pace := func(p engine.Pace) planPaceOut {
		return planPaceOut{planRound(p.Factor), p.Logged, planRound(p.Low), planRound(p.High)}
	}
	out := planWorkOut{
		Along: planRound(w.AlongHours), Across: planRound(w.AcrossHours), Both: planRound(w.BothHours),
		Low: planRound(w.LowHours), High: planRound(w.HighHours), Pull: planRound(w.PullHours), PullBoth: planRound(w.PullBothHours),
		Hand: planRound(w.HandHours), Pace: pace(w.Pace), HandPace: pace(w.HandPace), People: w.People, HoursADay: w.HoursADay,
		Do: w.Do.String(), Total: planRound(w.Total()), Days: w.Days, StartBy: planSometimes(w.StartBy),
	}
	if w.OneWay != engine.WayUnknown {
		out.OneWay = w.OneWay.String()
	}
	if w.Fits || w.Instead != engine.NoAlternative { // it was set against a window
		out.Fits, out.Share = &w.Fits, planKnown(w.Share)
	}
	if w.Instead != engine.NoAlternative {
		out.Instead = &planInstOut{w.Instead.String(), w.InsteadDo.String(), w.NeedPeople}
	}
	return out
}

type planCostsOut struct {
	Currency   string           `json:"currency,omitempty"`
	Ways       []planCostOut    `json:"ways"` // of which anything is known
	Cheapest   string           `json:"cheapest,omitempty"`
	ToolPrice  float64          `json:"tool_money,omitempty"`
	SharePrice float64          `json:"share_money,omitempty"` // of one household
	Sharers    int              `json:"sharers"`
	HireDays   int              `json:"hire_days,omitempty"`
	FamilyDay  float64          `json:"family_day_money,omitempty"`
	AtWage     bool             `json:"family_at_wage"`
	Own        *planTurningsOut `json:"own_tool_cheaper,omitempty"` // on which areas
	Share      *planTurningsOut `json:"share_cheaper,omitempty"`
	OwnPays    float64          `json:"own_tool_pays_back_seasons,omitempty"`
	SharePays  float64          `json:"share_pays_back_seasons,omitempty"`
	Note       string           `json:"herbicide_note,omitempty"`
}

type planCostOut struct {
	Way    string   `json:"way"`
	Hours  float64  `json:"work_hours,omitempty"`
	Cash   *float64 `json:"cash_money,omitempty"`   // to others
	Season *float64 `json:"season_money,omitempty"` // with the family's work
	PerHa  *float64 `json:"money_per_ha,omitempty"`
}

type planTurningsOut struct {
	Hand    *planTurningOut `json:"than_hand,omitempty"`
	Hire    *planTurningOut `json:"than_hire,omitempty"`
	Service *planTurningOut `json:"than_service,omitempty"`
	All     *planTurningOut `json:"than_all,omitempty"`
}

type planTurningOut struct {
	When string  `json:"when"` // always, from, never
	Ha   float64 `json:"from_ha,omitempty"`
}

func planCostsJSON(p planned) planCostsOut {
	c := p.Costs
	out := planCostsOut{
		Currency: p.season.Local.Prices.Currency, Ways: []planCostOut{}, ToolPrice: planRound(c.ToolPrice), SharePrice: planRound(c.SharePrice), Sharers: c.Sharers,
		HireDays: c.HireDays, FamilyDay: planRound(c.FamilyDay), AtWage: c.AtWage,
		Own: planTurningsJSON(c.Own), Share: planTurningsJSON(c.Share), OwnPays: planRound(c.OwnPaysBack), SharePays: planRound(c.SharePaysBack),
	}
	if c.Cheapest != engine.BuyingUnknown {
		out.Cheapest = c.Cheapest.String()
	}
	for _, x := range c.All {
		if x.Hours == 0 && !x.CashKnown {
			continue
		}
		way := planCostOut{Way: x.Way.String(), Hours: planRound(x.Hours)}
		if x.CashKnown {
			way.Cash = planKnown(x.Cash)
		}
		if x.Known {
			way.Season = planKnown(x.Season)
			if p.season.Plot.AreaM2 > 0 {
				way.PerHa = planKnown(x.PerHa)
			}
		}
		if x.Way == engine.HerbicideOption {
			out.Note = planHerbicideNote
		}
		out.Ways = append(out.Ways, way)
	}
	return out
}

func planTurningsJSON(t engine.BreakEvenAreas) *planTurningsOut {
	if t == (engine.BreakEvenAreas{}) {
		return nil
	}
	one := func(t engine.BreakEvenArea) *planTurningOut {
		if t.When == engine.AreaUnknown {
			return nil
		}
		return &planTurningOut{t.When.String(), planRound(t.Ha)}
	}
	return &planTurningsOut{one(t.Hand), one(t.Hire), one(t.Service), one(t.All)}
}

// planRiskNote goes with every figure of what waiting may cost.
const planRiskNote = "a range from other fields, no promise"

type planRiskOut struct {
	Level     string  `json:"level"`
	LowPct    float64 `json:"loss_low_pct"`
	HighPct   float64 `json:"loss_high_pct"`
	BoundPct  float64 `json:"loss_bound_pct"` // without the rice's head start
	Critical  bool    `json:"critical"`       // in the critical period
	WeedsLow  float64 `json:"weeds_low_per_m2"`
	WeedsHigh float64 `json:"weeds_high_per_m2"`
	HeadStart int     `json:"head_start_days"`
	Score     float64 `json:"score"` // ranks plots
	Note      string  `json:"note"`
}

func planRiskJSON(r engine.Risk) planRiskOut {
	return planRiskOut{r.Level.String(), planRound(r.LowPct), planRound(r.HighPct), planRound(r.BoundPct), r.Critical,
		planRound(r.WeedsPerM2Low), planRound(r.WeedsPerM2High), r.HeadStartDays, planRound(r.Score), planRiskNote}
}

type planSummaryOut struct {
	Passes    int      `json:"passes"`
	ByHand    int      `json:"by_hand"`
	InWindow  int      `json:"in_window"`
	First     string   `json:"first"`
	Last      string   `json:"last"`
	Hours     *float64 `json:"hours,omitempty"`       // person-hours of the passes that told them
	Logged    int      `json:"passes_with_hours"`     // how many did
	Rounds    int      `json:"rounds"`                // times the plot was gone over
	HandHours *float64 `json:"hand_hours,omitempty"`  // of as many rounds by hand
	Saved     *float64 `json:"saved_hours,omitempty"` // below 0: the tool took longer
	Cost      *float64 `json:"cost_money,omitempty"`  // work at the family\'s day, and the tool\'s share of its years
}

func planSummaryJSON(s engine.Summary) *planSummaryOut {
	if s.Passes == 0 {
		return nil
	}
	out := &planSummaryOut{Passes: s.Passes, ByHand: s.ByHand, InWindow: s.InWindow, First: s.FirstDay.String(), Last: s.LastDay.String(),
		Logged: s.LoggedHours, Rounds: s.Rounds}
	if s.LoggedHours > 0 {
		out.Hours = planKnown(s.Hours)
	}
	if s.HandHours > 0 {
		out.HandHours = planKnown(s.HandHours)
	}
	if s.Cost > 0 {
		out.Cost = planKnown(s.Cost)
	}
	if s.SavedHours != 0 {
		out.Saved = planKnown(s.SavedHours)
	}
	return out
}

type planHeatOut struct {
	WBGTC float64 `json:"wbgt_c"`
	Work  string  `json:"work"`
	Men   int     `json:"men_minutes_per_hour"`
	Women int     `json:"women_minutes_per_hour"`
	Note  string  `json:"note"`
}

func planHeatJSON(p planned) *planHeatOut {
	if p.wbgt == nil {
		return nil
	}
	work, _ := planLabour(p.Fit)
	return &planHeatOut{*p.wbgt, work.String(), planWorkMinutes(*p.wbgt, work.MenW()), planWorkMinutes(*p.wbgt, work.WomenW()),
		"instrument only; ask your health worker"}
}

// planKnown is a figure that is there, 0 or not.
func planKnown(x float64) *float64 {
	x = planRound(x)
	return &x
}
