package engine

import (
	"fmt"
	"math"
)

// Prices are a place's, all in its currency. 0 = not told; what is said of it
// then stands at the field.
type Prices struct {
	Currency     string  // as people write it, at most 4 characters
	Tool         float64 // a weeder, new; not told: nothing is said of owning one
	ToolSalvage  float64 // what it still brings at the end; not told: nothing
	ToolYears    float64 // how long it serves; not told: DefaultToolYears
	InterestYear float64 // what borrowed money costs a year, as a fraction; not told: nothing, so that owning looks cheaper than it is
	HireDay      float64 // a tool for a day
	ServiceHa    float64 // weeding a hectare once, tool and person together
	LabourDay    float64 // a day's wage for weeding
	FamilyDay    float64 // what a day of the family's own work is worth to them; not told: the wage
	SeasonsYear  float64 // crops a year; not told: DefaultSeasonsYear
}

// For is what a household reckons with: its own prices go before the place's,
// and what neither told is filled with what stands at the field. A tool that
// costs another price keeps the same share of it to the end.
func (p Prices) For(h Household) Prices {
	if h.ToolPrice > 0 {
		if p.Tool > 0 {
			p.ToolSalvage *= h.ToolPrice / p.Tool
		}
		p.Tool = h.ToolPrice
	}
	p.HireDay = or(h.HireDay, p.HireDay)
	p.LabourDay = or(h.LabourDay, p.LabourDay)
	return p.filled()
}

// filled has no gaps but prices that nobody knows. A tool lasts a crop at
// least.
func (p Prices) filled() Prices {
	p.FamilyDay = or(p.FamilyDay, p.LabourDay)
	p.SeasonsYear = or(p.SeasonsYear, DefaultSeasonsYear)
	p.ToolYears = max(or(p.ToolYears, DefaultToolYears), 1/p.SeasonsYear)
	return p
}

// toolSeason is what owning a tool costs a season, wear, interest and repairs,
// in money; of prices that are filled.
func (p Prices) toolSeason() float64 {
	return (AnnualCost(p.Tool, p.ToolSalvage, p.InterestYear, p.ToolYears) + RepairShareYear*p.Tool) / p.SeasonsYear
}

// seasonRate is the interest a season that makes the yearly rate.
func (p Prices) seasonRate() float64 { return math.Expm1(math.Log1p(p.InterestYear) / p.SeasonsYear) }

// Validate reports the first price that cannot be right.
func (p Prices) Validate() error {
	for _, x := range []struct {
		name string
		v    float64
	}{{"tool", p.Tool}, {"tool_salvage", p.ToolSalvage}, {"hire_day", p.HireDay}, {"service_ha", p.ServiceHa}, {"labour_day", p.LabourDay}, {"family_day", p.FamilyDay}} {
		if !(x.v >= 0 && x.v <= MaxPrice) {
			return fmt.Errorf("engine: price %s %g is not between 0 and %g", x.name, x.v, float64(MaxPrice))
		}
	}
	switch {
	case len([]rune(p.Currency)) > MaxCurrency:
		return fmt.Errorf("engine: currency %q has more than %d characters", p.Currency, MaxCurrency)
	case p.ToolSalvage > 0 && p.ToolSalvage > p.Tool:
		return fmt.Errorf("engine: a tool of %g cannot bring %g when it is old", p.Tool, p.ToolSalvage)
	case p.ToolYears != 0 && !(p.ToolYears >= MinToolYears && p.ToolYears <= MaxToolYears):
		return fmt.Errorf("engine: tool years %g is not between %g and %d", p.ToolYears, MinToolYears, MaxToolYears)
	case !(p.InterestYear >= 0 && p.InterestYear <= MaxInterest):
		return fmt.Errorf("engine: interest %g a year is not between 0 and %g", p.InterestYear, float64(MaxInterest))
	case p.SeasonsYear != 0 && !(p.SeasonsYear >= MinSeasonsYear && p.SeasonsYear <= MaxSeasonsYear):
		return fmt.Errorf("engine: %g crops a year is not between %g and %d", p.SeasonsYear, MinSeasonsYear, MaxSeasonsYear)
	}
	return nil
}
