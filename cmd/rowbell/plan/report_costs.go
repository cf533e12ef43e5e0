package plan

import (
	"fmt"
	"strings"

	"rowbell/engine"
)

// herbicideNote is shown with every price of a herbicide.
const herbicideNote = "as told by the seller; follow the label, ask a licensed adviser"

// costs compares the costs of the ways of weeding. The table leaves the section out if no cost is known.
func (r Report) costs() Section {
	c, currency := r.Costs, r.Season.Local.Prices.Currency
	s := Section{Title: "Cost of weeding this plot for the season (about)" + InCurrency(currency), Key: "costs"}
	s.PutSet("currency", currency)
	s.Line("Way\tMoney\tA hectare\tHours")
	ways, note, known := []Object{}, "", false
	for _, x := range c.All {
		known = known || x.Known || x.Cash > 0
		if x.CashKnown {
			s.Line(costLine(c, x))
		}
		if x.Hours == 0 && !x.CashKnown {
			continue
		}
		ways = append(ways, r.costObject(x))
		if x.Way == engine.HerbicideOption {
			note = herbicideNote
		}
	}
	s.Put("ways", ways)

	s.Align()
	if c.Cheapest != engine.BuyingUnknown {
		words := buyingWords(c.Cheapest)
		if c.Cheapest == engine.HerbicideOption {
			words += ", its price alone: without the work of it"
		}
		s.Say("Cheapest", "%s", words)
		s.Put("cheapest", c.Cheapest)
	}
	switch {
	case c.AtWage:
		s.Say("Your own work", "counted at the wage, %s a day", Money(c.FamilyDay))
	case c.FamilyDay > 0:
		s.Say("Your own work", "counted at %s a day", Money(c.FamilyDay))
	}
	s.PutSet("hand_rounds_low", c.RoundsLow, "hand_rounds_high", c.RoundsHigh)
	s.PutSet("family_day_money", Round(c.FamilyDay))
	s.Put("family_at_wage", c.AtWage)
	if c.HireDays > 0 && c.Of(engine.HiredTool).CashKnown {
		s.Say("Hired", "about %s", Count(c.HireDays, "day", "days"))
	}
	s.PutSet("hire_days", c.HireDays)
	toolCosts(&s, c)
	r.worth(&s)
	s.PutSet("herbicide_note", note)
	if !known {
		return s.onlyJSON()
	}
	return s
}

// worth says whether an own tool pays on this plot.
func (r Report) worth(s *Section) {
	c := r.Costs
	if c.OwnWorth == engine.WorthUnknown {
		return
	}
	tool, without := "an own tool", buyingWords(c.WithoutOwn)
	if c.Tools > 1 {
		tool = fmt.Sprintf("%d own tools", c.Tools)
	}
	area := ground(r.Season.Plot.AreaM2 / 1e4)
	switch c.OwnWorth {
	case engine.Pays:
		s.Say("Is it worth it", "with these prices %s pays on %s", tool, area)
	case engine.PaysPerhaps:
		s.Say("Is it worth it", "with these prices %s may pay on %s; it depends on the hours. Without: %s", tool, area,
			without)
	case engine.PaysNot:
		s.Say("Is it worth it", "with these prices %s does not pay on %s. Cheapest without: %s", tool, area, without)
	}
	s.Put("own_tool_pays", c.OwnWorth, "without_own_tool", c.WithoutOwn)
}

// toolCosts adds the price of a tool, the area from which the tool or a share of it is cheaper than other ways of
// weeding, and the seasons after which it has saved its price.
func toolCosts(s *Section, c engine.Costs) {
	price := Money(c.ToolPrice)
	if c.Tools > 1 {
		price = fmt.Sprintf("%d tools of %s", c.Tools, price)
	}
	if c.SharePrice > 0 {
		price += fmt.Sprintf(", one of %d shares %s", c.Sharers, aboutMoney(c.SharePrice))
	}
	if c.ToolPrice > 0 {
		s.Say("To buy", "%s", price)
	}
	s.PutSet("tools", c.Tools, "tool_money", Round(c.ToolPrice), "share_money", Round(c.SharePrice))
	s.Put("sharers", c.Sharers)
	for _, x := range []struct {
		label, key string
		engine.BreakEvenAreas
	}{{"An own tool", "own_tool_cheaper", c.Own}, {"A share", "share_cheaper", c.Share}} {
		if words := breakEvenWords(x.BreakEvenAreas); words != "" && c.ToolPrice > 0 {
			s.Say(x.label, "%s", words)
		}
		if x.BreakEvenAreas != (engine.BreakEvenAreas{}) {
			s.Put(x.key, breakEvenObject(x.BreakEvenAreas))
		}
	}
	if c.ToolPrice > 0 && c.OwnPaysBack > 0 {
		s.Say("Pays back", "an own tool in %s, by what it saves against weeding by hand", seasonsWords(c.OwnPaysBack))
	}
	s.PutSet("own_tool_pays_back_seasons", Round(c.OwnPaysBack))
	if c.ToolPrice > 0 && c.SharePaysBack > 0 {
		s.Say("Pays back", "a share in %s", seasonsWords(c.SharePaysBack))
	}
	s.PutSet("share_pays_back_seasons", Round(c.SharePaysBack))
}

