package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

const fDayHours Field = "dayhours"

// workScreens say how many hours and people the weeding of a plot takes, and how much of the harvest a delay may cost.
// The screens about money are in moneyScreens.
func workScreens() []Screen {
	return []Screen{
		{ID: "work", Rest: true, Ask: "work.ask", Args: plotArgs, Choices: []Choice{
			{Digit: '1', Label: "work.hours", To: "work.hours"},
			{Digit: '2', Label: "work.days", To: "work.days"},
			{Digit: '3', Label: "work.wait", To: "risk"},
			{Digit: '4', Label: "work.costs", To: "costs"},
			{Digit: '5', Label: "work.hire", To: "hire"},
		}},
		{ID: "work.hours", Rest: true, When: hasArea, Else: "work.no-area", Head: hoursHead},
		{ID: "work.days", Rest: true, When: hasArea, Else: "work.no-area", Head: daysHead, Choices: []Choice{
			{Digit: '1', Label: "work.hands", To: "work.people"},
		}},
		{ID: "work.no-area", Rest: true, Ask: "work.no-area",
			Choices: []Choice{{Digit: '1', Label: "change.area", To: "change.area"}}},
		{ID: "work.people", Ask: "work.people-ask",
			Typed: &Typed{Read: readPeople, To: "work.dayhours", Samples: []string{"2", "12"}}},
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

// hoursHead lists how many hours each way of weeding takes for one person.
func hoursHead(c *scene) string {
	s, p, w := c.work()
	args := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot), "along": duration(w.AlongHours),
		"both": duration(w.BothHours), "pull": duration(w.PullHours), "hand": duration(w.HandHours)}
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

// daysHead says whether the household can finish the weeding within the window, and what else it can do.
func daysHead(c *scene) string {
	s, p, w := c.work()
	args := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot), "n": w.Days, "team": c.team(w),
		"start": c.date(w.StartBy), "closes": c.date(p.Next.Closes), "share": whole(100 * w.Share)}
	head := c.t("work.team-days", args)
	switch {
	case !p.Next.Exists(), c.today() > p.Next.Closes, p.Next.Why == engine.WhySeenBig:
		return head
	case w.Fits:
		return head + " " + c.t("work.start", args)
	}
	return head + " " + c.t("work.too-long", args) + " " +
		c.t(text.Key("work.instead."+insteadKey(w)), text.Args{"people": w.NeedPeople})
}

// team writes "2 people, 6 h a day".
func (c *scene) team(w engine.Work) string {
	return c.t("work.team", text.Args{"n": w.People, "hours": number(w.HoursADay)})
}

func insteadKey(w engine.Work) string {
	switch {
	case w.Instead == engine.MoreHands:
		return "more-hands"
	case w.Instead == engine.SecondTool:
		return "second-tool"
	case w.Instead == engine.OneWayThenHand && w.NeedPeople > w.People:
		return "one-way-more"
	case w.Instead == engine.OneWayThenHand:
		return "one-way"
	}
	return "rest-by-hand"
}

func setHands(c *scene) (*Refusal, error) {
	return nil, c.changeHome(func(h *engine.Household) {
		h.People, h.HoursADay = c.s.int(fPeople), c.s.float(fDayHours)
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
