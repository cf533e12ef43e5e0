package menu

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"rowbell/engine"
	"rowbell/menu/text"
)

// moneyScreens compare what ways of weeding cost, and help to share or hire a
// tool.
func moneyScreens() []Screen {
	return slices.Concat(costsScreens(), priceScreens(), hireScreens())
}

// costs is what the ways of weeding the plot in question cost for a season.
func (c *scene) costs() (engine.Season, engine.Plan, engine.Costs, bool) {
	s, ok := c.plot()
	if !ok {
		return s, engine.Plan{}, engine.Costs{}, false
	}
	p, err := s.Plan(c.today())
	if err != nil {
		c.fail(err)
		return s, p, engine.Costs{}, false
	}
	return s, p, s.Costs(s.WorkHours(p, s.Work(c.today(), p.Next))), true
}

// costsScreens is the comparison, on as many pages as it takes.
func costsScreens() []Screen {
	return []Screen{{ID: "costs", Rest: true, When: hasArea, Else: "work.no-area", Head: costsHead, List: costsKeys}}
}

// costsHead compares the ways, the cheapest first, then tells what there is to
// say of them.
func costsHead(c *scene) string {
	s, p, costs, ok := c.costs()
	if !ok {
		return ""
	}
	label := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot)}
	ways := byPrice(costs)
	if len(ways) == 0 {
		return c.t(noneKey(p), label)
	}
	lines := []string{c.t("costs.head", label)}
	for _, cost := range ways {
		lines = append(lines, c.t("costs.line", text.Args{"way": c.t(text.Key("costs.way."+wayKey(cost.Way)), text.Args{"households": costs.Sharers}), "cost": c.money(estimated(cost.Season))}))
	}
	if turn := c.turn(costs.Own); turn != "" {
		lines = append(lines, turn)
	}
	if costs.AtWage && (costs.Of(engine.HandFamily).Known || costs.Of(engine.OwnTool).Known) {
		lines = append(lines, c.t("costs.own-work", text.Args{"cost": c.money(estimated(costs.FamilyDay))}))
	}
	return strings.Join(lines, "\n")
}

// noneKey says what to tell first where no way can be priced.
func noneKey(p engine.Plan) text.Key {
	if p.Fit.Hand() {
		return "costs.none-hand"
	}
	return "costs.none-tool"
}

// byPrice are the ways whose cost is known, the cheapest first, equals in the
// engine's order.
func byPrice(costs engine.Costs) []engine.Cost {
	known := slices.DeleteFunc(slices.Clone(costs.All[:]), func(c engine.Cost) bool { return !c.Known })
	slices.SortStableFunc(known, func(a, b engine.Cost) int { return cmp.Compare(a.Season, b.Season) })
	return known
}

// wayKey names a way in the catalogue.
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

// turn says from which area on a tool of one's own is the cheaper way, and
// than what; "" where that is not known.
func (c *scene) turn(own engine.BreakEvenAreas) string {
	hand, hire := own.Hand.When != engine.AreaUnknown, own.Hire.When != engine.AreaUnknown || own.Service.When != engine.AreaUnknown
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
	return c.t(text.Key("costs.turn."+own.All.When.String()), text.Args{"others": c.t(others, nil), "area": c.roughArea(own.All.Ha)})
}

// roughArea is an area in two digits that count: m2 below a tenth of a
// hectare.
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

// wanted is the price that would let more ways be compared, most telling first.
func (c *scene) wanted() (priceKind, bool) {
	_, p, ok := c.season(c.s.int(fPlot))
	if !ok {
		return priceKind{}, false
	}
	own, _ := c.prices()
	switch {
	case own.LabourDay == 0:
		return priceKindOf("wage"), true
	case own.Tool == 0 && !p.Fit.Hand():
		return priceKindOf("tool"), true
	}
	return priceKind{}, false
}

// costsKeys ask for the price that is wanted first, and lead to all of them.
func costsKeys(c *scene) []Choice {
	var out []Choice
	if k, ok := c.wanted(); ok {
		out = append(out, Choice{Label: "costs.tell", Args: text.Args{"price": c.t(k.label(), nil)}, To: k.screen()})
	}
	out = append(out, Choice{Label: "costs.prices", To: "costs.tell"})
	for i := range out {
		out[i].Digit = digit(i + 1)
	}
	return out
}
