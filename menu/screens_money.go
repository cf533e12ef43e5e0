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
	s, err := c.b.Season(c.s.int(fPlot))
	if err != nil {
		c.fail(err)
		return s, engine.Plan{}, engine.Costs{}, false
	}
	p, err := s.Plan(c.today())
	if err != nil {
		c.fail(err)
		return s, p, engine.Costs{}, false
	}
	return s, p, s.Costs(s.WorkHours(p, s.Work(c.today(), p.Next))), true
}

// waysAPage is how many ways a page shows at most; with the turning and what
// one's own work is counted at they take mostPages.
const (
	waysAPage = 4
	mostPages = 3
)

// costsPage names a page of the comparison, the first being 0.
func costsPage(n int) ScreenID {
	if n == 0 {
		return "costs"
	}
	return ScreenID("costs.page" + string(digit(n+1)))
}

// costsScreens are the pages of the comparison.
func costsScreens() []Screen {
	screens := make([]Screen, mostPages)
	for n := range screens {
		screens[n] = Screen{ID: costsPage(n), Rest: true, When: hasArea, Else: "work.no-area",
			Head: func(c *scene) string { return c.costsPages()[n] },
			List: func(c *scene) []Choice { return c.costsKeys(n, n+1 < mostPages && c.costsPages()[n+1] != "") }}
	}
	return screens
}

// costsPages compares the ways, the cheapest first, then tells what there is to
// say of them: as many lines a page as fit. A page may be empty but the first.
func (c *scene) costsPages() (pages [mostPages]string) {
	s, p, costs, ok := c.costs()
	if !ok {
		return pages
	}
	label := text.Args{"plot": c.label(c.s.int(fPlot), s.Plot)}
	lines := []string{}
	for _, cost := range byPrice(costs) {
		lines = append(lines, c.t("costs.line", text.Args{"way": c.t(text.Key("costs.way."+wayKey(cost.Way)), text.Args{"households": costs.Sharers}), "cost": c.money(estimated(cost.Season))}))
	}
	ways := len(lines)
	if ways == 0 {
		pages[0] = c.t(noneKey(p), label)
		return pages
	}
	if turn := c.turn(costs.Own); turn != "" {
		lines = append(lines, turn)
	}
	if costs.AtWage && (costs.Of(engine.HandFamily).Known || costs.Of(engine.OwnTool).Known) {
		lines = append(lines, c.t("costs.own-work", text.Args{"cost": c.money(estimated(costs.FamilyDay))}))
	}
	for n := range pages {
		var page []string
		most := len(lines)
		if ways > 0 {
			page = []string{c.t("costs.head", label)}
		}
		if ways > waysAPage {
			most = waysAPage
		}
		fit := c.fitting(page, lines[:most], c.costsKeys(n, true))
		if fit == 0 {
			break
		}
		pages[n] = strings.Join(append(page, lines[:fit]...), "\n")
		lines, ways = lines[fit:], ways-fit
	}
	return pages
}

// noneKey says what to tell first where no way can be priced.
func noneKey(p engine.Plan) text.Key {
	if p.Fit.Hand() {
		return "costs.none-hand"
	}
	return "costs.none-tool"
}

// fitting is how many of the lines fit on a page with what else stands there.
func (c *scene) fitting(head, lines []string, keys []Choice) int {
	var foot []string
	for _, k := range keys {
		foot = append(foot, string(k.Digit)+" "+c.t(k.Label, k.Args))
	}
	foot = append(foot, c.t("keys.back-home", nil))
	n := len(lines)
	for n > 0 && !text.FitsUSSD(strings.Join(slices.Concat(head, lines[:n], foot), "\n")) {
		n--
	}
	return n
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
func (c *scene) turn(own engine.Turnings) string {
	hand, hire := own.Hand.Turn != engine.TurnUnknown, own.Hire.Turn != engine.TurnUnknown || own.Service.Turn != engine.TurnUnknown
	others := text.Key("costs.turn.hand")
	switch {
	case hand && hire:
		others = "costs.turn.both"
	case hire:
		others = "costs.turn.hire"
	}
	if own.All.Turn == engine.TurnUnknown {
		return ""
	}
	return c.t(text.Key("costs.turn."+own.All.Turn.String()), text.Args{"others": c.t(others, nil), "area": c.roughArea(own.All.Ha)})
}

// roughArea is an area in two digits that count: m2 below a tenth of a
// hectare.
func (c *scene) roughArea(ha float64) string {
	if m2 := ha * 1e4; m2 < 1000 {
		return c.t("costs.m2", text.Args{"area": twoDigits(max(1, m2))})
	}
	return c.t("costs.ha", text.Args{"area": twoDigits(ha)})
}

func twoDigits(x float64) string {
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

// costsKeys lead on from a page of the comparison.
func (c *scene) costsKeys(page int, next bool) []Choice {
	var out []Choice
	if next {
		out = append(out, Choice{Label: "costs.next", To: costsPage(page + 1)})
	}
	if k, ok := c.wanted(); ok && page == 0 {
		out = append(out, Choice{Label: "costs.tell", Args: text.Args{"price": c.t(k.label(), nil)}, To: k.screen()})
	}
	out = append(out, Choice{Label: "costs.prices", To: "costs.tell"})
	for i := range out {
		out[i].Digit = digit(i + 1)
	}
	return out
}
