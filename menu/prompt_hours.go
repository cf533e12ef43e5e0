package menu

import (
	"math"

	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// told is how long a weeding took, as a text said it, if that is likely a slip: 2.30, 25h, 08:00.
type told struct {
	Hours  float64 `json:"h"`
	Or     float64 `json:"o,omitempty"` // hours that may be meant instead; 0: none
	People int     `json:"p"`
}

// readHours reads the hours of a weeding in reply to a text. Hours that are likely a slip are asked back.
func (c *scene) readHours(p prompt, e string) (answered, bool) {
	hours, people, d, ok := answer.Took(e)
	if !ok || c.ofTrial(p) {
		return answered{}, false
	}
	p.Asked, p.Told = askedUndo, nil
	if d.Why == answer.NoDoubt {
		return c.took(p, hours, people), true
	}
	if _, ok := c.inQuestion(p); !ok {
		return c.changed(), true
	}
	p.Asked, p.Told = askedHours, &told{Hours: hours, People: people}
	if d.Meant != nil {
		p.Told.Or = *d.Meant
	}
	return answered{kind: "reply", text: c.hoursText(p), next: &p, until: c.today() + undoDays}, true
}

// answerHours reads the answer to the question which hours are meant.
func (c *scene) answerHours(p prompt, e string) (answered, bool) {
	t := p.Told
	p.Asked, p.Told = askedUndo, nil
	switch {
	case e == "0":
		return c.undo(p), true
	case e == "1":
		return c.took(p, t.Hours, t.People), true
	case e == "2" && t.Or > 0:
		return c.took(p, t.Or, t.People), true
	}
	return c.readHours(p, e)
}

// hoursText asks which hours are meant.
func (c *scene) hoursText(p prompt) string {
	say := sayHours(fHours)
	if t := p.Told; t.Or > 0 && math.Abs(t.Hours-t.Or) < 1 { // 2.30 is 2 h 30 min, or 2.3 h
		say = sayMinutes(fHours)
	}
	args := text.Args{"plot": c.labels(p.Plots), "first": say(c, fHours.with(p.Told.Hours))}
	if p.Told.Or == 0 {
		return c.t("sms.hours-sure", args)
	}
	args["second"] = say(c, fHours.with(p.Told.Or))
	return c.t("sms.hours-which", args)
}

// hoursAnswers lists the answers to the question which hours are meant.
func hoursAnswers(p prompt) []said {
	all := []said{{answer.Option{Digit: '1', Yes: true}, "1", p}, {senseOption('0', "undo"), "0", p}}
	if p.Told.Or > 0 {
		all = append(all, said{answer.Option{Digit: '2', No: true}, "2", p})
	}
	return all
}
