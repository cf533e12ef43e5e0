package menu

import (
	"slices"
	"strconv"

	"rowbell/engine"
	"rowbell/menu/text"
)

const (
	fName      Field = "name"
	fAge       Field = "age"       // age of the seedlings at planting, in days
	fSeedlings Field = "seedlings" // seedlings per hill
	fFlood     Field = "flood"     // an engine.Flood as a number
	fDuration  Field = "duration"  // duration of the variety, in days
	fDeep      Field = "deep"      // 1: the seedlings were planted deeper than the white of the stem
	fPuddled   Field = "puddled"   // how many days before planting the field was puddled
)

// changeScreens change what the grower entered about a plot at registration.
func changeScreens() []Screen {
	return []Screen{
		{ID: "change", Rest: true, Ask: "change.ask", Choices: []Choice{
			{Label: "change.when", To: "change.when"},
			{Label: "change.spacing", If: plotTransplanted, To: "change.spacing"},
			{Label: "change.rows", If: plotRowSown, To: "change.rows"},
			{Label: "change.water", If: plotInLines, To: "change.water"},
			{Label: "change.tool", If: plotInLines, To: "change.tool"},
			{Label: "change.area", To: "change.area"},
			{Label: "change.name", To: "change.name"},
		}},
		{ID: "change.name", Ask: "change.name-ask",
			Typed: &Typed{Read: readName, Name: true, Do: changePlot, To: "changed",
				Samples: []string{"River", "WWWWWWWWWW"}}},
		{ID: "changed", Rest: true, Head: changedHead},
	}
}

// tellScreens ask for details of a plot that the registration does not ask for.
func tellScreens() []Screen {
	return []Screen{
		{ID: "tell", Rest: true, Ask: "tell.ask", Choices: []Choice{
			{Label: "tell.age", If: plotTransplanted, To: "tell.age"},
			{Label: "tell.seedlings", If: plotTransplanted, To: "tell.seedlings"},
			{Label: "tell.duration", To: "tell.duration"},
			{Label: "tell.puddled", To: "tell.puddled"},
			{Label: "tell.deep", If: plotTransplanted, To: "tell.deep"},
		}},
		{ID: "tell.age", Ask: "tell.age-ask",
			Typed: &Typed{Read: readWhole(fAge, engine.MinSeedlingAgeDays, engine.MaxSeedlingAgeDays),
				Do: changePlot, To: "changed", Samples: []string{"18", "25"}}},
		{ID: "tell.seedlings", Ask: "tell.seedlings-ask",
			Typed: &Typed{Read: readWhole(fSeedlings, 1, engine.MaxSeedlingsPerHill), Do: changePlot, To: "changed",
				Samples: []string{"2", "12"}}},
		{ID: "tell.deep", Ask: "tell.deep-ask", Choices: []Choice{
			{Label: "tell.deep-no", Set: map[Field]string{fDeep: "0"}, Do: changePlot, To: "changed"},
			{Label: "tell.deep-yes", Set: map[Field]string{fDeep: "1"}, Do: changePlot, To: "changed"},
		}},
		{ID: "tell.duration", Ask: "tell.duration-ask",
			Typed: &Typed{Read: readWhole(fDuration, engine.MinDurationDays, engine.MaxDurationDays),
				Do: changePlot, To: "changed", Samples: []string{"120", "150"}}},
		{ID: "tell.puddled", Ask: "tell.puddled-ask", Choices: []Choice{
			{Label: "tell.puddled-same", Set: map[Field]string{fPuddled: "0"}, Do: changePlot,
				To: "changed"},
			{Label: "tell.puddled-before", Set: map[Field]string{fPuddled: "1"}, Do: changePlot,
				To: "changed"},
			{Label: "tell.puddled-days", To: "tell.puddled-days"},
		}},
		{ID: "tell.puddled-days", Ask: "tell.puddled-days-ask",
			Typed: &Typed{Read: readWhole(fPuddled, 1, 30), Do: changePlot, To: "changed",
				Samples: []string{"3", "30"}}},
	}
}

// changeQuestions are the questions of the registration. The screen "changed" follows each of them.
func changeQuestions() []Screen {
	return slices.Concat(whenQuestion("change", "changed", changePlot), waterQuestion("change", "changed", changePlot),
		spacingQuestion("change", "changed", changePlot), toolQuestion("change", "changed", changePlot),
		areaQuestion("change", "changed", changePlot))
}

func plotInLines(c *scene) bool { return c.plot().Plot.Method != engine.Broadcast }

