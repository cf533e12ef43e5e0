package engine

import "fmt"

// Household is what a grower said about people, hours and prices. 0 = not given.
type Household struct {
	People     int      // people who can weed on a day
	Tools      int      // tools that they can use on a day
	HoursADay  float64  // hours that each of them weeds on a day
	Neighbours int      // households that would share a tool, including this one
	ToolPrice  float64  // price of a tool; all prices are in the currency of the place
	HireDay    float64  // price of hiring a tool for a day
	LabourDay  float64  // wage for a day of weeding
	Herbicide  float64  // price of a herbicide treatment of this plot
	Worked     []Worked // passes on other plots and in other seasons, oldest first
}

// Worked is a logged pass with what is needed to compare its hours with the model's: tool or hand, direction, area and
// spacings. PersonHours are the hours of all people together; 0 = not given.
type Worked struct {
	With                               Means
	Way                                Way
	AreaM2, RowCM, HillCM, PersonHours float64
}

// Validate returns an error for the first number that is outside its limits; it does not look at Worked.
func (h Household) Validate() error {
	switch {
	case h.People < 0 || h.People > MaxPeople:
		return fmt.Errorf("engine: %d people is not between 0 and %d", h.People, MaxPeople)
	case h.Tools < 0 || h.Tools > MaxPeople:
		return fmt.Errorf("engine: %d tools is not between 0 and %d", h.Tools, MaxPeople)
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
