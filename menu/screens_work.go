package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

const (
	fDayHours Field = "dayhours"
	fTools    Field = "tools" // number of tools that the household can use on a day
)

// maxTools is the most tools that a grower may give for one day. A larger number is likely a typing mistake
// (judgement).
const maxTools = 20

// workScreens say how many hours and people the weeding of a plot takes, and how much of the harvest a delay may cost.
// The screens about money are in moneyScreens.
func workScreens() []Screen {
	return []Screen{
		{ID: "work", Rest: true, Ask: "work.ask", Args: plotArgs, Choices: []Choice{
			{Label: "work.hours", To: "work.hours"},
			{Label: "work.days", To: "work.days"},
			{Label: "work.wait", To: "risk"},
			{Label: "work.costs", To: "costs"},
			{Label: "work.hire", To: "hire"},
		}},
		{ID: "work.hours", Rest: true, When: hasArea, Else: "work.no-area", Head: hoursHead},
		{ID: "work.days", Rest: true, When: hasArea, Else: "work.no-area", Head: daysHead, Choices: []Choice{
			{Label: "work.hands", To: "work.people"},
		}},
		{ID: "work.no-area", Rest: true, Ask: "work.no-area",
			Choices: []Choice{{Label: "change.area", To: "change.area"}}},
		{ID: "work.people", Ask: "work.people-ask",
			Typed: &Typed{Read: readPeople, To: "work.tools", Samples: []string{"2", "12"}}},
		{ID: "work.tools", When: pushesTool, Else: "work.dayhours", Ask: "work.tools-ask",
			Typed: &Typed{Read: readWhole(fTools, 1, maxTools), To: "work.dayhours", Samples: []string{"1", "20"}}},
		{ID: "work.dayhours", Ask: "work.dayhours-ask",
			Typed: &Typed{Read: readDayHours, Do: setHands, To: "work.days", Samples: []string{"6", "2h30", "75"}}},
		{ID: "risk", Rest: true, Head: riskHead},
	}
}

func hasArea(c *scene) bool { return c.plot().Plot.AreaM2 > 0 }

// work calculates how many hours and people the next weeding of the plot takes.
func (c *scene) work() (engine.Season, engine.Plan, engine.Work) {
	s, p := c.season(c.s.int(fPlot))
	return s, p, s.Work(c.today(), p.Next)
}

// hoursHead lists how many hours each way of weeding all of the plot takes for one person, as ranges in which eight of
// ten weedings are.
func hoursHead(c *scene) string {
	s, p, w := c.work()
	around := func(hours float64, pace engine.Pace) string {
		low, high := pace.Around(hours / w.Rest)
		return c.numberRange(duration(low), duration(high))
	}
	r := s.WorkHours(p, w)
	args := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot), "along": around(w.AlongHours, w.Pace),
		"both": around(w.BothHours, w.Pace), "pull": around(w.PullHours, w.HandPace),
		"rest": around(w.PullBothHours, w.HandPace), "hand": around(w.HandHours, w.HandPace),
		"rounds": c.numberRange(number(r.RoundsLow), number(r.RoundsHigh))}
	k := text.Key("work.hours-along")
	switch {
	case p.Fit.Hand(), w.Do == engine.WeedByHand:
		k = "work.hours-hand"
	case w.BothHours > 0:
		k = "work.hours-both"
	}
	own := text.Key("work.usual-pace")
	if w.Pace.Logged > 0 || w.HandPace.Logged > 0 {
		own = "work.your-pace"
	}
	return c.t(k, args) + " " + c.t(own, nil)
}

// numberRange writes a range of numbers, or one number if both are written alike.
func (c *scene) numberRange(low, high text.Decimal) string {
	a, b := c.write(low), c.write(high)
	if a == b {
		return a
	}
	return c.t("work.range", text.Args{"from": a, "to": b})
}

// daysHead says whether the household can finish the weeding, or the rest of it, within the window, and what else it
// can do.
func daysHead(c *scene) string {
	s, p, w := c.work()
	head := c.t("work.team-days", text.Args{"plot": c.label(c.s.int(fPlot), s.Plot), "n": w.MostDays,
		"days": c.crewDays(w.Crew), "team": c.crew(w.Crew), "hours": number(w.HoursADay)})
	if w.Rest < 1 {
		head = c.t("work.rest", nil) + " " + head
	}
	switch {
	case !p.Next.Exists(), c.today() > p.Next.Closes, p.Next.Why == engine.WhySeenBig:
		return head
	case w.Fits && w.MostDays > w.WindowDays:
		return head + " " + c.t("work.start-tight", text.Args{"start": c.date(w.StartBy)})
	case w.Fits:
		return head + " " + c.t("work.start", text.Args{"start": c.date(w.StartBy)})
	}
	head += " " + c.t("work.too-long", text.Args{"n": w.WindowDays})
	args := text.Args{"team": c.crew(w.Then), "share": whole(100 * w.Then.ToolShare), "done": whole(100 * w.Share),
		"n": w.Then.MostDays, "days": c.crewDays(w.Then), "start": c.date(w.Then.StartBy)}
	head += " " + c.t(text.Key("work.instead."+insteadKey(w)), args)
	if w.Instead == engine.ByHandRest {
		return head
	}
	then := text.Key("work.then")
	if w.Then.MostDays > w.WindowDays {
		then = "work.then-tight"
	}
	return head + " " + c.t(then, args)
}

// crewDays writes the days that the work takes: half of the weedings, and nine of ten, are done by then.
func (c *scene) crewDays(w engine.Crew) string {
	return c.numberRange(whole(float64(w.Days)), whole(float64(w.MostDays)))
}

// crew writes "2 people", or "10 people, 3 weeders".
func (c *scene) crew(w engine.Crew) string {
	if w.Tools > 1 {
		return c.t("work.crew-tools", text.Args{"n": w.People, "tools": w.Tools})
	}
	return c.t("work.crew", text.Args{"n": w.People})
}

func insteadKey(w engine.Work) string {
	switch {
	case w.Instead == engine.ByHandRest && w.Then.Do != w.Do:
		return "rest-one-way"
	case w.Instead == engine.ByHandRest:
		return "rest-by-hand"
	case w.Instead == engine.HandsBeside:
		return "beside"
	case w.Then.Do != engine.WeedOneWay || w.Do == engine.WeedOneWay:
		return "with"
	case w.Then.People == w.People && w.Then.Tools == w.Tools:
		return "one-way"
	}
	return "one-way-with"
}

func setHands(c *scene) (*Refusal, error) {
	return nil, c.changeHome(func(h *engine.Household) {
		h.People, h.HoursADay = c.s.int(fPeople), c.s.float(fDayHours)
		if n := c.s.int(fTools); n > 0 {
			h.Tools = n
		}
	})
}

// changeHome changes the stored data of the household.
func (c *scene) changeHome(change func(*engine.Household)) error {
	h, err := c.household.Household()
	if err != nil {
		return err
	}
	change(&h)
	return c.household.SetHousehold(h)
}

// riskHead says how much of the harvest weeds may cost if they are not removed. The text gives a range that was
// measured in other fields, and promises nothing.
func riskHead(c *scene) string {
	name, s, p := c.thisPlot()
	r := s.Risk(c.today())
	k := text.Key("risk." + r.Level.String())
	if whole(r.HighPct).Value == 0 {
		k = "risk.none"
	}
	return c.t(k, text.Args{"plot": name, "low": whole(r.LowPct), "high": whole(r.HighPct), "next": c.short(p)})
}
