package menu

import (
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// The functions below make the questions about a plot: planting day, water, spacing, tool, area. Their parameter "in"
// is the first part of the screens' names: "new" when a plot is registered, "change" when a plot is changed. The
// parameter "do" is the act that an answer runs, and "to" is the screen that is shown after it.

func method(m engine.Method) string { return strconv.Itoa(int(m)) }

func whenQuestion(in string, to ScreenID, do Act) []Screen {
	ask := text.Key("new.when.ask")
	return []Screen{
		{ID: ScreenID(in + ".when"), Ask: ask,
			Args: func(c *scene) text.Args { return text.Args{"what": c.t(plantWord(c.method()), nil)} },
			Choices: []Choice{
				{Label: "new.when.today",
					Prep: prep(func(c *scene) { c.s.put(fPlanted, strconv.Itoa(int(c.saidOn()))) }), Do: do, To: to},
				{Label: "new.when.ago", To: ScreenID(in + ".ago")},
				{Label: "new.when.date", To: ScreenID(in + ".date")},
			}, Typed: &Typed{Read: readDate(fPlanted, answer.PlantedReach, "refuse.when"), Do: do, To: to,
				Samples: []string{"5/11", "25.11.2026", "28 nov", "11/7", "25/11/25"}}},
		{ID: ScreenID(in + ".ago"), Ask: "new.ago.ask",
			Typed: &Typed{Read: readDaysAgo, Do: do, To: to, Samples: []string{"5", "20", "100"}}},
		{ID: ScreenID(in + ".date"), Ask: "new.date.ask",
			Typed: &Typed{Read: readDate(fPlanted, answer.PlantedReach, ""), Do: do, To: to,
				Samples: []string{"5", "5/11", "0511", "28 nov"}}},
	}
}

// plantWord is the text for "planted" or "sown".
func plantWord(m engine.Method) text.Key {
	if m == engine.Transplanted {
		return "word.planted"
	}
	return "word.sown"
}

func (c *scene) method() engine.Method {
	if c.s.int(fPlot) > 0 && c.s.Answers[fMethod] == "" {
		return c.plot().Plot.Method
	}
	return engine.Method(c.s.int(fMethod))
}

// plantedHead repeats the planting day as it was understood, so that the grower can notice a mistake; "" without a day.
func plantedHead(c *scene) string {
	if c.s.Answers[fPlanted] == "" {
		return ""
	}
	return c.planted(c.method(), day(c.s.int(fPlanted)))
}

// planted says when a plot was planted or sown, or will be.
func (c *scene) planted(m engine.Method, d engine.Day) string {
	k := text.Key("new.sown")
	switch transplanted, ahead := m == engine.Transplanted, d > c.today(); {
	case transplanted && ahead:
		k = "new.to-plant"
	case transplanted:
		k = "new.planted"
	case ahead:
		k = "new.to-sow"
	}
	return c.t(k, text.Args{"when": c.dayAgo(d)})
}

func inLines(c *scene) bool { return c.method() != engine.Broadcast }

// floodKeys are the texts of whether water stands on a plot.
var floodKeys = map[engine.Flood]text.Key{
	engine.FloodKept: "new.water.always", engine.FloodOnOff: "new.water.on-off", engine.FloodMoist: "new.water.wet",
}

// waterQuestion asks whether water stands on a plot in lines. The answer decides when the weeds come.
func waterQuestion(in string, to ScreenID, do Act) []Screen {
	els := to
	if in == "new" {
		els = "new.area"
	}
	s := Screen{ID: ScreenID(in + ".water"), When: inLines, Else: els, Head: weededHead, Ask: "new.water.ask"}
	for _, f := range []engine.Flood{engine.FloodKept, engine.FloodOnOff, engine.FloodMoist} {
		s.Choices = append(s.Choices, Choice{Label: floodKeys[f],
			Set: map[Field]string{fFlood: strconv.Itoa(int(f))}, Do: do, To: to})
	}
	return []Screen{s}
}

// waterSaid writes what was understood about the water, or "" if nothing was told.
func (c *scene) waterSaid(f engine.Flood) string {
	k, ok := floodKeys[f]
	if !ok {
		return ""
	}
	return c.t("new.water.said", text.Args{"water": c.t(k, nil)})
}

func waterToldHead(c *scene) string { return c.waterSaid(engine.Flood(c.s.int(fFlood))) }

func transplanted(c *scene) bool { return c.method() == engine.Transplanted }

// asksHills reports whether the distance from plant to plant must still be asked for.
func asksHills(c *scene) bool { return transplanted(c) && c.s.Answers[fHill] == "" }

// spacingQuestion asks for the distances from row to row and from plant to plant in one question. A grower who answers
// with "other" or with one number is asked for the distances one after the other. In rows of seed only the distance
// from row to row is asked for.
func spacingQuestion(in string, to ScreenID, do Act) []Screen {
	rows, hills := ScreenID(in+".rows"), ScreenID(in+".hills")
	square := func(cm float64) Choice {
		return Choice{Label: "word.spacing", Args: text.Args{"row": number(cm), "hill": number(cm)},
			Set: map[Field]string{fRow: stored(cm), fHill: stored(cm)}, Do: do, To: to}
	}
	row := func(cm float64) Choice {
		return Choice{Label: "word.cm", Args: text.Args{"cm": number(cm)},
			Set: map[Field]string{fRow: stored(cm), fHill: ""}, Do: do, To: hills}
	}
	return []Screen{
		{ID: ScreenID(in + ".spacing"), When: transplanted, Else: rows, Head: waterToldHead, Ask: "new.distances.ask",
			Choices: []Choice{square(20), square(25), {Label: "new.distances.other", To: rows}},
			Typed: &Typed{Read: readSpacing, Do: do, To: hills,
				Samples: []string{"20x25", "22.5*22.5", "22.5", "52x25", "52"}}},
		{ID: rows, Ask: "new.rows.ask", Head: rowsAskedHead, Choices: []Choice{
			row(20), row(25),
			{Label: "new.rows.other", To: rows + ".other"},
			{Label: "new.rows.measure", To: rows + ".measure"},
		}, Typed: &Typed{Read: forgetting(fHill, readRow), Do: do, To: hills,
			Samples: []string{"22", "22.5", "52", "60"}}},
		{ID: rows + ".other", Ask: "new.rows.other-ask",
			Typed: &Typed{Read: forgetting(fHill, readRow), Do: do, To: hills, Samples: []string{"30", "22.5"}}},
		{ID: rows + ".measure", Ask: "new.rows.measure-ask",
			Typed: &Typed{Read: forgetting(fHill, readGaps), Do: do, To: hills, Samples: []string{"220", "2.25 m"}}},
		{ID: hills, When: asksHills, Else: to,
			Ask: "new.hills.ask", Args: func(c *scene) text.Args { return text.Args{"row": number(c.row())} },
			Choices: []Choice{
				{Label: "new.hills.same", Prep: prep(func(c *scene) { c.putNumber(fHill, c.row()) }),
					Do: do, To: to},
				{Label: "new.hills.other", To: hills + ".other"},
				{Label: "new.hills.unsure", Set: map[Field]string{fHill: "0"}, Do: do, To: to},
			}, Typed: &Typed{Read: readHill, Do: do, To: to, Samples: []string{"20", "22.5", "52"}}},
		{ID: hills + ".other", Ask: "new.hills.other-ask",
			Typed: &Typed{Read: readHill, Do: do, To: to, Samples: []string{"15", "22.5"}}},
	}
}

// rowsAskedHead shows what was understood about the water, unless the question before showed it.
func rowsAskedHead(c *scene) string {
	if transplanted(c) {
		return ""
	}
	return waterToldHead(c)
}

// row returns the row spacing in cm that the questions are about: the answer in the session, or else the plot's
// spacing.
func (c *scene) row() float64 {
	if c.s.int(fPlot) > 0 && c.s.Answers[fRow] == "" {
		return c.plot().Plot.RowSpacingCM
	}
	return c.s.float(fRow)
}

// rowsHead repeats the spacings as they were understood, so that the grower can notice a mistake; "" without rows.
func rowsHead(c *scene) string {
	if c.s.Answers[fRow] == "" {
		return ""
	}
	return c.spacing(c.draft())
}

// pair writes the distances from row to row and from plant to plant.
func (c *scene) pair(row, hill float64) string {
	return c.t("word.spacing", text.Args{"row": number(row), "hill": number(hill)})
}

func (c *scene) spacing(p engine.Plot) string {
	if p.HillSpacingCM > 0 {
		return c.t("new.spacing", text.Args{"row": number(p.RowSpacingCM), "hill": number(p.HillSpacingCM),
			"hills": number(p.HillsPerM2())})
	}
	return c.t("new.spacing-row", text.Args{"row": number(p.RowSpacingCM)})
}

func toolQuestion(in string, to ScreenID, do Act) []Screen {
	return []Screen{
		{ID: ScreenID(in + ".tool"), Head: rowsHead, Ask: "new.tool.ask", Choices: []Choice{
			{Label: "word.cm", Args: text.Args{"cm": "15"},
				Set: map[Field]string{fTool: "15", fToolMax: "0"}, Do: do, To: to},
			{Label: "new.tool.other", To: ScreenID(in + ".tool.other")},
			{Label: "new.tool.adjustable", To: ScreenID(in + ".tool.range")},
			{Label: "new.tool.none", Set: map[Field]string{fTool: "0", fToolMax: "0"}, Do: do, To: to},
		}, Typed: &Typed{Read: readToolForRows, Do: do, To: to, Samples: []string{"18", "12.5-17.5", "51"}}},
		{ID: ScreenID(in + ".tool.other"), Ask: "new.tool.other-ask",
			Typed: &Typed{Read: readToolForRows, Do: do, To: to, Samples: []string{"18", "17.5"}}},
		{ID: ScreenID(in + ".tool.range"), Ask: "new.tool.range-ask",
			Typed: &Typed{Read: readAdjustableTool, Do: do, To: to,
				Samples: []string{"10-15", "12.5-17.5", "37.5-57.5"}}},
	}
}

// fitHead says whether the tool fits between the rows of the plot; "" if no tool is given yet.
func fitHead(c *scene) string {
	if c.method() == engine.Broadcast {
		return strings.TrimSpace(weededHead(c) + " " + c.t("fit.no-rows", nil))
	}
	if c.s.Answers[fTool] == "" {
		return ""
	}
	return c.fitSentence(c.draftTool(), engine.FitOf(c.draft(), c.draftTool()), c.row())
}

// fitSentence says how the tool t fits between the rows. Of an adjustable tool it names both widths before the width
// that is set, because both are saved.
func (c *scene) fitSentence(t engine.Tool, f engine.Fit, row float64) string {
	if from, to := widths(t); from < to {
		set := c.t("fit.set", text.Args{"tool": c.fromTo(from, to)})
		return set + " " + c.fitSentence(engine.Tool{WidthCM: f.WidthCM}, f, row)
	}
	args := text.Args{"tool": number(f.WidthCM), "row": number(row), "need": number(f.SmallestRowCM),
		"side": number(f.ClearanceCM), "share": whole(100 * f.SweptOnce)}
	switch f.Verdict {
	case engine.FitGood:
		return c.t("fit.good", args)
	case engine.FitLoose:
		return c.t("fit.loose", args)
	case engine.FitTooWide:
		return c.t("fit.too-wide", args)
	case engine.FitNoRows:
		return c.t("fit.no-rows", nil)
	}
	return c.t("fit.none", text.Args{"row": number(row), "tool": number(row - 2*engine.SideClearanceCM)})
}

func areaQuestion(in string, to ScreenID, do Act) []Screen {
	return []Screen{
		{ID: ScreenID(in + ".area"), Head: fitHead, Ask: "new.area.ask", Choices: []Choice{
			{Label: "new.area.steps", To: ScreenID(in + ".area.steps")},
			{Label: "new.area.skip", Set: map[Field]string{fArea: "0"}, Do: do, To: to},
			{Label: "new.area.unit", If: func(c *scene) bool { return len(c.m.opt.Units) > 0 },
				To: ScreenID(in + ".area.unit")},
		}, Typed: &Typed{Read: readArea(inMetres), Sides: true, Do: do, To: to,
			Samples: []string{"600", "20x30", "999x999"}}},
		{ID: ScreenID(in + ".area.steps"), Ask: "new.area.steps-ask",
			Args:  func(c *scene) text.Args { return text.Args{"step": number(c.m.opt.StepM * 100)} },
			Typed: &Typed{Read: readArea(inSteps), Sides: true, Do: do, To: to, Samples: []string{"25x40", "999x999"}}},
		{ID: ScreenID(in + ".area.unit"), Ask: "new.area.unit-ask", List: func(c *scene) []Choice {
			var out []Choice
			for i, u := range c.m.opt.Units {
				out = append(out, Choice{Label: "language.name",
					Args: text.Args{"name": text.Verbatim(u.Name)},
					Set:  map[Field]string{fUnit: strconv.Itoa(i)}, To: ScreenID(in + ".area.many")})
			}
			return out
		}},
		{ID: ScreenID(in + ".area.many"), Ask: "new.area.many-ask",
			Args:  func(c *scene) text.Args { return text.Args{"unit": c.unit().Name} },
			Typed: &Typed{Read: readArea(inLocalUnit), Do: do, To: to, Samples: []string{"2", "12.5"}}},
	}
}

func (c *scene) unit() AreaUnit {
	if i := c.s.int(fUnit); i >= 0 && i < len(c.m.opt.Units) {
		return c.m.opt.Units[i]
	}
	return AreaUnit{M2: 1}
}

// prep makes a function for Choice.Prep from a function that never refuses an entry.
func prep(f func(*scene)) func(*scene) *Refusal { return func(c *scene) *Refusal { f(c); return nil } }

// draft returns the plot as the answers given so far describe it, before it is stored.
func (c *scene) draft() engine.Plot {
	return engine.Plot{
		Method:        c.method(),
		Planted:       day(c.s.int(fPlanted)),
		RowSpacingCM:  c.row(),
		HillSpacingCM: c.s.float(fHill),
		AreaM2:        c.s.float(fArea),
		Flood:         engine.Flood(c.s.int(fFlood)),
	}
}

func (c *scene) draftTool() engine.Tool {
	return engine.Tool{WidthCM: c.s.float(fTool), MaxWidthCM: c.s.float(fToolMax)}
}
