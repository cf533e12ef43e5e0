package engine

import "math"

// Buying is a way of getting a plot weeded, by what the family pays for.
type Buying uint8

const (
	BuyingUnknown   Buying = iota
	OwnTool                // the family pushes its own tool
	SharedTool             // the family pushes a tool that it shares with neighbours
	HiredTool              // the family pushes a tool hired by the day
	HiredService           // somebody else is paid to weed and brings a tool
	HandFamily             // the family weeds by hand
	HandPaid               // paid workers weed by hand
	HerbicideOption        // herbicide: only the price that the grower gave; no product, no dose
)

func (b Buying) String() string {
	return name(b, "unknown", "own tool", "shared tool", "hired tool", "hired service", "hand, family", "hand, paid",
		"herbicide")
}

// WorkHours is the work of weeding a plot in one season, with times in person-hours. 0 = unknown; the costs that depend
// on an unknown number are unknown, too.
type WorkHours struct {
	ToolPassHours         float64 // one pass with the tool
	PullHours             float64 // pulling by hand after a pass
	HandRoundHours        float64 // weeding the plot once by hand, without a tool
	Passes                int     // passes with the tool in a season
	RoundsLow, RoundsHigh float64 // fewest and most weedings by hand in a season, if no tool is used
	Pace, HandPace        Pace    // scatter of the hours with the tool and by hand; the zero Pace has none
}

// rounds returns the mean of the fewest and the most weedings by hand.
func (w WorkHours) rounds() float64 { return (w.RoundsLow + w.RoundsHigh) / 2 }

// Cost is the cost of one way of weeding a plot for one season.
type Cost struct {
	Way    Buying
	Season float64 // money for one season, including the value of the family's work; 0 unless Known
	// LowSeason and HighSeason are Season with the fewest and with the most weedings by hand. Season is between them
	// for a way by hand, and equal to both for any other way.
	LowSeason, HighSeason float64
	PerHa                 float64 // Season per hectare; 0 unless Known is true and the area is given
	// Hours are person-hours of the family or, for HandPaid, of paid workers; they do not depend on prices. For a
	// service they are only those in which the family pulls weeds afterwards; for herbicide they are 0.
	Hours     float64
	Cash      float64 // money paid to others; for a tool this is the wear, interest and repairs of one season
	Known     bool    // Season is known, because all prices and hours that it needs are given
	CashKnown bool    // Cash is known, although the value of the family's work may be unknown
}

// Costs compares the costs of the ways of weeding, at the prices that Prices.For returns for the household. A day of
// work has Household.HoursADay hours. Every way is assumed to weed well enough for the same harvest.
type Costs struct {
	All      [HerbicideOption]Cost // in the order of the Buying constants; see Of
	Cheapest Buying                // the known way with the lowest cost; BuyingUnknown if fewer than two are known

	Tools      int     // tools that the household uses, 1 if not told; own, shared and hired tools are so many
	ToolPrice  float64 // price of one tool; 0 = not known
	SharePrice float64 // one household's share of the price of Tools; 0 = not known, or nobody shares them
	Sharers    int     // number of households that share Tools, including this one
	HireDays   int     // whole days for which Tools are hired in a season; 0 = not known
	FamilyDay  float64 // value used for a day of the family's work; 0 = not known
	AtWage     bool    // the place has no value for FamilyDay, so FamilyDay is the wage for a day

	RoundsLow, RoundsHigh float64 // fewest and most weedings by hand in a season

	Own   BreakEvenAreas // areas on which Tools of one's own are cheaper
	Share BreakEvenAreas // areas on which a share of Tools is cheaper
	// OwnWorth says whether Tools of one's own pay on this plot. WithoutOwn is the cheapest way without them and
	// without herbicide; BuyingUnknown if OwnWorth is unknown.
	OwnWorth   Worth
	WithoutOwn Buying

	// Seasons after which an own tool, or one household's share in a tool, has saved its price compared with weeding by
	// hand; interest and repairs are included. 0 = the tool wears out before, or the number is unknown.
	OwnPaysBack, SharePaysBack float64
}

// Of returns the cost of one way; the zero Cost for BuyingUnknown and for a number that is no Buying.
func (c *Costs) Of(b Buying) Cost {
	if b < OwnTool || b > HerbicideOption {
		return Cost{}
	}
	return c.All[b-OwnTool]
}

