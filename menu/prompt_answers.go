package menu

import (
	"slices"

	"rowbell/engine"
	"rowbell/menu/text"
)

// answered is the outcome of an answer to a prompt.
type answered struct {
	text  string
	kind  string
	next  *prompt    // prompt that comes after this one; nil if there is none
	until engine.Day // last day on which next can be answered
}

// answer applies an entry to the prompt. ok is false if the entry is not a possible answer to the prompt. If the
// records return an error, c.err holds it.
func (c *scene) answer(p prompt, e string) (a answered, ok bool) {
	if !c.stands(p) {
		return c.changed(), true
	}
	switch p.Asked {
	case askedCircle:
		return c.answerCircle(p, e)
	case askedPass:
		return c.answerPass(p, e)
	case askedHand:
		switch e {
		case "1":
			return c.logged(p, p.Plots, engine.ByHand), true
		case "2": // said in words only
			return c.notYet(p), true
		}
	case askedLook:
		if leaves := leafDigits[e]; leaves != 0 {
			return c.looked(p, leaves), true
		}
	case askedWater:
		if stands := standsDigits[e]; stands != 0 {
			return c.watered(p, stands), true
		}
		if leaves := leafDigits[e]; leaves != 0 { // the count that was answered before is corrected
			return c.looked(p, leaves), true
		}
	case askedPart:
		if share, ok := partDigits[e]; ok {
			return c.answerPart(p, share), true
		}
	case askedLeft:
		if left := map[string]engine.Amount{"1": engine.Few, "2": engine.Some, "3": engine.Many}[e]; left != 0 {
			return c.answerLeft(p, left), true
		}
		if e == "0" {
			return c.undo(p), true
		}
	case askedUndo:
		if e == "0" {
			return c.undo(p), true
		}
		if e == "1" && p.Rest {
			_, plan := c.season(p.Plots[0].No)
			return c.logged(p, p.Plots, c.partMeans(plan)), true
		}
		return c.readHours(p, e)
	case askedHours:
		return c.answerHours(p, e)
	}
	return a, false
}

// stillAsked reports whether all plots of a question are still open, and their numbers have not been given to other
// plots. stillAsked returns false if plots is empty.
func (c *scene) stillAsked(plots []subject) bool {
	open := c.openPlots()
	for _, u := range plots {
		if !slices.Contains(open, u.No) || !u.is(c.plotNo(u.No)) {
			return false
		}
	}
	return len(plots) > 0
}

// changed replies that the records have changed since the question was asked. Nothing is stored and no question is
// asked.
func (c *scene) changed() answered { return answered{kind: "reply", text: c.t("sms.changed", nil)} }

// answerPass reads the answer to a reminder. For one plot: 1 done, 2 not yet, 3 weeds too big, and, if the days were a
// guess, 4 weeds too small. For two plots: 1 both done, 2 only the first, 3 only the second, 4 not yet. If the only
// plot is weeded by hand, 3 is not a possible answer, because only a tool fails on big weeds.
func (c *scene) answerPass(p prompt, e string) (answered, bool) {
	_, plan := c.season(p.Plots[0].No)
	two := len(p.Plots) == 2
	notYet := "2"
	if two {
		notYet = "4"
	}
	switch {
	case p.Looked == c.today() && leafDigits[e] != 0:
		return c.looked(p, leafDigits[e]), true
	case e == "1":
		return c.logged(p, p.Plots, engine.ByTool), true
	case e == notYet:
		return c.notYet(p), true
	case two && e == "2":
		return c.logged(p, p.Plots[:1], engine.ByTool), true
	case two && e == "3":
		return c.logged(p, p.Plots[1:], engine.ByTool), true
	case e == "3" && c.justSaw(p.Plots[0], engine.TwoThree): // the digit of the look, sent twice
		return c.withKeys(c.see(p.Plots[0], engine.TwoThree, true)), true
	case e == "3" && !plan.Fit.Hand():
		return c.withKeys(c.see(p.Plots[0], engine.FourPlus, true)), true
	case e == "4" && p.Small && !plan.Fit.Hand():
		return c.withKeys(c.see(p.Plots[0], engine.OneLeaf, true)), true
	}
	return answered{}, false
}

// withKeys adds the choices of the next question to the text of an answer.
func (c *scene) withKeys(a answered) answered {
	if a.next != nil && a.next.Looked == 0 {
		_, plan := c.season(a.next.Plots[0].No)
		// On the last possible day, which the grower's own count of big leaves set, "too big" would set it again.
		a.text += " " + c.keys(*a.next, plan.Fit.Hand() || stateKey(plan) == "today")
	}
	return a
}

