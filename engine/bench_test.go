package engine

import (
	"slices"
	"testing"
)

// busySeason is a season with passes, sightings, a flooded plot, an adjustable tool and different months.
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

// monsoonYear is an invented year in a tropical lowland with two rainy seasons.
var monsoonYear = Normals{
	{21, 30, 30}, {21, 31, 20}, {22, 33, 40}, {24, 35, 90}, {25, 35, 180}, {25, 33, 240},
	{25, 32, 260}, {25, 32, 280}, {24, 32, 300}, {24, 31, 220}, {23, 30, 110}, {21, 29, 40},
}

func BenchmarkPlan(b *testing.B) {
	s := busySeason()
	loop(b, func() { must(s.Plan(s.Plot.Planted + 27)) })
}

func BenchmarkWindows(b *testing.B) {
	s := busySeason()
	loop(b, func() { must(s.Windows(s.Plot.Planted + 27)) })
}

// told adds a second pass and a third leaf count.
func told(s Season) (Season, Day) {
	p := s.Plot.Planted
	s.Passes = append(slices.Clone(s.Passes), Pass{On: p + 29, With: ByTool, Way: Along, Left: Few})
	s.Sightings = append(slices.Clone(s.Sightings), Sighting{On: p + 38, Leaves: OneLeaf, Water: StandsFingers})
	return s, p + 39
}

func BenchmarkPlanTold(b *testing.B) {
	s, today := told(busySeason())
	loop(b, func() { must(s.Plan(today)) })
}

func BenchmarkWindowsTold(b *testing.B) {
	s, today := told(busySeason())
	loop(b, func() { must(s.Windows(today)) })
}

// BenchmarkFull measures Season.Full: a plan with water, work, costs and risk.
func BenchmarkFull(b *testing.B) {
	s := busySeason()
	at := NewLocal()
	at.Prices = Prices{Currency: "u", Tool: 40, ToolSalvage: 4, ToolYears: 5, InterestYear: 0.15, HireDay: 1,
		ServiceHa: 60, LabourDay: 4, FamilyDay: 2, SeasonsYear: 2}
	s.Local, s.Home = &at, Household{People: 2, HoursADay: 5, Neighbours: 4}
	s.Weather.LatitudeDeg, s.Plot.InflowLS = 15, 2
	loop(b, func() { must(s.Full(s.Plot.Planted + 27)) })
}

// BenchmarkParts measures the parts of a full plan and other computations.
func BenchmarkParts(b *testing.B) {
	s := busySeason()
	s.Weather.LatitudeDeg, s.Plot.InflowLS, s.Plot.AreaM2 = 12, 2, 6000
	for range 6 {
		s.Home.Worked = append(s.Home.Worked, Worked{With: ByTool, Way: Along, AreaM2: 1200, RowCM: 25, HillCM: 25,
			PersonHours: 7})
	}
	today := s.Plot.Planted + 27
	plan := must(s.Plan(today))
	wet := s
	wet.Sightings = append(slices.Clone(s.Sightings), Sighting{On: today - 1, Water: StandsHand})
	told := lookTexts(s.Plot.Planted+8, s.Plot.Planted+20)
	observations := Observe(s, told)
	var tally Tally
	costs := seasonAt(valley, Household{Herbicide: 2}, 0.1)
	for _, part := range []struct {
		name string
		run  func()
	}{
		{"weather", func() { s.Weather.On(today) }},
		{"water", func() { s.Water(today, plan.Next) }},
		{"water seen", func() { wet.Water(today, plan.Next) }},
		{"water of the season picture", func() { wet.WaterDepths(s.Plot.Planted, s.Plot.Planted+110, today) }},
		{"work", func() { s.Work(today, plan.Next) }},
		{"costs", func() { costs.Costs(hectareHours.onHa(0.1)) }},
		{"risk", func() { s.Risk(today) }},
		{"risk, plan known", func() { s.riskOf(plan) }},
		{"summary", func() { s.Summary(today) }},
		{"observe", func() { Observe(s, told) }},
		{"tally", func() { tally.Add(observations[0]) }},
		{"layout", func() { must(Planting{LengthM: 30, WidthM: 8, RowCM: 25, HillCM: 20}.Layout()) }},
	} {
		b.Run(part.name, func(b *testing.B) { loop(b, part.run) })
	}
}

func loop(b *testing.B, run func()) {
	b.ReportAllocs()
	for b.Loop() {
		run()
	}
}
