package engine

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// The water balance is exact over any number of days: all amounts are multiples of 1/16 mm, which a float64 stores
// without rounding.
func TestWaterIsNeitherMadeNorLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mm := func(label string, most int) float64 {
			return float64(rapid.IntRange(0, 16*most).Draw(t, label)) / 16
		}
		start := mm("standing", 160) - 60
		depth, came, went := start, 0.0, 0.0
		for range rapid.IntRange(1, 40).Draw(t, "days") {
			day := WaterDay{RainMM: mm("rain", 150), InMM: mm("let in", 60), ETcMM: mm("ETc", 12),
				LossMM: mm("loss", 40)}
			f := WaterStep(depth, day)
			came += day.RainMM + day.InMM
			went += f.EvaporatedMM + f.LostMM + f.SpilledMM
			if f.EvaporatedMM < 0 || f.EvaporatedMM > day.ETcMM || f.LostMM < 0 || f.LostMM > day.LossMM ||
				f.SpilledMM < 0 {
				t.Fatalf("%g mm, %+v: %+v", depth, day, f)
			}
			want := min(BundMM, max(-SoilHoldsMM, depth+day.RainMM+day.InMM-day.ETcMM-day.LossMM))
			if f.DepthMM != want {
				t.Fatalf("%g mm, %+v: %g mm stand, want %g", depth, day, f.DepthMM, want)
			}
			depth = f.DepthMM
		}
		if came != went+depth-start {
			t.Errorf("%g mm came, %g went, and from %g to %g stand", came, went, start, depth)
		}
	})
}

// drawWet draws a valid season with rain, sightings of water and figures of the place.
func drawWet(t *rapid.T) Season {
	s := drawSeason(t)
	s.Weather.LatitudeDeg = rapid.Float64Range(-90, 90).Draw(t, "latitude")
	s.Plot.Soil = Soil(rapid.IntRange(0, int(SoilLight)).Draw(t, "soil"))
	s.Plot.InflowLS = rapid.SampledFrom([]float64{0, 0.01, 0.5, 3, MaxInflowLS}).Draw(t, "inflow")
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].RainMM = rapid.Float64Range(0, 600).Draw(t, "rain")
	}
	for i := range s.Sightings {
		s.Sightings[i].Water = Stands(rapid.IntRange(0, int(StandsHand)).Draw(t, "water"))
	}
	s.Weather.Daily.From = s.Plot.Planted + Day(rapid.IntRange(-10, 60).Draw(t, "measured from"))
	for range rapid.IntRange(0, 40).Draw(t, "measured days") {
		m := Measured{20, 30, rapid.Float64Range(0, 200).Draw(t, "measured rain")}
		if rapid.IntRange(0, 3).Draw(t, "measured") == 0 {
			m = Unmeasured()
		}
		s.Weather.Daily.Days = append(s.Weather.Daily.Days, m)
	}
	if rapid.Bool().Draw(t, "own figures") {
		local := NewLocal()
		for _, set := range Settings() {
			if err := local.Figures.Set(set.Name, rapid.Float64Range(set.Min, set.Max).Draw(t, set.Name)); err != nil {
				t.Fatal(err)
			}
		}
		s.Local = &local
	}
	return s
}

func TestWaterOfAnyValidSeason(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawWet(t)
		if err := s.Validate(); err != nil {
			t.Fatal(err)
		}
		today := s.Plot.Planted + Day(rapid.IntRange(-30, 400).Draw(t, "today"))
		w := Window{}
		if rapid.Bool().Draw(t, "window") {
			w = Window{Number: 1, Opens: today + Day(rapid.IntRange(-20, 300).Draw(t, "opens"))}
		}
		got := s.Water(today, w)
		for _, v := range []float64{got.DepthMM, got.OnDepthMM, got.SoilMM, got.BringMM, got.LowerMM, got.M3,
			got.Litres, got.InflowHours, got.ETcMM, got.LossMM} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				t.Fatalf("%+v", got)
			}
		}
		if got.DepthMM > BundMM || got.OnDepthMM > BundMM || got.ETcMM > 30 || got.InflowHours > MaxInflowHours {
			t.Errorf("%+v", got)
		}
		spoke := s.Plot.Flood != FloodUnknown || len(s.waterSeen(today)) > 0
		if got.Known != spoke || spoke == (got.Advice(w) == WaterAsk) {
			t.Errorf("spoke of the water: %t, %s %+v", spoke, got.Advice(w), got)
		}
		if got.Known {
			checkAdvice(t, got, w)
		}
		if got.On < today || got.ShortOn != 0 && got.ShortOn < today {
			t.Errorf("today is %s: %+v", today, got)
		}

		// WaterDepths returns the depths of Water.
		depths := s.WaterDepths(s.Plot.Planted-3, s.Plot.harvest()+3, today)
		on := func(d Day) float64 {
			if i := d - (s.Plot.Planted - 3); i >= 0 && int(i) < len(depths) {
				return depths[i]
			}
			return -1
		}
		for _, d := range depths {
			if !(d == -1 || d >= 0 && d <= BundMM) {
				t.Fatalf("depths %v", depths)
			}
		}
		if d := on(today); d >= 0 && d != got.DepthMM {
			t.Errorf("today %g mm, in the picture %g", got.DepthMM, d)
		}
		if d := on(got.On); d >= 0 && got.On <= today+horizon && d != got.OnDepthMM {
			t.Errorf("on %s %g mm, in the picture %g", got.On, got.OnDepthMM, d)
		}
		if d := on(got.ShortOn); got.ShortOn != 0 && d >= got.LeastMM {
			t.Errorf("short on %s with %g mm", got.ShortOn, d)
		}
		for d := today; d < today+WaterAheadDays && (got.ShortOn == 0 || d < got.ShortOn); d++ {
			if mm := on(d); mm >= 0 && mm < got.LeastMM {
				t.Fatalf("%g mm on %s, and short on %s", mm, d, got.ShortOn)
			}
		}
	})
}

