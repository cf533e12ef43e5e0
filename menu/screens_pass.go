package menu

import (
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// passScreens log a weeding: the day, the tool or the hands, and how many weeds are left. Hours and people are asked
// after that, and the grower may leave them out.
func passScreens() []Screen {
	on := func(ago int) func(*scene) *Refusal {
		return func(c *scene) *Refusal {
			c.s.put(fOn, strconv.Itoa(int(c.saidOn())-ago))
			return c.passDay()
		}
	}
	part := func(label text.Key, share float64) Choice {
		return Choice{Label: label, Set: map[Field]string{fShare: strconv.FormatFloat(share, 'g', -1, 64)},
			If: func(c *scene) bool { return share > c.weeded() }, To: "pass.part-with"}
	}
	left := func(a engine.Amount) map[Field]string { return map[Field]string{fLeft: strconv.Itoa(int(a))} }
	return []Screen{
		{ID: "pass.when", Ask: "pass.when.ask", Args: plotArgs, Choices: []Choice{
			{Label: "pass.when.today", Prep: on(0), To: "pass.with"},
			{Label: "pass.when.yesterday", Prep: on(1), To: "pass.with"},
			{Label: "pass.when.other", To: "pass.date"},
		}},
		{ID: "pass.date", Ask: "pass.date.ask",
			Typed: &Typed{Read: readWeededDay(readPastDate(fOn, answer.WeededReach), (*scene).passDay), To: "pass.with",
				Samples: []string{"5", "2", "25/11/25"}}},
		{ID: "pass.with", Head: func(c *scene) string { return c.dayAgo(day(c.s.int(fOn))) }, Ask: "pass.with.ask",
			Choices: append(withWhat(false, "pass.left"), Choice{Label: "pass.with.part", To: "pass.part"})},
		{ID: "pass.part", Ask: "pass.part.ask", Args: plotArgs, Choices: []Choice{
			part("part.quarter", quarter), part("part.half", half), part("part.three-quarters", threeQuarters)}},
		{ID: "pass.part-with", Head: func(c *scene) string { return c.part(c.s.float(fShare)) }, Ask: "pass.with.ask",
			Choices: withWhat(true, "pass.done")},
		{ID: "pass.left", Ask: "pass.left.ask", Choices: []Choice{
			{Label: "word.few", Set: left(engine.Few), Do: amendPass(setLeft), To: "pass.done"},
			{Label: "word.some", Set: left(engine.Some), Do: amendPass(setLeft), To: "pass.done"},
			{Label: "word.many", Set: left(engine.Many), Do: amendPass(setLeft), To: "pass.done"},
		}},
		{ID: "pass.done", Rest: true, Head: passDoneHead, Choices: []Choice{
			{Label: "pass.done.hours", To: "pass.hours"},
			{Label: "pass.done.undo", Do: undoPass, To: "pass.undone"},
		}},
		{ID: "pass.hours", Ask: "pass.hours.ask",
			Typed: &Typed{Read: readHours, To: "pass.people", Samples: []string{"3", "2h30", "12.5", "499.5"}}},
		{ID: "pass.people", Ask: "pass.people.ask",
			Typed: &Typed{Read: readPeople, Do: amendPass(setHours), To: "pass.noted", Samples: []string{"2", "12"}}},
		{ID: "pass.noted", Rest: true, Head: notedHead},
		{ID: "pass.undone", Rest: true, Ask: "pass.undone.text", Args: plotArgs},
	}
}

// withWhat are the choices with what and in which direction the plot was weeded. If all of it was weeded, they say that
// no share was chosen.
func withWhat(part bool, to ScreenID) []Choice {
	choice := func(label text.Key, m engine.Means, w engine.Way, offered func(*scene) bool) Choice {
		set := map[Field]string{fWith: strconv.Itoa(int(m)), fWay: strconv.Itoa(int(w))}
		if !part {
			set[fShare] = ""
		}
		return Choice{Label: label, Set: set, If: offered, Do: logPass, To: to}
	}
	return []Choice{
		choice("pass.with.one-way", engine.ByTool, engine.Along, plotInLines),
		choice("pass.with.both", engine.ByTool, engine.Both, plotSquare),
		choice("pass.with.hand", engine.ByHand, engine.WayUnknown, nil),
	}
}

const (
	fPeople Field = "people"
	fShare  Field = "share" // share of the plot that is weeded, with the parts before; "": all of it
)

func plotSquare(c *scene) bool { return c.plot().Plot.Square() }

// passDay refuses a day on which the plot cannot have been weeded.
func (c *scene) passDay() *Refusal {
	s := c.plot()
	return c.weededOn(s.Plot.Planted, s.Passes)
}

// weeded returns the share of the plot that was weeded already in the window of the weeding's day.
func (c *scene) weeded() float64 {
	plan, err := c.m.windows(c.plot(), day(c.s.int(fOn)))
	c.fail(err)
	return plan.Weeded
}

// weededOn refuses a day of weeding that is before the planting day, or on the day of another pass, unless that pass
// left a part of the plot.
func (c *scene) weededOn(planted engine.Day, passes []engine.Pass) *Refusal {
	on := day(c.s.int(fOn))
	if on < planted {
		return &Refusal{Key: "refuse.before-planting", Args: text.Args{"date": c.date(planted)}}
	}
	if slices.ContainsFunc(passes, func(p engine.Pass) bool { return p.On == on }) && c.weeded() == 0 {
		return &Refusal{Key: "refuse.same-day", Args: text.Args{"date": c.date(on)}}
	}
	return nil
}

// logPass logs the weeding before the remaining questions about it, so that the weeding is stored even if the grower
// leaves at the next question.
func logPass(c *scene) (*Refusal, error) {
	no := c.s.int(fPlot)
	pass := engine.Pass{On: day(c.s.int(fOn)), With: engine.Means(c.s.int(fWith)), Way: engine.Way(c.s.int(fWay))}
	if refused := c.passDay(); refused != nil || c.err != nil {
		return refused, c.err
	}
	if share, before := c.s.float(fShare), c.weeded(); share != 0 || before != 0 {
		if share == 0 {
			share = 1
		}
		if pass.Share = share - before; pass.Share <= 0 { // weeded meanwhile
			return &Refusal{Key: "refuse.changed"}, nil
		}
	}
	others := 0 // other passes of the day
	for _, p := range c.plot().Passes {
		if p.On == pass.On {
			others++
		}
	}
	c.s.put(fEntry, entry{on: pass.On, nth: others, of: others + 1}.String())
	return nil, c.passes.LogPass(no, pass)
}

// passDoneHead confirms the weeding with plot and day, and says what to do next.
func passDoneHead(c *scene) string {
	name, _, p := c.thisPlot()
	return c.t("pass.done.head", text.Args{"plot": name, "date": c.date(day(c.s.int(fOn))), "next": c.next(p)})
}

// loggedHere returns the pass that this dialogue logged, and whether it is the latest of the plot. loggedHere refuses
// if that pass was taken out since.
func (c *scene) loggedHere() (pass engine.Pass, last bool, refused *Refusal, err error) {
	s, err := c.plots.Season(c.s.int(fPlot))
	if err != nil {
		return engine.Pass{}, false, nil, err
	}
	i := c.entry().passOf(s)
	if i < 0 {
		return engine.Pass{}, false, &Refusal{Key: "refuse.changed"}, nil
	}
	return s.Passes[i], i == len(s.Passes)-1, nil, nil
}

func undoPass(c *scene) (*Refusal, error) {
	pass, last, refused, err := c.loggedHere()
	if refused != nil || err != nil {
		return refused, err
	}
	if last {
		return nil, c.passes.UndoPass(c.s.int(fPlot))
	}
	return nil, c.passes.RemovePass(c.s.int(fPlot), pass)
}

// amendPass changes the pass that this dialogue logged.
func amendPass(change func(*scene, *engine.Pass)) Act {
	return func(c *scene) (*Refusal, error) {
		pass, last, refused, err := c.loggedHere()
		if refused != nil || err != nil {
			return refused, err
		}
		was := pass
		change(c, &pass)
		if last {
			return nil, c.passes.AmendPass(c.s.int(fPlot), pass)
		}
		return nil, c.passes.CorrectPass(c.s.int(fPlot), was, pass)
	}
}

func setLeft(c *scene, p *engine.Pass)  { p.Left = engine.Amount(c.s.int(fLeft)) }
func setHours(c *scene, p *engine.Pass) { p.Hours, p.People = c.s.float(fHours), c.s.int(fPeople) }

func notedHead(c *scene) string {
	return c.t("pass.noted.head", text.Args{"hours": number(c.s.float(fHours)), "n": c.s.int(fPeople)})
}
