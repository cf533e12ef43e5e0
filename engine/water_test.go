package engine

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// thirsty returns a season whose plot is kept under water and loses lossMM a day. With equal minimum and maximum
// temperatures, the formula gives no evapotranspiration.
func thirsty(lossMM float64) Season {
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(28, 28)}
	s.Plot.Flood = FloodKept
	local := NewLocal()
	local.Figures.LossMediumMM = lossMM
	s.Local = &local
	return s
}

// Computed by hand: with an evapotranspiration of 5.5 mm and a loss of 6 mm a day, 30 mm of water last 30/(5.5+6) = 2.6
// days.
func TestDaysUntilAPlotIsDry(t *testing.T) {
	depth, days := 30.0, 0.0
	for depth > 0 {
		f := WaterStep(depth, WaterDay{ETcMM: 5.5, LossMM: 6})
		days += (depth - max(0, f.DepthMM)) / (5.5 + 6)
		depth = f.DepthMM
	}
	wantNear(t, "days", days, 2.6, 0.01)
}

func TestWaterStep(t *testing.T) {
	for _, c := range []struct {
		depth float64
		day   WaterDay
		want  WaterFlow
	}{
		{50, WaterDay{ETcMM: 5, LossMM: 6}, WaterFlow{DepthMM: 39, EvaporatedMM: 5, LostMM: 6}},
		{50, WaterDay{RainMM: 12, InMM: 8, ETcMM: 5, LossMM: 6}, WaterFlow{DepthMM: 59, EvaporatedMM: 5, LostMM: 6}},
		{80, WaterDay{RainMM: 60, ETcMM: 5, LossMM: 6},
			WaterFlow{DepthMM: 100, EvaporatedMM: 5, LostMM: 6, SpilledMM: 29}},
		// The soil goes on losing water, at most 60 mm, and takes it up again before water stands.
		{7, WaterDay{ETcMM: 5, LossMM: 6}, WaterFlow{DepthMM: -4, EvaporatedMM: 5, LostMM: 6}},
		{-4, WaterDay{RainMM: 24, ETcMM: 5, LossMM: 6}, WaterFlow{DepthMM: 9, EvaporatedMM: 5, LostMM: 6}},
		{-53, WaterDay{ETcMM: 5, LossMM: 6}, WaterFlow{DepthMM: -60, EvaporatedMM: 5, LostMM: 2}},
		{-57, WaterDay{ETcMM: 5, LossMM: 6}, WaterFlow{DepthMM: -60, EvaporatedMM: 3}},
		{-60, WaterDay{ETcMM: 5, LossMM: 6}, WaterFlow{DepthMM: -60}},
		{-60, WaterDay{InMM: 100}, WaterFlow{DepthMM: 40}},
		{-60, WaterDay{RainMM: 200}, WaterFlow{DepthMM: 100, SpilledMM: 40}},
	} {
		wantEqual(t, "%g mm, %+v", WaterStep(c.depth, c.day), c.want, c.depth, c.day)
	}
}

