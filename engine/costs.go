package engine

import "math"

// Buying is a way to get a plot weeded, by how it is paid for.
type Buying uint8

const (
	BuyingUnknown   Buying = iota
	OwnTool                // a tool of one's own, pushed by the family
	SharedTool             // a share of a tool among neighbours, pushed by the family
	HiredTool              // a tool by the day, pushed by the family
	HiredService           // somebody comes with a tool
	HandFamily             // weeding by hand, the family
	HandPaid               // weeding by hand, paid
	HerbicideOption        // at the price the grower was told
)

func (b Buying) String() string {
	return name(b, "unknown", "own tool", "shared tool", "hired tool", "hired service", "hand, family", "hand, paid", "herbicide")
}

// WorkHours is what weeding takes on this plot, in person-hours; 0 = not
// known, and then nothing is said that rests on it.
type WorkHours struct {
	ToolPassHours  float64 // one pass with the tool
	PullHours      float64 // pulling by hand after a pass
	HandRoundHours float64 // one round by hand, without a tool
	Passes         int     // with the tool, a season
	HandRounds     int     // by hand instead, a season
}

// Cost is what one way costs this plot for one season.
type Cost struct {
	Way    Buying
	Season float64 // money, the family's own work valued with the rest; 0 unless Known
	PerHa  float64 // the same for a hectare; 0 unless Known and the area is told
	// Hours are person-hours to find, or for HandPaid to pay; known without
	// any price. Of a service only the pulling afterwards is counted: it
	// brings its own people. Herbicide counts none.
	Hours     float64
	Cash      float64 // money to others; for a tool bought, its wear, interest and repairs shared out over its seasons
	Known     bool    // Season can be told
	CashKnown bool    // Cash can be told, though perhaps not what the family's work is worth
}

// Costs sets the ways beside each other. Prices are the household's, else the
// place's; a day, the family's or a paid one, is the hours that the household
// weeds on a day. Nothing is said of the harvest: all ways are taken to weed
// well enough.
type Costs struct {
	All      [HerbicideOption]Cost // in the order of Buying; see Of
	Cheapest Buying                // of those known; BuyingUnknown where fewer than two are

	ToolPrice  float64 // to pay on the day it is bought; 0 = not known
	SharePrice float64 // of one household; 0 = not known, or nobody shares
	Sharers    int     // households reckoned with, this one included
	HireDays   int     // days of hire a season, a begun day is a day; 0 = not known
	FamilyDay  float64 // what a day of the family's work was valued at; 0 = not known
	AtWage     bool    // nobody told what the family's day is worth: it was valued at the wage

	Own   BreakEvenAreas // from which area on a tool of one's own is the cheaper way
	Share BreakEvenAreas // and from which a share is

	// Seasons until the tool, or the share, has paid itself back by what it
	// saves against hand weeding, interest and repairs counted; 0 = not within
	// its years, or not known.
	OwnPaysBack, SharePaysBack float64
}

// Of is the cost of one way; zero for a way that is none.
func (c *Costs) Of(b Buying) Cost {
	if b < OwnTool || b > HerbicideOption {
		return Cost{}
	}
	return c.All[b-OwnTool]
}

// Costs works out what weeding this plot for one season costs, way by way, and
// which is cheapest. A yearly cost is divided over the crops of a year, and
// over the households that share. Repairs are RepairShareYear of the price.
// A tool is hired for whole days, pass by pass; wages are reckoned by the hour.
//
// Limits: it reckons as if the tool were bought now and used on this plot
// only; a herbicide is the price told, without the work of it; whether
// neighbours get through in one window with one tool is not asked here.
func (s Season) Costs(w WorkHours) Costs {
	m := purseOf(&s, w)
	c := Costs{
		ToolPrice: m.Tool,
		Sharers:   or(s.Home.Neighbours, DefaultSharers),
		HireDays:  int(m.hireDays),
		FamilyDay: m.FamilyDay,
		AtWage:    m.FamilyDay > 0 && s.local().Prices.FamilyDay == 0,
	}
	tool := m.push > 0
	own := m.toolSeason()
	hire, service, wages := m.hireDays*m.HireDay, m.passes*m.ServiceHa*m.ha, m.hand*m.LabourDay/m.day
	c.All = [...]Cost{
		m.cost(OwnTool, m.push+m.pull, own, tool && own > 0),
		{Way: SharedTool},
		m.cost(HiredTool, m.push+m.pull, hire, tool && hire > 0),
		m.cost(HiredService, m.pull, service, tool && service > 0),
		m.cost(HandFamily, m.hand, 0, m.hand > 0),
		m.cost(HandPaid, 0, wages, wages > 0),
		m.cost(HerbicideOption, 0, s.Home.Herbicide, s.Home.Herbicide > 0),
	}
	c.All[HandPaid-OwnTool].Hours = m.hand
	share := own / float64(c.Sharers)
	if c.Sharers > 1 {
		c.SharePrice = m.Tool / float64(c.Sharers)
		c.All[SharedTool-OwnTool] = m.cost(SharedTool, m.push+m.pull, share, tool && own > 0)
	}
	c.Cheapest = cheapest(c.All[:])

	if c.Of(OwnTool).CashKnown {
		c.Own = m.turnings(&c, own)
		rate := m.seasonRate()
		c.OwnPaysBack = m.paysBack(&c, rate, 1)
		if c.Sharers > 1 {
			c.Share = m.turnings(&c, share)
			c.SharePaysBack = m.paysBack(&c, rate, float64(c.Sharers))
		}
	}
	return c
}