// logged logs a weeding, of today or of yesterday, on each plot that has none since the question was asked. Then it
// asks how many weeds are left on these plots.
func (c *scene) logged(p prompt, plots []subject, with engine.Means) answered {
	todo, already := c.notLogged(plots)
	if len(todo) == 0 {
		return already
	}
	next := &prompt{Asked: askedLeft}
	if len(p.Plots) > len(todo) {
		next.Of = p.Plots
	}
	for _, u := range todo {
		_, plan := c.season(u.No)
		pass := c.passToday(u.No, plan, with)
		if p.Before {
			pass.On = c.saidOn() - 1
		}
		next.On = pass.On
		if c.err == nil {
			c.fail(c.passes.LogPass(u.No, pass))
		}
		next.Plots = append(next.Plots, subjectOf(u.No, c.plotNo(u.No)))
	}
	plan := c.soonest(todo)
	next.Opens, next.Close = plan.Next.Opens, plan.Next.Closes
	k := text.Key("sms.after-pass")
	if with == engine.ByHand || plan.Fit.Hand() {
		k = "sms.after-pass-hand"
	}
	return answered{kind: "after-pass", next: next, until: c.today() + leftDays,
		text: c.t(k, text.Args{"plot": c.labels(todo), "date": c.date(next.On), "next": c.nextBrief(plan)})}
}

// nextBrief is next without the days that are only a guess, so that the answer to a weeding is one segment in English.
func (c *scene) nextBrief(plan engine.Plan) string {
	switch w := plan.Next; stateKey(plan) {
	case "later-look":
		return c.t("sms.next-look", text.Args{"look": c.date(w.AskOn)})
	case "later-guess":
		return c.t("sms.next-guess", text.Args{"opens": c.date(w.Opens)})
	}
	return c.next(plan)
}

// notLogged returns in todo the plots that have no pass today and no pass that was logged since the question was asked,
// and the plots of which a part is left. If no plot is left, already is the reply that a plot is logged already.
func (c *scene) notLogged(plots []subject) (todo []subject, already answered) {
	for _, u := range plots {
		s, plan := c.season(u.No)
		if n := len(s.Passes); plan.Weeded == 0 && n > 0 && (n > u.Passes || s.Passes[n-1].On >= c.saidOn()) {
			already = answered{kind: "after-pass", text: c.t("sms.already",
				text.Args{"plot": c.label(u.No, s.Plot), "date": c.date(s.Passes[n-1].On)})}
			continue
		}
		todo = append(todo, u)
	}
	return todo, already
}

// inQuestion reads the seasons of the plots of the prompt. inQuestion returns false if, on any of them, the latest pass
// is no longer the pass that the prompt asks about.
func (c *scene) inQuestion(p prompt) (seasons []engine.Season, ok bool) {
	for _, u := range p.Plots {
		s := c.plotNo(u.No)
		n := len(s.Passes)
		if c.err != nil || !u.unchanged(s) || n == 0 || s.Passes[n-1].On != p.On {
			return nil, false
		}
		seasons = append(seasons, s)
	}
	return seasons, true
}

// amend changes the pass that the prompt asks about, on each of its plots. amend reports whether that succeeded.
func (c *scene) amend(p prompt, seasons []engine.Season, change func(i int, pass *engine.Pass)) bool {
	for i, u := range p.Plots {
		pass := seasons[i].Passes[len(seasons[i].Passes)-1]
		change(i, &pass)
		if c.fail(c.passes.AmendPass(u.No, pass)); c.err != nil {
			return false
		}
	}
	return true
}

// answerLeft stores how many weeds the pass left. The reply names the next window only if this answer changed its days.
func (c *scene) answerLeft(p prompt, left engine.Amount) answered {
	seasons, ok := c.inQuestion(p)
	if !ok {
		return c.changed()
	}
	if !c.amend(p, seasons, func(_ int, pass *engine.Pass) { pass.Left = left }) {
		return answered{}
	}
	plan := c.soonest(p.Plots)
	next := ""
	if w := plan.Next; w.Opens != p.Opens || w.Closes != p.Close {
		next = " " + c.nextBrief(plan)
	}
	k := text.Key("sms.left-few")
	switch {
	case c.ofTrial(p):
		k = "sms.left-trial"
	case left == engine.Many:
		k = "sms.left-many"
	}
	return answered{kind: "after-pass",
		text: c.t(k, text.Args{"plot": c.labels(p.Plots), "next": next, "code": c.m.opt.DialCode}),
		next: &prompt{Asked: askedUndo, Plots: p.Plots, Of: p.Of, On: p.On}, until: c.today() + undoDays}
}

// took stores how long the weeding took. For two plots, the hours are divided in proportion to the areas, or equally if
// an area is unknown.
func (c *scene) took(p prompt, hours float64, people int) answered {
	seasons, ok := c.inQuestion(p)
	if !ok {
		return c.changed()
	}
	var area float64 // sum of the plots' areas, in m2
	known := true    // every plot has an area
	for _, s := range seasons {
		area += s.Plot.AreaM2
		known = known && s.Plot.AreaM2 > 0
	}
	if !c.amend(p, seasons, func(i int, pass *engine.Pass) {
		share := 1 / float64(len(seasons))
		if known {
			share = seasons[i].Plot.AreaM2 / area
		}
		pass.Hours, pass.People = hours*share, people
	}) {
		return answered{}
	}
	return answered{kind: "after-pass", next: &p, until: c.undoUntil(p),
		text: c.t("sms.hours", text.Args{"plot": c.labels(p.Plots), "hours": number(hours), "n": people})}
}

