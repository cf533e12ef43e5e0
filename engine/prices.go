package engine

import (
	"fmt"
	"math"
)

// Prices are the prices of a place, in its currency. 0 = not given.
type Prices struct {
	Currency     string  // as people write it, at most MaxCurrency characters
	Tool         float64 // a new weeder
	ToolSalvage  float64 // value of the weeder at the end of ToolYears
	ToolYears    float64 // years for which the weeder is used; 0 = DefaultToolYears
	InterestYear float64 // interest on borrowed money, as a fraction a year; with 0, owning a tool looks too cheap
	HireDay      float64 // hire of a tool for a day
	ServiceHa    float64 // weeding of one hectare by somebody with a tool
	LabourDay    float64 // wage for a day of weeding
	FamilyDay    float64 // value of a day of the family's own work; 0 = LabourDay
	SeasonsYear  float64 // crops a year; 0 = DefaultSeasonsYear
}

// For returns the prices that apply to a household: the prices that the household gave, else those of the place, else
// the defaults. If the household gave its own price of a tool, the salvage value changes in proportion.
func (p Prices) For(h Household) Prices {
	if h.ToolPrice > 0 {
		if p.Tool > 0 {
			p.ToolSalvage *= h.ToolPrice / p.Tool
		}
		p.Tool = h.ToolPrice
	}
	p.HireDay, p.LabourDay = or(h.HireDay, p.HireDay), or(h.LabourDay, p.LabourDay)
	return p.filled()
}

// filled returns the prices with defaults instead of zeros. ToolYears is at least the time of one crop.
func (p Prices) filled() Prices {
	p.FamilyDay = or(p.FamilyDay, p.LabourDay)
	p.SeasonsYear = or(p.SeasonsYear, DefaultSeasonsYear)
	p.ToolYears = max(or(p.ToolYears, DefaultToolYears), 1/p.SeasonsYear)
	return p
}

// toolSeason returns the money that wear, interest and repairs of an own tool cost in one season; 0 without a price of
// a tool. p must be a result of filled.
func (p Prices) toolSeason() float64 {
	return (AnnualCost(p.Tool, p.ToolSalvage, p.InterestYear, p.ToolYears) + RepairShareYear*p.Tool) / p.SeasonsYear
}

// seasonRate returns the interest rate per season, as a fraction: with compound interest it gives InterestYear a year.
func (p Prices) seasonRate() float64 { return math.Expm1(math.Log1p(p.InterestYear) / p.SeasonsYear) }

// Validate returns an error for the first price outside its limits or in contradiction to another one.
func (p Prices) Validate() error {
	for _, x := range []struct {
		name string
		v    float64
	}{{"tool", p.Tool}, {"tool_salvage", p.ToolSalvage}, {"hire_day", p.HireDay}, {"service_ha", p.ServiceHa},
		{"labour_day", p.LabourDay}, {"family_day", p.FamilyDay}} {
		if !(x.v >= 0 && x.v <= MaxPrice) {
			return fmt.Errorf("engine: price %s %g is not between 0 and %g", x.name, x.v, float64(MaxPrice))
		}
	}
	switch {
	case len([]rune(p.Currency)) > MaxCurrency:
		return fmt.Errorf("engine: currency %q has more than %d characters", p.Currency, MaxCurrency)
	case p.ToolSalvage > p.Tool:
		return fmt.Errorf("engine: a tool of %g cannot bring %g when it is old", p.Tool, p.ToolSalvage)
	case p.ToolYears != 0 && !(p.ToolYears >= MinToolYears && p.ToolYears <= MaxToolYears):
		return fmt.Errorf("engine: tool years %g is not between %g and %d", p.ToolYears, MinToolYears, MaxToolYears)
	case !(p.InterestYear >= 0 && p.InterestYear <= MaxInterest):
		return fmt.Errorf("engine: interest %g a year is not between 0 and %g", p.InterestYear, float64(MaxInterest))
	case p.SeasonsYear != 0 && !(p.SeasonsYear >= MinSeasonsYear && p.SeasonsYear <= MaxSeasonsYear):
		return fmt.Errorf("engine: %g crops a year is not between %g and %d", p.SeasonsYear, MinSeasonsYear,
			MaxSeasonsYear)
	}
	return nil
}
