package menu

import (
	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

// checkScreens tell whether a tool suits a row spacing; no plot is needed.
func checkScreens() []Screen {
	return []Screen{
		{ID: "check.row", Ask: "check.row.ask",
			Typed: &Typed{Parse: typedCM(fRow, answer.RowSpacing),
				Doubt: doubtedCM(fRow, doubtRow, answer.RowSpacing), To: "check.tool",
				Samples: []string{"20", "22.5"}}},
		{ID: "check.tool", Ask: "check.tool.ask",
			Args: func(c *scene) text.Args { return text.Args{"row": number(c.s.float(fRow))} },
			Typed: &Typed{Parse: typedTool, Doubt: doubtedWidth, To: "check.done",
				Samples: []string{"15", "12.5-17.5"}}},
		{ID: "check.done", Rest: true, Head: checkHead, Choices: []Choice{
			{Digit: '1', Label: "check.again", To: "check.row"},
			{Digit: '2', Label: "home.new", To: "new.method"},
		}},
	}
}

func checkHead(c *scene) string {
	row := c.s.float(fRow)
	f := engine.FitOf(engine.Plot{Method: engine.Transplanted, RowSpacingCM: row, HillSpacingCM: row}, c.draftTool())
	head := c.fitSentence(f, row)
	if f.Verdict == engine.FitTooWide {
		return head
	}
	return head + "\n" + c.t("check.more", text.Args{
		"share": whole(100 * f.SweptOnce), "crossed": whole(100 * f.SweptCrossed), "hours": whole(f.HoursPerHa),
		"row": number(row)})
}
