package menu

import (
	"rowbell/engine"
	"rowbell/menu/text"
)

// seasonScreens are what a season has come to so far.
func seasonScreens() []Screen {
	return []Screen{{ID: "so-far", Rest: true, Head: soFarHead}}
}

func soFarHead(c *scene) string {
	no := c.s.int(fPlot)
	s, err := c.b.Season(no)
	if err != nil {
		c.fail(err)
		return ""
	}
	return c.summary(c.label(no, s.Plot), s)
}

// summary is what a season came to, on one screen.
func (c *scene) summary(label string, s engine.Season) string {
	sum := s.Summary(c.today())
	args := text.Args{"plot": label, "n": sum.Passes, "in": sum.InWindow, "hours": duration(sum.Hours), "saved": whole(sum.SavedHours), "more": whole(-sum.SavedHours)}
	if sum.Passes == 0 {
		return c.t("so-far.none", args)
	}
	head := c.t("so-far.passes", args)
	if sum.LoggedHours > 0 {
		head += " " + c.t("so-far.hours", args)
	}
	switch {
	case sum.SavedHours >= 1:
		head += " " + c.t("so-far.saved", args)
	case sum.SavedHours <= -1:
		head += " " + c.t("so-far.more", args)
	}
	return head
}
