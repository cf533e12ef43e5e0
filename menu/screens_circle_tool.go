package menu

import (
	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// circleToolScreens show the tools of the circle, and change them.
func circleToolScreens() []Screen {
	price := func(id ScreenID, ask, none text.Key, set func(*circle.SharedTool, int64)) Screen {
		do := changeShared(func(c *scene, t *circle.SharedTool) { set(t, c.id(fMoney)) })
		return Screen{ID: id, Ask: ask, Args: sharedArgs,
			Choices: []Choice{{Label: none, Set: map[Field]string{fMoney: "0"}, Do: do, To: "circle.tool"}},
			Typed:   &Typed{Read: readMoney, To: "circle.tool", Do: do, Samples: moneySamples}}
	}
	return []Screen{
		keyed{id: "circle.tools", ask: "circle.tools-ask", field: fShared, most: maxListed - 1,
			keys: func(c *scene) []string { return ids(c.ring().Tools, sharedID) }, line: toolLine("circle.tool"),
			more: []Choice{{Label: "circle.add", To: "circle.add"}}}.screen(),
		{ID: "circle.tool", Rest: true, When: hasShared, Else: "circle.tools", Head: sharedHeadLine, Choices: []Choice{
			{Label: "circle.broken", If: not(sharedBroken), To: "circle.broken-sure"},
			{Label: "circle.mended", If: sharedBroken, To: "circle.mended-sure"},
			{Label: "circle.payback", To: "circle.payback"},
			{Label: "circle.prices", If: mayChange, To: "circle.tool-change"},
			{Label: "circle.remove", If: mayChange, To: "circle.remove-sure"},
		}},
		sharedSure("circle.broken-sure",
			tellHirers(false, changeShared(func(_ *scene, t *circle.SharedTool) { t.Broken = true }))),
		sharedSure("circle.mended-sure",
			tellHirers(false, changeShared(func(_ *scene, t *circle.SharedTool) { t.Broken = false }))),
		sharedSure("circle.remove-sure", tellHirers(true, func(c *scene) (*Refusal, error) {
			return settled(c.circles.RemoveSharedTool(c.id(fShared)))
		})),
		{ID: "circle.payback", Rest: true, Head: paybackHead},
		{ID: "circle.tool-change", Rest: true, Ask: "circle.prices-ask", Args: sharedArgs, Choices: []Choice{
			{Label: "circle.member-day", To: "circle.tool-member"},
			{Label: "circle.guest-day", To: "circle.tool-guest"},
			{Label: "circle.cost", To: "circle.tool-cost"},
			{Label: "circle.tool-name", To: "circle.tool-name"},
		}},
		price("circle.tool-member", "circle.member-ask", "circle.free",
			func(t *circle.SharedTool, x int64) { t.MemberDay = x }),
		price("circle.tool-guest", "circle.guest-ask", "circle.not-hired",
			func(t *circle.SharedTool, x int64) { t.GuestDay = x }),
		price("circle.tool-cost", "circle.cost-ask", "circle.unknown",
			func(t *circle.SharedTool, x int64) { t.Price = x }),
		{ID: "circle.tool-name", Ask: "circle.tool-called-ask", Typed: &Typed{Read: readCalled, Name: true,
			Do: changeShared(func(c *scene, t *circle.SharedTool) { t.Name = c.s.Answers[fCalled] }),
			To: "circle.tool", Samples: []string{"Red", longestName}}},
	}
}

// sharedSure asks whether a change of the chosen tool is right.
func sharedSure(id ScreenID, do Act) Screen {
	return Screen{ID: id, When: hasShared, Else: "circle.tools", Ask: text.Key(id), Args: sharedArgs, Choices: []Choice{
		{Label: "word.yes", Do: do, To: "circle.planned"}, {Label: "word.no", To: "circle.tool"}}}
}

func sharedID(t circle.SharedTool) int64 { return t.ID }

func hasShared(c *scene) bool    { _, no := c.shared(); return no > 0 }
func sharedBroken(c *scene) bool { t, _ := c.shared(); return t.Broken }

func sharedArgs(c *scene) text.Args { return text.Args{"tool": c.tool(c.shared())} }

func toolLine(to ScreenID) func(*scene, string) Choice {
	return func(c *scene, key string) Choice {
		t, no := sharedIn(c.ring().Circle, parseID(key))
		label := text.Key("circle.tool-line")
		if t.Broken {
			label = "circle.tool-line-broken"
		}
		return Choice{Label: label, Args: text.Args{"tool": c.tool(t, no), "width": c.cmOf(t.Tool)}, To: to}
	}
}

// sharedHeadLine says all of a tool: width, owner, what a day costs, and whether it is broken.
func sharedHeadLine(c *scene) string {
	t, no := c.shared()
	head := c.toolFacts(t, no)
	if t.Broken {
		head += " " + c.t("circle.is-broken", nil)
	}
	return head
}

// toolFacts says the width, the owner and the prices of a tool.
func (c *scene) toolFacts(t circle.SharedTool, no int) string {
	k := text.Key("circle.tool")
	if t.Owner == 0 {
		k = "circle.tool-ours"
	}
	head := c.t(k, text.Args{"tool": c.tool(t, no), "width": c.cmOf(t.Tool), "name": c.called(c.person(t.Owner))})
	if t.MemberDay > 0 {
		head += " " + c.t("circle.costs-member", text.Args{"amount": c.amount(t.MemberDay)})
	}
	if t.GuestDay > 0 {
		return head + " " + c.t("circle.costs-guest", text.Args{"amount": c.amount(t.GuestDay)})
	}
	return head + " " + c.t("circle.no-guests", nil)
}

// paybackHead says what a tool cost, what was charged for its days so far, and what is still to earn.
func paybackHead(c *scene) string {
	t, no := c.shared()
	args := text.Args{"tool": c.tool(t, no), "price": c.amount(t.Price), "earned": c.amount(t.Earned),
		"rest": c.amount(t.Price - t.Earned)}
	switch {
	case t.Price == 0:
		return c.t("circle.payback-none", args)
	case t.Earned >= t.Price:
		return c.t("circle.payback-done", args)
	}
	return c.t("circle.payback-rest", args)
}

// changeShared changes the chosen tool.
func changeShared(change func(*scene, *circle.SharedTool)) Act {
	return func(c *scene) (*Refusal, error) {
		t, no := c.shared()
		if no == 0 {
			return &Refusal{Key: "refuse.changed"}, nil
		}
		change(c, &t)
		return settled(c.circles.ChangeSharedTool(t))
	}
}

// tellHirers does what do does with the chosen tool, and tells the guests who have hired it: a plan tells only members.
func tellHirers(gone bool, do Act) Act {
	return func(c *scene) (*Refusal, error) {
		was, now := c.ring(), c.id(fShared)
		if refused, err := do(c); refused != nil || err != nil {
			return refused, err
		}
		after := text.Key("circle.mended")
		if t, _ := sharedIn(was.Circle, now); !t.Broken {
			after = "circle.broken"
		}
		if gone {
			after = ""
		}
		c.tellHirersOf(was.Circle, now, after)
		return nil, c.err
	}
}

// tellHirersOf tells the guests who have hired a tool what became of it; after "" it is not in the circle any more.
func (c *scene) tellHirersOf(was circle.Circle, id int64, after text.Key) {
	tool, no := sharedIn(was, id)
	for _, t := range was.Turns {
		guest := c.person(t.Member)
		p, ok := c.speechTo(guest)
		if t.Tool != id || t.PlotNo != 0 || t.To < c.today() || !ok {
			continue
		}
		from := p.shownTo(c.self(), guest)
		about := p.t("circle.about-hire", text.Args{"tool": p.tool(tool, no), "days": p.daysOf(t.From, t.To)})
		said := p.t("sms.circle-no", text.Args{"from": from, "about": about})
		if after != "" {
			said = p.t("circle.dispute-line", text.Args{"name": from, "about": about}) + ": " + p.t(after, nil) + "."
		}
		c.tell(p, guest, Note{Text: said})
	}
}

// Answers about a tool that is being added.
const (
	fOurs      Field = "ours" // 1: the tool is the circle's own
	fCost      Field = "cost" // what the tool cost, in hundredths
	fMemberDay Field = "memberday"
	fGuestDay  Field = "guestday"
)

// circleAddScreens add a tool: its width, whose it is, and what it costs.
func circleAddScreens() []Screen {
	asked := func(id ScreenID, ask, none text.Key, f Field, to ScreenID) Screen {
		read := func(c *scene, entry string) (doubted, *Refusal) {
			d, refused := readMoney(c, entry)
			c.s.put(f, c.s.Answers[fMoney])
			return d, refused
		}
		return Screen{ID: id, Ask: ask, Args: newSharedArgs,
			Choices: []Choice{{Label: none, Set: map[Field]string{f: "0"}, To: to}},
			Typed:   &Typed{Read: read, To: to, Samples: moneySamples}}
	}
	return []Screen{
		{ID: "circle.add", When: isMember, Else: "circle", Ask: "circle.add-ask",
			Typed: &Typed{Read: readTool, To: "circle.add-owner", Samples: []string{"15", "12.5-17.5", "51"}}},
		{ID: "circle.add-owner", When: isKeeper, Else: "circle.add-member", Ask: "circle.owner-ask", Choices: []Choice{
			{Label: "circle.mine", Set: map[Field]string{fOurs: "0"}, To: "circle.add-member"},
			{Label: "circle.ours", Set: map[Field]string{fOurs: "1"}, To: "circle.add-member"},
		}},
		asked("circle.add-member", "circle.member-ask", "circle.free", fMemberDay, "circle.add-guest"),
		asked("circle.add-guest", "circle.guest-ask", "circle.not-hired", fGuestDay, "circle.add-cost"),
		asked("circle.add-cost", "circle.cost-ask", "circle.unknown", fCost, "circle.add-sure"),
		{ID: "circle.add-sure", Head: newSharedHead, Ask: "circle.add-sure", Choices: []Choice{
			{Label: "word.yes", Do: addShared, To: "circle.added"},
			{Label: "word.no", To: "circle.add"},
		}},
		{ID: "circle.added", Rest: true, Head: plannedHead, Choices: []Choice{
			{Label: "circle.tools", Set: map[Field]string{FieldPage: "0"}, To: "circle.tools"},
		}},
	}
}

// newShared returns the tool as the answers describe it.
func (c *scene) newShared() circle.SharedTool {
	t := circle.SharedTool{Tool: c.draftTool(), Price: c.id(fCost), MemberDay: c.id(fMemberDay),
		GuestDay: c.id(fGuestDay)}
	if c.s.Answers[fOurs] != "1" {
		t.Owner = c.ring().Self
	}
	return t
}

func newSharedArgs(c *scene) text.Args {
	return text.Args{"tool": c.tool(circle.SharedTool{}, len(c.ring().Tools)+1)}
}

// newSharedHead says all that is to be stored of a tool.
func newSharedHead(c *scene) string {
	t := c.newShared()
	head := c.toolFacts(t, len(c.ring().Tools)+1)
	if t.Price > 0 {
		head += " " + c.t("circle.it-cost", text.Args{"amount": c.amount(t.Price)})
	}
	return head
}

func addShared(c *scene) (*Refusal, error) {
	_, err := c.circles.AddSharedTool(c.newShared())
	return settled(err)
}
