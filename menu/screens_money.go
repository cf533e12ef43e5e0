package menu

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// moneyScreens compare the costs of ways of weeding, take prices, and help to share or hire out a tool.
func moneyScreens() []Screen {
	return slices.Concat(costsScreens(), priceScreens(), hireScreens())
}

// costs calculates what each way of weeding the plot costs for a season.
func (c *scene) costs() (engine.Season, engine.Plan, engine.Costs) {
	s, p := c.fullPlan()
	return s, p, s.Costs(s.WorkHours(p, s.Work(c.today(), p.Next)))
}

// costsScreens is the comparison of costs.
func costsScreens() []Screen {
	return []Screen{{ID: "costs", Rest: true, When: hasArea, Else: "work.no-area", Head: costsHead, List: costsKeys}}
}

// costsHead lists the ways with their costs, the cheapest first, then the area from which an own tool is cheaper,
// then the value of the household's own work.
func costsHead(c *scene) string {
	s, p, costs := c.costs()
	label := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot)}
	ways := byPrice(costs)
	if len(ways) == 0 {
		return c.t(noneKey(p), label)
	}
	lines := []string{c.t("costs.head", label)}
	for _, cost := range ways {
		lines = append(lines, c.t("costs.line", text.Args{"way": c.t(text.Key("costs.way."+wayKey(cost.Way)),
			text.Args{"households": costs.Sharers}), "cost": c.money(estimated(cost.Season))}))
	}
	if turn := c.breakEven(costs.Own); turn != "" {
		lines = append(lines, turn)
	}
	if costs.AtWage && (costs.Of(engine.HandFamily).Known || costs.Of(engine.OwnTool).Known) {
		lines = append(lines, c.t("costs.own-work", text.Args{"cost": c.money(estimated(costs.FamilyDay))}))
	}
	return strings.Join(lines, "\n")
}

// noneKey is the text that says which price to tell first, where no way can be priced.
func noneKey(p engine.Plan) text.Key {
	if p.Fit.Hand() {
		return "costs.none-hand"
	}
	return "costs.none-tool"
}

// byPrice are the ways whose cost is known, the cheapest first; equal ones in the engine's order.
func byPrice(costs engine.Costs) []engine.Cost {
	known := slices.DeleteFunc(slices.Clone(costs.All[:]), func(c engine.Cost) bool { return !c.Known })
	slices.SortStableFunc(known, func(a, b engine.Cost) int { return cmp.Compare(a.Season, b.Season) })
	return known
}

// wayKey is the name of a way in the catalogue.
func wayKey(b engine.Buying) string {
	switch b {
	case engine.OwnTool:
		return "own"
	case engine.SharedTool:
		return "shared"
	case engine.HiredTool:
		return "hired"
	case engine.HiredService:
		return "service"
	case engine.HandFamily:
		return "hand"
	case engine.HandPaid:
		return "paid"
	}
	return "herbicide"
}

// breakEven says from which area on an own tool is cheaper than hand weeding or hire; "" if that is not known.
func (c *scene) breakEven(own engine.BreakEvenAreas) string {
	hand, hire := own.Hand.When != engine.AreaUnknown, own.Hire.When != engine.AreaUnknown ||
		own.Service.When != engine.AreaUnknown
	others := text.Key("costs.turn.hand")
	switch {
	case hand && hire:
		others = "costs.turn.both"
	case hire:
		others = "costs.turn.hire"
	}
	if own.All.When == engine.AreaUnknown {
		return ""
	}
	return c.t(text.Key("costs.turn."+own.All.When.String()),
		text.Args{"others": c.t(others, nil), "area": c.roughArea(own.All.Ha)})
}

// roughArea writes an area in two significant digits, in m2 below a tenth of a hectare.
func (c *scene) roughArea(ha float64) string {
	if m2 := ha * 1e4; m2 < 1000 {
		return c.t("costs.m2", text.Args{"area": twoDigits(max(1, m2))})
	}
	return c.t("costs.ha", text.Args{"area": twoDigits(ha)})
}

func twoDigits(x float64) text.Decimal {
	unit := math.Pow10(int(math.Floor(math.Log10(x))) - 1)
	return written(math.Round(x/unit) * unit)
}

// missingPrice is the price to ask for next, so that more ways of weeding can be compared; false if none is missing.
func (c *scene) missingPrice() (priceKind, bool) {
	_, p := c.season(c.s.int(fPlot))
	own, _ := c.prices()
	switch {
	case own.LabourDay == 0:
		return priceKindOf("wage"), true
	case own.Tool == 0 && !p.Fit.Hand():
		return priceKindOf("tool"), true
	}
	return priceKind{}, false
}

// costsKeys lead to the price that is asked for first, and to all prices.
func costsKeys(c *scene) []Choice {
	var out []Choice
	if k, ok := c.missingPrice(); ok {
		out = append(out, Choice{Label: "costs.tell", Args: text.Args{"price": c.t(k.label(), nil)}, To: k.screen()})
	}
	out = append(out, Choice{Label: "costs.prices", To: "costs.tell"})
	for i := range out {
		out[i].Digit = digit(i + 1)
	}
	return out
}
