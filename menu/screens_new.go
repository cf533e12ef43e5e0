package menu

import (
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// newScreens ask the questions that register a plot. The screen of each question also shows the previous answer as it
// was understood. No screen is needed only for that, so eight exchanges lead from the first dial to the saved plot, and
// nine for a plot that may have been weeded already. changeQuestions asks the same questions about a plot that is
// registered already.
func newScreens() []Screen {
	screens := []Screen{
		{ID: "new.method", Ask: "new.method.ask", Choices: []Choice{
			{Label: "new.method.lines", Set: map[Field]string{fMethod: method(engine.Transplanted)},
				Prep: beginPlot, To: "new.when"},
			{Label: "new.method.sown", Set: map[Field]string{fMethod: method(engine.RowSown)},
				Prep: beginPlot, To: "new.when"},
			{Label: "new.method.scattered", Set: map[Field]string{fMethod: method(engine.Broadcast)},
				Prep: beginPlot, To: "new.when"},
		}},
	}
	saved := Screen{ID: ScreenSaved, Rest: true, Head: savedHead, Choices: []Choice{
		{Label: "saved.mend", To: "change"},
		{Label: "saved.tell", To: "tell"},
	}}
	return slices.Concat(screens, whenQuestion("new", ScreenWeeded, nil), weededQuestion(),
		waterQuestion("new", "new.spacing", nil), spacingQuestion("new", "new.tool", nil),
		toolQuestion("new", "new.area", nil), areaQuestion("new", "saved", savePlot), []Screen{saved})
}

// beginPlot runs when the grower chooses the method of planting, the first question about a new plot. beginPlot refuses
// if the grower has MaxPlots plots already. Otherwise it deletes all answers about an earlier plot.
func beginPlot(c *scene) *Refusal {
	if c.full() {
		return &Refusal{Key: "refuse.nine-plots"}
	}
	c.s.Answers = map[Field]string{fMethod: c.s.Answers[fMethod]}
	return nil
}

func (c *scene) full() bool { return len(c.openPlots()) >= MaxPlots }

func savePlot(c *scene) (*Refusal, error) {
	if c.full() || c.err != nil {
		return &Refusal{Key: "refuse.nine-plots"}, c.err
	}
	p, t := c.draft(), c.draftTool()
	if p.Validate() != nil || t.Validate() != nil {
		return &Refusal{Key: "refuse.plot"}, nil
	}
	no, err := c.plots.AddPlot(p, t)
	if err != nil {
		return nil, err
	}
	pass, weeded := c.draftPass(), c.toldWeeding()
	c.s.Answers = map[Field]string{fPlot: strconv.Itoa(no)}
	if !weeded {
		return nil, nil
	}
	return nil, c.passes.LogPass(no, pass)
}

// weededAskedAfterDays is the age of a plot, in days after planting, after which the grower is asked whether it was
// weeded already. Earlier the rice has hardly rooted, so hardly any grower has weeded (judgement).
const weededAskedAfterDays = 12

// weededQuestion asks whether an older plot was weeded before it was registered. Without the answer, the first texts
// would be about weeds that are pulled already. A date may be typed at once, which saves the grower an exchange.
func weededQuestion() []Screen {
	with := func(m engine.Means) map[Field]string { return map[Field]string{fWith: strconv.Itoa(int(m))} }
	day := readWeededDay(readDate(fOn, answer.WeededReach, "refuse.when"), draftWeeded)
	return []Screen{
		{ID: ScreenWeeded, When: mayBeWeeded, Else: "new.water", Head: plantedHead, Ask: "new.weeded.ask",
			Choices: []Choice{
				{Label: "new.weeded.no", Set: map[Field]string{fOn: "", fWith: ""}, To: "new.water"},
				{Label: "new.weeded.tool", If: inLines, Set: with(engine.ByTool), To: "new.weeded.when"},
				{Label: "new.weeded.hand", Set: with(engine.ByHand), To: "new.weeded.when"},
			}, Typed: &Typed{Read: forgetting(fWith, day), To: "new.water",
				Samples: []string{"18/11", "25.11.2026", "24 nov"}}},
		{ID: "new.weeded.when", Ask: "pass.date.ask",
			Typed: &Typed{Read: readWeededDay(readPastDate(fOn, answer.WeededReach), draftWeeded), To: "new.water",
				Samples: []string{"5", "2", "24/11/25"}}},
	}
}

func mayBeWeeded(c *scene) bool { return c.today()-day(c.s.int(fPlanted)) > weededAskedAfterDays }

// toldWeeding reports whether the grower told of a weeding before the registration. An answer that was given before the
// grower went back and told another planting day does not count.
func (c *scene) toldWeeding() bool {
	return mayBeWeeded(c) && c.s.Answers[fOn] != "" && draftWeeded(c) == nil
}

// draftWeeded refuses a day of weeding before the planting day of the plot that is being registered.
func draftWeeded(c *scene) *Refusal { return c.weededOn(c.draft().Planted, nil) }

// draftPass returns the weeding before the registration. If the grower typed only its day, the tool was used if there
// is a tool.
func (c *scene) draftPass() engine.Pass {
	with := engine.Means(c.s.int(fWith))
	switch {
	case with != 0:
	case inLines(c) && !c.draftTool().None():
		with = engine.ByTool
	default:
		with = engine.ByHand
	}
	return engine.Pass{On: day(c.s.int(fOn)), With: with}
}

// weededHead shows the day of the weeding that was understood, or else the planting day if no weeding was asked for.
func weededHead(c *scene) string {
	switch {
	case c.toldWeeding():
		return c.t("new.weeded-on", text.Args{"when": c.dayAgo(day(c.s.int(fOn)))})
	case mayBeWeeded(c):
		return ""
	}
	return plantedHead(c)
}

// savedHead shows the last answer as it was understood, and says what to do next.
func savedHead(c *scene) string {
	no := c.s.int(fPlot)
	s, p := c.season(no)
	args := text.Args{"plot": c.label(no, s.Plot), "area": whole(s.Plot.AreaM2), "next": c.next(p)}
	if s.Plot.AreaM2 == 0 {
		return c.t("saved.no-area", args)
	}
	return c.t("saved.head", args)
}
