package engine

import "math"

// Turn says whether a way is ever the cheaper one.
type Turn uint8

const (
	TurnUnknown Turn = iota // a price or the work is missing
	TurnAlways              // on any area
	TurnFrom                // on more than a certain area
	TurnNever
)

func (t Turn) String() string { return name(t, "unknown", "always", "from", "never") }

// Turning is the area from which on one way is cheaper than another.
type Turning struct {
	Turn Turn
	Ha   float64 // hectares of field weeded for a season, whatever the passes; 0 but for TurnFrom
}

// Turnings are those of a tool, owned or shared, against ways without one.
// Work and prices for a hectare are taken to be the same on any area, and the
// passes as many as on this plot.
type Turnings struct {
	Hand    Turning // weeding by hand, the cheaper of family and paid
	Hire    Turning // a tool hired by the day
	Service Turning // somebody who comes with a tool
	All     Turning // all of those that are known
}

// turnings sets a tool that costs so much a season against the ways without.
func (m *purse) turnings(c *Costs, fixed float64) (t Turnings) {
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
func turning(fixed, perHa, other float64) Turning {
	ha, ok := BreakEven(fixed, other, perHa)
	if !ok {
		return Turning{Turn: TurnNever}
	}
	return Turning{TurnFrom, ha}
}

// hireTurning is where the days of hire come to cost more than owning. The
// family's work is the same either way, and hire goes up by whole days a pass:
// n days a pass are no dearer than owning, so a little more than n days' work
// is.
func (m *purse) hireTurning(fixed float64) Turning {
	n := math.Floor(fixed / (m.passes * m.HireDay))
	if n < 1 {
		return Turning{Turn: TurnAlways}
	}
	hoursPerHa := m.push / m.passes / m.ha
	return Turning{TurnFrom, (n*m.toolDay + HireGraceHours) / hoursPerHa}
}

// and is where both hold; what is not known does not count.
func (t Turning) and(o Turning) Turning {
	switch {
	case o.Turn > t.Turn:
		return o
	case o.Turn == TurnFrom && t.Turn == TurnFrom && o.Ha > t.Ha:
		return o
	}
	return t
}