func TestWaterStartsFromWhatTheGrowerSaw(t *testing.T) {
	p := square(20).Planted
	saw := func(d Day, w Stands) Sighting { return Sighting{On: p + d, Water: w} }
	for _, c := range []struct {
		name  string
		flood Flood
		seen  []Sighting
		today Day // after planting
		depth float64
		soil  float64 // water that the soil has lost
		from  Day
		byEye bool
	}{
		{"flood kept", FloodKept, nil, 20, 50, 0, 6, false},
		{"comes and goes", FloodOnOff, nil, 20, 20, 0, 6, false},
		{"only wet", FloodMoist, nil, 20, 0, 0, 6, false},
		{"dry today", FloodKept, []Sighting{saw(20, StandsDry)}, 20, 0, 20, 20, true},
		{"mud today", FloodKept, []Sighting{saw(20, StandsMud)}, 20, 0, 0, 20, true},
		{"two fingers today", FloodMoist, []Sighting{saw(20, StandsFingers)}, 20, 30, 0, 20, true},
		{"a hand today", FloodMoist, []Sighting{saw(20, StandsHand)}, 20, 80, 0, 20, true},
		{"a hand three days ago", FloodKept, []Sighting{saw(17, StandsHand)}, 20, 65, 0, 17, true},
		{"two fingers, long run out", FloodKept, []Sighting{saw(10, StandsFingers)}, 20, 0, 20, 10, true},
		{"the last word counts", FloodKept, []Sighting{saw(19, StandsHand), saw(19, StandsFingers)}, 20, 25, 0, 19,
			true},
		{"a word on something else", FloodKept, []Sighting{saw(19, StandsFingers), {On: p + 20, Leaves: OneLeaf}}, 20,
			25, 0, 19, true},
		{"tomorrow's word", FloodKept, []Sighting{saw(18, StandsFingers), saw(21, StandsHand)}, 20, 20, 0, 18, true},
		{"two weeks ago", FloodKept, []Sighting{saw(6, StandsHand)}, 20, 10, 0, 6, true},
		{"more than two weeks ago", FloodKept, []Sighting{saw(5, StandsHand)}, 20, 50, 0, 6, false},
		{"before planting", FloodKept, []Sighting{saw(-1, StandsHand)}, 3, 50, 0, 0, false},
		{"not planted yet", FloodKept, nil, -4, 50, 0, 0, false},

		// Two fingers of water, 30 mm, last 6 days; after that the soil loses 5 mm a day.
		{"dry, and water before", FloodUnknown, []Sighting{saw(8, StandsFingers), saw(20, StandsDry)}, 20, 0, 30, 8,
			true},
		{"dry, and the count says wet", FloodUnknown, []Sighting{saw(18, StandsHand), saw(20, StandsDry)}, 20, 0, 20,
			18, true},
		{"dry two days ago", FloodUnknown, []Sighting{saw(8, StandsFingers), saw(18, StandsDry)}, 20, 0, 30, 8, true},
		{"mud, and the count says dry", FloodUnknown, []Sighting{saw(8, StandsFingers), saw(20, StandsMud)}, 20, 0, 20,
			8, true},
		{"mud between", FloodUnknown, []Sighting{saw(1, StandsFingers), saw(10, StandsMud), saw(20, StandsDry)}, 20, 0,
			60, 1, true},
		{"water too long before", FloodUnknown, []Sighting{saw(3, StandsHand), saw(18, StandsDry)}, 18, 0, 20, 18,
			true},
		{"water and dry on one day", FloodUnknown, []Sighting{saw(20, StandsHand), saw(20, StandsDry)}, 20, 0, 20, 20,
			true},
	} {
		s := thirsty(5)
		s.Plot.Flood, s.Sightings = c.flood, c.seen
		got := s.Water(p+c.today, Window{})
		if !got.Known || got.DepthMM != c.depth || got.SoilMM != c.soil || got.From != p+c.from ||
			got.FromSeen != c.byEye {
			t.Errorf("%s: %+v, from day %d; want %g mm, %g mm lost, %d, %t", c.name, got, got.From-p, c.depth, c.soil,
				c.from, c.byEye)
		}
		if got.On != p+c.today || got.OnDepthMM != c.depth || got.LossMM != 5 || got.ETcMM != 0 ||
			c.depth < 25 && got.BringMM != 40-c.depth+c.soil || c.depth >= 25 && got.BringMM != 0 {
			t.Errorf("%s, on the day itself: %+v", c.name, got)
		}
	}
}