// purse is what a season's costs are reckoned from.
type purse struct {
	Prices
	ha       float64 // 0 = not known
	day      float64 // hours
	passes   float64
	push     float64 // person-hours of all passes; 0 = not known, or there are no rows
	pull     float64 // person-hours of pulling after them
	hand     float64 // person-hours of all rounds by hand; 0 = not known
	toolDay  float64 // hours that one tool is pushed on a day
	hireDays float64 // of all passes
}

func purseOf(s *Season, w WorkHours) purse {
	m := purse{
		Prices: s.local().Prices.For(s.Home),
		ha:     max(0, s.Plot.AreaM2) / 1e4,
		day:    or(s.Home.HoursADay, DefaultHoursADay),
		passes: float64(w.Passes),
	}
	if m.ha == 0 {
		return m
	}
	m.hand = known(float64(w.HandRounds) * w.HandRoundHours)
	if s.Plot.Method == Broadcast {
		return m
	}
	if m.push = known(m.passes * w.ToolPassHours); m.push > 0 {
		m.pull = known(m.passes * w.PullHours)
		// People take turns at one tool.
		m.toolDay = min(float64(or(s.Home.People, DefaultPeople))*m.day, max(m.day, ToolDayHours))
		m.hireDays = m.passes * max(1, math.Ceil((w.ToolPassHours-HireGraceHours)/m.toolDay))
	}
	return m
}

// known is a figure, or 0 where it is none.
func known(x float64) float64 {
	if x > 0 && x <= math.MaxFloat64 {
		return x
	}
	return 0
}

// cost is one way: so many hours of the family's, so much money to others.
func (m *purse) cost(way Buying, family, cash float64, told bool) Cost {
	c := Cost{Way: way, Hours: family}
	if !(told && cash <= math.MaxFloat64) {
		return c
	}
	c.Cash, c.CashKnown = cash, true
	if family > 0 && m.FamilyDay == 0 {
		return c
	}
	c.Known = true
	c.Season = cash + family*m.FamilyDay/m.day
	if m.ha > 0 {
		c.PerHa = c.Season / m.ha
	}
	return c
}

// cheapest is the way that costs least of those known, the first of equals;
// one alone is not the cheapest of anything.
func cheapest(all []Cost) Buying {
	best, n := Cost{}, 0
	for _, c := range all {
		if !c.Known {
			continue
		}
		if n++; n == 1 || c.Season < best.Season {
			best = c
		}
	}
	if n < 2 {
		return BuyingUnknown
	}
	return best.Way
}

// byHand is the cheaper of the two ways by hand; where the wage is known, so is
// what the family's day is worth.
func (c *Costs) byHand() Cost {
	family, paid := c.Of(HandFamily), c.Of(HandPaid)
	if paid.Known && paid.Season < family.Season {
		return paid
	}
	return family
}

// paysBack is the seasons in which one household's share of a tool is paid
// back, at so much interest a season, by what it saves against weeding by hand;
// 0 = not within its years, or not known.
func (m *purse) paysBack(c *Costs, rate, sharers float64) float64 {
	hand := c.byHand()
	if !hand.Known {
		return 0
	}
	work := (m.push + m.pull) * m.FamilyDay / m.day
	repairs := RepairShareYear * m.Tool / m.SeasonsYear
	n, ok := Payback(m.Tool/sharers, hand.Season-work-repairs/sharers, rate)
	if !ok || n > m.ToolYears*m.SeasonsYear {
		return 0
	}
	return n
}
