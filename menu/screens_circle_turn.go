package menu

import (
	"fmt"
	"slices"

	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// maxExtraDays is how many days more a grower may ask for a turn (judgement).
const maxExtraDays = 3

// circleTurnScreens show the turns of the grower, and take what the grower says of them. No turn changes while the
// grower waits: the service plans the circle again within minutes and texts what changed.
func circleTurnScreens() []Screen {
	sure := func(id ScreenID, ask text.Key, do Act) Screen {
		return Screen{ID: id, Ask: ask, Args: turnArgs, Choices: []Choice{
			{Label: "word.yes", Do: do, To: "circle.planned"}, {Label: "word.no", To: "circle.turn"}}}
	}
	return []Screen{
		keyed{id: "circle.turns", ask: "circle.turns-ask", other: "circle.no-turn", field: fTurn, one: true,
			keys: ownTurns, line: turnLine("circle.turn")}.screen(),
		{ID: "circle.no-turn", Rest: true, Head: noTurnHead},
		{ID: "circle.turn", Rest: true, When: hasTurn, Else: "circle.no-turn", Head: turnHead, Choices: []Choice{
			{Label: "circle.ready", If: turnBegun, To: "circle.ready"},
			{Label: "circle.longer", To: "circle.longer"},
			{Label: "circle.skip", To: "circle.skip"},
			{Label: "circle.swap", Set: map[Field]string{FieldPage: "0"}, To: "circle.swap"},
		}},
		sure("circle.ready", "circle.ready-sure", wish(func(*scene) circle.Wish { return circle.Wish{Ready: true} })),
		{ID: "circle.longer", Ask: "circle.longer-ask", Typed: &Typed{Read: readWhole(fDays, 1, maxExtraDays),
			To: "circle.longer-sure", Samples: []string{"1", "3", "4"}}},
		sure("circle.longer-sure", "circle.longer-sure",
			wish(func(c *scene) circle.Wish { return circle.Wish{ExtraDays: c.s.int(fDays)} })),
		sure("circle.skip", "circle.skip-sure", wish(func(*scene) circle.Wish { return circle.Wish{Skip: true} })),
		{ID: "circle.planned", Rest: true, Head: plannedHead},
		keyed{id: "circle.swap", ask: "circle.swap-ask", other: "circle.no-swap", field: fTheirs,
			keys: othersTurns, line: turnLine("circle.swap-sure")}.screen(),
		{ID: "circle.no-swap", Rest: true, Ask: "circle.no-swap"},
		{ID: "circle.swap-sure", When: hasTurn, Else: "circle.no-turn", Ask: "circle.swap-sure", Args: turnArgs,
			Choices: []Choice{
				{Label: "word.yes", Do: askSwap, To: "circle.asked"},
				{Label: "word.no", To: "circle.turn"},
			}},
	}
}

// turnKey identifies a turn: on one day a tool is with one member.
func turnKey(t circle.HeldTurn) string { return fmt.Sprintf("%d.%d", t.Tool, t.From) }

// turnKeys lists the turns that end today or later, of the grower or of other members.
func (c *scene) turnKeys(is func(circle.HeldTurn) bool) (keys []string) {
	for _, t := range c.ring().Turns {
		if t.To >= c.today() && is(t) {
			keys = append(keys, turnKey(t))
		}
	}
	return keys
}

func ownTurns(c *scene) []string {
	return c.turnKeys(func(t circle.HeldTurn) bool { return t.Member == c.ring().Self })
}

// othersTurns lists the turns of other members that have not begun: these can be swapped.
func othersTurns(c *scene) []string {
	return c.turnKeys(func(t circle.HeldTurn) bool {
		return t.Member != c.ring().Self && t.From > c.today() && c.member(t.Member).Joined
	})
}

// turnOf returns the turn whose key a field holds; false if there is none any more.
func (c *scene) turnOf(f Field) (circle.HeldTurn, bool) { return c.turnBy(c.s.Answers[f]) }

func (c *scene) turnBy(key string) (circle.HeldTurn, bool) {
	for _, t := range c.ring().Turns {
		if turnKey(t) == key {
			return t, true
		}
	}
	return circle.HeldTurn{}, false
}

func hasTurn(c *scene) bool { t, ok := c.turnOf(fTurn); return ok && t.Member == c.ring().Self }

// hasTurnFor reports whether a plot of the grower has a turn today or later.
func (c *scene) hasTurnFor(no int) bool {
	now := c.ring()
	return slices.ContainsFunc(now.Turns, func(t circle.HeldTurn) bool {
		return t.Member == now.Self && t.PlotNo == no && t.To >= c.today()
	})
}

func turnBegun(c *scene) bool { t, _ := c.turnOf(fTurn); return t.From <= c.today() }

func turnLine(to ScreenID) func(*scene, string) Choice {
	return func(c *scene, key string) Choice {
		t, _ := c.turnBy(key)
		name := c.called(c.member(t.Member))
		if t.Member == c.ring().Self {
			name = c.turnPlot(t)
		}
		return Choice{Label: "circle.turn-line", To: to, Args: text.Args{"name": name, "days": c.daysOf(t.From, t.To)}}
	}
}

// turnPlot names the plot of a turn of the grower.
func (c *scene) turnPlot(t circle.HeldTurn) string {
	for _, no := range c.openPlots() {
		if no == t.PlotNo {
			return c.label(no, c.plotNo(no).Plot)
		}
	}
	return c.t("plot.label", text.Args{"no": t.PlotNo})
}

// turnHead says on which days the grower has which tool, where it comes from and goes to, and how to carry it.
func turnHead(c *scene) string {
	t, _ := c.turnOf(fTurn)
	tool, no := sharedIn(c.ring().Circle, t.Tool)
	args := text.Args{"plot": c.turnPlot(t), "tool": c.tool(tool, no), "days": c.daysOf(t.From, t.To)}
	k := text.Key("circle.turn")
	switch {
	case t.Late:
		k = "circle.turn-late"
	case !t.Told:
		k = "circle.turn-likely"
	}
	head := c.t(k, args)
	if t.FetchFrom != 0 {
		head += " " + c.t("circle.fetch", text.Args{"name": c.reached(c.person(t.FetchFrom))})
	}
	if t.HandTo != 0 {
		head += " " + c.t("circle.hand-to", text.Args{"name": c.reached(c.person(t.HandTo))})
	}
	return head + " " + c.t("circle.carry", nil)
}

// noTurnHead says why there is no turn: a new roster is being made, there is no tool, all tools
// are broken, or no plot needs one soon.
func noTurnHead(c *scene) string {
	switch {
	case c.ring().Waits:
		return plannedHead(c)
	case len(c.ring().Tools) == 0:
		return c.t("circle.no-tool", nil)
	case !slices.ContainsFunc(c.ring().Tools, func(t circle.SharedTool) bool { return !t.Broken }):
		t := c.ring().Tools[0]
		return c.t("circle.tool-line-broken", text.Args{"tool": c.tool(t, 1), "width": c.cmOf(t.Tool)}) + "."
	}
	return c.t("circle.no-turn", nil)
}

// plannedHead says that a new plan of the turns is made.
func plannedHead(c *scene) string {
	if c.grower.Stopped() {
		return c.t("circle.planned-stopped", nil)
	}
	return c.t("circle.planned", nil)
}

// turnArgs are the values of the questions about a turn of the grower, and about a turn of another for a swap.
func turnArgs(c *scene) text.Args {
	t, _ := c.turnOf(fTurn)
	theirs, _ := c.turnOf(fTheirs)
	tool, no := sharedIn(c.ring().Circle, t.Tool)
	return text.Args{"plot": c.turnPlot(t), "days": c.daysOf(t.From, t.To), "tool": c.tool(tool, no),
		"more": c.s.int(fDays), "to": c.called(c.person(theirs.Member)), "other": c.daysOf(theirs.From, theirs.To)}
}

// wish stores what the grower says of a turn.
func wish(of func(*scene) circle.Wish) Act {
	return func(c *scene) (*Refusal, error) {
		t, ok := c.turnOf(fTurn)
		if !ok || t.Window.Number < 1 {
			return &Refusal{Key: "refuse.changed"}, nil
		}
		return settled(c.circles.Wish(t.PlotNo, t.Window.Number, of(c)))
	}
}

func askSwap(c *scene) (*Refusal, error) {
	mine, ok := c.turnOf(fTurn)
	theirs, also := c.turnOf(fTheirs)
	if !ok || !also {
		return &Refusal{Key: "refuse.changed"}, nil
	}
	return c.ask(circle.Ask{Kind: circle.AskSwap, Circle: c.ring().Number, From: c.ring().Self, To: theirs.Member,
		Tool: mine.Tool, Day: mine.From, Other: theirs.From}, "", "")
}
