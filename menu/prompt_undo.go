package menu

import (
	"slices"

	"rowbell/engine"
	"rowbell/menu/text"
)

// undo takes the pass back and puts the question again that it answered.
func (c *scene) undo(p prompt) answered {
	if !c.holds(p) {
		return c.changed()
	}
	for _, u := range p.Plots {
		if err := c.b.UndoPass(u.No); err != nil {
			c.fail(err)
			return answered{}
		}
	}
	of := p.Of
	if !c.stillAsked(of) {
		of = p.Plots
	}
	again := &prompt{Asked: askedPass}
	for _, u := range of {
		s, _, ok := c.season(u.No)
		if !ok {
			return answered{}
		}
		again.Plots = append(again.Plots, subjectOf(u.No, s))
	}
	_, plan, ok := c.season(p.Plots[0].No)
	if !ok {
		return answered{}
	}
	until := max(c.today(), plan.Next.Closes)
	if plan.State == engine.Missed {
		again.Asked, until = askedHand, c.today()+handDays
	}
	return answered{kind: "reply", next: again, until: until,
		text: c.t("sms.undone", text.Args{"plot": c.labels(p.Plots), "next": c.next(plan), "keys": c.keys(*again, plan.Fit.Hand())})}
}

// stillAsked reports that a question can be put again about all of the plots.
func (c *scene) stillAsked(plots []subject) bool {
	open, err := c.b.Plots()
	if err != nil {
		c.fail(err)
	}
	for _, u := range plots {
		if !slices.Contains(open, u.No) {
			return false
		}
		if s, _, ok := c.season(u.No); !ok || !u.is(s) {
			return false
		}
	}
	return len(plots) > 0
}

// keys says what the digits mean after a question.
func (c *scene) keys(p prompt, hand bool) string {
	switch {
	case p.Asked == askedHand:
		return c.t("sms.keys-done", nil)
	case len(p.Plots) == 2:
		return c.t("sms.keys-two", text.Args{"a": c.labels(p.Plots[:1]), "b": c.labels(p.Plots[1:])})
	case hand:
		return c.t("sms.keys-hand", nil)
	}
	return c.t("sms.keys", nil)
}