// Costs computes the cost of each way of weeding for one season, and which way is the cheapest. Yearly costs are
// divided by the crops a year and by the households that share the tool. Repairs cost RepairShareYear of the price a
// year. A tool is hired for whole days in each pass; wages are paid by the hour.
//
// The cost of weeding by hand is that of the mean of RoundsLow and RoundsHigh.
//
// Limits: the tools are bought now and used on this plot only. The cost of herbicide is the price that the grower gave,
// without the work of spraying. Costs does not check whether all households that share a tool finish within one window.
func (s Season) Costs(w WorkHours) Costs {
	m := costBasisOf(&s, w)
	c := Costs{
		ToolPrice: m.Tool,
		Tools:     int(m.tools),
		Sharers:   or(s.Home.Neighbours, DefaultSharers),
		RoundsLow: w.RoundsLow, RoundsHigh: w.RoundsHigh,
		HireDays:  int(m.hireDays),
		FamilyDay: m.FamilyDay,
		AtWage:    m.FamilyDay > 0 && s.local().Prices.FamilyDay == 0,
	}
	tool := m.push > 0
	own := m.tools * m.toolSeason()
	hire, service, wages := m.tools*m.hireDays*m.HireDay, m.passes*m.ServiceHa*m.ha, m.hand*m.LabourDay/m.day
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
	for _, b := range [...]Buying{HandFamily, HandPaid} {
		hand := &c.All[b-OwnTool]
		if !hand.Known {
			continue
		}
		hand.LowSeason, hand.HighSeason = hand.Season*w.RoundsLow/w.rounds(), hand.Season*w.RoundsHigh/w.rounds()
	}
	share := own / float64(c.Sharers)
	if c.Sharers > 1 {
		c.SharePrice = m.tools * m.Tool / float64(c.Sharers)
		c.All[SharedTool-OwnTool] = m.cost(SharedTool, m.push+m.pull, share, tool && own > 0)
	}
	if best, known := cheapestOf(c.All[:]); known > 1 {
		c.Cheapest = best
	}

	if c.Of(OwnTool).CashKnown {
		c.Own = m.breakEvenAreas(&c, own)
		c.OwnWorth, c.WithoutOwn = m.worth(&c)
		rate := m.seasonRate()
		c.OwnPaysBack = m.paysBack(&c, rate, 1)
		if c.Sharers > 1 {
			c.Share = m.breakEvenAreas(&c, share)
			c.SharePaysBack = m.paysBack(&c, rate, float64(c.Sharers))
		}
	}
	return c
}

// costBasis has the prices and the hours from which the method Costs computes the costs of a season.
type costBasis struct {
	Prices
	WorkHours
	ha       float64 // area of the plot in hectares; 0 = not known
	tools    float64
	day      float64 // hours that one person works on a day
	passes   float64
	push     float64 // person-hours of all passes with the tool; 0 = not known, or the plot has no rows
	pull     float64 // person-hours of pulling weeds after the passes
	hand     float64 // person-hours of all weedings by hand; 0 = not known
	toolsDay float64 // hours that all tools are pushed on a day, added up
	hireDays float64 // days of hire for all passes
}

func costBasisOf(s *Season, w WorkHours) costBasis {
	m := costBasis{
		Prices: s.local().Prices.For(s.Home), WorkHours: w,
		tools:  float64(max(1, s.Home.Tools)),
		ha:     max(0, s.Plot.AreaM2) / 1e4,
		day:    or(s.Home.HoursADay, DefaultHoursADay),
		passes: float64(w.Passes),
	}
	if m.ha == 0 {
		return m
	}
	m.hand = known(w.rounds() * w.HandRoundHours)
	if s.Plot.Method == Broadcast {
		return m
	}
	if m.push = known(m.passes * w.ToolPassHours); m.push > 0 {
		m.pull = known(m.passes * w.PullHours)
		// People take turns at a tool, so the tool may be pushed for longer than one person works.
		m.toolsDay = min(float64(or(s.Home.People, DefaultPeople))*m.day, m.tools*max(m.day, ToolDayHours))
		m.hireDays = m.passes * max(1, math.Ceil((w.ToolPassHours-m.tools*HireGraceHours)/m.toolsDay))
	}
	return m
}

// known returns x, or 0 if x is not a positive finite number.
func known(x float64) float64 {
	if !(x <= math.MaxFloat64) {
		return 0
	}
	return max(0, x)
}

// cost returns the cost of a way of weeding that takes this many person-hours of the family and pays cash to others.
// known says whether cash is known.
func (m *costBasis) cost(way Buying, family, cash float64, known bool) Cost {
	c := Cost{Way: way, Hours: family}
	if !(known && cash <= math.MaxFloat64) {
		return c
	}
	c.Cash, c.CashKnown = cash, true
	if family > 0 && m.FamilyDay == 0 {
		return c
	}
	c.Known = true
	c.Season = cash + family*m.FamilyDay/m.day
	c.LowSeason, c.HighSeason = c.Season, c.Season
	if m.ha > 0 {
		c.PerHa = c.Season / m.ha
	}
	return c
}

// cheapestOf returns the first of the ways with the lowest known cost, and how many costs are known.
func cheapestOf(all []Cost) (way Buying, known int) {
	least := 0.0
	for _, c := range all {
		if !c.Known {
			continue
		}
		if known++; known == 1 || c.Season < least {
			way, least = c.Way, c.Season
		}
	}
	return way, known
}

// byHand returns the cheaper way of weeding by hand: by the family or by paid workers. If the cost of paid workers is
// known, the cost of the family is known, too, because FamilyDay is the wage unless the place sets another value.
func (c *Costs) byHand() Cost {
	family, paid := c.Of(HandFamily), c.Of(HandPaid)
	if paid.Known && paid.Season < family.Season {
		return paid
	}
	return family
}

// paysBack returns the seasons after which one household's share in a tool has saved its price, compared with weeding
// by hand. rate is the interest per season as a fraction; sharers is the number of households. The result is 0 if the
// tool wears out before, or if the number is unknown.
func (m *costBasis) paysBack(c *Costs, rate, sharers float64) float64 {
	hand := c.byHand()
	if !hand.Known {
		return 0
	}
	work := (m.push + m.pull) * m.FamilyDay / m.day
	repairs := RepairShareYear * m.tools * m.Tool / m.SeasonsYear
	n, ok := Payback(m.tools*m.Tool/sharers, hand.Season-work-repairs/sharers, rate)
	if !ok || n > m.ToolYears*m.SeasonsYear {
		return 0
	}
	return n
}
