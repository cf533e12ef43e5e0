package menu

import (
	"slices"

	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// circlePayScreens tell another person of a payment or of work that is done, and ask whether it is right.
func circlePayScreens() []Screen {
	return []Screen{
		keyed{id: "circle.pay-who", ask: "circle.pay-who", other: "circle.pay-nobody", field: fPerson,
			keys: payees, line: payeeLine}.screen(),
		keyed{id: "circle.weeded", ask: "circle.pay-who", other: "circle.no-weeding", field: fPerson,
			keys: agreedOffers, line: offerLine}.screen(),
		{ID: "circle.no-weeding", Rest: true, Ask: "circle.no-weeding"},
		{ID: "circle.pay-nobody", Rest: true, Ask: "circle.pay-nobody"},
		{ID: "circle.pay-amount", Ask: "circle.pay-amount", Args: payArgs,
			Typed: &Typed{Read: readMoney, To: "circle.pay-sure", Samples: moneySamples}},
		{ID: "circle.pay-sure", Head: paySureHead, Ask: "circle.pay-right", Args: payArgs, Choices: []Choice{
			{Label: "word.yes", Do: askPayment, To: "circle.asked"},
			{Label: "word.no", To: "circle.pay-amount"},
		}},
	}
}

// theCircle is the key of the circle itself in the list of those to whom something is paid.
const theCircle = "0"

// payees lists those of whose money the grower can tell: the persons of the circle, and its own money. Those with whom
// the account has entries come first; a guest or a former member can tell only of these.
func payees(c *scene) (keys []string) {
	now, goal := c.ring(), c.s.Answers[fGoal]
	if now.exists && now.Number == c.s.int(fCircle) {
		keys = ids(slices.DeleteFunc(slices.Clone(now.Members), func(m circle.Member) bool {
			return m.ID == now.Self || m.Phone == "" || !m.Joined && !m.Guest
		}), memberID)
		if goal == "paid" && !isKeeper(c) {
			keys = append(keys, theCircle)
		}
		known := parties(c)
		isKnown := func(key string) bool { return slices.Contains(known, key) }
		return slices.Concat(slices.DeleteFunc(slices.Clone(keys), not(isKnown)), slices.DeleteFunc(keys, isKnown))
	}
	return slices.DeleteFunc(parties(c), func(key string) bool { return key == theCircle && goal != "paid" })
}

// parties lists those with whom the account of the grower has entries.
func parties(c *scene) (keys []string) {
	a := c.account()
	for _, e := range a.Entries {
		if e.Debtor != a.Self && e.Creditor != a.Self {
			continue // of the circle, which its keeper sees too
		}
		for _, id := range []int64{e.Debtor, e.Creditor} {
			if key := storedID(id); id != a.Self && !slices.Contains(keys, key) {
				keys = append(keys, key)
			}
		}
	}
	return keys
}

// payee returns the person who is asked about the money; for the circle's own money the keeper, and true.
func (c *scene) payee() (m circle.Member, forCircle bool) {
	if c.s.Answers[fPerson] == theCircle {
		of, _ := c.numbered(c.s.int(fCircle))
		return keeperOf(of), true
	}
	return c.person(c.id(fPerson)), false
}

func payeeLine(c *scene, key string) Choice {
	name := c.t("circle.the-circle", nil)
	if key != theCircle {
		name = c.called(c.person(parseID(key)))
	}
	return Choice{Label: "circle.member-line", Args: text.Args{"name": name}, To: "circle.pay-amount"}
}

// agreedOffers lists to whom the grower owes a weeding that was agreed for a price.
func agreedOffers(c *scene) (keys []string) {
	for _, a := range c.ring().Asks {
		if a.Kind == circle.AskOffer && a.State == circle.AskYes && a.From == c.ring().Self {
			keys = append(keys, storedID(a.To))
		}
	}
	return keys
}

func offerLine(c *scene, key string) Choice {
	line := payeeLine(c, key)
	for _, a := range c.ring().Asks {
		if a.Kind == circle.AskOffer && a.State == circle.AskYes && a.To == parseID(key) {
			line.Set, line.To = map[Field]string{fMoney: storedID(a.Amount)}, "circle.pay-sure"
		}
	}
	return line
}

func payArgs(c *scene) text.Args {
	m, forCircle := c.payee()
	name := c.called(m)
	if forCircle {
		name = c.t("circle.the-circle", nil)
	}
	return text.Args{"name": name, "to": c.called(m), "amount": c.amount(c.id(fMoney))}
}

// payKinds are the questions that tell of money, by what was chosen before.
var payKinds = map[string]circle.AskKind{"paid": circle.AskPaid, "received": circle.AskReceived,
	"fund": circle.AskReceived, "weeded": circle.AskWeeded}

func paySureHead(c *scene) string {
	switch c.s.Answers[fGoal] {
	case "received":
		return c.t("circle.sure-received", payArgs(c))
	case "fund":
		return c.t("circle.sure-fund", payArgs(c))
	case "weeded":
		return c.t("circle.sure-weeded", payArgs(c))
	}
	return c.t("circle.sure-paid", payArgs(c))
}

func askPayment(c *scene) (*Refusal, error) {
	m, forCircle := c.payee()
	kind := payKinds[c.s.Answers[fGoal]]
	number, self := c.s.int(fCircle), c.account().Self
	if kind == circle.AskWeeded || c.ring().exists && c.ring().Number == number {
		number, self = c.ring().Number, c.ring().Self
	}
	if kind == 0 || m.ID == 0 {
		return &Refusal{Key: "refuse.changed"}, nil
	}
	return c.ask(circle.Ask{Kind: kind, Circle: number, From: self, To: m.ID, Amount: c.id(fMoney),
		ForCircle: forCircle || c.s.Answers[fGoal] == "fund"}, "", "")
}
