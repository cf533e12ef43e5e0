package engine

import (
	"math"
	"testing"
	"time"
)

// Each limit itself is accepted as an input, and the next number beyond the limit is rejected.
//
//revive:disable-next-line:function-length a table of cases
func TestLimitsBelongToTheRange(t *testing.T) {
	none := math.NaN() // a lower limit that is not tested: a field must have room for a row, which is no fixed number
	planting := func(set func(*Planting, float64)) func(float64) error {
		return func(v float64) error {
			p := Planting{LengthM: 100, WidthM: 100, RowCM: 25, HillCM: 25}
			set(&p, v)
			return p.Validate()
		}
	}
	plot := func(set func(*Plot, float64)) func(float64) error {
		return func(v float64) error {
			p := square(25)
			set(&p, v)
			return p.Validate()
		}
	}
	season := func(set func(*Season, float64)) func(float64) error {
		return func(v float64) error {
			s := Season{Plot: square(25), Weather: Steady(20, 30)}
			set(&s, v)
			return s.Validate()
		}
	}
	for _, x := range []struct {
		name      string
		low, high float64
		step      float64 // distance from a limit to the next number beyond it; 0 = that to the next float64
		check     func(float64) error
	}{
		{"row", MinSpacingCM, MaxSpacingCM, 0, plot(func(p *Plot, v float64) { p.RowSpacingCM = v })},
		{"hill", MinSpacingCM, MaxSpacingCM, 0, plot(func(p *Plot, v float64) { p.HillSpacingCM = v })},
		{"area", 0, MaxAreaM2, 0, plot(func(p *Plot, v float64) { p.AreaM2 = v })},
		{"inflow", 0, MaxInflowLS, 0, plot(func(p *Plot, v float64) { p.InflowLS = v })},
		{"seedling age", MinSeedlingAgeDays, MaxSeedlingAgeDays, 1,
			plot(func(p *Plot, v float64) { p.SeedlingAgeDays = int(v) })},
		{"seedlings", 0, MaxSeedlingsPerHill, 1, plot(func(p *Plot, v float64) { p.SeedlingsPerHill = int(v) })},
		{"duration", MinDurationDays, MaxDurationDays, 1, plot(func(p *Plot, v float64) { p.DurationDays = int(v) })},
		{"planted", float64(Date(MinYear, time.January, 1)), float64(Date(MaxYear, time.December, 31)), 1,
			plot(func(p *Plot, v float64) { p.Planted = Day(v) })},
		{"tool", MinToolCM, MaxToolCM, 0, func(v float64) error { return Tool{WidthCM: v}.Validate() }},
		{"widest setting", math.Nextafter(MinToolCM, MaxToolCM), MaxToolCM, 0,
			func(v float64) error { return Tool{WidthCM: MinToolCM, MaxWidthCM: v}.Validate() }},

		{"people", 0, MaxPeople, 1, func(v float64) error { return Household{People: int(v)}.Validate() }},
		{"hours", 0, MaxHoursADay, 0, func(v float64) error { return Household{HoursADay: v}.Validate() }},
		{"neighbours", 0, MaxPeople, 1, func(v float64) error { return Household{Neighbours: int(v)}.Validate() }},
		{"household's price", 0, MaxPrice, 0, func(v float64) error { return Household{HireDay: v}.Validate() }},
		{"price", 0, MaxPrice, 0, func(v float64) error { return Prices{LabourDay: v}.Validate() }},
		{"tool years", MinToolYears, MaxToolYears, 0, func(v float64) error { return Prices{ToolYears: v}.Validate() }},
		{"interest", 0, MaxInterest, 0, func(v float64) error { return Prices{InterestYear: v}.Validate() }},
		{"crops", MinSeasonsYear, MaxSeasonsYear, 0,
			func(v float64) error { return Prices{SeasonsYear: v}.Validate() }},

		{"length", none, MaxSideM, 0,
			planting(func(p *Planting, v float64) { p.LengthM, p.WidthM, p.HillCM = v, 10, 30 })},
		{"width", none, MaxSideM, 0,
			planting(func(p *Planting, v float64) { p.LengthM, p.WidthM, p.RowCM = 10, v, 30 })},
		{"field", none, MaxAreaM2, 0, planting(func(p *Planting, v float64) { p.LengthM, p.WidthM = 1000, v/1000 })},
		{"planted row", MinSpacingCM, MaxSpacingCM, 0, planting(func(p *Planting, v float64) { p.RowCM = v })},
		{"planted hill", MinSpacingCM, MaxSpacingCM, 0, planting(func(p *Planting, v float64) { p.HillCM = v })},
		{"planted seedlings", 0, MaxSeedlingsPerHill, 1,
			planting(func(p *Planting, v float64) { p.SeedlingsPerHill = int(v) })},
		{"grain", MinGrainMG, MaxGrainMG, 0, planting(func(p *Planting, v float64) { p.GrainMG = v })},
		{"germination", MinSurvival, 1, 0, planting(func(p *Planting, v float64) { p.Germination = v })},
		{"establishment", MinSurvival, 1, 0, planting(func(p *Planting, v float64) { p.Establishment = v })},

		{"coldest", ColdestC, 30, 0, season(func(s *Season, v float64) { s.Weather.Normals[0].MinC = v })},
		{"hottest", 20, HottestC, 0, season(func(s *Season, v float64) { s.Weather.Normals[0].MaxC = v })},
		{"rain", 0, MaxMonthRainMM, 0, season(func(s *Season, v float64) { s.Weather.Normals[0].RainMM = v })},
		{"latitude", -poleDeg, poleDeg, 0, season(func(s *Season, v float64) { s.Weather.LatitudeDeg = v })},
		{"weed rate", MinWeedRate, MaxWeedRate, 0, season(func(s *Season, v float64) {
			l := NewLocal()
			l.WeedRate = v
			s.Local = &l
		})},

		{"ordered row", NarrowestMadeCM + 2*SideClearanceCM, MaxSpacingCM, 0,
			func(v float64) error { _, err := OrderOf([]float64{v}, SoilLight, nil); return err }},
		{"stature", MinStatureCM, MaxStatureCM, 0,
			func(v float64) error { _, err := OrderOf([]float64{25}, SoilLight, []float64{v}); return err }},
	} {
		below, above := x.low-x.step, x.high+x.step
		if x.step == 0 {
			below, above = math.Nextafter(x.low, math.Inf(-1)), math.Nextafter(x.high, math.Inf(1))
		}
		for _, v := range []float64{x.low, x.high} {
			if err := x.check(v); err != nil && !math.IsNaN(v) {
				t.Errorf("%s %v: %v", x.name, v, err)
			}
		}
		for _, v := range []float64{below, above} {
			if x.check(v) == nil && !math.IsNaN(v) {
				t.Errorf("%s %v is accepted", x.name, v)
			}
		}
	}
}
