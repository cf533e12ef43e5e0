package engine

import "math"

// AreaRange says on which areas one way of weeding is cheaper than another.
type AreaRange uint8

const (
	AreaUnknown AreaRange = iota // a price or the work is missing
	AnyArea                      // on any area
	FromArea                     // on more than BreakEvenArea.Ha
	NoArea
)

func (t AreaRange) String() string { return name(t, "unknown", "always", "from", "never") }

// BreakEvenArea is the area above which one way of weeding is cheaper than another.
type BreakEvenArea struct {
	When AreaRange
	Ha   float64 // hectares of field, for FromArea; else 0
}

// BreakEvenAreas compares a tool, owned or shared, with the ways of weeding without one. It assumes the same work and
// prices per hectare on any area, and as many passes as on this plot.
type BreakEvenAreas struct {
	Hand    BreakEvenArea // than weeding by hand, by family or paid, whichever is cheaper
	Hire    BreakEvenArea // than a tool hired by the day
	Service BreakEvenArea // than a service that comes with a tool
	All     BreakEvenArea // than all of these that are known
}

// breakEvenAreas compares a tool that costs fixed money per season with the ways without one.
func (m *costBasis) breakEvenAreas(c *Costs, fixed float64) (t BreakEvenAreas) {
	perHa := (m.push + m.pull) * m.FamilyDay / m.day / m.ha
	if hand := c.byHand(); hand.Known {
		t.Hand = breakEvenArea(fixed, perHa, hand.PerHa)
	}
	if service := c.Of(HiredService); service.Known && c.Of(OwnTool).Known {
		t.Service = breakEvenArea(fixed, perHa, service.PerHa)
	}
	if c.Of(HiredTool).CashKnown {
		t.Hire = m.hireArea(fixed)
	}
	t.All = t.Hand.and(t.Hire).and(t.Service)
	return t
}

// breakEvenArea returns the area x above which fixed + perHa x < other x.
func breakEvenArea(fixed, perHa, other float64) BreakEvenArea {
	ha, ok := BreakEven(fixed, other, perHa)
	if !ok {
		return BreakEvenArea{When: NoArea}
	}
	return BreakEvenArea{FromArea, ha}
}

// hireArea returns the area above which hire costs more than owning. The family's work is equal. Hire rises by whole
// days per pass: n days cost no more than owning, so the area is what one pass weeds in n days.
func (m *costBasis) hireArea(fixed float64) BreakEvenArea {
	n := math.Floor(fixed / (m.passes * m.HireDay))
	if n < 1 {
		return BreakEvenArea{When: AnyArea}
	}
	hoursPerHa := m.push / m.passes / m.ha
	return BreakEvenArea{FromArea, (n*m.toolDay + HireGraceHours) / hoursPerHa}
}

// and returns the area from which both comparisons hold; one whose area is unknown is ignored.
func (t BreakEvenArea) and(o BreakEvenArea) BreakEvenArea {
	if o.When > t.When || o.When == FromArea && t.When == FromArea && o.Ha > t.Ha {
		return o
	}
	return t
}
