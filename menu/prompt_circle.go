package menu

import (
	"errors"
	"math"

	"rowbell/engine/circle"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// A text may have asked a question of another person of a circle. The prompt has the ID of the question.

// openAsk returns the question of a prompt, if it is still open.
func (c *scene) openAsk(id int64) (circle.Ask, bool) {
	for _, a := range c.openAsks() {
		if a.ID == id {
			return a, true
		}
	}
	return circle.Ask{}, false
}

// stands reports whether the question of a prompt can still be answered.
func (c *scene) stands(p prompt) bool {
	if p.Asked == askedCircle {
		_, open := c.openAsk(p.Ask)
		return open
	}
	return c.stillAsked(p.Plots)
}

// circleAnswers lists the answers to a question from a circle.
func circleAnswers(p prompt) []said {
	yes := answer.Option{Digit: '1', Yes: true, Senses: []answer.Sense{"agree"}, Denied: true}
	no := answer.Option{Digit: '2', No: true, Senses: []answer.Sense{"refuse"}}
	return []said{{yes, "1", p}, {no, "2", p}}
}

// readCirclePrice returns an amount of money in a text that answers the question for the price of a weeding. A single
// digit is none, because it is the digit of an answer.
func (c *scene) readCirclePrice(p prompt, s string) (entry string, ok bool) {
	if p.Kind != circle.AskWeeding {
		return "", false
	}
	for _, e := range []string{answer.Digits(s), c.m.spoken().Plain(s, answer.SenseYes, answer.SenseThanks)} {
		if amount, refused := answer.Price(e, ""); refused == nil && amount > 0 && !isDigit(e) {
			return e, true
		}
	}
	return "", false
}

// answerCircle applies an answer to a question from a circle.
func (c *scene) answerCircle(p prompt, e string) (answered, bool) {
	a, open := c.openAsk(p.Ask)
	if !open {
		return c.changed(), true
	}
	yes, amount := e == "1", int64(0)
	switch {
	case a.Kind == circle.AskWeeding && yes: // the price is missing
		return answered{kind: "reply", text: c.circleText(p), next: &p, until: a.Until}, true
	case a.Kind == circle.AskWeeding && !isDigit(e):
		price, refused := answer.Price(e, "")
		if refused != nil {
			return answered{}, false
		}
		yes, amount = true, int64(math.Round(price*100))
	case !yes && e != "2":
		return answered{}, false
	}
	m := c.matterOf(a)
	switch after, err := c.settle(a.ID, yes, amount); {
	case errors.Is(err, circle.ErrAskOver), errors.Is(err, circle.ErrNoCircle):
		return c.changed(), true
	case err != nil:
		refused := circleRefusal(err)
		if refused == nil {
			c.fail(err)
			return answered{}, true
		}
		return answered{kind: "reply", text: c.t(refused.Key, refused.Args)}, true
	default:
		m.Amount = after.Amount
	}
	return answered{kind: "reply", text: c.answeredText(m, yes)}, true
}

// answeredText confirms an answer to the one who gave it.
func (c *scene) answeredText(m matter, yes bool) string {
	args := text.Args{"about": c.about(m), "from": c.called(m.from)}
	if !yes {
		return c.t("circle.said-no", args)
	}
	return c.t("circle.said-yes", args)
}

// circleText asks the question of a prompt again.
func (c *scene) circleText(p prompt) string {
	a, _ := c.openAsk(p.Ask)
	return c.t(askedKey(a.Kind), text.Args{"question": c.asks(c.matterOf(a))})
}
