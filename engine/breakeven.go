package engine

import "math"

// AreaRange says whether a way is ever the cheaper one.
type AreaRange uint8

const (
	AreaUnknown AreaRange = iota // a price or the work is missing
	AnyArea                      // on any area
	FromArea                     // on more than a certain area
	NoArea
)

func (t AreaRange) String() string { return name(t, "unknown", "always", "from", "never") }

// BreakEvenArea is the area from which on one way is cheaper than another.
type BreakEvenArea struct {
	When AreaRange
	Ha   float64 // hectares of field weeded for a season, whatever the passes; 0 but for FromArea
}

// BreakEvenAreas are those of a tool, owned or shared, against ways without one.
// Work and prices for a hectare are taken to be the same on any area, and the
// passes as many as on this plot.
type BreakEvenAreas struct {
	Hand    BreakEvenArea // weeding by hand, the cheaper of family and paid
	Hire    BreakEvenArea // a tool hired by the day
	Service BreakEvenArea // somebody who comes with a tool
	All     BreakEvenArea // all of those that are known
}

// turnings sets a tool that costs so much a season against the ways without.
func (m *purse) turnings(c *Costs, fixed float64) (t BreakEvenAreas) {
	perHa := (m.push + m.pull) * m.FamilyDay / m.day / m.ha
	if hand := c.byHand(); hand.Known {
		t.Hand = turning(fixed, perHa, hand.PerHa)
	}
	if service := c.Of(HiredService); service.Known && c.Of(OwnTool).Known {
		t.Service = turning(fixed, perHa, service.PerHa)
	}
	if c.Of(HiredTool).CashKnown {
		t.Hire = m.hireTurning(fixed)
	}
	t.All = t.Hand.and(t.Hire).and(t.Service)
	return t
}

// turning is where fixed + perHa x comes below other x.
func turning(fixed, perHa, other float64) BreakEvenArea {
	ha, ok := BreakEven(fixed, other, perHa)
	if !ok {
		return BreakEvenArea{When: NoArea}
	}
	return BreakEvenArea{FromArea, ha}
}

// hireTurning is where the days of hire come to cost more than owning. The
// family's work is the same either way, and hire goes up by whole days a pass:
// n days a pass are no dearer than owning, so a little more than n days' work
// is.
func (m *purse) hireTurning(fixed float64) BreakEvenArea {
	n := math.Floor(fixed / (m.passes * m.HireDay))
	if n < 1 {
		return BreakEvenArea{When: AnyArea}
	}
	hoursPerHa := m.push / m.passes / m.ha
	return BreakEvenArea{FromArea, (n*m.toolDay + HireGraceHours) / hoursPerHa}
}

// and is where both hold; what is not known does not count.
func (t BreakEvenArea) and(o BreakEvenArea) BreakEvenArea {
	switch {
	case o.When > t.When:
		return o
	case o.When == FromArea && t.When == FromArea && o.Ha > t.Ha:
		return o
	}
	return t
}
