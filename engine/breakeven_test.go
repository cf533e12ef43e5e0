package engine

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// drawCosts draws prices, of which each may be missing, a household, and the work on one hectare.
func drawCosts(t *rapid.T) (Prices, Household, WorkHours) {
	price := func(label string, most float64) float64 {
		if rapid.IntRange(0, 4).Draw(t, label+" told") == 0 {
			return 0
		}
		return rapid.Float64Range(most/1000, most).Draw(t, label)
	}
	p := Prices{
		Tool: price("tool", 200), ToolYears: rapid.SampledFrom([]float64{0, MinToolYears, 1, 3, 7.5, 20}).Draw(t,
			"years"), InterestYear: price("interest", 2),
		HireDay: price("hire", 20), ServiceHa: price("service", 300), LabourDay: price("wage", 20),
		FamilyDay:   price("family", 20),
		SeasonsYear: float64(rapid.IntRange(0, MaxSeasonsYear).Draw(t, "crops a year")),
	}
	p.ToolSalvage = p.Tool * rapid.Float64Range(0, 0.5).Draw(t, "share left")
	h := Household{
		Neighbours: rapid.IntRange(0, 12).Draw(t, "neighbours"), People: rapid.IntRange(0, 6).Draw(t, "people"),
		HoursADay: price("hours a day", MaxHoursADay), Herbicide: price("herbicide", 50),
	}
	w := WorkHours{
		ToolPassHours:  rapid.Float64Range(20, 150).Draw(t, "pass"),
		PullHours:      rapid.Float64Range(0, 80).Draw(t, "pull"),
		HandRoundHours: rapid.Float64Range(50, 500).Draw(t, "hand"),
		Passes:         rapid.IntRange(1, 4).Draw(t, "passes"),
		RoundsLow:      float64(rapid.IntRange(1, 3).Draw(t, "rounds")),
	}
	w.RoundsHigh = w.RoundsLow
	return p, h, w
}

func TestCheapestIsCheapest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, h, w := drawCosts(t)
		for _, ha := range []float64{0.01, 0.05, 0.1, 0.3, 1, 5, rapid.Float64Range(0.001, 10).Draw(t, "ha")} {
			s := seasonAt(p, h, ha)
			if err := s.Validate(); err != nil {
				t.Fatal(err)
			}
			c := s.Costs(w.onHa(ha))
			known := 0
			for _, x := range c.All {
				if !x.Known {
					continue
				}
				known++
				if c.Cheapest != BuyingUnknown && x.Season < c.Of(c.Cheapest).Season {
					t.Fatalf("on %g ha %s costs %g and %s, %g, is called cheapest", ha, x.Way, x.Season, c.Cheapest,
						c.Of(c.Cheapest).Season)
				}
				if x.Season < x.Cash || x.Cash < 0 || math.Abs(x.PerHa*ha-x.Season) > 1e-9*x.Season {
					t.Fatalf("on %g ha: %+v", ha, x)
				}
			}
			if (c.Cheapest != BuyingUnknown) != (known > 1) {
				t.Fatalf("%d ways are known and the cheapest is %s", known, c.Cheapest)
			}
			if own, share := c.Of(OwnTool), c.Of(SharedTool); share.Known && !(share.Season < own.Season) {
				t.Fatalf("on %g ha a share costs %g and the whole tool %g", ha, share.Season, own.Season)
			}
		}
	})
}

// lead returns how much cheaper a way is than the cheapest of the others, as a share of the cost of this way; false if
// the cost of this way, or of all others, is unknown.
func lead(c Costs, way Buying, others []Buying) (float64, bool) {
	least, own := math.Inf(1), c.Of(way)
	for _, b := range others {
		if x := c.Of(b); x.Known {
			least = min(least, x.Season)
		}
	}
	return (least - own.Season) / own.Season, own.Known && least < math.Inf(1)
}

