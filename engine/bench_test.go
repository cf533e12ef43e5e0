package engine

import "testing"

// busySeason is a season with everything in it: passes, sightings, a kept
// flood, an adjustable tool and a year whose months differ.
func busySeason() Season {
	s := Season{
		Plot: Plot{Method: Transplanted, Planted: Date(2026, 11, 3), SeedlingAgeDays: 20, SeedlingsPerHill: 2,
			RowSpacingCM: 25, HillSpacingCM: 25, AreaM2: 1200, Flood: FloodKept, DurationDays: 120},
		Tool:    Tool{WidthCM: 15, MaxWidthCM: 20},
		Weather: Weather{Normals: monsoonYear},
		Since:   Date(2026, 11, 4),
	}
	p := s.Plot.Planted
	s.Passes = []Pass{{On: p + 16, With: ByTool, Way: Along, Hours: 5, People: 1, Left: Some}}
	s.Sightings = []Sighting{{On: p + 11, Leaves: OneLeaf}, {On: p + 14, Leaves: TwoThree, Amount: Some},
		{On: p + 26, Rows: RowsOpen}}
	return s
}

// monsoonYear is an invented year of a tropical lowland, with two rains.
var monsoonYear = Normals{
	{21, 30, 30}, {21, 31, 20}, {22, 33, 40}, {24, 35, 90}, {25, 35, 180}, {25, 33, 240},
	{25, 32, 260}, {25, 32, 280}, {24, 32, 300}, {24, 31, 220}, {23, 30, 110}, {21, 29, 40},
}

func BenchmarkPlan(b *testing.B) {
	s := busySeason()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Plan(s.Plot.Planted + 27); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWindows(b *testing.B) {
	s := busySeason()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Windows(s.Plot.Planted + 27); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWeatherOn(b *testing.B) {
	w := Weather{Normals: monsoonYear}
	d := Date(2026, 11, 3)
	for b.Loop() {
		w.On(d)
		d++
	}
}

// BenchmarkFull is a plan with everything: water, work, money, risk.
func BenchmarkFull(b *testing.B) {
	s := busySeason()
	at := NewLocal()
	at.Prices = Prices{Currency: "u", Tool: 40, ToolSalvage: 4, ToolYears: 5, InterestYear: 0.15, HireDay: 1,
		ServiceHa: 60, LabourDay: 4, FamilyDay: 2, SeasonsYear: 2}
	s.Local, s.Home = &at, Household{People: 2, HoursADay: 5, Neighbours: 4}
	s.Weather.LatitudeDeg = 15
	s.Plot.InflowLS = 2
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Full(s.Plot.Planted + 27); err != nil {
			b.Fatal(err)
		}
	}
}
