package menu

import (
	"maps"
	"slices"
	"strconv"

	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// circleMoneyScreens show the account of the grower in a circle: the balance, the entries, and what is disputed.
func circleMoneyScreens() []Screen {
	return []Screen{
		keyed{id: "circle.money", ask: "circle.accounts-ask", other: "circle.no-money", field: fCircle, one: true,
			keys: func(c *scene) (keys []string) {
				for _, number := range slices.Sorted(maps.Keys(c.accounts())) {
					keys = append(keys, strconv.Itoa(number))
				}
				return keys
			},
			line: func(c *scene, key string) Choice {
				return Choice{Label: "circle.account-line", Args: text.Args{"circle": int(parseID(key))},
					To: "circle.account"}
			}}.screen(),
		{ID: "circle.no-money", Rest: true, Ask: "circle.no-money"},
		{ID: "circle.account", Rest: true, Head: accountHead, Choices: []Choice{
			{Label: "circle.i-paid", Set: map[Field]string{FieldPage: "0", fGoal: "paid"}, To: "circle.pay-who"},
			{Label: "circle.i-received", Set: map[Field]string{FieldPage: "0", fGoal: "received"},
				To: "circle.pay-who"},
			{Label: "circle.fund-received", If: keepsAccount,
				Set: map[Field]string{FieldPage: "0", fGoal: "fund"}, To: "circle.pay-who"},
			{Label: "circle.entries", Set: map[Field]string{FieldPage: "0"}, To: "circle.entries"},
			{Label: "circle.disputes", If: func(c *scene) bool { return len(c.account().Disputed) > 0 },
				To: "circle.disputes"},
		}},
		keyed{id: "circle.entries", ask: "circle.entries-ask", other: "circle.no-entry", field: fLine, most: 3,
			keys: func(c *scene) []string { return ids(c.account().Entries, entryID) }, line: entryLine}.screen(),
		{ID: "circle.no-entry", Rest: true, Ask: "circle.no-entry"},
		{ID: "circle.entry", Rest: true, Head: accountEntryHead, Choices: []Choice{
			{Label: "circle.entry-back", If: mayTakeBack, To: "circle.entry-sure"},
			{Label: "circle.entry-wrong", If: mayDeny, Do: denyEntry, To: "circle.denied"},
		}},
		{ID: "circle.entry-sure", Head: accountEntryHead, Ask: "circle.entry-sure", Choices: []Choice{
			{Label: "word.yes", Do: takeBackEntry, To: "circle.entry-taken"},
			{Label: "word.no", To: "circle.account"},
		}},
		{ID: "circle.entry-taken", Rest: true, Ask: "circle.entry-taken"},
		{ID: "circle.denied", Rest: true, Ask: "circle.denied", Args: personArgs},
		{ID: "circle.disputes", Rest: true, Head: disputesHead},
	}
}

// accounts returns the accounts of the grower by the number of the circle.
func (c *scene) accounts() map[int]circle.Account {
	all, err := c.circles.Accounts()
	c.fail(err)
	return all
}

func hasAccounts(c *scene) bool { return len(c.accounts()) > 0 }

// account returns the chosen account.
func (c *scene) account() circle.Account { return c.accounts()[c.s.int(fCircle)] }

// balanceOf returns what a person is owed in an account.
func balanceOf(a circle.Account, member int64) int64 {
	for _, b := range a.Balances {
		if b.Member == member {
			return b.Amount
		}
	}
	return 0
}

// accountHead says what the grower owes or is owed, and for the keeper also how the circle's own money stands.
func accountHead(c *scene) string {
	a := c.account()
	head := c.balance("circle.you", balanceOf(a, a.Self))
	if keepsAccount(c) {
		if own := balanceOf(a, 0); own != 0 {
			head += " " + c.balance("circle.fund", own)
		}
	}
	return head
}

// keepsAccount reports whether the chosen account is in the circle of which the grower is the keeper.
func keepsAccount(c *scene) bool { return isKeeper(c) && c.ring().Number == c.s.int(fCircle) }

// balance writes what somebody is owed or owes.
func (c *scene) balance(k text.Key, amount int64) string {
	switch {
	case amount > 0:
		return c.t(k+"-owed", text.Args{"amount": c.amount(amount)})
	case amount < 0:
		return c.t(k+"-owe", text.Args{"amount": c.amount(-amount)})
	}
	return c.t(k+"-even", nil)
}

func entryID(e circle.Entry) int64 { return e.ID }

// chosenEntry returns the chosen entry; the zero value if it is not among the newest any more.
func (c *scene) chosenEntry(id int64) circle.Entry {
	for _, e := range c.account().Entries {
		if e.ID == id {
			return e
		}
	}
	return circle.Entry{}
}

// entryKinds are the last parts of the keys of the texts that name what an entry is about.
var entryKinds = map[circle.EntryKind]text.Key{circle.EntryDay: "day", circle.EntryHire: "hire",
	circle.EntryWeeding: "weeding", circle.EntryPayment: "payment"}

func (p *speech) entryKind(e circle.Entry) string {
	k, ok := entryKinds[e.Kind]
	if !ok {
		k = "payment"
	}
	if e.Corrects != 0 {
		k = "back"
	}
	return p.t("circle.kind-"+k, nil)
}

// party names one side of an entry: the grower, another person, or the circle.
func (c *scene) party(id int64) string {
	switch id {
	case 0:
		return c.t("circle.the-circle", nil)
	case c.account().Self:
		return c.t("circle.me", nil)
	}
	return c.called(c.person(id))
}

func entryLine(c *scene, key string) Choice {
	e := c.chosenEntry(parseID(key))
	amount, self := e.Amount, c.account().Self
	if e.Debtor == self || e.Debtor == 0 && e.Creditor != self {
		amount = -amount
	}
	return Choice{Label: "circle.entry-line", To: "circle.entry", Args: text.Args{"date": c.date(e.On),
		"kind": c.entryKind(e), "amount": c.amount(amount)}}
}

func (c *scene) entryArgs(e circle.Entry) text.Args {
	return text.Args{"date": c.date(e.On), "kind": c.entryKind(e), "amount": c.amount(e.Amount),
		"debtor": c.party(e.Debtor), "creditor": c.party(e.Creditor)}
}

func accountEntryHead(c *scene) string {
	e := c.chosenEntry(c.id(fLine))
	if e.ID == 0 {
		return c.t("refuse.changed", nil)
	}
	if e.Kind == circle.EntryPayment && e.Corrects == 0 {
		return c.t("circle.entry-paid", c.entryArgs(e))
	}
	return c.t("circle.entry", c.entryArgs(e))
}

// isOpenEntry reports whether an entry can still be taken back.
func isOpenEntry(c *scene, e circle.Entry) bool {
	for _, other := range c.account().Entries {
		if other.Corrects == e.ID {
			return false
		}
	}
	return e.ID != 0 && e.Corrects == 0
}

// mayTakeBack reports whether the grower may take the entry back: the creditor may, and the keeper for the circle.
func mayTakeBack(c *scene) bool {
	e := c.chosenEntry(c.id(fLine))
	return isOpenEntry(c, e) && (e.Creditor == c.account().Self || e.Creditor == 0 && keepsAccount(c))
}

func mayDeny(c *scene) bool {
	e := c.chosenEntry(c.id(fLine))
	return isOpenEntry(c, e) && e.Debtor == c.account().Self && !mayTakeBack(c)
}

// takeBackEntry takes an entry back, and tells the debtor.
func takeBackEntry(c *scene) (*Refusal, error) {
	e, self := c.chosenEntry(c.id(fLine)), c.account().Self
	if err := c.circles.TakeBack(e.ID); err != nil {
		return settled(err)
	}
	if e.Debtor != 0 && e.Debtor != self {
		c.tellOfEntry("sms.circle-back", c.person(e.Debtor), e)
	}
	return nil, c.err
}

// denyEntry tells the creditor that the grower thinks that an entry is wrong. Only the creditor can take it back.
func denyEntry(c *scene) (*Refusal, error) {
	e := c.chosenEntry(c.id(fLine))
	of, ok := c.numbered(c.s.int(fCircle))
	to := c.person(e.Creditor)
	if e.Creditor == 0 {
		to = c.person(keeperOf(of).ID)
	}
	if !ok || e.ID == 0 || to.ID == 0 {
		return &Refusal{Key: "refuse.changed"}, nil
	}
	c.s.put(fPerson, storedID(to.ID))
	c.tellOfEntry("sms.circle-wrong", to, e)
	return nil, c.err
}

// tellOfEntry tells a person of an entry, once.
func (c *scene) tellOfEntry(k text.Key, to circle.Member, e circle.Entry) {
	p, ok := c.speechTo(to)
	if !ok {
		return
	}
	self := c.person(c.account().Self)
	c.tell(p, to, Note{Once: string(k) + ":" + storedID(e.ID), Text: p.t(k, text.Args{"from": p.shownTo(self, to),
		"date": p.date(e.On), "kind": p.entryKind(e), "amount": p.amount(e.Amount), "code": c.m.opt.DialCode})})
}

// disputesHead lists what the grower and others do not agree on.
func disputesHead(c *scene) string {
	a := c.account()
	var lines []string
	for _, d := range a.Disputed[:min(len(a.Disputed), maxListed)] {
		m := c.matterOf(d)
		with := m.to
		if d.To == a.Self {
			with = m.from
		}
		lines = append(lines, c.t("circle.dispute-line", text.Args{"name": c.called(with), "about": c.about(m)}))
	}
	return stack(append([]string{c.t("circle.disputes-head", nil)}, lines...)...)
}
