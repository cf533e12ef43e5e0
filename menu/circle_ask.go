package menu

import (
	"cmp"

	"rowbell/engine"
	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// The words of the questions between the persons of a circle, on screens and in texts to the other person.

// matter is a question with all that its words name.
type matter struct {
	circle.Ask
	from, to circle.Member
	tool     circle.SharedTool
	toolNo   int // number of the tool in the list of its circle
}

// matterOf reads what the words of a question name.
func (c *scene) matterOf(a circle.Ask) matter {
	m := matter{Ask: a, from: c.person(a.From), to: c.person(a.To)}
	if a.Tool != 0 {
		in, _ := c.numbered(a.Circle)
		m.tool, m.toolNo = sharedIn(in, a.Tool)
	}
	return m
}

// args are the values of the words of a question. sender and receiver are the persons as the reader may see them.
func (p *speech) matterArgs(m matter) text.Args {
	last := m.Day + engine.Day(max(m.Days, 1)) - 1
	return text.Args{"from": p.shownTo(m.from, m.to), "to": p.called(m.to), "circle": m.Circle,
		"tool": p.tool(m.tool, m.toolNo), "days": p.daysOf(m.Day, last), "date": p.date(m.Day),
		"other": p.date(m.Other), "amount": p.amount(m.Amount), "area": p.write(number(m.AreaM2))}
}

// asks writes a question to the person who is asked.
func (p *speech) asks(m matter) string {
	k := text.Key("circle.ask-" + m.Kind.String())
	if m.ForCircle {
		k += "-circle"
	}
	return p.t(k, p.matterArgs(m))
}

// about says in a few words what a question is about, for the one who asked and for lists.
func (p *speech) about(m matter) string {
	return p.t(text.Key("circle.about-"+m.Kind.String()), p.matterArgs(m))
}

// speechTo returns what writes texts to a person; false if this person gets none. A number that another person may have
// by now is told no names.
func (c *scene) speechTo(m circle.Member) (speech, bool) {
	p := speech{cat: c.m.texts, lang: c.m.language(m.Language), said: c.speech.said}
	return p, m.ID != 0 && m.Phone != "" && !m.Stopped && !m.Silent
}

// tell sends a text to a person. n has what the text is about.
func (c *scene) tell(p speech, m circle.Member, n Note) {
	n.Kind, n.Person = cmp.Or(n.Kind, "circle"), m.ID
	c.fail(p.err)
	c.send = append(c.send, n)
}

// put sends a question to the person who is asked. The text asks for a digit only if this person was not asked
// something else that is still open. Otherwise the text says to dial.
func (c *scene) put(a circle.Ask) {
	m := c.matterOf(a)
	p, ok := c.speechTo(m.to)
	if !ok || c.err != nil {
		return
	}
	busy, err := c.circles.Prompted(a.To)
	if c.fail(err); c.err != nil {
		return
	}
	args := text.Args{"question": p.asks(m), "code": c.m.opt.DialCode}
	n := Note{Ask: a.ID}
	switch {
	case busy:
		n.Text, n.Kind = p.t("sms.circle-dial", args), circle.DialText
	default:
		n.Text = p.t(askedKey(a.Kind), args)
		n.Prompt, err = prompt{Asked: askedCircle, Ask: a.ID, Kind: a.Kind}.encode()
		n.PromptEnd = a.Until
		c.fail(err)
	}
	c.tell(p, m.to, n)
}

// askedKey is the text that asks a question and says how to answer it.
func askedKey(k circle.AskKind) text.Key {
	if k == circle.AskWeeding {
		return "sms.circle-price"
	}
	return "sms.circle-ask"
}

// ask stores a question of the grower and sends it. name and words are those to which a guest has agreed.
func (c *scene) ask(a circle.Ask, name, words string) (*Refusal, error) {
	a, err := c.circles.Ask(a, name, words)
	if err != nil {
		return settled(err)
	}
	return nil, c.sent(a)
}

// sent sends a question that was stored, and keeps who is asked for the next screen.
func (c *scene) sent(a circle.Ask) error {
	c.forgetCircle()
	c.s.put(fPerson, storedID(a.To))
	c.put(a)
	return c.err
}

// settle stores the answer to a question and tells it to the one who asked. what is the question as it was answered.
func (c *scene) settle(id int64, yes bool, amount int64) (what circle.Ask, err error) {
	after, err := c.circles.AnswerAsk(id, yes, amount)
	if err != nil {
		return after, err
	}
	c.forgetCircle()
	if after.Kind == circle.AskOffer && after.ID != id {
		c.put(after)
		return after, c.err
	}
	m := c.matterOf(after)
	if p, ok := c.speechTo(m.from); ok && c.err == nil {
		args := text.Args{"from": p.shownTo(m.to, m.from), "about": p.about(m)}
		if yes && m.Kind == circle.AskHire { // the guest has to fetch the tool
			args["from"] = p.reached(m.to)
		}
		c.tell(p, m.from, Note{Ask: id, Text: p.t(settledKey(m.Ask, yes), args)})
	}
	return after, c.err
}

// settledKey is the text that tells the answer to the one who asked.
func settledKey(a circle.Ask, yes bool) text.Key {
	carried := a.Kind == circle.AskHire || a.Kind == circle.AskSwap
	switch {
	case yes && carried:
		return "sms.circle-yes-tool"
	case yes:
		return "sms.circle-yes"
	case disputes(a.Kind):
		return "sms.circle-disputed"
	}
	return "sms.circle-no"
}

// disputes reports whether a no to a question is a dispute about money.
func disputes(k circle.AskKind) bool {
	return k == circle.AskPaid || k == circle.AskReceived || k == circle.AskWeeded
}