// Without a word about the water no depth is known, and what was said too long ago counts no more.
func TestWaterThatNobodySpokeOf(t *testing.T) {
	s := thirsty(5)
	s.Plot.Flood, s.Plot.AreaM2, s.Plot.InflowLS = FloodUnknown, 1000, 2
	today := s.Plot.Planted + 20
	for name, seen := range map[string][]Sighting{
		"nothing":   nil,
		"leaves":    {{On: today - 1, Leaves: TwoThree}},
		"long ago":  {{On: today - 15, Water: StandsHand}},
		"not today": {{On: today + 1, Water: StandsHand}},
	} {
		s.Sightings = seen
		w := Window{Number: 1, Opens: today + 3, Closes: today + 8}
		got := s.Water(today, w)
		wantEqual(t, name, got, Water{NeedMM: 40, LeastMM: 20, MostMM: 50, On: today + 3, LossMM: 5})
		wantEqual(t, name, got.Advice(w), WaterAsk)
		if mm := s.WaterDepths(today, today+1, today); !slices.Equal(mm, []float64{-1, -1}) {
			t.Errorf("%s: depths %v", name, mm)
		}
	}
}

func TestWaterForTheWindow(t *testing.T) {
	s := thirsty(5)
	p := s.Plot.Planted
	s.Plot.AreaM2 = 1000
	for _, c := range []struct {
		name           string
		w              Window
		on             Day
		onDepth, bring float64
		advice         WaterAdvice
	}{
		{"no window", Window{}, 15, 50, 0, WaterRight},
		{"opens in three days", Window{Number: 1, Opens: p + 18, Closes: p + 22}, 18, 35, 0, WaterRight},
		{"opens in five", Window{Number: 1, Opens: p + 20, Closes: p + 22}, 20, 25, 0, WaterRight},
		{"opens in six", Window{Number: 1, Opens: p + 21, Closes: p + 22}, 21, 20, 20, WaterBring},
		{"opens today", Window{Number: 1, Opens: p + 15, Closes: p + 22}, 15, 50, 0, WaterRight},
		{"has opened", Window{Number: 1, Opens: p + 12, Closes: p + 17}, 15, 50, 0, WaterRight},
		{"opens when all is gone", Window{Number: 2, Opens: p + 26, Closes: p + 45}, 26, 0, 40, WaterBring},
		{"opens in a year and more", Window{Number: 2, Opens: p + 400, Closes: p + 405}, 400, 0, 40, WaterBring},
	} {
		got := s.Water(p+15, c.w)
		if got.On != p+c.on || got.OnDepthMM != c.onDepth || got.BringMM != c.bring || got.M3 != c.bring ||
			got.Litres != 1000*c.bring || got.LowerMM != 0 || got.FallsOn != 0 || got.Advice(c.w) != c.advice {
			t.Errorf("%s: %s %+v", c.name, got.Advice(c.w), got)
		}
		// The depth falls by 5 mm a day to 20 mm on day 21 and 15 mm, which is too little, on day 22.
		if got.ShortOn != p+22 || got.NeedMM != 40 || got.LeastMM != 20 || got.MostMM != 50 {
			t.Errorf("%s: short on day %d: %+v", c.name, got.ShortOn-p, got)
		}
	}
	// Where a report of water starts the balance, the soil dries once the water is gone.
	s.Sightings = []Sighting{{On: p + 15, Water: StandsFingers}}
	for opens, bring := range map[Day]float64{15: 0, 21: 40, 25: 60, 33: 100, 60: 100} {
		got := s.Water(p+15, Window{Number: 2, Opens: p + opens})
		wantEqual(t, "mm to let in on day %d", got.BringMM, bring, opens)
	}
}

// Published depths of water for a pass: 3-5 cm (Chiba prefecture, rice field note 2022, sui-2022-04, after NARO's
// organic manual; for a machine weeder); 2-3 cm when a rotary hoe starts (IRRI Rice Knowledge Bank, Mechanical weed
// control).
func TestWaterForAPassAsPublished(t *testing.T) {
	p := square(20).Planted
	for depth, want := range map[float64]WaterAdvice{15: WaterBring, 30: WaterRight, 40: WaterRight, 50: WaterRight,
		60: WaterLower} {
		w := Water{Known: true, OnDepthMM: depth, LowerMM: max(0, depth-50)}
		wantEqual(t, "advice at %g mm", w.Advice(Window{}), want, depth)
	}
	// 20 mm are enough for a pass, and less is told as too little.
	s := thirsty(0)
	s.Plot.Flood = FloodOnOff
	wantEqual(t, "first day with too little of 20 mm", s.Water(p+20, Window{}).ShortOn, 0)
	s.Plot.Flood = FloodMoist
	wantEqual(t, "first day with too little of no water", s.Water(p+20, Window{}).ShortOn, p+20)
}

