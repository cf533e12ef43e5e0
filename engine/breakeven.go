package engine

import "math"

// AreaRange says on which areas one way of weeding is cheaper than another.
type AreaRange uint8

const (
	AreaUnknown AreaRange = iota // a price or the hours of work are missing
	AnyArea                      // one way is cheaper on any area
	FromArea                     // one way is cheaper on larger areas, see BreakEvenArea
	PerhapsArea                  // the same, but with many hours or few weedings by hand it is cheaper on no area
	NoArea                       // one way is not cheaper on any area
)

func (t AreaRange) String() string { return name(t, "unknown", "always", "from", "perhaps", "never") }

// BreakEvenArea is the area above which one way of weeding is cheaper than another, in hectares of field. It is a
// range, because the hours of work and the number of weedings by hand are.
type BreakEvenArea struct {
	When   AreaRange
	LowHa  float64 // below this area it is not cheaper; 0 unless When is FromArea or PerhapsArea
	HighHa float64 // above this area it is cheaper; 0 unless When is FromArea
}

// BreakEvenAreas gives the areas on which own or shared tools are cheaper than other ways of weeding. It assumes the
// same work and prices per hectare on any area, and the passes of this plot.
type BreakEvenAreas struct {
	Hand    BreakEvenArea // compared with weeding by hand, by the family or by paid workers, whichever is cheaper
	Hire    BreakEvenArea // compared with tools hired by the day
	Service BreakEvenArea // compared with a paid service that brings its own tool
	All     BreakEvenArea // compared with all three ways above, without those for which the area is unknown
}

// Worth says whether tools of one's own pay on a plot, compared with hired tools, a service and weeding by hand.
type Worth uint8

const (
	WorthUnknown Worth = iota // the cost of weeding by hand is not known
	Pays
	PaysPerhaps // with few hours of work and many weedings by hand
	PaysNot
)

func (w Worth) String() string { return name(w, "unknown", "yes", "perhaps", "no") }

// worth compares the area of the plot with Costs.Own.All.
func (m *costBasis) worth(c *Costs) (Worth, Buying) {
	own := c.Own.All
	if c.Own.Hand.When == AreaUnknown {
		return WorthUnknown, BuyingUnknown
	}
	without := c.All
	without[0].Known, without[HerbicideOption-OwnTool].Known = false, false
	best, _ := cheapestOf(without[:])
	switch {
	case own.When == FromArea && m.ha >= own.HighHa:
		return Pays, best
	case own.When != NoArea && m.ha > own.LowHa:
		return PaysPerhaps, best
	}
	return PaysNot, best
}

// extent is a number with its 80 % range.
type extent struct{ low, mid, high float64 }

// times returns the extent of x times a factor with this range around 1.
func times(x, low, high float64) extent {
	if x < 0 {
		low, high = high, low
	}
	return extent{x * low, x, x * high}
}

// minus returns the extent of the difference of two independent numbers. The distances from the middle to the ends of
// both ranges are added as squares (Zou and Donner 2008, Statistics in Medicine 27:1693-1702, from memory).
func (e extent) minus(o extent) extent {
	mid := e.mid - o.mid
	return extent{mid - math.Hypot(e.mid-e.low, o.high-o.mid), mid, mid + math.Hypot(e.high-e.mid, o.mid-o.low)}
}

// breakEvenAreas compares tools that cost fixed per season with the ways of weeding without such tools. The ranges are
// those of the mean hours over the life of a tool, in which the scatter between weedings is small, so logged hours make
// them narrower.
func (m *costBasis) breakEvenAreas(c *Costs, fixed float64) (t BreakEvenAreas) {
	money := m.FamilyDay / m.day / m.ha // of an hour of the family's work, per hectare
	seasons := m.ToolYears * m.SeasonsYear
	low, high := m.Pace.meanOf(m.passes * seasons)
	push := times(m.push*money, low, high)
	if hand := c.byHand(); hand.Known {
		// The hours of pulling scatter with those of weeding by hand, because the same people do both.
		few, many := hand.PerHa*m.RoundsLow/m.rounds(), hand.PerHa*m.RoundsHigh/m.rounds()
		low, high := m.HandPace.meanOf(m.RoundsLow * seasons)
		worst := times(few-m.pull*money, low, high).minus(push)
		best := times(many-m.pull*money, low, high).minus(push)
		t.Hand = breakEvenArea(fixed, worst.low, best.high)
	}
	if service := c.Of(HiredService); service.Known && c.Of(OwnTool).Known {
		fee := service.PerHa - m.pull*money
		saved := extent{fee, fee, fee}.minus(push)
		t.Service = breakEvenArea(fixed, saved.low, saved.high)
	}
	if c.Of(HiredTool).CashKnown {
		t.Hire = m.hireArea(fixed, low, high)
	}
	t.All = t.Hand.and(t.Hire).and(t.Service)
	return t
}

// breakEvenArea returns the area above which a saving between low and high per hectare is larger than the fixed cost.
func breakEvenArea(fixed, low, high float64) BreakEvenArea {
	from, ok := BreakEven(fixed, high, 0)
	if !ok {
		return BreakEvenArea{When: NoArea}
	}
	if to, ok := BreakEven(fixed, low, 0); ok {
		return BreakEvenArea{FromArea, from, to}
	}
	return BreakEvenArea{When: PerhapsArea, LowHa: from}
}

// hireArea returns the area above which hiring tools costs more than owning them. Tools are hired for whole days in
// each pass. If hiring for n days per pass, but not for n+1, costs at most as much as owning, the area is what one pass
// weeds in n days. low and high are the range of the hours of a pass, as factors.
func (m *costBasis) hireArea(fixed, low, high float64) BreakEvenArea {
	n := math.Floor(fixed / (m.passes * m.tools * m.HireDay))
	if n < 1 {
		return BreakEvenArea{When: AnyArea}
	}
	ha := (n*m.toolsDay + m.tools*HireGraceHours) / (m.push / m.passes / m.ha)
	return BreakEvenArea{FromArea, ha / high, ha / low}
}

// and returns the areas on which the tool is cheaper in both comparisons, t and o. A comparison whose area is unknown
// is ignored.
func (t BreakEvenArea) and(o BreakEvenArea) BreakEvenArea {
	both := BreakEvenArea{When: max(t.When, o.When)}
	if both.When == FromArea || both.When == PerhapsArea {
		both.LowHa = max(t.LowHa, o.LowHa)
	}
	if both.When == FromArea {
		both.HighHa = max(t.HighHa, o.HighHa)
	}
	return both
}