// Below the break-even area the tool is not cheaper than the other ways, above it is. The break-even area does not
// depend on the area of the plot.
func TestTurningsAreTrue(t *testing.T) {
	const (
		little = 1e-6
		equal  = 1e-12 // amounts of money that differ by less are equal apart from rounding errors
	)
	hand, hire, service := []Buying{HandFamily, HandPaid}, []Buying{HiredTool}, []Buying{HiredService}
	all := []Buying{HandFamily, HandPaid, HiredTool, HiredService}
	rapid.Check(t, func(t *rapid.T) {
		p, h, w := drawCosts(t)
		at := func(ha float64) Costs {
			s := seasonAt(p, h, ha)
			return s.Costs(w.onHa(ha))
		}
		here := at(rapid.Float64Range(0.01, 5).Draw(t, "ha"))
		for _, x := range []struct {
			what   string
			turn   BreakEvenArea
			way    Buying
			others []Buying
		}{
			{"own, hand", here.Own.Hand, OwnTool, hand},
			{"own, hire", here.Own.Hire, OwnTool, hire},
			{"own, service", here.Own.Service, OwnTool, service},
			{"own, all", here.Own.All, OwnTool, all},
			{"share, hand", here.Share.Hand, SharedTool, hand},
			{"share, hire", here.Share.Hire, SharedTool, hire},
			{"share, service", here.Share.Service, SharedTool, service},
			{"share, all", here.Share.All, SharedTool, all},
		} {
			if _, ok := lead(here, x.way, x.others); !ok {
				continue // without a wage, Season is unknown: only the prices of an own and a hired tool are compared
			}
			by := func(ha float64) float64 {
				l, _ := lead(at(ha), x.way, x.others)
				return l
			}
			if x.turn.LowHa != x.turn.HighHa {
				t.Fatalf("%s: exact hours turn at %g to %g ha", x.what, x.turn.LowHa, x.turn.HighHa)
			}
			switch at := x.turn.LowHa; x.turn.When {
			case AreaUnknown:
				t.Fatalf("%s: both are known, the turning is not", x.what)
			case FromArea:
				if by(at*(1-little)) > equal || by(at*(1+little)) < -equal || by(at*3) < -equal {
					t.Fatalf("%s does not turn at %g ha", x.what, at)
				}
			case AnyArea:
				if min(by(1e-4), by(0.1), by(10)) < -equal {
					t.Fatalf("%s is not always so", x.what)
				}
			case PerhapsArea:
				t.Fatalf("%s turns perhaps, with exact hours", x.what)
			case NoArea:
				if max(by(0.001), by(0.1), by(1000)) > equal {
					t.Fatalf("%s is sometimes so", x.what)
				}
			}
		}
	})
}

// With more households, the share of a tool costs less and pays back in no more seasons. With more crops a year, owning
// the tool costs less a season.
func TestMoreUseIsCheaper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, h, w := drawCosts(t)
		p.Tool, p.FamilyDay = or(p.Tool, 40), or(p.FamilyDay, 4)
		ha := rapid.Float64Range(0.01, 2).Draw(t, "ha")
		h.Neighbours = rapid.IntRange(2, 12).Draw(t, "sharers")
		s := seasonAt(p, h, ha)
		few := s.Costs(w.onHa(ha))
		s.Home.Neighbours++
		many := s.Costs(w.onHa(ha))
		if a, b := few.Of(SharedTool), many.Of(SharedTool); !(b.Cash < a.Cash) {
			t.Fatalf("a share among more costs %g, not below %g", b.Cash, a.Cash)
		}
		// A saving that is hardly larger than the interest has rounding errors, for which the factor 1+1e-9 allows.
		if a, b := few.SharePaysBack, many.SharePaysBack; a > 0 && !(b > 0 && b <= a*(1+1e-9)) {
			t.Fatalf("a share among more pays back in %g seasons, not in %g", b, a)
		}
		if a, b := few.OwnPaysBack, few.SharePaysBack; a > 0 && !(b > 0 && b <= a*(1+1e-9)) {
			t.Fatalf("a share pays back in %g seasons, the whole tool in %g", b, a)
		}

		p.ToolYears, p.SeasonsYear = 5, 1
		once := seasonAt(p, h, ha)
		p.SeasonsYear = 2
		twice := seasonAt(p, h, ha)
		a, b := once.Costs(w.onHa(ha)).All[0], twice.Costs(w.onHa(ha)).All[0]
		if math.Abs(a.Cash-2*b.Cash) > 1e-9*a.Cash {
			t.Fatalf("with two crops a year a season costs %g, with one %g", b.Cash, a.Cash)
		}
	})
}
