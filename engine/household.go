package engine

import "fmt"

// Household is what a grower has told of hands, hours and money. 0 = not told.
type Household struct {
	People     int      // who can weed on a day
	HoursADay  float64  // that they weed on a day
	Neighbours int      // households that would share a tool, this one included
	ToolPrice  float64  // what a tool costs here, in the place's currency
	HireDay    float64  // asked or paid for a tool a day
	LabourDay  float64  // a day's wage
	Herbicide  float64  // price of a herbicide treatment, for this plot, as the grower was told
	Worked     []Worked // what weeding took them on other plots and in other seasons, oldest first
}

// Worked is one logged pass with what it took.
type Worked struct {
	With        Means
	Way         Way
	AreaM2      float64
	RowCM       float64
	HillCM      float64
	PersonHours float64
}

// Validate reports the first thing that cannot be right.
func (h Household) Validate() error {
	switch {
	case h.People < 0 || h.People > MaxPeople:
		return fmt.Errorf("engine: %d people is not between 0 and %d", h.People, MaxPeople)
	case !(h.HoursADay >= 0 && h.HoursADay <= MaxHoursADay):
		return fmt.Errorf("engine: %g hours a day is not between 0 and %d", h.HoursADay, MaxHoursADay)
	case h.Neighbours < 0 || h.Neighbours > MaxPeople:
		return fmt.Errorf("engine: %d households is not between 0 and %d", h.Neighbours, MaxPeople)
	}
	for _, price := range []float64{h.ToolPrice, h.HireDay, h.LabourDay, h.Herbicide} {
		if !(price >= 0 && price <= MaxPrice) {
			return fmt.Errorf("engine: price %g is not between 0 and %g", price, float64(MaxPrice))
		}
	}
	return nil
}
