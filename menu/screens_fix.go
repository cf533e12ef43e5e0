package menu

import (
	"slices"
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// On these screens a grower puts right what was logged about a season: each pass and each sighting,
// until the plot is closed, whichever channel logged it.

const (
	fEntry   Field = "entry"   // the pass or sighting that is put right: an entry
	fEntries Field = "entries" // the passes and sightings that the list has shown
)

// fixScreens list the passes and sightings of a plot, and correct one of them.
func fixScreens() []Screen {
	return slices.Concat([]Screen{
		{ID: "fix", Rest: true, When: hasEntries, Else: "so-far", Ask: "fix.ask", List: entryList, Shown: noteEntries},
		{ID: "fixed", Rest: true, Head: fixedHead,
			Choices: []Choice{{Label: "fixed.more", If: hasEntries, Prep: firstPage, To: "fix"}}},
	}, fixPassScreens(), fixSightingScreens())
}

func fixPassScreens() []Screen {
	day := readWeededDay(readPastDate(fOn, answer.WeededReach), (*scene).fixedDay)
	with := func(label text.Key, may func(*scene) bool, m engine.Means, w engine.Way) Choice {
		return Choice{Label: label, If: may, To: "fixed",
			Do: fixPass(func(_ *scene, p *engine.Pass) { p.With, p.Way = m, w })}
	}
	left := func(label text.Key, a engine.Amount) Choice {
		return Choice{Label: label, To: "fixed",
			Do: fixPass(func(_ *scene, p *engine.Pass) { p.Left = a })}
	}
	share := func(label text.Key, part float64) Choice {
		return Choice{Label: label, To: "fixed", Do: fixPass(func(_ *scene, p *engine.Pass) { p.Share = part })}
	}
	return []Screen{
		{ID: "fix.pass", Rest: true, Head: entryHead, Choices: []Choice{
			{Label: "fix.day", To: "fix.pass.day"},
			{Label: "fix.how", To: "fix.pass.how"},
			{Label: "fix.left", To: "fix.pass.left"},
			{Label: "fix.hours", To: "fix.pass.hours"},
			{Label: "fix.out", To: "fix.pass.out"},
			{Label: "fix.share", To: "fix.pass.share"},
		}},
		{ID: "fix.pass.day", Ask: "pass.date.ask",
			Typed: &Typed{Read: day, Do: fixPass(setDay), To: "fixed", Samples: []string{"5", "2", "25/11/25"}}},
		{ID: "fix.pass.how", Ask: "pass.with.ask", Choices: []Choice{
			with("pass.with.one-way", plotInLines, engine.ByTool, engine.Along),
			with("pass.with.both", plotSquare, engine.ByTool, engine.Both),
			with("pass.with.hand", nil, engine.ByHand, engine.WayUnknown),
		}},
		{ID: "fix.pass.left", Ask: "fix.left-ask", Choices: []Choice{
			left("word.few", engine.Few), left("word.some", engine.Some), left("word.many", engine.Many),
		}},
		{ID: "fix.pass.share", Ask: "fix.share-ask", Choices: []Choice{
			share("fix.all", 0), share("part.quarter", quarter), share("part.half", half),
			share("part.three-quarters", threeQuarters),
		}},
		{ID: "fix.pass.hours", Ask: "pass.hours.ask",
			Typed: &Typed{Read: readHours, To: "fix.pass.people", Samples: []string{"3", "2h30", "499.5"}}},
		{ID: "fix.pass.people", Ask: "pass.people.ask",
			Typed: &Typed{Read: readPeople, Do: fixPass(setHours), To: "fixed", Samples: []string{"2", "12"}}},
		{ID: "fix.pass.out", Ask: "fix.out-ask", Args: outArgs, Choices: []Choice{
			{Label: "fix.out-yes", Do: takeOut, To: "fixed"},
			{Label: "fix.out-no", To: "fix"},
		}},
	}
}

func fixSightingScreens() []Screen {
	day := readWeededDay(readPastDate(fOn, answer.WeededReach), (*scene).afterPlanting)
	leaves := func(l engine.Leaves) Choice {
		return Choice{Label: leafKeys[l], To: "fixed", Do: fixSighting(func(_ *scene, x *engine.Sighting) {
			if x.Leaves = l; l == engine.NoneUp { // where no weeds are up, there is no amount
				x.Amount = engine.AmountUnknown
			}
		})}
	}
	amount := func(a engine.Amount) Choice {
		return Choice{Label: amountKeys[a], To: "fixed",
			Do: fixSighting(func(_ *scene, x *engine.Sighting) { x.Amount = a })}
	}
	water := func(w engine.Stands) Choice {
		return Choice{Label: standsKeys[w], To: "fixed",
			Do: fixSighting(func(_ *scene, x *engine.Sighting) { x.Water = w })}
	}
	rows := func(label text.Key, r engine.Rows) Choice {
		return Choice{Label: label, To: "fixed",
			Do: fixSighting(func(_ *scene, x *engine.Sighting) { x.Rows = r })}
	}
	return []Screen{
		{ID: "fix.sighting", Rest: true, Head: entryHead, Choices: []Choice{
			{Label: "fix.day", To: "fix.sighting.day"},
			{Label: "fix.leaves", To: "fix.sighting.leaves"},
			{Label: "fix.amount", To: "fix.sighting.amount"},
			{Label: "fix.water", To: "fix.sighting.water"},
			{Label: "fix.out", To: "fix.sighting.out"},
			{Label: "fix.rows", If: plotInLines, To: "fix.sighting.rows"},
		}},
		{ID: "fix.sighting.day", Ask: "pass.date.ask",
			Typed: &Typed{Read: day, Do: fixSighting(setSightingDay), To: "fixed",
				Samples: []string{"5", "2", "25/11/25"}}},
		{ID: "fix.sighting.leaves", Ask: "fix.leaves-ask", Choices: []Choice{
			leaves(engine.NoneUp), leaves(engine.OneLeaf), leaves(engine.TwoThree),
			leaves(engine.FourPlus),
		}},
		{ID: "fix.sighting.amount", Ask: "fix.amount-ask", Choices: []Choice{
			amount(engine.Few), amount(engine.Some), amount(engine.Many),
		}},
		{ID: "fix.sighting.water", Ask: "fix.water-ask", Choices: []Choice{
			water(engine.StandsDry), water(engine.StandsMud), water(engine.StandsFingers),
			water(engine.StandsHand),
		}},
		{ID: "fix.sighting.rows", Ask: "fix.rows-ask", Choices: []Choice{
			rows("word.yes", engine.RowsOpen), rows("word.no", engine.RowsClosed),
		}},
		{ID: "fix.sighting.out", Ask: "fix.out-ask", Args: outArgs, Choices: []Choice{
			{Label: "fix.out-yes", Do: takeOut, To: "fixed"},
			{Label: "fix.out-no", To: "fix"},
		}},
	}
}

func (c *scene) entry() entry { return readEntry(c.s.Answers[fEntry]) }

func hasEntries(c *scene) bool { return len(entriesOf(c.plot())) > 0 }

// firstPage makes a list begin with its first page.
func firstPage(c *scene) *Refusal { c.s.put(FieldPage, "0"); return nil }

// noteEntries stores which entries the list is about to show, as noteShown does for plots.
func noteEntries(c *scene) {
	var shown []string
	for _, e := range entriesOf(c.plot()) {
		shown = append(shown, e.String())
	}
	c.s.put(fEntries, strings.Join(shown, " "))
}

// entryList lists one page of the passes and sightings.
func entryList(c *scene) []Choice {
	s := c.plot()
	entries := entriesOf(s)
	if shown, ok := c.s.Answers[fEntries]; c.entering && ok { // a dialled path has shown no list
		entries = nil
		for f := range strings.FieldsSeq(shown) {
			entries = append(entries, readEntry(f))
		}
	}
	page, from, end := c.listPage(len(entries))
	var out []Choice
	for _, e := range entries[from:end] {
		line := Choice{Label: "fix.line", Set: map[Field]string{fEntry: e.String()},
			To: "fix.pass", Prep: func(c *scene) *Refusal {
				if _, ok := c.lineOf(c.plot(), e); !ok {
					return &Refusal{Key: "refuse.changed"}
				}
				return nil
			}}
		if e.sighting {
			line.To = "fix.sighting"
		}
		if !c.entering {
			it, _ := c.lineOf(s, e)
			line.Args = text.Args{"it": it}
		}
		out = append(out, line)
	}
	return c.withMore(out, end < len(entries), page, "fix")
}

// fixedDay refuses a new day of a pass that is before the planting day, or on which another pass is logged. Parts of a
// plot may be weeded on one day.
func (c *scene) fixedDay() *Refusal {
	if refused := c.afterPlanting(); refused != nil {
		return refused
	}
	s, e, on := c.plot(), c.entry(), day(c.s.int(fOn))
	i := e.passOf(s)
	for _, p := range s.Passes {
		if p.On == on && on != e.on && i >= 0 && (p.Share == 0 || s.Passes[i].Share == 0) {
			return &Refusal{Key: "refuse.same-day", Args: text.Args{"date": c.date(on)}}
		}
	}
	return nil
}

// afterPlanting refuses a day before the planting day.
func (c *scene) afterPlanting() *Refusal {
	if planted := c.plot().Plot.Planted; day(c.s.int(fOn)) < planted {
		return &Refusal{Key: "refuse.before-planting", Args: text.Args{"date": c.date(planted)}}
	}
	return nil
}

func setDay(c *scene, p *engine.Pass) { p.On = day(c.s.int(fOn)) }

func setSightingDay(c *scene, x *engine.Sighting) { x.On = day(c.s.int(fOn)) }

// fixPass corrects the pass that the grower has chosen: only the value that change sets, in the pass as it is
// stored now.
func fixPass(change func(*scene, *engine.Pass)) Act {
	return func(c *scene) (*Refusal, error) {
		no := c.s.int(fPlot)
		s, err := c.plots.Season(no)
		if err != nil {
			return nil, err
		}
		i := c.entry().passOf(s)
		if i < 0 {
			return &Refusal{Key: "refuse.changed"}, nil
		}
		was, now := s.Passes[i], s.Passes[i]
		change(c, &now)
		it := c.t("fixed.noted", text.Args{"it": c.passLine(now)})
		switch {
		case now.Left != was.Left:
			it += " " + c.leftSaid(now)
		case now.Hours != was.Hours || now.People != was.People:
			it += " " + c.hoursSaid(now)
		}
		return nil, c.putRight(s, it, func() error { return c.passes.CorrectPass(no, was, now) })
	}
}

// fixSighting corrects the sighting that the grower has chosen, as fixPass does for a pass.
func fixSighting(change func(*scene, *engine.Sighting)) Act {
	return func(c *scene) (*Refusal, error) {
		no := c.s.int(fPlot)
		s, err := c.plots.Season(no)
		if err != nil {
			return nil, err
		}
		i := c.entry().sightingOf(s)
		if i < 0 {
			return &Refusal{Key: "refuse.changed"}, nil
		}
		was, now := s.Sightings[i], s.Sightings[i]
		change(c, &now)
		it := c.t("fixed.noted", text.Args{"it": c.t("fix.sighting-line", text.Args{"date": c.date(now.On)})})
		if now.On == was.On {
			it += " " + c.seenSaid(now)
		}
		return nil, c.putRight(s, it, func() error { return c.passes.CorrectSighting(no, was, now) })
	}
}

// takeOut takes out the pass or sighting that the grower has chosen.
func takeOut(c *scene) (*Refusal, error) {
	no, e := c.s.int(fPlot), c.entry()
	s, err := c.plots.Season(no)
	if err != nil {
		return nil, err
	}
	line, ok := c.lineOf(s, e)
	if !ok {
		return &Refusal{Key: "refuse.changed"}, nil
	}
	return nil, c.putRight(s, c.t("fixed.out", text.Args{"it": line}), func() error {
		if i := e.passOf(s); i >= 0 {
			return c.passes.RemovePass(no, s.Passes[i])
		}
		return c.passes.RemoveSighting(no, s.Sightings[e.sightingOf(s)])
	})
}

// putRight makes a correction, and stores what was done (it) and what follows from it for the next screen. before is
// the season before the correction.
func (c *scene) putRight(before engine.Season, it string, correct func() error) error {
	no := c.s.int(fPlot)
	old, err := c.m.windows(before, c.today())
	if err != nil {
		return err
	}
	if err := correct(); err != nil {
		return err
	}
	_, p := c.season(no)
	then := text.Key("fixed.then")
	if c.next(p) == c.next(old) {
		then = "fixed.same"
	}
	said := it + " " + c.t(then, text.Args{"next": c.next(p)})
	c.s.Answers = map[Field]string{fPlot: strconv.Itoa(no), fSaid: said, fSaidIn: c.lang}
	return c.err
}

// fixedHead says what was corrected and what follows from it.
func fixedHead(c *scene) string {
	if said := c.said(); said != "" {
		return said
	}
	name, _, p := c.thisPlot()
	return c.t("changed.noted", text.Args{"plot": name, "next": c.next(p)})
}

// outArgs names the pass or sighting that may be taken out, and says what would then be next.
func outArgs(c *scene) text.Args {
	s, e := c.plot(), c.entry()
	line, ok := c.lineOf(s, e)
	if !ok {
		return text.Args{"it": "", "next": ""}
	}
	moves := true // whether taking it out ends the announcement
	if i := e.passOf(s); i >= 0 {
		moves = !s.Announced.EndedBy(s.Passes[i])
		s.Passes = slices.Delete(slices.Clone(s.Passes), i, i+1)
	} else {
		i := e.sightingOf(s)
		moves = s.Sightings[i].MovesWindows()
		s.Sightings = slices.Delete(slices.Clone(s.Sightings), i, i+1)
	}
	if moves {
		s.Announced = engine.Window{}
	}
	p, err := c.m.windows(s, c.today())
	c.fail(err)
	return text.Args{"it": line, "next": c.next(p)}
}
