package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

// A grower may have weeded a part of a plot. The share that is asked and told is of everything that is weeded in the
// window: two halves are the plot.

// These shares of a plot have names.
const quarter, half, threeQuarters = 0.25, 0.5, 0.75

// partDigits are the answers to the question how much of a plot is weeded.
var partDigits = map[string]float64{"1": quarter, "2": half, "3": threeQuarters, "4": 1, "5": 0}

// partEntry returns the digit of a share; false if the share has none.
func partEntry(share float64) (entry string, ok bool) {
	for digit, x := range partDigits {
		if x == share && x > 0 {
			return digit, true
		}
	}
	return "", false
}

// partly answers a grower who says that only a part of the plots is weeded. share is the part; 0 if it was not told. If
// it may be a further part of one plot, or a part of two, the answer asks how much is weeded in all.
func (c *scene) partly(_ prompt, plots []subject, share float64) answered {
	todo, already := c.notLogged(plots)
	if len(todo) == 0 {
		return already
	}
	if _, plan := c.season(todo[0].No); share > 0 && len(todo) == 1 && plan.Weeded == 0 {
		return c.partLogged(todo[0], share)
	}
	return c.askPart("", todo)
}

// askPart asks how much of the first plot is weeded. said is what the text says before.
func (c *scene) askPart(said string, plots []subject) answered {
	how := c.t("sms.part-how", text.Args{"plot": c.labels(plots[:1])})
	if said != "" {
		how = said + " " + how
	}
	next := &prompt{Asked: askedPart, Plots: plots}
	return answered{kind: "reply", text: how, next: next, until: c.today() + leftDays}
}

// answerPart logs the share of the first plot of the prompt, and asks about the second plot if there is one.
func (c *scene) answerPart(p prompt, share float64) answered {
	u, rest := p.Plots[0], p.Plots[1:]
	_, plan := c.season(u.No)
	todo, a := c.notLogged(p.Plots[:1])
	switch {
	case len(todo) == 0: // logged since the question, by a call
	case share == 1:
		a = c.logged(p, p.Plots[:1], c.partMeans(plan))
	case share > plan.Weeded:
		a = c.partLogged(u, share)
	default: // no more than before
		a = c.notYet(prompt{Asked: askedPass, Plots: p.Plots[:1]})
	}
	if len(rest) == 0 || c.err != nil {
		return a
	}
	_, plan = c.season(u.No)
	return c.askPart(c.t("home.plot", text.Args{"plot": c.labels(p.Plots[:1]), "next": c.next(plan)}), rest)
}

// partMeans returns how a part is weeded today: weeds of a window that is missed are pulled by hand.
func (c *scene) partMeans(plan engine.Plan) engine.Means {
	if plan.State == engine.Missed {
		return engine.ByHand
	}
	return engine.ByTool
}

// partLogged logs that a share of the plot is weeded today, together with the parts before. What is left stays due: the
// answer says until when, and the prompt takes the rest, the hours of the part and its undoing.
func (c *scene) partLogged(u subject, share float64) answered {
	_, plan := c.season(u.No)
	pass := c.passToday(u.No, plan, c.partMeans(plan))
	pass.Share = share - plan.Weeded
	if c.err == nil {
		c.fail(c.passes.LogPass(u.No, pass))
	}
	s, plan := c.season(u.No)
	next := &prompt{Asked: askedUndo, Plots: []subject{subjectOf(u.No, s)}, On: pass.On, Rest: plan.Weeded > 0}
	k := text.Key("sms.part")
	switch {
	case c.ofTrial(*next):
		k = "sms.left-trial"
	case !next.Rest: // the window is over
		k = "sms.left-few"
	}
	args := text.Args{"plot": c.labels(next.Plots), "next": c.next(plan), "code": c.m.opt.DialCode}
	if k != "sms.part" {
		args["next"] = " " + c.next(plan)
	}
	return answered{kind: "after-pass", text: c.t(k, args), next: next, until: c.undoUntil(*next)}
}

// undoUntil returns the last day on which a pass that was just logged can be undone by an answer. While a part of the
// plot is left, it is the last day for the rest.
func (c *scene) undoUntil(p prompt) engine.Day {
	until := c.today() + undoDays
	if !p.Rest {
		return until
	}
	_, plan := c.season(p.Plots[0].No)
	if plan.State == engine.Missed {
		return c.today() + handDays
	}
	return max(until, plan.Next.Closes)
}

// passToday returns a weeding of the day of the text, of all that is left of a plot.
func (c *scene) passToday(no int, plan engine.Plan, with engine.Means) engine.Pass {
	if plan.Fit.Hand() {
		with = engine.ByHand
	}
	pass := c.byTrialWay(no, engine.Pass{On: c.saidOnOf(c.plotNo(no)), With: with})
	if plan.Weeded > 0 {
		pass.Share = 1 - plan.Weeded
	}
	return pass
}

// part names a share of a plot.
func (p *speech) part(share float64) string {
	switch share {
	case quarter:
		return p.t("part.quarter", nil)
	case half:
		return p.t("part.half", nil)
	case threeQuarters:
		return p.t("part.three-quarters", nil)
	}
	return p.t("part.percent", text.Args{"n": whole(100 * share)})
}