// 80 mm lose 5 mm a day: 55 mm, which is told as 5 or 6 cm, is no longer too deep.
func TestTooMuchWater(t *testing.T) {
	s := thirsty(5)
	p := s.Plot.Planted
	storm := func(mm float64) Daily { return Daily{From: p + 14, Days: []Measured{{28, 28, mm}}} }
	for _, c := range []struct {
		name         string
		seen         Stands // on day 15
		rain         Daily
		opens, falls Day
		lower        float64
		heavy        bool
		advice       WaterAdvice
	}{
		{"a hand", StandsHand, Daily{}, 15, 20, 40, true, WaterWait},
		{"a hand, and some days left", StandsHand, Daily{}, 17, 20, 30, true, WaterWait},
		{"a hand, long before", StandsHand, Daily{}, 20, 0, 0, false, WaterRight},
		{"a storm on kept water", StandsUnknown, storm(65), 15, 24, 60, true, WaterLower},
		{"a storm, the window later", StandsUnknown, storm(65), 17, 24, 50, true, WaterWait},
		{"a storm five days before the window", StandsUnknown, storm(65), 20, 24, 35, false, WaterLower},
		{"rain that is not heavy", StandsUnknown, storm(30), 15, 19, 35, false, WaterLower},
		{"a storm, then mud", StandsMud, storm(65), 15, 0, 0, false, WaterBring},
	} {
		s.Weather.Daily, s.Sightings = c.rain, []Sighting{{On: p + 15, Water: c.seen}}
		w := Window{Number: 1, Opens: p + c.opens, Closes: p + c.opens + 8}
		got := s.Water(p+15, w)
		falls := Day(0)
		if c.falls != 0 {
			falls = p + c.falls
		}
		if got.LowerMM != c.lower || got.FallsOn != falls || got.Heavy != c.heavy || got.Advice(w) != c.advice {
			t.Errorf("%s: %s, falls on day %d, %+v", c.name, got.Advice(w), got.FallsOn-p, got)
		}
	}
	// If normal rain replaces what is lost, the water does not fall.
	s.Weather.Daily, s.Sightings = Daily{}, []Sighting{{On: p + 15, Water: StandsHand}}
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].RainMM = 300
	}
	got := s.Water(p+15, Window{})
	if got.FallsOn != 0 || got.Advice(Window{}) != WaterLower {
		t.Errorf("%+v", got)
	}
}

// On a plot that is kept under water the grower lets in what is lost. Measured rain adds to it, normal rain does not.
func TestRainOnKeptWater(t *testing.T) {
	s := thirsty(5)
	p := s.Plot.Planted
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].RainMM = 600
	}
	wantEqual(t, "mm, no rain measured", s.Water(p+20, Window{}).DepthMM, KeptDepthMM)
	s.Weather.Daily = Daily{From: p + 15, Days: []Measured{{28, 28, 40}, {28, 28, 0}, {28, 28, 0}, {28, 28, 20},
		{28, 28, 0}}}
	// 50 + 40 - 5 - 5 - 5 + 15 - 5 mm
	wantEqual(t, "mm, rain measured", s.Water(p+20, Window{}).DepthMM, 85)
	s.Plot.Flood = FloodMoist
	wantEqual(t, "mm on wet ground", s.Water(p+20, Window{}).DepthMM, 35)
}

