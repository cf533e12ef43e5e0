package engine

import (
	"math"
	"strings"
	"testing"
)

func TestPricesForAHousehold(t *testing.T) {
	place := Prices{Currency: "Rs", Tool: 40, ToolSalvage: 4, ToolYears: 5, InterestYear: 0.15, HireDay: 2,
		ServiceHa: 30, LabourDay: 5, FamilyDay: 3, SeasonsYear: 2}
	wantEqual(t, "a household that told nothing", place.For(Household{}), place)
	want := place
	want.Tool, want.ToolSalvage, want.HireDay, want.LabourDay = 80, 8, 3, 6
	wantEqual(t, "its own prices", place.For(Household{ToolPrice: 80, HireDay: 3, LabourDay: 6}), want)
	want = Prices{Tool: 30, LabourDay: 6, FamilyDay: 6, ToolYears: DefaultToolYears, SeasonsYear: DefaultSeasonsYear}
	wantEqual(t, "in a place without prices", (Prices{}).For(Household{ToolPrice: 30, LabourDay: 6}), want)
	wantEqual(t, "years of a tool where a crop takes 2", (Prices{ToolYears: 0.5,
		SeasonsYear: 0.5}).For(Household{}).ToolYears, 2)
}

func TestPricesValidate(t *testing.T) {
	for _, x := range []struct {
		wrong string // "" = nothing
		p     Prices
	}{
		{"", Prices{}},
		{"", Prices{Currency: "dong"}},
		{"", Prices{Currency: "Rs", Tool: 40, ToolSalvage: 40, ToolYears: MinToolYears, InterestYear: MaxInterest,
			HireDay: MaxPrice, SeasonsYear: MinSeasonsYear}},
		{"price tool", Prices{Tool: -1}},
		{"price tool_salvage", Prices{Tool: 1, ToolSalvage: math.NaN()}},
		{"price hire_day", Prices{HireDay: 2 * MaxPrice}},
		{"price service_ha", Prices{ServiceHa: math.Inf(1)}},
		{"price labour_day", Prices{LabourDay: -0.01}},
		{"price family_day", Prices{FamilyDay: -0.01}},
		{"currency", Prices{Currency: "crown"}},
		{"cannot bring", Prices{Tool: 4, ToolSalvage: 40}},
		{"tool years", Prices{ToolYears: math.NaN()}},
		{"interest", Prices{InterestYear: 12}},
		{"crops a year", Prices{SeasonsYear: 5}},
	} {
		err := x.p.Validate()
		if x.wrong == "" && err != nil || x.wrong != "" && (err == nil || !strings.Contains(err.Error(), x.wrong)) {
			t.Errorf("%+v: %v, want %q", x.p, err, x.wrong)
		}
	}
}
