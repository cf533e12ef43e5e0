package menu

import (
	"strconv"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// circleHireScreens ask another circle for a tool or for work. The grower is a guest there.
func circleHireScreens() []Screen {
	when := func(id ScreenID, ask text.Key, to ScreenID) Screen {
		on := func(ahead int) func(*scene) *Refusal {
			return prep(func(c *scene) { c.s.put(fDay, strconv.Itoa(int(c.saidOn())+ahead)) })
		}
		return Screen{ID: id, Ask: ask, Choices: []Choice{
			{Label: "new.when.today", Prep: on(0), To: to}, {Label: "circle.tomorrow", Prep: on(1), To: to}},
			Typed: &Typed{Read: readDate(fDay, answer.AskedReach, "refuse.date"), To: to,
				Samples: []string{"0512", "28/11", "30 nov", "5/12/25"}}}
	}
	name := func(id, to ScreenID) Screen {
		return Screen{ID: id, When: nameless, Else: to, Ask: "circle.called-ask", Typed: &Typed{Read: readCalled,
			Name: true, To: to, Samples: []string{"Ana", longestName}}}
	}
	sure := func(id text.Key, args func(*scene) text.Args, day ScreenID, do Act) Screen {
		return Screen{ID: ScreenID(id), Ask: id, Args: args, Stale: dayPast(day), Choices: []Choice{
			{Label: "word.yes", Do: do, To: "circle.asked"}, {Label: "word.no", To: "circle"}}}
	}
	return []Screen{
		{ID: "circle.hire", Ask: "circle.number-ask",
			Typed: &Typed{Read: readCircle, To: "circle.hire-tool", Samples: []string{sampleCircle, "999999"}}},
		keyed{id: "circle.hire-tool", ask: "circle.hire-tool", other: "circle.no-hire", field: fShared,
			keys: hiredOut, line: hireLine}.screen(),
		{ID: "circle.no-hire", Rest: true, Ask: "circle.no-hire"},
		when("circle.hire-day", "circle.day-ask", "circle.hire-days"),
		{ID: "circle.hire-days", Ask: "circle.days-ask", Args: limitArgs(1, circle.MaxHireDays),
			Typed: &Typed{Read: readWhole(fDays, 1, circle.MaxHireDays), To: "circle.hire-name",
				Samples: []string{"1", "14", "15"}}},
		name("circle.hire-name", "circle.hire-sure"),
		sure("circle.hire-sure", hireArgs, "circle.hire-day", askHire),

		{ID: "circle.weed", Ask: "circle.number-ask",
			Typed: &Typed{Read: readCircleOfKeeper, To: "circle.weed-area", Samples: []string{sampleCircle, "999999"}}},
		{ID: "circle.weed-area", Ask: "circle.area-ask",
			Typed: &Typed{Read: readArea(inMetres), Sides: true, To: "circle.weed-day",
				Samples: []string{"600", "20*30", "99999", "1000*999"}}},
		when("circle.weed-day", "circle.weed-day-ask", "circle.weed-name"),
		name("circle.weed-name", "circle.weed-sure"),
		sure("circle.weed-sure", weedArgs, "circle.weed-day", askWeeding),
	}
}

// dayPast asks the question for the day again if the day is past: the grower went on with an interrupted dialogue.
func dayPast(asked ScreenID) func(*scene) (ScreenID, *Refusal) {
	return func(c *scene) (ScreenID, *Refusal) {
		on := day(c.s.int(fDay))
		if on >= c.today() {
			return "", nil
		}
		return asked, &Refusal{Key: "refuse.day-past", Args: text.Args{"date": c.date(on)}}
	}
}

// nameless reports whether the grower has to say by which name others know her or him.
func nameless(c *scene) bool { return !isMember(c) }

// myName returns the name by which others know the grower.
func (c *scene) myName() string {
	if isMember(c) {
		return c.self().Name
	}
	return c.s.Answers[fCalled]
}

// hiredOut lists the tools of the typed circle that it hires out.
func hiredOut(c *scene) []string {
	of, _ := c.numbered(c.s.int(fCircle))
	var tools []circle.SharedTool
	for _, t := range of.Tools {
		if t.GuestDay > 0 && !t.Broken {
			tools = append(tools, t)
		}
	}
	return ids(tools, sharedID)
}

func hireLine(c *scene, key string) Choice {
	of, _ := c.numbered(c.s.int(fCircle))
	t, no := sharedIn(of, parseID(key))
	return Choice{Label: "circle.hire-line", To: "circle.hire-day", Args: text.Args{"tool": c.tool(t, no),
		"width": c.cmOf(t.Tool), "amount": c.amount(t.GuestDay)}}
}

// hired returns the tool that the grower wants to hire, and its number in the list.
func (c *scene) hired() (circle.SharedTool, int) {
	of, _ := c.numbered(c.s.int(fCircle))
	return sharedIn(of, c.id(fShared))
}

func hireArgs(c *scene) text.Args {
	t, no := c.hired()
	days := c.s.int(fDays)
	from := day(c.s.int(fDay))
	return text.Args{"tool": c.tool(t, no), "days": c.daysOf(from, from+engine.Day(max(days, 1))-1),
		"amount": c.amount(t.GuestDay * int64(days)), "name": c.shownName(c.myName())}
}

// askHire asks for a tool. The records know whom: its owner, or the keeper for a tool of the circle.
func askHire(c *scene) (*Refusal, error) {
	t, no := c.hired()
	days := c.s.int(fDays)
	if no == 0 || t.GuestDay == 0 || t.Broken {
		return &Refusal{Key: "refuse.changed"}, nil
	}
	return c.ask(circle.Ask{Kind: circle.AskHire, Circle: c.s.int(fCircle), Tool: t.ID,
		Day: day(c.s.int(fDay)), Days: days, Amount: t.GuestDay * int64(days)}, c.myName(), c.agreed())
}

// readCircleOfKeeper reads the number of another circle, whose keeper is asked for work.
func readCircleOfKeeper(c *scene, entry string) (doubted, *Refusal) {
	d, refused := readCircle(c, entry)
	if refused == nil {
		c.s.put(fPerson, storedID(c.keeper().ID))
	}
	return d, refused
}

func weedArgs(c *scene) text.Args {
	return text.Args{"to": c.called(c.person(c.id(fPerson))), "area": number(c.s.float(fArea)),
		"date": c.date(day(c.s.int(fDay))), "name": c.shownName(c.myName())}
}

// askWeeding asks a member to weed for the grower. A member asks in the own circle, another grower in the typed one.
func askWeeding(c *scene) (*Refusal, error) {
	a := circle.Ask{Kind: circle.AskWeeding, Circle: c.s.int(fCircle), To: c.id(fPerson),
		Day: day(c.s.int(fDay)), AreaM2: c.s.float(fArea)}
	if isMember(c) && c.member(a.To).ID != 0 {
		a.Circle, a.From = c.ring().Number, c.ring().Self
		return c.ask(a, "", "")
	}
	return c.ask(a, c.myName(), c.agreed())
}
