package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

// The answers to the text that asks for a look at the weeds, and to the question about water that may follow.

// justSaw reports whether the last leaf count of a plot was this one, today.
func (c *scene) justSaw(u subject, leaves engine.Leaves) bool {
	last := engine.Sighting{}
	for _, x := range c.plotNo(u.No).Sightings {
		if x.Leaves != engine.LeavesUnknown {
			last = x
		}
	}
	return last.Leaves == leaves && last.On == c.saidOn()
}

// leafDigits are the answers to the question how many leaves most weeds have.
var leafDigits = map[string]engine.Leaves{
	"1": engine.NoneUp, "2": engine.OneLeaf, "3": engine.TwoThree, "4": engine.FourPlus,
}

// looked stores the leaf count of the first plot of the prompt and answers with the days that follow. If the text asked
// about two plots, the answer then asks about the second plot.
func (c *scene) looked(p prompt, leaves engine.Leaves) answered {
	if !p.Plots[0].unchanged(c.plotNo(p.Plots[0].No)) { // after a pass the question is about weeds that are gone
		return c.changed()
	}
	rest := p.Plots[1:]
	a := c.see(p.Plots[0], leaves, len(rest) == 0)
	if len(rest) > 0 {
		a.next, a.until = &prompt{Asked: askedLook, Plots: rest}, c.today()+lookDays
		a.text = c.t("sms.looked-next", text.Args{"answer": a.text, "plot": c.labels(rest[:1])})
		return a
	}
	a = c.askWater(c.withKeys(a), p.Plots[0])
	if a.next == nil { // a count that was mistyped can be corrected
		a.next, a.until = &prompt{Asked: askedLook, Plots: p.Plots[:1]}, c.today()
	}
	return a
}

// standsDigits are the answers to the question how the water stands. The digits are not those of leafDigits, so that an
// answer to the look that arrives twice does not answer this question, too.
var standsDigits = map[string]engine.Stands{
	"5": engine.StandsDry, "6": engine.StandsMud, "7": engine.StandsFingers, "8": engine.StandsHand,
}

// askWater adds the question how the water stands to the answer to a look, if the grower never spoke of the water of
// the plot, the answer asks nothing else and a pass with the grower's tool is planned.
func (c *scene) askWater(a answered, u subject) answered {
	s, plan := c.season(u.No)
	w := s.Water(c.today(), plan.Next)
	if a.next != nil || w.Known || !plan.Next.Exists() || plan.Fit.Hand() || plan.Fit.Verdict == engine.FitUnknown {
		return a
	}
	a.next, a.until = &prompt{Asked: askedWater, Plots: []subject{u}}, c.today()+lookDays
	a.text = c.t("sms.looked-water", text.Args{"answer": a.text})
	return a
}

// watered stores how the water stands and answers with what to do about it.
func (c *scene) watered(p prompt, stands engine.Stands) answered {
	u := p.Plots[0]
	c.fail(c.passes.See(u.No, engine.Sighting{On: c.saidOnOf(c.plotNo(u.No)), Water: stands}))
	s, plan := c.season(u.No)
	return answered{kind: "reply", text: c.waterOf(c.labels([]subject{u}), s, plan)}
}

// see stores a leaf count of today and says what follows from it: the days of the window, the day of the next look, or
// that the weeds must be pulled by hand. advise says that there is room for advice about tool and people. The text does
// not contain the choices of the prompt that comes next.
func (c *scene) see(u subject, leaves engine.Leaves, advise bool) answered {
	c.fail(c.passes.See(u.No, engine.Sighting{On: c.saidOnOf(c.plotNo(u.No)), Leaves: leaves}))
	_, plan := c.season(u.No)
	a := answered{kind: "reply"}
	args := text.Args{"plot": c.labels([]subject{u}), "seen": c.t(leafKeys[leaves], nil), "next": c.next(plan)}
	borrows := plan.Fit.Verdict == engine.FitUnknown && !c.hasTurnFor(u.No) // a turn comes with a tool
	open := plan.Next.Contains(c.today()) && plan.State != engine.Missed
	switch {
	case open:
		a.next, a.until = &prompt{Asked: askedPass, Plots: []subject{u}}, plan.Next.Closes
		k := text.Key("sms.looked-open")
		if borrows {
			k, args["tool"] = "sms.looked-borrow", c.widest(c.plotNo(u.No))
		}
		a.text = c.t(k, args)
	case leaves == engine.FourPlus:
		a.next, a.until = &prompt{Asked: askedHand, Plots: []subject{u}}, c.today()+handDays
		a.text = c.t("sms.too-big", args)
	case !advise || !plan.Next.Exists():
		a.text = c.t("sms.looked", args)
	case borrows:
		args["tool"] = c.widest(c.plotNo(u.No))
		a.text = c.t("sms.looked-borrow", args)
	case plan.TellsOpening():
		a.text = c.t("sms.looked-ready", args)
	case !plan.Next.AsksLook(): // no text comes on the first day, so the pass may be answered from now on
		args["days"], args["opens"] = c.days(plan.Next), c.date(plan.Next.Opens)
		a.next = &prompt{Asked: askedPass, Plots: []subject{u}, Looked: c.today()}
		a.until = plan.Next.Closes
		a.text = c.t("sms.looked-days", args)
	default:
		a.text = c.t("sms.looked", args)
	}
	return a
}
