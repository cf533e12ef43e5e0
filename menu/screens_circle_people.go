package menu

import (
	"math"
	"slices"
	"strings"
	"unicode"

	"rowbell/engine/circle"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// circlePeopleScreens show who is in the circle, and hand it over.
func circlePeopleScreens() []Screen {
	return []Screen{
		keyed{id: "circle.members", ask: "circle.members-ask", other: "circle.alone", field: fPerson,
			keys: otherMembers, line: memberLine}.screen(),
		{ID: "circle.alone", Rest: true, Ask: "circle.alone", Args: circleArgs},
		{ID: "circle.member", Rest: true, Head: memberHead, Choices: []Choice{
			{Label: "circle.weed-them", If: chosenJoined, To: "circle.weed-area"},
			{Label: "circle.make-keeper", If: func(c *scene) bool { return isKeeper(c) && chosenJoined(c) },
				To: "circle.keeper-sure"},
			{Label: "circle.out", If: func(c *scene) bool { return isKeeper(c) && chosenJoined(c) },
				To: "circle.out-sure"},
		}},
		{ID: "circle.out-sure", When: chosenJoined, Else: "circle", Ask: "circle.out-sure", Args: personArgs,
			Choices: []Choice{
				{Label: "word.yes", Do: removeMember, To: "circle.removed"},
				{Label: "word.no", To: "circle"},
			}},
		{ID: "circle.removed", Rest: true, Head: func(c *scene) string { return c.toldText(fAnswered) }},
		{ID: "circle.keeper-sure", Ask: "circle.keeper-sure", Args: personArgs, Choices: []Choice{
			{Label: "word.yes", Do: askKeeper, To: "circle.asked"},
			{Label: "word.no", To: "circle"},
		}},
	}
}

// otherMembers lists the other members of the circle; to look at the circle, also its guests. Who only asked for work
// agreed that the keeper sees the number, so other members see only the guests who have hired a tool.
func otherMembers(c *scene) []string {
	now := c.ring()
	seen := func(m circle.Member) bool {
		return m.Joined || c.s.Answers[fGoal] == "look" && m.Guest && (isKeeper(c) || hires(now.Circle, m.ID))
	}
	return ids(slices.DeleteFunc(slices.Clone(now.Members), func(m circle.Member) bool {
		return m.ID == now.Self || !seen(m)
	}), memberID)
}

// hires reports whether a guest has a tool today or later.
func hires(in circle.Circle, guest int64) bool {
	return slices.ContainsFunc(in.Turns, func(t circle.HeldTurn) bool { return t.Member == guest && t.PlotNo == 0 })
}

func memberID(m circle.Member) int64 { return m.ID }

func memberLine(c *scene, key string) Choice {
	m := c.person(parseID(key))
	label := text.Key("circle.member-line")
	switch {
	case m.Keeper:
		label = "circle.keeper-line"
	case m.Guest:
		label = "circle.guest-line"
	}
	to := ScreenID("circle.member")
	switch c.s.Answers[fGoal] {
	case "weed":
		to = "circle.weed-area"
	case "keeper":
		to = "circle.keeper-sure"
	}
	return Choice{Label: label, Args: text.Args{"name": c.called(m)}, To: to}
}

func chosenJoined(c *scene) bool {
	m := c.member(c.id(fPerson))
	return m.Joined && m.ID != c.ring().Self
}

func personArgs(c *scene) text.Args { return text.Args{"name": c.called(c.person(c.id(fPerson)))} }

// memberHead shows the name and number of a member, and whether texts to this number are wanted.
func memberHead(c *scene) string {
	m := c.person(c.id(fPerson))
	k := text.Key("circle.member")
	switch {
	case m.Stopped:
		k = "circle.member-stopped"
	case m.Guest:
		k = "circle.member-guest"
	}
	return c.t(k, text.Args{"name": c.reached(m)})
}

func askKeeper(c *scene) (*Refusal, error) {
	return c.ask(circle.Ask{Kind: circle.AskKeeper, Circle: c.ring().Number, From: c.ring().Self,
		To: c.id(fPerson)}, "", "")
}

// removeMember takes the chosen member out of the circle, and tells this member.
func removeMember(c *scene) (*Refusal, error) {
	m, keeper, number := c.member(c.id(fPerson)), c.self(), c.ring().Number
	if err := c.circles.RemoveMember(m.ID); err != nil {
		return settled(err)
	}
	for _, t := range c.ring().Tools {
		if t.Owner == m.ID { // the member's tools go too
			c.tellHirersOf(c.ring().Circle, t.ID, "")
		}
	}
	c.forgetCircle()
	k := text.Key("circle.removed-untold")
	if p, ok := c.speechTo(m); ok {
		k = "circle.removed"
		c.tell(p, m, Note{Text: p.t("sms.circle-out", text.Args{"from": p.reached(keeper), "circle": number})})
	}
	c.s.putAll(map[Field]string{fAnswered: c.t(k, text.Args{"name": c.called(m)}), fSaidIn: c.lang})
	return nil, c.err
}

// readPersonName reads the name of a person or a tool.
func readPersonName(c *scene, entry string) (string, *Refusal) {
	name, refused := answer.Name(entry)
	switch {
	case refused != nil:
		return "", refused
	case !strings.ContainsFunc(name, unicode.IsLetter): // a digit meant for another screen, or a phone number
		return "", answer.Refuse("refuse.name", entry, nil)
	case c.shownName(name) == "":
		return "", answer.Refuse("refuse.name-script", entry, nil)
	}
	return name, nil
}

// circleQuestionScreens show the open questions to the grower and take the answers.
func circleQuestionScreens() []Screen {
	return []Screen{
		keyed{id: "circle.questions", ask: "circle.questions-ask", other: "circle", field: fAsk, one: true,
			most: maxListed - 1, more: []Choice{sentChoice(hasQuestions)},
			keys: func(c *scene) []string { return ids(c.openAsks(), askID) },
			line: func(c *scene, key string) Choice {
				a, _ := c.openAsk(parseID(key))
				m := c.matterOf(a)
				return Choice{Label: "circle.question-line", To: sQuestion,
					Args: text.Args{"name": c.called(m.from), "about": c.about(m)}}
			}}.screen(),
		{ID: sQuestion, When: chosenAsk, Else: "circle", Head: questionHead, Choices: []Choice{
			{Label: "word.yes", If: not(pricedAsk), Do: answerAsk(true), To: "circle.answered"},
			{Label: "circle.yes-price", If: pricedAsk, To: "circle.price"},
			{Label: "word.no", Do: answerAsk(false), To: "circle.answered"},
			sentChoice(hasQuestions),
		}},
		{ID: "circle.price", Ask: "circle.price-ask",
			Typed: &Typed{Read: readMoney, To: "circle.price-sure", Samples: moneySamples}},
		{ID: "circle.price-sure", Head: questionHead, Ask: "circle.price-sure", Args: moneyArgs, Choices: []Choice{
			{Label: "word.yes", Do: answerAsk(true), To: "circle.answered"},
			{Label: "word.no", To: "circle.price"},
		}},
		{ID: "circle.answered", Rest: true, Head: func(c *scene) string { return c.toldText(fAnswered) }},
	}
}

// fAnswered has the sentence that confirms an answer, in the language fSaidIn.
const fAnswered Field = "answered"

// toldText returns a sentence that an act has kept, if the language is still the same; otherwise a shorter one.
func (c *scene) toldText(f Field) string {
	if said := c.s.Answers[f]; said != "" && c.s.Answers[fSaidIn] == c.lang {
		return said
	}
	return c.t("circle.noted", nil)
}

func askID(a circle.Ask) int64 { return a.ID }

func chosenAsk(c *scene) bool { _, ok := c.openAsk(c.id(fAsk)); return ok }

func pricedAsk(c *scene) bool {
	a, _ := c.openAsk(c.id(fAsk))
	return a.Kind == circle.AskWeeding
}

func not[T any](is func(T) bool) func(T) bool { return func(x T) bool { return !is(x) } }

func questionHead(c *scene) string {
	a, ok := c.openAsk(c.id(fAsk))
	if !ok {
		return c.t("refuse.changed", nil)
	}
	return c.asks(c.matterOf(a))
}

// answerAsk answers the chosen question and tells it to the one who asked.
func answerAsk(yes bool) Act {
	return func(c *scene) (*Refusal, error) {
		a, ok := c.openAsk(c.id(fAsk))
		if !ok {
			return &Refusal{Key: "refuse.changed"}, nil
		}
		amount := int64(0)
		if a.Kind == circle.AskWeeding && yes {
			amount = c.id(fMoney)
		}
		m := c.matterOf(a)
		after, err := c.settle(a.ID, yes, amount)
		if err != nil {
			return settled(err)
		}
		m.Amount = after.Amount
		c.s.putAll(map[Field]string{fAnswered: c.answeredText(m, yes), fSaidIn: c.lang})
		return nil, c.err
	}
}

// moneySamples are amounts that the proof types: the shortest and the longest.
var moneySamples = []string{"300", "1,200.50", "987654321.99", "ten"}

// readMoney reads an amount of money above 0.
func readMoney(c *scene, entry string) (doubted, *Refusal) {
	x, refused := answer.Price(entry, "")
	if refused == nil && x == 0 {
		refused = answer.Refuse("refuse.price", entry, nil)
	}
	c.s.put(fMoney, storedID(int64(math.Round(x*100))))
	return doubted{}, refused
}

func moneyArgs(c *scene) text.Args { return text.Args{"amount": c.amount(c.id(fMoney))} }
