package menu

import (
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// methodKeys are the texts of how rice was planted.
var methodKeys = map[engine.Method]text.Key{
	engine.Transplanted: "new.method.lines", engine.RowSown: "new.method.sown",
	engine.Broadcast: "new.method.scattered",
}

// replantScreens change how a plot was planted, and plant it again from a later day, e.g. after a flood. The questions
// are those of the registration; see changeQuestions.
func replantScreens() []Screen {
	// A plot in lines needs a distance of its rows, so that is asked for first if the plot never had one.
	method := func(m engine.Method) []Choice {
		label := methodKeys[m]
		needs := func(c *scene) bool { return m != engine.Broadcast && c.plot().Plot.RowSpacingCM == 0 }
		set := map[Field]string{fMethod: strconv.Itoa(int(m))}
		return []Choice{
			{Label: label, If: needs, Set: set, To: "change.spacing"},
			{Label: label, If: func(c *scene) bool { return !needs(c) }, Set: set, Do: changePlot,
				To: "changed"},
		}
	}
	return []Screen{
		{ID: "planted", Rest: true, Ask: "change.ask", Choices: []Choice{
			{Label: "planted.method", To: "change.method"},
			{Label: "change.when", To: "change.when"},
			{Label: "planted.again", To: "again"},
			{Label: "change.spacing", If: plotTransplanted, To: "change.spacing"},
			{Label: "change.rows", If: plotRowSown, To: "change.rows"},
			{Label: "change.water", If: plotInLines, To: "change.water"},
			{Label: "planted.seedlings", If: plotTransplanted, To: "tell"},
		}},
		{ID: "change.method", Ask: "new.method.ask", Choices: slices.Concat(
			method(engine.Transplanted), method(engine.RowSown), method(engine.Broadcast))},
		{ID: "again", Ask: "again.ask", Args: againArgs,
			Choices: []Choice{{Label: "new.when.today", To: "again.sure", Prep: func(c *scene) *Refusal {
				c.s.put(fPlanted, storedDay(c.saidOn()))
				return c.againDay()
			}}},
			Typed: &Typed{Read: readAgain, To: "again.sure", Samples: []string{"5/11", "2411", "20 nov"}}},
		{ID: "again.sure", Ask: "again.sure", Args: againArgs, Choices: []Choice{
			{Label: "again.yes", Do: plantAgain, To: "again.done"},
			{Label: "again.no", To: "planted"},
		}},
		{ID: "again.done", Rest: true, Head: fixedHead,
			Choices: []Choice{{Label: "tell.age", If: plotTransplanted, To: "tell.age"}}},
	}
}

// againReach limits the day on which a plot was planted again. It is never in the future: until then the former rice
// stands, and its passes count.
var againReach = answer.Reach{Back: answer.PlantedReach.Back, Usual: answer.PlantedReach.Usual}

func readAgain(c *scene, entry string) (doubted, *Refusal) {
	d, refused := readDate(fPlanted, againReach, "refuse.date")(c, entry)
	if refused == nil {
		refused = c.againDay()
	}
	return d, refused
}

// againDay refuses a day that is not after the former planting day.
func (c *scene) againDay() *Refusal {
	if planted := c.plot().Plot.Planted; day(c.s.int(fPlanted)) <= planted {
		return &Refusal{Key: "refuse.before-planting", Args: text.Args{"date": c.date(planted)}}
	}
	return nil
}

// againArgs says what leaves the season if the plot was planted again on the day that the grower has told.
func againArgs(c *scene) text.Args {
	s := c.plot()
	on := day(c.s.int(fPlanted))
	passes, sightings := 0, 0
	for _, p := range s.Passes {
		if p.BeforePlanting(on) {
			passes++
		}
	}
	for _, x := range s.Sightings {
		if x.BeforePlanting(on) {
			sightings++
		}
	}
	return text.Args{"plot": c.label(c.s.int(fPlot), s.Plot), "date": c.date(on), "passes": passes,
		"sightings": sightings}
}

// plantAgain stores that the plot was planted again. The age of the seedlings and the day of puddling were those of the
// former planting.
func plantAgain(c *scene) (*Refusal, error) {
	no := c.s.int(fPlot)
	s, err := c.plots.Season(no)
	if err != nil {
		return nil, err
	}
	if refused := c.againDay(); refused != nil {
		return refused, c.err
	}
	p := s.Plot
	p.Planted, p.Puddled, p.SeedlingAgeDays, p.Deep = day(c.s.int(fPlanted)), 0, 0, false
	if p.Validate() != nil {
		return &Refusal{Key: "refuse.plot"}, nil
	}
	return nil, c.putRight(s, c.planted(p.Method, p.Planted), func() error { return c.plots.Replant(no, p) })
}