func costLine(c engine.Costs, x engine.Cost) string {
	money, hectare, hours, note := "your work", "-", "-", ""
	switch {
	case x.Known:
		money = moneyRange(x.LowSeason, x.HighSeason)
	case x.Cash > 0:
		money = aboutMoney(x.Cash) + " and your work"
	}
	if x.Known && x.PerHa != 0 {
		hectare = aboutMoney(x.PerHa)
	}
	if x.Hours != 0 {
		hours = Figures(x.Hours)
	}
	switch x.Way {
	case engine.HandFamily, engine.HandPaid:
		note = "\t" + roundsWords(c.RoundsLow, c.RoundsHigh)
	case engine.HerbicideOption:
		note = "\t" + herbicideNote
	case engine.OwnTool:
		note = "\twear, interest and repairs shared out over its seasons"
	}
	return fmt.Sprintf("%s\t%s\t%s\t%s%s", buyingWords(x.Way), money, hectare, hours, note)
}

func (r Report) costObject(x engine.Cost) (o Object) {
	o.Put("way", x.Way)
	o.PutSet("work_hours", Round(x.Hours))
	if x.CashKnown {
		o.Put("cash_money", Round(x.Cash)) // the money that the household pays to others
	}
	if x.Known {
		// the cost of the season, including the family's own work; low and high differ with the weedings by hand
		o.Put("season_money", Round(x.Season), "season_low_money", Round(x.LowSeason), "season_high_money",
			Round(x.HighSeason))
		if r.Season.Plot.AreaM2 > 0 {
			o.Put("money_per_ha", Round(x.PerHa))
		}
	}
	return o
}

// breakEvenWords says from which area on the tool is cheaper than each other way of weeding.
func breakEvenWords(t engine.BreakEvenAreas) string {
	var words []string
	for _, x := range []struct {
		than string
		engine.BreakEvenArea
	}{{"by hand", t.Hand}, {"hiring one", t.Hire}, {"a hired service", t.Service}} {
		switch x.When {
		case engine.AnyArea:
			words = append(words, "always cheaper than "+x.than)
		case engine.FromArea:
			word := fmt.Sprintf("cheaper than %s from about %s on", x.than, ground(x.HighHa))
			if perhaps := ground(x.LowHa); perhaps != ground(x.HighHa) {
				word += " and perhaps from " + perhaps
			}
			words = append(words, word)
		case engine.PerhapsArea:
			words = append(words, fmt.Sprintf("perhaps cheaper than %s from about %s on", x.than, ground(x.LowHa)))
		case engine.NoArea:
			words = append(words, "never cheaper than "+x.than)
		}
	}
	return strings.Join(words, ", ")
}

// breakEvenObject has a member for each other way of weeding: the tool is cheaper always, from an area on, or never.
func breakEvenObject(t engine.BreakEvenAreas) (o Object) {
	for _, x := range []struct {
		key string
		engine.BreakEvenArea
	}{{"than_hand", t.Hand}, {"than_hire", t.Hire}, {"than_service", t.Service}, {"than_all", t.All}} {
		if x.When == engine.AreaUnknown {
			continue
		}
		var one Object
		one.Put("when", x.When)
		one.PutSet("from_low_ha", Round(x.LowHa), "from_high_ha", Round(x.HighHa))
		o.Put(x.key, one)
	}
	return o
}

// buyingWords names a way of weeding by what the grower pays for.
func buyingWords(b engine.Buying) string {
	return map[engine.Buying]string{
		engine.OwnTool: "own tool", engine.SharedTool: "share of a tool", engine.HiredTool: "hired tool",
		engine.HiredService: "hired service", engine.HandFamily: "by hand, family", engine.HandPaid: "by hand, paid",
		engine.HerbicideOption: "herbicide",
	}[b]
}

func seasonsWords(n float64) string {
	if n < 1 {
		return "less than a season"
	}
	return fmt.Sprintf("about %.1f seasons", n)
}
