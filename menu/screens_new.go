package menu

import (
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/text"
)

// newScreens ask the questions that register a plot. The screen of each question also shows the previous answer as it
// was understood. No screen is needed only for that, so eight exchanges lead from the first dial to the saved plot.
// changeQuestions asks the same questions about a plot that is registered already.
func newScreens() []Screen {
	screens := []Screen{
		{ID: "new.method", Ask: "new.method.ask", Choices: []Choice{
			{Digit: '1', Label: "new.method.lines", Set: map[Field]string{fMethod: method(engine.Transplanted)},
				Prep: beginPlot, To: "new.when"},
			{Digit: '2', Label: "new.method.sown", Set: map[Field]string{fMethod: method(engine.RowSown)},
				Prep: beginPlot, To: "new.when"},
			{Digit: '3', Label: "new.method.scattered", Set: map[Field]string{fMethod: method(engine.Broadcast)},
				Prep: beginPlot, To: "new.when"},
		}},
	}
	saved := Screen{ID: ScreenSaved, Rest: true, Head: savedHead, Choices: []Choice{
		{Digit: '1', Label: "saved.mend", To: "change"},
		{Digit: '2', Label: "saved.tell", To: "tell"},
	}}
	return slices.Concat(screens, whenQuestion("new", "new.rows", nil), rowQuestion("new", "new.hills", nil),
		hillQuestion("new", "new.tool", nil), toolQuestion("new", "new.area", nil),
		areaQuestion("new", "saved", savePlot), []Screen{saved})
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
	c.s.Answers = map[Field]string{fPlot: strconv.Itoa(no)}
	return nil, nil
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
