package menu

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// moneyScreens compare the costs of ways of weeding, ask for prices, and help growers to share a tool or to hire it
// out.
func moneyScreens() []Screen { return slices.Concat(costsScreens(), priceScreens(), hireScreens()) }

// costs calculates what each way of weeding the plot costs in one season.
func (c *scene) costs() (engine.Season, engine.Plan, engine.Costs) {
	s, p := c.fullPlan()
	return s, p, s.Costs(s.WorkHours(p, s.Work(c.today(), p.Next)))
}

// costsScreens compare what the ways of weeding a plot cost in one season. They need the area of the plot.
func costsScreens() []Screen {
	return []Screen{{ID: "costs", Rest: true, When: hasArea, Else: "work.no-area", Head: costsHead, List: costsKeys}}
}

// costsHead lists the ways of weeding with their costs, the cheapest first, after a line that says so if an own tool
// does not pay. The lines below say how often the plot is weeded by hand, from which area on an own tool is cheaper,
// and the value of the household's own work.
func costsHead(c *scene) string {
	s, p, costs := c.costs()
	label := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot)}
	ways := byPrice(costs)
	if len(ways) == 0 {
		return c.t(noneKey(p), label)
	}
	var lines []string
	if costs.OwnWorth == engine.PaysNot {
		lines = append(lines, c.t("costs.pays-not", text.Args{"way": c.way(costs, costs.WithoutOwn)}))
	}
	head := text.Key("costs.head")
	if costs.Tools > 1 && costs.Of(engine.OwnTool).Hours > 0 {
		head, label["tools"] = "costs.head-tools", costs.Tools
	}
	lines = append(lines, c.t(head, label))
	for _, cost := range ways {
		lines = append(lines, c.t("costs.line", text.Args{"way": c.way(costs, cost.Way),
			"cost": c.moneyRange(estimated(cost.LowSeason), estimated(cost.HighSeason))}))
	}
	if costs.Of(engine.HandFamily).Known || costs.Of(engine.HandPaid).Known {
		lines = append(lines, c.t("costs.rounds", text.Args{
			"rounds": c.numberRange(number(costs.RoundsLow), number(costs.RoundsHigh))}))
	}
	if turn := c.breakEven(costs.Own); turn != "" {
		lines = append(lines, turn)
	}
	if costs.OwnWorth == engine.PaysPerhaps && costs.Own.All.When == engine.FromArea {
		lines = append(lines, c.t("costs.pays-perhaps", nil))
	}
	if costs.AtWage && (costs.Of(engine.HandFamily).Known || costs.Of(engine.OwnTool).Known) {
		lines = append(lines, c.t("costs.own-work", text.Args{"cost": c.money(estimated(costs.FamilyDay))}))
	}
	return strings.Join(lines, "\n")
}

// way names a way of weeding.
func (c *scene) way(costs engine.Costs, b engine.Buying) string {
	return c.t(text.Key("costs.way."+wayKeys[b]), text.Args{"households": costs.Sharers})
}

// noneKey is the key of the text for a plot for which no cost is known. The text says which prices the grower must give
// before costs can be compared.
func noneKey(p engine.Plan) text.Key {
	if p.Fit.Hand() {
		return "costs.none-hand"
	}
	return "costs.none-tool"
}

// byPrice returns the ways of weeding whose cost is known, the cheapest first. Ways with equal cost keep the order that
// they have in costs.All.
func byPrice(costs engine.Costs) []engine.Cost {
	known := slices.DeleteFunc(slices.Clone(costs.All[:]), func(c engine.Cost) bool { return !c.Known })
	slices.SortStableFunc(known, func(a, b engine.Cost) int { return cmp.Compare(a.Season, b.Season) })
	return known
}

// wayKeys are the last parts of the keys of the texts that name the ways of weeding.
var wayKeys = map[engine.Buying]string{engine.OwnTool: "own", engine.SharedTool: "shared", engine.HiredTool: "hired",
	engine.HiredService: "service", engine.HandFamily: "hand", engine.HandPaid: "paid",
	engine.HerbicideOption: "herbicide"}

// breakEven writes from which area of rice an own tool is cheaper than the other ways of weeding whose prices are
// known: weeding by hand, and a hired tool or a hired service. breakEven returns "" if that area is unknown.
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
	k, args := text.Key("costs.turn."+own.All.When.String()), text.Args{"others": c.t(others, nil)}
	args["area"], args["perhaps"] = c.roughArea(own.All.HighHa), c.roughArea(own.All.LowHa)
	if own.All.When == engine.FromArea && args["area"] != args["perhaps"] {
		k = "costs.turn.from-range"
	}
	return c.t(k, args)
}

// roughArea rounds an area to two significant digits. roughArea writes an area below a tenth of a hectare in m2.
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

// missingPrice returns the price that the grower should give next, so that more ways of weeding can be compared.
// missingPrice returns false if no price is missing.
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

// costsKeys are the choices that lead to the next missing price and to the list of all prices.
func costsKeys(c *scene) []Choice {
	var out []Choice
	if k, ok := c.missingPrice(); ok {
		out = append(out, Choice{Label: "costs.tell", Args: text.Args{"price": c.t(k.label(), nil)}, To: k.screen()})
	}
	out = append(out, Choice{Label: "costs.prices", To: "costs.tell"})
	return out
}
