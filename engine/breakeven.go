package engine

import "math"

// AreaRange says on which areas one way of weeding is cheaper than another.
type AreaRange uint8

const (
	AreaUnknown AreaRange = iota // a price or the hours of work are missing
	AnyArea                      // one way is cheaper on any area
	FromArea                     // one way is cheaper on areas larger than BreakEvenArea.Ha
	NoArea                       // one way is not cheaper on any area
)

func (t AreaRange) String() string { return name(t, "unknown", "always", "from", "never") }

// BreakEvenArea is the area above which one way of weeding is cheaper than another.
type BreakEvenArea struct {
	When AreaRange
	Ha   float64 // hectares of the plot, if When is FromArea; otherwise 0
}

// BreakEvenAreas gives the areas on which an own or shared tool is cheaper than other ways of weeding. It assumes the
// same work and prices per hectare on any area, and the passes of this plot.
type BreakEvenAreas struct {
	Hand    BreakEvenArea // compared with weeding by hand, by the family or by paid workers, whichever is cheaper
	Hire    BreakEvenArea // compared with a tool hired by the day
	Service BreakEvenArea // compared with a paid service that brings its own tool
	All     BreakEvenArea // compared with all three ways above, without those for which the area is unknown
}

// breakEvenAreas compares a tool that costs fixed, in money per season, with weeding by hand, with a hired tool and
// with a paid service.
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

// breakEvenArea returns the area x in hectares above which fixed + perHa x < other x. A tool costs fixed a season and
// work with it perHa a hectare; another way of weeding costs other a hectare.
func breakEvenArea(fixed, perHa, other float64) BreakEvenArea {
	ha, ok := BreakEven(fixed, other, perHa)
	if !ok {
		return BreakEvenArea{When: NoArea}
	}
	return BreakEvenArea{FromArea, ha}
}

// hireArea returns the area above which hiring a tool costs more than owning it for fixed a season. A tool is hired for
// whole days in each pass. n is the most days per pass for which hiring costs no more than owning, so the area is what
// can be weeded once in n days.
func (m *costBasis) hireArea(fixed float64) BreakEvenArea {
	n := math.Floor(fixed / (m.passes * m.HireDay))
	if n < 1 {
		return BreakEvenArea{When: AnyArea}
	}
	hoursPerHa := m.push / m.passes / m.ha
	return BreakEvenArea{FromArea, (n*m.toolDay + HireGraceHours) / hoursPerHa}
}

// and returns the areas on which the tool is cheaper in both comparisons, t and o. A comparison whose area is unknown
// is ignored.
func (t BreakEvenArea) and(o BreakEvenArea) BreakEvenArea {
	if o.When > t.When || o.When == FromArea && t.When == FromArea && o.Ha > t.Ha {
		return o
	}
	return t
}
