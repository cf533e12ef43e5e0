package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

// seasonScreens summarise the season of a plot until today: its passes and hours. They lead to what can be put right.
func seasonScreens() []Screen {
	return []Screen{
		{ID: "so-far", Rest: true, Head: soFarHead, Choices: []Choice{
			{Label: "so-far.add-hours", If: weededOnce, Prep: lastPassAgain, To: "pass.hours"},
			{Label: "so-far.fix", If: hasEntries, Prep: firstPage, To: "fix"},
			{Label: "so-far.add", To: "pass.date"},
			{Label: "so-far.planted", To: "planted"},
		}},
	}
}

func weededOnce(c *scene) bool { return len(c.plot().Passes) > 0 }

// lastPassAgain prepares the questions how many hours and how many people the latest weeding took. The weeding may have
// been logged by a text or in an earlier dialogue.
func lastPassAgain(c *scene) *Refusal {
	for _, e := range entriesOf(c.plot()) {
		if !e.sighting {
			c.s.put(fEntry, e.String())
			return nil
		}
	}
	return &Refusal{Key: "refuse.changed"}
}

func soFarHead(c *scene) string {
	s := c.plot()
	return c.summary(c.label(c.s.int(fPlot), s.Plot), s)
}

// summary writes the passes, the hours, the hours saved or lost against weeding by hand, and the cost of a season until
// today. A number that is not known is left out.
func (c *scene) summary(label string, s engine.Season) string {
	sum := s.Summary(c.today())
	args := text.Args{"plot": label, "n": sum.Passes, "in": sum.InWindow, "hours": duration(sum.Hours),
		"saved": whole(sum.SavedHours), "more": whole(-sum.SavedHours)}
	if sum.Passes == 0 {
		return c.t("so-far.none", args)
	}
	head := c.t("so-far.passes", args)
	if sum.Part > 0 {
		args["part"] = c.part(sum.Part)
		head += " " + c.t("so-far.part", args)
	}
	if sum.LoggedHours > 0 {
		head += " " + c.t("so-far.hours", args)
	}
	switch {
	case sum.SavedHours >= 1:
		head += " " + c.t("so-far.saved", args)
	case sum.SavedHours <= -1:
		head += " " + c.t("so-far.more", args)
	}
	if sum.Cost > 0 {
		args["cost"] = c.money(estimated(sum.Cost))
		head += " " + c.t("so-far.cost", args)
	}
	return head
}