// soonest returns the plan of the plot that must be weeded first.
func (c *scene) soonest(plots []subject) (plan engine.Plan) {
	for i, u := range plots {
		_, p := c.season(u.No)
		if i == 0 || p.Next.Exists() && (!plan.Next.Exists() || p.Next.Opens < plan.Next.Opens) {
			plan = p
		}
	}
	return plan
}

// notYet replies with the last day of the window and asks the same question again. If the window has been missed, it
// asks instead whether the weeds are pulled by hand.
func (c *scene) notYet(p prompt) answered {
	closes, missed, hand := engine.Day(0), false, false
	for _, u := range p.Plots {
		_, plan := c.season(u.No)
		missed, hand = missed || plan.State == engine.Missed, hand || plan.Fit.Hand()
		if w := plan.Next; w.Exists() && (closes == 0 || w.Closes < closes) {
			closes = w.Closes
		}
	}
	again := p
	a := answered{kind: "reply", next: &again, until: closes}
	k := text.Key("sms.not-yet")
	switch {
	case closes == 0 || missed || p.Asked == askedHand:
		again.Asked = askedHand
		a.until = c.today() + handDays
		a.text = c.t("sms.not-yet-missed", text.Args{"plot": c.labels(p.Plots)})
		return a
	case hand:
		k = "sms.not-yet-hand"
	}
	a.text = c.t(k, text.Args{"plot": c.labels(p.Plots), "closes": c.date(closes)})
	return a
}

// undo removes the pass that an answer has logged from each plot of the prompt. Then it asks again whether the plots
// are weeded, or, if the window has been missed, whether the weeds are pulled by hand.
func (c *scene) undo(p prompt) answered {
	if _, ok := c.inQuestion(p); !ok {
		return c.changed()
	}
	for _, u := range p.Plots {
		if c.fail(c.passes.UndoPass(u.No)); c.err != nil {
			return answered{}
		}
	}
	of := p.Of
	if !c.stillAsked(of) {
		of = p.Plots
	}
	again := &prompt{Asked: askedPass}
	for _, u := range of {
		again.Plots = append(again.Plots, subjectOf(u.No, c.plotNo(u.No)))
	}
	_, plan := c.season(p.Plots[0].No)
	until := max(c.today(), plan.Next.Closes)
	if plan.State == engine.Missed {
		again.Asked, until = askedHand, c.today()+handDays
	}
	return answered{kind: "reply", next: again, until: until, text: c.t("sms.undone", text.Args{
		"plot": c.labels(p.Plots), "next": c.next(plan), "keys": c.keys(*again, plan.Fit.Hand())})}
}

// keys returns the sentence that says what each digit means as an answer to the question.
func (c *scene) keys(p prompt, noBig bool) string {
	switch {
	case p.Asked == askedHand:
		return c.t("sms.keys-done", nil)
	case p.Asked == askedLeft:
		return c.t("sms.keys-left", nil)
	case p.Asked == askedWater:
		return c.t("sms.keys-water", nil)
	case p.Asked == askedUndo:
		return c.t("sms.keys-undo", nil)
	case len(p.Plots) == 2:
		return c.t("sms.keys-two", text.Args{"a": c.labels(p.Plots[:1]), "b": c.labels(p.Plots[1:])})
	case noBig:
		return c.t("sms.keys-hand", nil)
	case p.Small:
		return c.t("sms.keys-small", nil)
	}
	return c.t("sms.keys", nil)
}

// askedText asks the question of a prompt again, with its choices.
func (c *scene) askedText(p prompt) string {
	switch {
	case p.Asked == askedLook, p.Asked == askedPass && p.Looked == c.today():
		return c.t("sms.look-how", text.Args{"plot": c.labels(p.Plots[:1])})
	case p.Asked == askedPart:
		return c.t("sms.part-how", text.Args{"plot": c.labels(p.Plots[:1])})
	case p.Asked == askedUndo && !c.ofTrial(p):
		return c.t("sms.hours-how", nil)
	case p.Asked == askedHours:
		return c.hoursText(p)
	case p.Asked == askedCircle:
		return c.circleText(p)
	}
	_, plan := c.season(p.Plots[0].No)
	return c.t("sms.again", text.Args{"plot": c.labels(p.Plots), "keys": c.keys(p, plan.Fit.Hand())})
}

// labels joins the names of one plot or of two.
func (c *scene) labels(plots []subject) string {
	names := make([]string, 0, len(plots))
	for _, u := range plots {
		names = append(names, c.label(u.No, c.plotNo(u.No).Plot))
	}
	return c.both(names)
}
