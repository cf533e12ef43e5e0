package engine

import "fmt"

// Prices are a place's, all in its currency. 0 = not told.
type Prices struct {
	Currency     string  // as people write it, at most 4 characters
	Tool         float64 // a weeder, new
	ToolSalvage  float64 // what it still brings at the end
	ToolYears    float64 // how long it serves
	InterestYear float64 // what borrowed money costs a year, as a fraction
	HireDay      float64 // a tool for a day
	ServiceHa    float64 // weeding a hectare once, tool and person together
	LabourDay    float64 // a day's wage for weeding
	FamilyDay    float64 // what a day of the family's own work is worth to them
	SeasonsYear  float64 // crops a year
}

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
	case !(p.ToolYears >= 0 && p.ToolYears <= MaxToolYears):
		return fmt.Errorf("engine: tool years %g is not between 0 and %d", p.ToolYears, MaxToolYears)
	case !(p.InterestYear >= 0 && p.InterestYear <= MaxInterest):
		return fmt.Errorf("engine: interest %g a year is not between 0 and %g", p.InterestYear, float64(MaxInterest))
	case !(p.SeasonsYear >= 0 && p.SeasonsYear <= MaxSeasonsYear):
		return fmt.Errorf("engine: %g crops a year is not between 0 and %d", p.SeasonsYear, MaxSeasonsYear)
	}
	return nil
}