// checkAdvice checks that a known depth and the advice about it agree.
func checkAdvice(t *rapid.T, got Water, w Window) {
	brought := got.OnDepthMM - got.SoilMM + got.BringMM - got.LowerMM
	if !tooLow(got.OnDepthMM) {
		brought += WeedingDepthMM - WeedingFromMM + DepthRoundMM // the depth is right, nothing is let in
	}
	if brought < got.NeedMM-1e-9 || got.OnDepthMM > 0 && got.SoilMM > 0 || got.BringMM > 0 && got.LowerMM > 0 {
		t.Errorf("what is let in and out does not suffice: %+v", got)
	}
	deep := got.OnDepthMM > got.MostMM+DepthRoundMM
	if got.FallsOn != 0 && (got.FallsOn <= got.On || !deep) {
		t.Errorf("falls on %s: %+v", got.FallsOn, got)
	}
	switch advice := got.Advice(w); {
	case deep != (advice == WaterLower || advice == WaterWait), deep != (got.LowerMM > 0),
		advice == WaterWait && (!got.Heavy || w.Exists() && got.FallsOn > w.Closes),
		advice == WaterBring && got.BringMM < got.NeedMM-WeedingFromMM,
		advice != WaterBring && got.BringMM != 0:
		t.Errorf("%s: %+v", advice, got)
	}
}

// A report of dry ground never asks for less water than a report of mud on that day. A report of standing water before
// it never asks for less than no such report.
func TestDrierReportsAskForMoreWater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawWet(t)
		today := s.Plot.Planted + Day(rapid.IntRange(15, 60).Draw(t, "today"))
		wet := Sighting{On: today - Day(rapid.IntRange(1, WaterSeenDays).Draw(t, "ago")), Water: StandsFingers}
		bring := func(seen ...Sighting) float64 {
			s.Sightings = seen
			return s.Water(today, Window{}).BringMM
		}
		dry, mud := Sighting{On: today, Water: StandsDry}, Sighting{On: today, Water: StandsMud}
		if a, b := bring(wet, dry), bring(wet, mud); a < b || a < WeedingDepthMM+DryLostMM || b < WeedingDepthMM {
			t.Errorf("%g mm after dry ground, %g after mud", a, b)
		}
		if a, b := bring(wet, dry), bring(dry); a < b {
			t.Errorf("%g mm after water and dry ground, %g after dry ground", a, b)
		}
	})
}

// More rain or a smaller loss never leaves less water.
func TestWaterKnowsItsDirections(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawWet(t)
		today := s.Plot.Planted + Day(rapid.IntRange(0, 60).Draw(t, "today"))
		w := Window{Number: 1, Opens: today + Day(rapid.IntRange(0, 20).Draw(t, "opens"))}
		wetter := s
		for i := range wetter.Weather.Normals {
			wetter.Weather.Normals[i].RainMM += 60
		}
		rainier := s
		rainier.Weather.Daily.Days = slices.Clone(s.Weather.Daily.Days)
		for i := range rainier.Weather.Daily.Days { // an unmeasured day stays unmeasured: NaN
			rainier.Weather.Daily.Days[i].RainMM += rapid.Float64Range(0, 100).Draw(t, "more rain")
		}
		tighter := s
		local := NewLocal()
		if s.Local != nil {
			local = *s.Local
		}
		local.Figures.LossHeavyMM, local.Figures.LossMediumMM, local.Figures.LossLightMM = 0, 0, 0
		tighter.Local = &local
		got := s.Water(today, w)
		for what, other := range map[string]Water{"more rain": wetter.Water(today, w),
			"more measured rain": rainier.Water(today, w), "tighter ground": tighter.Water(today, w)} {
			if other.OnDepthMM < got.OnDepthMM-1e-9 || other.BringMM > got.BringMM+1e-9 {
				t.Errorf("%s: %+v, else %+v", what, other, got)
			}
			if other.ShortOn != 0 && (got.ShortOn == 0 || other.ShortOn < got.ShortOn) &&
				today+WaterAheadDays >= w.Opens {
				t.Errorf("%s is short on %s, else on %s", what, other.ShortOn, got.ShortOn)
			}
		}
	})
}
