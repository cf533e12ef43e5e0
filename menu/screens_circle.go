package menu

import (
	"slices"
	"strconv"

	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// sampleCircle is a number that the proof types where the number of a circle is asked.
const sampleCircle = "4711"

// circleScreens are the circle of the grower: who shares tools with whom, and whose turn it is. All questions to others
// are read back before they are sent.
func circleScreens() []Screen {
	return slices.Concat(circleStartScreens(), circleJoinScreens(), circlePeopleScreens(), circleTurnScreens(),
		circleToolScreens(), circleAddScreens(), circleMoneyScreens(), circlePayScreens(), circleHireScreens(),
		circleQuestionScreens(), circleSentScreens())
}

// circleFirst reports whether the circle is the first of the choices about tools.
func circleFirst(c *scene) bool { return c.ring().exists || len(c.openAsks()) > 0 }

func circleLast(c *scene) bool { return !circleFirst(c) }

func hasQuestions(c *scene) bool { return len(c.openAsks()) > 0 }

// questionsChoice leads to the open questions; it is the first choice of the screens about the circle.
var questionsChoice = Choice{Label: "circle.questions", If: hasQuestions, To: "circle.questions"}

func circleStartScreens() []Screen {
	return []Screen{
		{ID: "circle", Rest: true, When: isMember, Else: "circle.start", Head: circleHead, Choices: []Choice{
			questionsChoice,
			{Label: "circle.my-turn", Set: map[Field]string{FieldPage: "0"}, To: "circle.turns"},
			{Label: "circle.who", Set: map[Field]string{FieldPage: "0", fGoal: "look"}, To: "circle.members"},
			{Label: "circle.tools", Set: map[Field]string{FieldPage: "0"}, To: "circle.tools"},
			{Label: "circle.money", Set: map[Field]string{FieldPage: "0"}, To: "circle.money"},
			{Label: "circle.more", To: "circle.more"},
			sentChoice(not(hasQuestions)),
		}},
		{ID: "circle.more", Rest: true, Ask: "circle.more-ask", Args: circleArgs, Choices: []Choice{
			{Label: "circle.weed", Set: map[Field]string{FieldPage: "0", fGoal: "weed"}, To: "circle.members"},
			{Label: "circle.weeded", Set: map[Field]string{FieldPage: "0", fGoal: "weeded"}, To: "circle.weeded"},
			{Label: "circle.hire", To: "circle.hire"},
			{Label: "circle.hand-over", If: isKeeper, Set: map[Field]string{FieldPage: "0", fGoal: "keeper"},
				To: "circle.members"},
			{Label: "circle.leave", To: "circle.leave"},
			{Label: "circle.about", To: "circle.about"},
		}},
		{ID: "circle.start", Rest: true, When: func(c *scene) bool { return !c.ring().exists }, Else: "circle.waiting",
			Ask: "circle.none", Choices: []Choice{
				questionsChoice,
				{Label: "circle.make", To: "circle.make"},
				{Label: "circle.join", To: "circle.join"},
				{Label: "circle.hire", To: "circle.hire"},
				{Label: "circle.weed", To: "circle.weed"},
				{Label: "circle.money", If: hasAccounts, Set: map[Field]string{FieldPage: "0"}, To: "circle.money"},
				{Label: "circle.about", If: func(c *scene) bool { return !hasAccounts(c) }, To: "circle.about"},
				sentChoice(not(hasQuestions)),
			}},
		{ID: "circle.waiting", Rest: true, Head: waitingHead, Choices: []Choice{
			questionsChoice,
			{Label: "circle.hire", To: "circle.hire"},
			{Label: "circle.take-back", To: "circle.leave"},
			{Label: "circle.about", To: "circle.about"},
			sentChoice(not(hasQuestions)),
		}},
		{ID: "circle.about", Rest: true, Ask: "circle.what"},
		{ID: "circle.leave", Ask: "circle.leave-ask", Args: circleArgs, Choices: []Choice{
			{Label: "word.yes", Do: leaveCircle, To: "circle.left"},
			{Label: "word.no", To: "circle"},
		}},
		{ID: "circle.left", Rest: true, Ask: "circle.left"},
	}
}

func circleArgs(c *scene) text.Args {
	return text.Args{"circle": c.ring().Number, "code": c.m.opt.DialCode}
}

// circleHead says which circle it is and when the next turn of the grower is.
func circleHead(c *scene) string {
	now := c.ring()
	args := circleArgs(c)
	for _, t := range now.Turns {
		if t.Member == now.Self && t.To >= c.today() {
			args["days"] = c.daysOf(t.From, t.To)
			return c.t("circle.head-turn", args)
		}
	}
	return c.t("circle.head", args)
}

func waitingHead(c *scene) string {
	args := circleArgs(c)
	args["to"] = c.called(keeperOf(c.ring().Circle))
	return c.t("circle.waiting", args)
}

// leaveCircle ends the membership. The grower's own tools go too, and with the last member, the keeper, all of them:
// the guests who have hired them are told.
func leaveCircle(c *scene) (*Refusal, error) {
	was, self := c.ring().Circle, c.self()
	if err := c.circles.LeaveCircle(); err != nil || !self.Joined {
		return settled(err)
	}
	for _, t := range was.Tools {
		if t.Owner == self.ID || self.Keeper {
			c.tellHirersOf(was, t.ID, "")
		}
	}
	return nil, c.err
}

// circleJoinScreens make a circle, or ask the keeper of another to join it.
func circleJoinScreens() []Screen {
	named := func(id ScreenID, ask text.Key, to ScreenID) Screen {
		return Screen{ID: id, Ask: ask, Args: calledArgs, Typed: &Typed{Read: readCalled, Name: true, To: to,
			Samples: []string{"Ana", longestName}}}
	}
	return []Screen{
		named("circle.make", "circle.called-ask", "circle.make-sure"),
		{ID: "circle.make-sure", Ask: "circle.make-sure", Args: calledArgs, Choices: []Choice{
			{Label: "word.yes", Do: makeCircle, To: "circle.made"},
			{Label: "word.no", To: "circle"},
		}},
		{ID: "circle.made", Rest: true, Ask: "circle.made", Args: circleArgs, Choices: []Choice{
			{Label: "circle.add", To: "circle.add"},
		}},
		{ID: "circle.join", Ask: "circle.number-ask",
			Typed: &Typed{Read: readCircle, To: "circle.join-name",
				Samples: []string{sampleCircle, "47 11", "999999"}}},
		named("circle.join-name", "circle.join-name", "circle.join-sure"),
		{ID: "circle.join-sure", Ask: "circle.join-sure", Args: calledArgs, Choices: []Choice{
			{Label: "word.yes", Do: joinCircle, To: "circle.asked"},
			{Label: "word.no", To: "circle"},
		}},
		{ID: "circle.asked", Rest: true, Head: askedHead},
	}
}

// askedHead says who is asked. Who wants no texts must be told otherwise.
func askedHead(c *scene) string {
	m := c.person(c.id(fPerson))
	args := text.Args{"to": c.called(m), "code": c.m.opt.DialCode}
	if !m.Stopped {
		return c.t("circle.asked", args)
	}
	args["name"] = c.shownTo(m, c.self())
	return c.t("circle.asked-stopped", args)
}

// longestName is a name that takes as much room as any.
const longestName = "WWWWWWWWWW"

// readCalled reads the name by which the others of a circle call the grower.
func readCalled(c *scene, entry string) (doubted, *Refusal) {
	name, refused := readPersonName(c, entry)
	c.s.put(fCalled, name)
	return doubted{}, refused
}

// keeper returns the keeper of the circle whose number was typed.
func (c *scene) keeper() circle.Member {
	of, _ := c.numbered(c.s.int(fCircle))
	return keeperOf(of)
}

func calledArgs(c *scene) text.Args {
	return text.Args{"name": c.shownName(c.s.Answers[fCalled]), "circle": c.s.int(fCircle), "to": c.called(c.keeper())}
}

// agreed returns the words of the screen to which the grower says yes: they are stored as the consent.
func (c *scene) agreed() string { return c.question(c.screen()) }

func makeCircle(c *scene) (*Refusal, error) {
	number, err := c.circles.MakeCircle(c.s.Answers[fCalled], c.agreed())
	c.s.put(fCircle, strconv.Itoa(number))
	return settled(err)
}

func joinCircle(c *scene) (*Refusal, error) {
	a, err := c.circles.JoinCircle(c.s.int(fCircle), c.s.Answers[fCalled], c.agreed())
	if err != nil {
		return settled(err)
	}
	return nil, c.sent(a)
}
