package menu

import (
	"fmt"

	"rowbell/engine/circle"
	"rowbell/menu/text"
)

// What staff do in a circle for a member is what the member does by dial: the same change of the records, and the same
// texts to the others. The errors are those of CircleRecords.

// staffScene returns a scene that composes texts for a change by staff in the records of a grower.
func (m *Menu) staffScene(b Book) *scene {
	c := m.scene(b, SMS, &session{})
	b.Via("desk")
	return c
}

// MendTool notes for a member of a circle that one of its tools is broken or works again, and returns the texts to the
// guests who have hired it. Members hear from the next plan of the turns. It returns circle.ErrAskOver if that was
// noted before.
func (m *Menu) MendTool(b Book, tool int64, broken bool) ([]Note, error) {
	c := m.staffScene(b)
	was := c.ring().Circle
	t, no := sharedIn(was, tool)
	switch {
	case c.err != nil:
		return nil, c.err
	case no == 0:
		return nil, circle.ErrNoCircle
	case t.Broken == broken:
		return nil, circle.ErrAskOver
	}
	t.Broken = broken
	if err := c.circles.ChangeSharedTool(t); err != nil {
		return nil, err
	}
	after := text.Key("circle.mended")
	if broken {
		after = "circle.broken"
	}
	c.tellHirersOf(was, tool, after)
	return c.send, c.err
}

// TakeBackEntry takes back an entry of a circle for its creditor, or for the keeper if that is the circle, and returns
// the texts to the debtor and to the creditor, who has not done it by dial.
func (m *Menu) TakeBackEntry(b Book, number int, e circle.Entry) ([]Note, error) {
	c := m.staffScene(b)
	c.s.put(fCircle, fmt.Sprint(number))
	if err := c.circles.TakeBack(e.ID); err != nil {
		return nil, err
	}
	self := c.person(c.account().Self)
	if e.Debtor != 0 && e.Debtor != self.ID {
		c.tellOfEntry("sms.circle-back", c.person(e.Debtor), e)
	}
	if p, ok := c.speechTo(self); ok && c.err == nil {
		c.cat = c.m.texts
		words := c.t("circle.entry", c.entryArgs(e)) + " " + c.t("circle.entry-taken", nil)
		c.tell(p, self, Note{Once: "desk.back:" + storedID(e.ID), Text: words})
	}
	return c.send, c.err
}
