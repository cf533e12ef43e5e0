package menu

import (
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// otherScreens are about the work on a plot besides weeding, about weeds that the tool does not master, and about the
// care of the tool. They give no amounts, name no products and promise no yield.
func otherScreens() []Screen {
	return []Screen{
		{ID: "other", Rest: true, Head: otherHead, Choices: []Choice{
			{Label: "other.weeds", To: "other.weeds"},
			{Label: "other.tool", If: pushesTool, To: "other.tool"},
			{Label: "other.safety", To: "help.safety"},
			{Label: "other.snails", If: snailsEat, To: "other.snails"},
		}},
		// Tubers: CIRAD, page on Cyperus rotundus (read): they break off when the soil is worked, and sprout. Weeds in
		// the row: IRRI, Mechanical weed control (read). Kinds that grow under water (read): Monochoria vaginalis down
		// to 20 cm; Cyperus difformis, which only deep water holds back; Leptochloa fusca, which sprouts more under
		// water that stays (McIntyre et al., J. Appl. Ecol.).
		{ID: "other.weeds", Rest: true, Ask: "other.weeds-text"},
		{ID: "other.snails", Rest: true, Ask: "other.snails-text", Args: func(*scene) text.Args {
			return text.Args{"cm": engine.SnailWaterCM, "age": engine.SnailHardyAgeDays}
		}},
		// Common practice, no source.
		{ID: "other.tool", Rest: true, Ask: "other.tool-text", Choices: []Choice{
			{Label: "tools.trouble", To: "trouble"},
			{Label: "tools.strip", To: "strip"},
			{Label: "tools.smith", To: "smith"},
		}},
	}
}

// pushesTool reports whether the grower's tool, or a tool that is not yet known, can go between the rows of the plot.
func pushesTool(c *scene) bool { return !engine.FitOf(c.plot().Plot, c.plot().Tool).Hand() }
func snailsEat(c *scene) bool  { return c.plot().SnailsEat(c.today()) }

// shownAhead is how many of the coming works the screen names.
const shownAhead = 2

// otherHead says which other works are due now and which come next.
func otherHead(c *scene) string {
	s := c.plot()
	var due, ahead []string
	for _, o := range s.Around(c.today()) {
		switch {
		case o.When == engine.Due:
			due = append(due, c.dueWork(o))
		case o.When == engine.Coming && len(ahead) < shownAhead:
			ahead = append(ahead, c.t("other.ahead", text.Args{"from": c.date(o.From),
				"work": c.t("other.name."+dashed(o.Kind.String()), nil)}))
		}
	}
	if len(due) == 0 {
		due = []string{c.t("other.none", nil)}
	}
	head := c.t("other.head", text.Args{"plot": c.label(c.s.int(fPlot), s.Plot)}) + " " + due[0]
	return strings.Join(append(append([]string{head}, due[1:]...), ahead...), "\n")
}

// dueWork says what is to be done now, and by when.
func (c *scene) dueWork(o engine.OtherWork) string {
	return c.t("other.now."+dashed(o.Kind.String()), text.Args{"to": c.date(o.To), "cm": number(engine.LevelCM),
		"low": engine.TopDressLowCM, "high": engine.TopDressHighCM})
}