func TestHoursOfInflow(t *testing.T) {
	for _, c := range []struct {
		name                      string
		area, inflow, loss, hours float64
		weak                      bool
	}{
		{"nothing lost meanwhile", 1000, 2, 0, 25_000 / 7200.0, false},
		// The inlet brings 7.2 mm an hour, the plot loses 0.5 mm: the water rises by 6.7 mm an hour.
		{"12 mm a day lost", 1000, 2, 12, 25 / 6.7, false},
		{"as much comes as goes", 3600, 0.5, 12, 0, true},
		{"less comes than goes", 3600, 0.4, 12, 0, true},
		{"ten days", 3600, 0.5 + 25/240.0 + 1e-9, 12, 240, false},
		{"more than ten days", 3600, 0.5 + 24/240.0, 12, 0, true},
		{"area not told", 0, 2, 12, 0, false},
		{"inflow not told", 1000, 0, 12, 0, false},
	} {
		o := Water{BringMM: 25, ETcMM: c.loss / 3, LossMM: c.loss * 2 / 3}
		o.letIn(c.area, c.inflow)
		if !near(o.InflowHours, c.hours, 1e-4) || o.InletWeak != c.weak {
			t.Errorf("%s: %g h, weak %t; want %g, %t", c.name, o.InflowHours, o.InletWeak, c.hours, c.weak)
		}
	}
	enough := Water{ETcMM: 5, LossMM: 6}
	if enough.letIn(1e6, 0.1); enough.InletWeak || enough.InflowHours != 0 {
		t.Errorf("nothing to bring, and %+v", enough)
	}
}

func TestLossBySoil(t *testing.T) {
	s := busySeason()
	for soil, want := range map[Soil]float64{SoilUnknown: 6, SoilHeavy: 3, SoilMedium: 6, SoilLight: 8} {
		s.Plot.Soil = soil
		wantEqual(t, "mm lost in %s soil", s.Water(s.Plot.Planted+27, Window{}).LossMM, want, soil)
	}
	local := NewLocal()
	local.Figures.LossLightMM = 11
	s.Plot.Soil, s.Local = SoilLight, &local
	wantEqual(t, "mm lost in the place's own light soil", s.Water(s.Plot.Planted+27, Window{}).LossMM, 11)
}

// A measured storm fills the plot up to the bund. A measured drought dries the plot, although normal rain would keep it
// wet.
func TestWaterFollowsMeasuredRain(t *testing.T) {
	s := thirsty(5)
	p := s.Plot.Planted
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].RainMM = 225 // the effective rain is 155 mm, which is 5 mm on each of 31 days
	}
	s.Sightings = []Sighting{{On: p + 14, Water: StandsFingers}}
	if got := s.Water(p+20, Window{}).DepthMM; got != 30 { // July has 31 days
		t.Errorf("by the normals %g mm stand, want 30", got)
	}
	dry := []Measured{{28, 28, 0}, {28, 28, 0}, {28, 28, 0}, {28, 28, 0}, {28, 28, 0}, {28, 28, 0}}
	s.Weather.Daily = Daily{From: p + 14, Days: dry}
	if w := s.Water(p+20, Window{}); w.DepthMM != 0 || w.SoilMM != 0 {
		t.Errorf("after six dry days: %+v", w)
	}
	wet := slices.Clone(dry)
	wet[3].RainMM = 200
	s.Weather.Daily.Days = wet
	wantEqual(t, "mm after a storm", s.Water(p+20, Window{}).DepthMM, BundMM-10)
	// Normal rain is used for days without measured rain.
	for i := range wet {
		wet[i].RainMM = math.NaN()
	}
	wantEqual(t, "mm, rain not measured", s.Water(p+20, Window{}).DepthMM, 30)
}

func TestWaterNotShortWhereRainKeepsUp(t *testing.T) {
	s := thirsty(5)
	for i := range s.Weather.Normals {
		s.Weather.Normals[i].RainMM = 300
	}
	if got := s.Water(s.Plot.Planted+15, Window{}); got.ShortOn != 0 {
		t.Errorf("short on %s: %+v", got.ShortOn, got)
	}
}

