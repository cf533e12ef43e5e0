package menu

import (
	"math"

	"rowbell/engine"
	"rowbell/menu/text"
)

const (
	fSharers Field = "sharers" // number of households that share a tool
	fSeasons Field = "seasons"
	fHired   Field = "hired" // number of days in a season on which the tool is hired out
)

// A grower may type numbers about sharing and hiring out up to these limits (judgement).
const (
	maxSharers  = 50
	maxHireDays = 200
)

// hireScreens divide the price of a tool among households, and say how much to charge for one day of hire.
func hireScreens() []Screen {
	tool := priceKindOf("tool")
	return []Screen{
		{ID: "hire", Rest: true, Ask: "hire.ask", Args: plotArgs, Choices: []Choice{
			{Label: "hire.share", To: "hire.sharers"},
			{Label: "hire.day", To: "hire.seasons"},
			{Label: "costs.prices", To: "costs.tell"},
		}},
		{ID: "hire.share-price", Ask: "hire.price-ask",
			Typed: &Typed{Read: readPrice, Do: tellPrice(tool), To: "hire.sharers", Samples: priceSamples}},
		{ID: "hire.day-price", Ask: "hire.price-ask",
			Typed: &Typed{Read: readPrice, Do: tellPrice(tool), To: "hire.seasons", Samples: priceSamples}},
		{ID: "hire.sharers", When: toolPriced, Else: "hire.share-price", Ask: "hire.sharers-ask",
			Args: limitArgs(2, maxSharers), Head: toolHead,
			Typed: &Typed{Read: readWhole(fSharers, 2, maxSharers), Do: setSharers, To: "hire.shared",
				Samples: []string{"2", "50"}}},
		{ID: "hire.shared", Rest: true, Head: sharedHead, Choices: []Choice{
			{Label: "change.area", If: func(c *scene) bool { return !hasArea(c) }, To: "change.area"},
			{Label: "costs.price.wage", If: func(c *scene) bool { return hasArea(c) && c.wageMissing() },
				To: "costs.wage"},
			{Label: "work.costs", If: func(c *scene) bool { return hasArea(c) && c.wageMissing() },
				To: "costs"},
			{Label: "work.costs", If: func(c *scene) bool { return hasArea(c) && !c.wageMissing() },
				To: "costs"},
		}},
		{ID: "hire.seasons", When: toolPriced, Else: "hire.day-price", Ask: "hire.seasons-ask", Head: toolHead,
			Args:  func(c *scene) text.Args { return limitArgs(1, c.toolSeasons())(c) },
			Typed: &Typed{Read: readSeasons, To: "hire.days", Samples: []string{"1", "10"}}},
		{ID: "hire.days", Ask: "hire.days-ask", Args: limitArgs(1, maxHireDays),
			Typed: &Typed{Read: readWhole(fHired, 1, maxHireDays), To: "hire.asked", Samples: []string{"1", "200"}}},
		{ID: "hire.asked", Rest: true, Head: chargeHead,
			Choices: []Choice{{Label: "hire.again", To: "hire.seasons"}}},
	}
}

func limitArgs(from, to int) func(*scene) text.Args {
	return func(*scene) text.Args { return text.Args{"from": from, "to": to} }
}

func toolPriced(c *scene) bool {
	own, _ := c.prices()
	return own.Tool > 0
}

// toolHead shows the price of a tool from which a share, or the charge for a day of hire, is calculated.
func toolHead(c *scene) string {
	own, _ := c.prices()
	return c.t("hire.tool", text.Args{"cost": c.money(written(own.Tool))})
}

// wageMissing reports whether the wage is the price that the grower should give next. Without a wage the menu cannot
// say when a share is paid back.
func (c *scene) wageMissing() bool {
	k, ok := c.missingPrice()
	return ok && k.name == "wage"
}

func setSharers(c *scene) (*Refusal, error) {
	return nil, c.changeHome(func(h *engine.Household) { h.Neighbours = c.s.int(fSharers) })
}

// sharedHead shows the price of one share, the cost of a share in a season, and when the share is paid back.
func sharedHead(c *scene) string {
	s, p, costs := c.costs()
	args := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot), "households": costs.Sharers, "tools": costs.Tools,
		"share": c.money(estimated(costs.SharePrice)),
		"cost":  c.money(estimated(costs.Of(engine.SharedTool).Cash)), "n": int(math.Ceil(costs.SharePaysBack))}
	each := text.Key("hire.each")
	if costs.Tools > 1 {
		each = "hire.each-tools"
	}
	head := c.t(each, args)
	if p.Fit.Hand() {
		return head + " " + c.t("hire.no-tool", args)
	}
	if !hasArea(c) {
		return head + " " + c.t("hire.no-area", args)
	}
	head += " " + c.t("hire.season", args)
	switch {
	case costs.SharePaysBack > 0:
		return head + " " + c.t("hire.paid", args)
	case costs.Of(engine.HandPaid).Known || costs.Of(engine.HandFamily).Known:
		return head + " " + c.t("hire.not-paid", args)
	}
	return head + " " + c.t("hire.no-wage", args)
}

// toolSeasons returns in how many whole seasons a tool is used until it is worn out, at least 1.
func (c *scene) toolSeasons() int {
	own, _ := c.prices()
	return max(1, int(own.ToolYears*own.SeasonsYear))
}

func readSeasons(c *scene, entry string) (doubted, *Refusal) {
	return readWhole(fSeasons, 1, c.toolSeasons())(c, entry)
}

// chargeHead says how much to charge for one day of hiring out the tool.
func chargeHead(c *scene) string {
	own, _ := c.prices()
	seasons := c.s.int(fSeasons)
	ask, ok := engine.HireToAsk(own, float64(seasons), c.s.float(fHired))
	if !ok {
		return c.t("hire.no-price", nil)
	}
	k := text.Key("hire.asked")
	if own.InterestYear > 0 {
		k = "hire.asked-interest"
	}
	return c.t(k, text.Args{"cost": c.money(estimated(ask)), "days": c.s.int(fHired), "n": seasons})
}
