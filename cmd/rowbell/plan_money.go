package main

import (
	"fmt"
	"math"
	"strings"

	"rowbell/engine"
)

// planHerbicideNote stands wherever a herbicide does.
const planHerbicideNote = "as told by the seller; follow the label, ask a licensed adviser"

// costs sets the ways of weeding beside each other, as far as prices tell.
func (t planSheet) costs(p planned) {
	c := p.Costs
	told := false
	for _, x := range c.All {
		told = told || x.Known || x.Cash > 0
	}
	if !told {
		return
	}
	t.section("Cost of weeding this plot for the season (about)" + planIn(p.season.Local.Prices.Currency))
	fmt.Fprintln(t, "  Way\tMoney\tA hectare\tHours")
	for _, x := range c.All {
		if x.CashKnown {
			fmt.Fprintf(t, "  %s\t%s\t%s\t%s%s\n", planBuying(x.Way), planSum(x), planPerHa(x), planPersonHours(x), planCostNote(x))
		}
	}
	t.Flush() // what follows has columns of its own
	switch c.Cheapest {
	case engine.BuyingUnknown:
	case engine.HerbicideOption:
		t.item("Cheapest", "%s, its price alone: without the work of it", planBuying(c.Cheapest))
	default:
		t.item("Cheapest", "%s", planBuying(c.Cheapest))
	}
	switch {
	case c.AtWage:
		t.item("Your own work", "counted at the wage, %s a day", planMoney(c.FamilyDay))
	case c.FamilyDay > 0:
		t.item("Your own work", "counted at %s a day", planMoney(c.FamilyDay))
	}
	if c.HireDays > 0 && c.Of(engine.HiredTool).CashKnown {
		t.item("Hired", "about %s", planCount(c.HireDays, "day", "days"))
	}
	if c.ToolPrice > 0 {
		t.tool(p)
	}
}

// tool says what a tool has to be paid for with, and from where on it pays.
func (t planSheet) tool(p planned) {
	c := p.Costs
	price := planMoney(c.ToolPrice)
	if c.SharePrice > 0 {
		price += fmt.Sprintf(", one of %d shares %s", c.Sharers, planAbout(c.SharePrice))
	}
	t.item("To buy", "%s", price)
	if words := planTurnings(c.Own); words != "" {
		t.item("An own tool", "%s", words)
	}
	if words := planTurnings(c.Share); words != "" {
		t.item("A share", "%s", words)
	}
	if c.OwnPaysBack > 0 {
		t.item("Pays back", "an own tool in %s, by what it saves against weeding by hand", planSeasons(c.OwnPaysBack))
	}
	if c.SharePaysBack > 0 {
		t.item("Pays back", "a share in %s", planSeasons(c.SharePaysBack))
	}
}

func planSeasons(n float64) string {
	if n < 1 {
		return "less than a season"
	}
	return fmt.Sprintf("about %.1f seasons", n)
}

// planGround is an area: small ones in square metres.
func planGround(ha float64) string {
	if ha < 1 {
		return planFigures(planSignificant(1e4*ha, 2)) + " m2"
	}
	return planFigures(ha) + " ha"
}

// planTurnings says from which area on a tool is the cheaper way.
func planTurnings(t engine.BreakEvenAreas) string {
	var words []string
	for _, x := range []struct {
		than string
		engine.BreakEvenArea
	}{{"by hand", t.Hand}, {"hiring one", t.Hire}, {"a hired service", t.Service}} {
		switch x.When {
		case engine.AnyArea:
			words = append(words, "always cheaper than "+x.than)
		case engine.FromArea:
			words = append(words, fmt.Sprintf("cheaper than %s from about %s on", x.than, planGround(x.Ha)))
		case engine.NoArea:
			words = append(words, "never cheaper than "+x.than)
		}
	}
	return strings.Join(words, ", ")
}

// planBuying names a way of weeding by how it is paid for.
func planBuying(b engine.Buying) string {
	return map[engine.Buying]string{
		engine.OwnTool: "own tool", engine.SharedTool: "share of a tool", engine.HiredTool: "hired tool", engine.HiredService: "hired service",
		engine.HandFamily: "by hand, family", engine.HandPaid: "by hand, paid", engine.HerbicideOption: "herbicide",
	}[b]
}

// planSum is what a way costs, or what of it is known.
func planSum(c engine.Cost) string {
	switch {
	case c.Known:
		return planAbout(c.Season)
	case c.Cash > 0:
		return planAbout(c.Cash) + " and your work"
	}
	return "your work"
}

func planPerHa(c engine.Cost) string {
	if !c.Known || c.PerHa == 0 {
		return "-"
	}
	return planAbout(c.PerHa)
}

func planPersonHours(c engine.Cost) string {
	if c.Hours == 0 {
		return "-"
	}
	return planFigures(c.Hours)
}

func planCostNote(c engine.Cost) string {
	switch {
	case c.Way == engine.HerbicideOption:
		return "\t" + planHerbicideNote
	case c.Way == engine.OwnTool:
		return "\twear, interest and repairs shared out over its seasons"
	}
	return ""
}

// planAbout is a sum that was reckoned, with three figures.
func planAbout(x float64) string { return planMoney(planSignificant(x, 3)) }

// planSignificant keeps so many figures.
func planSignificant(x float64, figures int) float64 {
	if x <= 0 {
		return 0
	}
	unit := math.Pow10(int(math.Floor(math.Log10(x))) + 1 - figures)
	return math.Round(x/unit) * unit
}

// planMoney is a sum without more figures than anybody pays.
func planMoney(x float64) string {
	if x < 100 {
		return strings.TrimSuffix(fmt.Sprintf("%.2f", x), ".00")
	}
	return fmt.Sprintf("%.0f", x)
}

func planIn(currency string) string {
	if currency == "" {
		return ""
	}
	return ", " + currency
}