func TestWaterDepths(t *testing.T) {
	s := thirsty(10)
	p, ripe := s.Plot.Planted, s.Plot.harvest()
	depths := func(from, to, today Day) []float64 { return s.WaterDepths(from, to, today) }
	check := func(what string, got, want []float64) {
		t.Helper()
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	check("flood kept", depths(p-2, p+8, p+2), []float64{-1, -1, 50, 50, 50, 40, 30, 20, 10, 0, 0})
	s.Sightings = []Sighting{{On: p + 1, Water: StandsHand}, {On: p + 3, Water: StandsFingers}}
	check("seen", depths(p, p+7, p+5), []float64{-1, -1, -1, 30, 20, 10, 0, 0})
	check("a day before it was seen", depths(p, p+4, p+2), []float64{-1, 80, 70, 60, 50})
	check("a part", depths(p+4, p+5, p+5), []float64{20, 10})
	check("a day", depths(p+4, p+4, p+5), []float64{20})
	check("no days", depths(p+4, p+3, p+5), nil)
	check("about harvest", depths(ripe-1, ripe+1, p+5), []float64{0, 0, -1})
	check("not planted yet", depths(p-3, p+2, p-3), []float64{-1, -1, -1, 50, 40, 30})
	check("after harvest", depths(ripe+1, ripe+2, ripe+9), []float64{-1, -1})
}

// Computed by hand with the two formulas of the training manual; the manual has them in Table 6 (from memory).
func TestEffectiveRain(t *testing.T) {
	for _, c := range []struct{ month, want float64 }{
		{20, 2}, {50, 20}, {70, 32}, {80, 39}, {100, 55}, {150, 95}, {200, 135},
		{75, 35}, {0, 0}, {16, 0}, {-5, 0}, {math.NaN(), 0},
	} {
		wantNear(t, "effective rain", EffectiveRainMM(c.month), c.want, 1e-9)
	}
}

func TestEffectiveRainProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0, 2000).Draw(t, "rain")
		more := p + rapid.Float64Range(0, 100).Draw(t, "more")
		pe := EffectiveRainMM(p)
		if pe < 0 || pe > p {
			t.Errorf("of %g mm %g count", p, pe)
		}
		if EffectiveRainMM(more) < pe-1e-9 {
			t.Errorf("of %g mm %g count, of %g mm %g", p, pe, more, EffectiveRainMM(more))
		}
	})
}

// Measured rain counts fully, normal rain only with its effective part: over a month, the sum is the effective rain of
// the month.
func TestRainOfTheBalance(t *testing.T) {
	w := Weather{Normals: monsoonYear}
	june := Date(2026, 6, 1)
	w.Daily = Daily{From: june + 3, Days: []Measured{{22, 30, 40}, {22, 30, math.NaN()}, Unmeasured(),
		{math.NaN(), math.NaN(), 0}, {22, 30, -7}}}
	even := EffectiveRainMM(240) / 30
	rain := waterRain{w: &w, next: june}
	for i, want := range []float64{even, even, even, 40, even, even, 0, 0, even} {
		mm, measured := rain.on(june + Day(i))
		wantNear(t, "rain of "+(june+Day(i)).String(), mm, want, 1e-12)
		wantEqual(t, "measured on "+(june+Day(i)).String(), measured, want != even)
	}

	w.Daily = Daily{}
	from, to := Date(2027, 11, 20), Date(2028, 3, 1) // this range contains the end of a year and a leap day
	rain = waterRain{w: &w, next: from}
	sum := 0.0
	for d := from; d < to; d++ {
		mm, _ := rain.on(d)
		sum += mm
	}
	wantNear(t, "rain from 20 November to 29 February", sum,
		EffectiveRainMM(110)*11/30+EffectiveRainMM(40)+EffectiveRainMM(30)+EffectiveRainMM(20), 1e-9)

	// Days before 1970 are negative numbers.
	old := Date(1950, 6, 10)
	rain = waterRain{w: &w, next: old}
	mm, _ := rain.on(old)
	wantNear(t, "rain of 1950", mm, even, 1e-12)
}
