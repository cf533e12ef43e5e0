package menu

import (
	"slices"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/text"
)

const (
	fPrice  Field = "price"  // the price as typed; 0 deletes the stored price
	fPriced Field = "priced" // name of the priceKind that the grower has given
)

// priceKind is one of the prices that a household can give.
type priceKind struct {
	name  string // part of the names of its texts and screens
	home  func(*engine.Household) *float64
	place func(engine.Prices) float64
}

var priceKinds = []priceKind{
	{"tool", func(h *engine.Household) *float64 { return &h.ToolPrice },
		func(p engine.Prices) float64 { return p.Tool }},
	{"hire", func(h *engine.Household) *float64 { return &h.HireDay },
		func(p engine.Prices) float64 { return p.HireDay }},
	{"wage", func(h *engine.Household) *float64 { return &h.LabourDay },
		func(p engine.Prices) float64 { return p.LabourDay }},
	{"herbicide", func(h *engine.Household) *float64 { return &h.Herbicide }, func(engine.Prices) float64 { return 0 }},
}

func (k priceKind) label() text.Key  { return text.Key("costs.price." + k.name) }
func (k priceKind) screen() ScreenID { return ScreenID("costs." + k.name) }

// priceKindOf returns the price kind with this name.
func priceKindOf(name string) priceKind {
	i := slices.IndexFunc(priceKinds, func(k priceKind) bool { return k.name == name })
	return priceKinds[max(0, i)]
}

// priceSamples are prices that the proof types: short and long ones, and one above engine.MaxPrice, which is refused.
var priceSamples = []string{"1200", "1,200.50", "999999999.99", "2000000000"}

// priceScreens ask for a household's own prices, which replace the prices of the place.
func priceScreens() []Screen {
	screens := []Screen{
		{ID: "costs.tell", Rest: true, Head: whichHead, List: priceList},
		{ID: "costs.own", Rest: true, Head: ownHead, List: ownList},
		{ID: "costs.told", Rest: true, Head: toldHead, Choices: []Choice{
			{Label: "work.costs", To: "costs"},
			{Label: "costs.prices", To: "costs.tell"},
		}},
	}
	for _, k := range priceKinds {
		screens = append(screens, Screen{ID: k.screen(), Ask: text.Key("costs.ask." + k.name), Args: plotArgs,
			Typed: &Typed{Read: readPrice, Do: tellPrice(k), To: "costs.told", Samples: priceSamples}})
	}
	return screens
}

// prices returns two sets of prices: own, with which the costs of the plot are calculated, and place, the prices of the
// plot's place without the household's prices.
func (c *scene) prices() (own, place engine.Prices) {
	s := c.plot()
	if s.Local != nil {
		place = s.Local.Prices
	}
	return place.For(s.Home), place
}

// money writes an amount with the currency of the place.
func (c *scene) money(amount text.Decimal) string { return c.moneyRange(amount, amount) }

// moneyRange writes a range of amounts with the currency of the place.
func (c *scene) moneyRange(low, high text.Decimal) string {
	_, place := c.prices()
	amount := c.numberRange(low, high)
	if place.Currency == "" {
		return amount
	}
	return c.t("costs.money", text.Args{"amount": amount, "currency": place.Currency})
}

// whichHead names the currency once, so that the lines of the list need not repeat it.
func whichHead(c *scene) string {
	_, place := c.prices()
	if place.Currency == "" {
		return c.t("costs.which", nil)
	}
	return c.t("costs.which-in", text.Args{"currency": place.Currency})
}

// priceList lists every price with which the costs are calculated; a line leads to the screens that change this price.
func priceList(c *scene) []Choice {
	s := c.plot()
	_, place := c.prices()
	out := make([]Choice, len(priceKinds))
	for i, k := range priceKinds {
		told, to := c.t("costs.not-told", nil), k.screen()
		if x := k.of(s.Home, place); x > 0 {
			told = c.write(written(x))
		}
		if *k.home(&s.Home) > 0 {
			to = "costs.own"
		}
		out[i] = Choice{Label: "costs.price-line",
			Args: text.Args{"price": c.t(k.label(), nil), "told": told}, Set: map[Field]string{fPriced: k.name}, To: to}
	}
	return out
}

// ownHead shows a price that the household has given before.
func ownHead(c *scene) string {
	s := c.plot()
	k := priceKindOf(c.s.Answers[fPriced])
	return c.t("costs.own", text.Args{"price": c.t(k.label(), nil), "cost": c.money(written(*k.home(&s.Home)))})
}

// ownList offers to replace or to delete a price that the household has given.
func ownList(c *scene) []Choice {
	k := priceKindOf(c.s.Answers[fPriced])
	return []Choice{
		{Label: "costs.anew", To: k.screen()},
		{Label: "costs.forget", Set: map[Field]string{fPrice: "0"}, Do: tellPrice(k), To: "costs.told"},
	}
}

// of returns the price with which costs are calculated: the household's price, or else the price of the place.
func (k priceKind) of(h engine.Household, place engine.Prices) float64 {
	if own := *k.home(&h); own > 0 {
		return own
	}
	return k.place(place)
}

// readPrice reads a price. readPrice refuses 0, because a stored 0 would delete the price.
func readPrice(c *scene, entry string) (doubted, *Refusal) {
	_, place := c.prices()
	x, refused := answer.Price(entry, place.Currency)
	if refused == nil && x == 0 {
		refused = answer.Refuse("refuse.price", entry, nil)
	}
	c.putNumber(fPrice, x)
	return doubted{}, refused
}

func tellPrice(k priceKind) Act {
	return func(c *scene) (*Refusal, error) {
		price := c.s.float(fPrice)
		c.s.put(fPriced, k.name)
		if k.name == "herbicide" { // this price is stored with the plot, not with the household
			return nil, c.household.TellHerbicide(c.s.int(fPlot), price)
		}
		return nil, c.changeHome(func(h *engine.Household) { *k.home(h) = price })
	}
}

// toldHead confirms that the household's price was stored or deleted. After a deletion it shows the price of the place,
// if there is one.
func toldHead(c *scene) string {
	k := priceKindOf(c.s.Answers[fPriced])
	s := c.plot()
	h := s.Home
	_, place := c.prices()
	args := text.Args{"price": c.t(k.label(), nil), "cost": c.money(written(k.of(h, place)))}
	switch {
	case *k.home(&h) > 0:
		return c.t("costs.noted", args)
	case k.place(place) > 0:
		return c.t("costs.forgotten-place", args)
	}
	return c.t("costs.forgotten", args)
}
