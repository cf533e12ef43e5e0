package menu

import (
	"strconv"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// toolScreens help to check, order, set and try a tool. The grower needs no registered plot for them.
func toolScreens() []Screen {
	screens := []Screen{
		{ID: "tools", Rest: true, Ask: "tools.ask", Choices: []Choice{
			{Label: "tools.circle", If: circleFirst, To: "circle"},
			{Label: "tools.check", To: "check.row"},
			{Label: "tools.planting", To: "planting"},
			{Label: "tools.smith", To: "smith"},
			{Label: "tools.trouble", To: "trouble"},
			{Label: "tools.strip", To: "strip"},
			{Label: "tools.circle", If: circleLast, To: "circle"},
		}},
		{ID: "strip", Rest: true, Ask: "strip.text",
			Choices: []Choice{{Label: "strip.next", To: "strip.look"}}},
		{ID: "strip.look", Rest: true, Ask: "strip.look",
			Choices: []Choice{{Label: "tools.trouble", To: "trouble"}}},
	}
	trouble := Screen{ID: "trouble", Rest: true, Ask: "trouble.ask"}
	for i, t := range engine.Troubles() {
		page := ScreenID("trouble." + strconv.Itoa(i+1))
		trouble.Choices = append(trouble.Choices, Choice{Label: troubleKey(t), To: page,
			Tell: func(c *scene) error { return c.household.TellTrouble(t) }})
		screens = append(screens, Screen{ID: page, Rest: true, Head: func(c *scene) string { return c.cures(t) }})
	}
	return append(append(screens, trouble), smithScreens()...)
}

// troubleKey and cureKey are catalogue keys: the key of the cure "lower the float" is trouble.lower-the-float.
func troubleKey(t engine.Trouble) text.Key { return "trouble." + dashed(t.String()) }
func cureKey(c engine.Cure) text.Key       { return "trouble." + dashed(c.String()) }

func dashed(words string) text.Key { return text.Key(strings.ReplaceAll(words, " ", "-")) }

// cures lists what to try against a trouble. The cure with the least work comes first.
func (c *scene) cures(t engine.Trouble) string {
	lines := []string{c.t("trouble.try", text.Args{"trouble": c.t(troubleKey(t), nil)})}
	for i, cure := range engine.Cures(t) {
		lines = append(lines, strconv.Itoa(i+1)+". "+c.t(cureKey(cure), nil))
	}
	return strings.Join(lines, "\n")
}

// checkScreens say whether a tool suits a row spacing. The grower needs no registered plot for them.
func checkScreens() []Screen {
	return []Screen{
		{ID: "check.row", Ask: "check.row.ask",
			Typed: &Typed{Read: readRow, To: "check.tool", Samples: []string{"20", "22.5"}}},
		{ID: "check.tool", Ask: "check.tool.ask",
			Args:  func(c *scene) text.Args { return text.Args{"row": number(c.s.float(fRow))} },
			Typed: &Typed{Read: readTool, To: "check.done", Samples: []string{"15", "12.5-17.5"}}},
		{ID: "check.done", Rest: true, Head: checkHead, Choices: []Choice{
			{Label: "check.again", To: "check.row"},
			{Label: "home.new", To: "new.method"},
		}},
	}
}

func checkHead(c *scene) string {
	row := c.s.float(fRow)
	f := engine.FitOf(engine.Plot{Method: engine.Transplanted, RowSpacingCM: row, HillSpacingCM: row}, c.draftTool())
	head := c.fitSentence(c.draftTool(), f, row)
	if f.Verdict == engine.FitTooWide {
		return head
	}
	return head + "\n" + c.t("check.more", text.Args{
		"share": whole(100 * f.SweptOnce), "crossed": whole(100 * f.SweptCrossed), "hours": whole(f.HoursPerHa),
		"row": number(row)})
}