func plotTransplanted(c *scene) bool { return c.plot().Plot.Method == engine.Transplanted }

func plotRowSown(c *scene) bool { return c.plot().Plot.Method == engine.RowSown }

// changePlot stores the answer to a question that was asked again about a registered plot. If the planting day changes,
// the day of puddling moves by the same number of days.
func changePlot(c *scene) (*Refusal, error) {
	no := c.s.int(fPlot)
	s, err := c.plots.Season(no)
	if err != nil {
		return nil, err
	}
	p, t := s.Plot, s.Tool
	given := func(f Field) bool { return c.s.Answers[f] != "" }
	// A method without the distance of the rows that it needs is not stored yet: the grower may still go back.
	if given(fMethod) && (given(fRow) || c.s.Screen == "change.method") {
		p.Method = c.method()
	}
	if given(fPlanted) {
		moved := day(c.s.int(fPlanted)) - p.Planted
		p.Planted += moved
		if p.Puddled != 0 {
			p.Puddled += moved
		}
	}
	if given(fRow) {
		if p.HillSpacingCM == p.RowSpacingCM { // if hill and row spacing were equal, they stay equal
			p.HillSpacingCM = c.s.float(fRow)
		}
		p.RowSpacingCM = c.s.float(fRow)
	}
	for f, into := range map[Field]*float64{fHill: &p.HillSpacingCM, fArea: &p.AreaM2} {
		if given(f) {
			*into = c.s.float(f)
		}
	}
	for f, into := range map[Field]*int{fAge: &p.SeedlingAgeDays, fSeedlings: &p.SeedlingsPerHill,
		fDuration: &p.DurationDays} {
		if given(f) {
			*into = c.s.int(f)
		}
	}
	if given(fFlood) {
		p.Flood = engine.Flood(c.s.int(fFlood))
	}
	if given(fDeep) {
		p.Deep = c.s.int(fDeep) == 1
	}
	if given(fPuddled) {
		p.Puddled = p.Planted - day(c.s.int(fPuddled))
	}
	if given(fName) {
		p.Label = c.s.Answers[fName]
	}
	if given(fTool) {
		t = c.draftTool()
	}
	if p.Validate() != nil || t.Validate() != nil {
		return &Refusal{Key: "refuse.plot"}, nil
	}
	if n := len(s.Passes); given(fPlanted) && n > 0 && s.Passes[0].On < p.Planted {
		return &Refusal{Key: "refuse.pass-before", Args: text.Args{"date": c.date(s.Passes[0].On)}}, nil
	}
	said := c.readBack(p, t)
	// If only the distance of the rows was told, fHill stays empty, and the distance of the plants is asked for next.
	c.s.Answers = map[Field]string{fPlot: strconv.Itoa(no), fSaid: said, fSaidIn: c.lang, fHill: c.s.Answers[fHill]}
	return nil, c.plots.ChangePlot(no, p, t)
}

// readBack writes the changed value as it was understood, so that the grower can notice a typing mistake.
func (c *scene) readBack(p engine.Plot, t engine.Tool) string {
	given := func(f Field) bool { return c.s.Answers[f] != "" }
	switch {
	case given(fPlanted):
		return c.planted(p.Method, p.Planted)
	case c.s.Screen == "change.method":
		return c.t("changed.method", text.Args{"how": c.t(methodKeys[p.Method], nil)})
	case given(fRow), given(fHill):
		if f := engine.FitOf(p, t); f.Verdict == engine.FitTooWide {
			return c.fitSentence(t, f, p.RowSpacingCM)
		}
		return c.spacing(p)
	case given(fFlood):
		return c.waterSaid(p.Flood)
	case given(fTool):
		return c.fitSentence(t, engine.FitOf(p, t), p.RowSpacingCM)
	case given(fArea) && p.AreaM2 > 0:
		return c.t("changed.area", text.Args{"area": whole(p.AreaM2)})
	}
	return ""
}

// changedHead shows the changed value as it was understood, and says what to do next.
func changedHead(c *scene) string {
	name, _, p := c.thisPlot()
	args := text.Args{"plot": name, "next": c.next(p), "said": c.said()}
	if args["said"] == "" {
		return c.t("changed.noted", args)
	}
	return c.t("changed.head", args)
}

// said returns the sentence that an act has stored in the session. said returns "" if the grower has changed the
// language since then.
func (c *scene) said() string {
	if c.s.Answers[fSaidIn] != c.lang {
		return ""
	}
	return c.s.Answers[fSaid]
}
