package engine

import (
	"testing"
	"time"
)

func TestShadeAndLeaf(t *testing.T) {
	// Computed by hand: LAI = -ln(1-f)/k.
	for _, c := range []struct{ shade, k, lai float64 }{
		{0.95, 0.4, 7.49}, {0.95, 0.5, 5.99}, {0.95, 0.6, 4.99},
		{0.90, 0.4, 5.76}, {0.90, 0.5, 4.61}, {0.90, 0.6, 3.84},
		{0.85, 0.5, 3.79}, {0, 0.5, 0},
	} {
		wantNear(t, "shade %g at k %g: LAI", LeafForShade(c.shade, c.k), c.lai, 0.005, c.shade, c.k)
	}
	for _, c := range []struct{ lai, k, shade float64 }{{3, 0.4, 0.699}, {3, 0.5, 0.777}, {3, 0.6, 0.835},
		{0, 0.5, 0}} {
		wantNear(t, "LAI %g at k %g: shade", ShadeOfLeaf(c.lai, c.k), c.shade, 0.0005, c.lai, c.k)
	}
}

func TestRowsClose(t *testing.T) {
	// Computed with the canopy constants for seedlings of 18 days; they agree with the usual 40-45 days (20x20 cm) and
	// 45-55 days (25x25 cm), from memory. Below the ceiling only the mean temperature matters.
	for _, c := range []struct {
		name       string
		row, hill  float64
		seedlings  int
		minC, maxC float64
		days       Day
	}{
		{"20x20, two seedlings, 27.5 °C", 20, 20, 2, 23, 32, 43},
		{"the same without day and night", 20, 20, 2, 27.5, 27.5, 43},
		{"25x25, two", 25, 25, 2, 23, 32, 46},
		{"25x25, one", 25, 25, 1, 23, 32, 51},
		{"20x10, two", 20, 10, 2, 23, 32, 38},
		{"20x20, two, 22 °C", 20, 20, 2, 17, 27, 57},
		{"hills not told: taken as square", 20, 0, 2, 23, 32, 43},
	} {
		s := Season{Plot: Plot{Method: Transplanted, Planted: Date(2026, 7, 1), SeedlingAgeDays: 18,
			RowSpacingCM: c.row, HillSpacingCM: c.hill, SeedlingsPerHill: c.seedlings}, Weather: Steady(c.minC, c.maxC)}
		plan := must(s.Plan(s.Plot.Planted))
		if got := plan.Closure.RowsClose - s.Plot.Planted; !near(float64(got), float64(c.days), 1) {
			t.Errorf("%s: day %d, want %d within one", c.name, got, c.days)
		}
		before, on := s.Shade(plan.Closure.RowsClose-1), s.Shade(plan.Closure.RowsClose)
		if before >= ClosedShade || on < ClosedShade {
			t.Errorf("%s: shade %.3f the day before and %.3f on the day", c.name, before, on)
		}
	}
}

func TestShadeGrows(t *testing.T) {
	for _, method := range []Method{Transplanted, RowSown, Broadcast} {
		s := Season{Plot: Plot{Method: method, Planted: Date(2026, 7, 1), RowSpacingCM: 20, HillSpacingCM: 20},
			Weather: Steady(23, 32)}
		p := s.Plot.Planted
		wantEqual(t, "%s: shade before planting", s.Shade(p-1), 0, method)
		last := -1.0
		for d := p - 2; d < p+horizon+20; d++ {
			shade := s.Shade(d)
			if shade < last || shade < 0 || shade > 1 {
				t.Errorf("%s, day %d: shade %g after %g", method, d-p, shade, last)
			}
			last = shade
		}
		if last < ClosedShade {
			t.Errorf("%s: never closes, %g", method, last)
		}
	}
	// With the highest leaf area index, 6, and k = 0.5, a crop shades 1 - exp(-3) = 0.950 of the ground.
	s := Season{Plot: square(20), Weather: Steady(23, 32)}
	wantNear(t, "full canopy shades", s.Shade(s.Plot.Planted+200), 0.950, 0.001)
}

func TestWhatEndsTheSeason(t *testing.T) {
	day := square(20).Planted
	for _, c := range []struct {
		name      string
		plot      Plot
		tool      Tool
		sightings []Sighting
		last      Day // last day of the tool, in days after planting
		why       EndWhy
	}{
		{"the model's rows", square(20), Tool{WidthCM: 15}, nil, 42, EndRowsClose},
		{"wide rows: the plants grow too big first", func() Plot {
			p := square(25)
			p.SeedlingsPerHill = 1
			return p
		}(), Tool{WidthCM: 15}, nil, 49, EndPlantsBig},
		{"a variety of 100 days: panicles form before the rows close", ripening(100), Tool{WidthCM: 15}, nil, 23,
			EndPanicle},
		{"the rows close before panicles form, seen or not", ripening(100), Tool{WidthCM: 15},
			[]Sighting{{On: day + 20, Rows: RowsClosed}}, 19, EndSeen},
		{"rows seen open do not let the tool in after panicles form", ripening(100), Tool{WidthCM: 15},
			[]Sighting{{On: day + 22, Rows: RowsOpen}}, 23, EndPanicle},
		{"the grower sees them closed", square(20), Tool{WidthCM: 15}, []Sighting{{On: day + 36, Rows: RowsClosed}},
			35, EndSeen},
		{"the grower sees them open: five days more", square(20), Tool{WidthCM: 15},
			[]Sighting{{On: day + 41, Rows: RowsOpen}}, 45, EndRowsClose},
		{"seen open early changes nothing", square(20), Tool{WidthCM: 15}, []Sighting{{On: day + 20, Rows: RowsOpen}},
			42, EndRowsClose},
		{"seen open, then closed", square(20), Tool{WidthCM: 15},
			[]Sighting{{On: day + 41, Rows: RowsOpen}, {On: day + 43, Rows: RowsClosed}}, 42, EndSeen},
		{"seen closed, then open after all", square(20), Tool{WidthCM: 15},
			[]Sighting{{On: day + 36, Rows: RowsClosed}, {On: day + 38, Rows: RowsOpen}}, 42, EndRowsClose},
		{"seen closed on the day on which the plants are too big", square(20), Tool{WidthCM: 15},
			[]Sighting{{On: day + 50, Rows: RowsClosed}}, 49, EndSeen},
		{"seen open for ever: plants are too big all the same", square(20), Tool{WidthCM: 15},
			[]Sighting{{On: day + 49, Rows: RowsOpen}}, 49, EndPlantsBig},
		{"no tool fits: the last hand weeding", square(18), Tool{WidthCM: 15}, nil, 42, EndHandDates},
		{"scattered seed: the last hand weeding", Plot{Method: Broadcast, Planted: day}, Tool{}, nil, 52, EndHandDates},
	} {
		s := Season{Plot: c.plot, Tool: c.tool, Sightings: c.sightings, Weather: Steady(23, 32)}
		s.Plot.DurationDays = or(s.Plot.DurationDays, 135)
		got := s.closure()
		if got.LastToolDay-day != c.last || got.Why != c.why {
			t.Errorf("%s: day %d, %s; want %d, %s", c.name, got.LastToolDay-day, got.Why, c.last, c.why)
		}
	}
}

func ripening(days int) Plot {
	p := square(20)
	p.DurationDays = days
	return p
}

func TestPlantsTooBig(t *testing.T) {
	// PlantsBigHeat was chosen as 50 days at 27.5 °C, later than the 40 days at which a tool of low clearance failed
	// (Wan Ishak et al. 2015). In a cooler place the day is later.
	for _, c := range []struct {
		name       string
		minC, maxC float64
		min, max   Day
	}{{"27.5 °C", 23, 32, 49, 51}, {"30 °C", 26, 34, 43, 46}, {"22 °C", 17, 27, 68, 71}} {
		s := Season{Plot: square(20), Weather: Steady(c.minC, c.maxC)}
		if got := s.closure().PlantsBig - s.Plot.Planted; got < c.min || got > c.max {
			t.Errorf("%s: day %d, want %d to %d", c.name, got, c.min, c.max)
		}
	}
}

// At 17 °C no variety ripens 120 days after sowing: the grower told the days of a warm place. Counted back from such a
// harvest, panicles would form while the plants root. The harvest moves as well.
func TestADurationOfAWarmPlaceInAColdOne(t *testing.T) {
	last := Day(0)
	for _, c := range []struct {
		meanC    float64
		from, to Day // days after planting
	}{
		{27, 37, 43}, // 60.2 days before harvest, which is 102 days after planting (computed from PanicleToRipeHeat)
		{19, 40, 80}, // IRRI varieties: 77 to 94 days from emergence, 66 to 85 after planting; a short variety earlier
		{17, 50, 105},
	} {
		s := Season{Plot: Plot{Method: Transplanted, Planted: 100, RowSpacingCM: 25, HillSpacingCM: 25,
			SeedlingAgeDays: 18, DurationDays: 120}, Weather: Steady(c.meanC, c.meanC)}
		panicle := s.PanicleInitiation()
		if d := panicle - 100; d < c.from || d > c.to {
			t.Errorf("%v °C: panicles form on day %d after planting, want %d to %d", c.meanC, d, c.from, c.to)
		}
		harvest := s.harvestFrom(panicle)
		if d := harvest - panicle; d < 52 { // 52.9 days at 30 °C, and more where it is cooler
			t.Errorf("%v °C: harvest %d days after panicle initiation", c.meanC, d)
		}
		if harvest < last {
			t.Errorf("%v °C: harvest on day %d, in a warmer place on day %d", c.meanC, harvest-100, last-100)
		}
		last = harvest
	}
}

// Weeds that seed or shade the rice are pulled by hand where the tool must stop before the rows close, to the end of
// the critical period: 57 days after transplanting (John, Ram & Pusparani 2024), 58 after sowing (Chauhan & Johnson
// 2011).
func TestHandPullingAfterTheTool(t *testing.T) {
	season := func(rowCM float64, duration int) Season {
		p := flooded(rowCM)
		p.HillSpacingCM, p.DurationDays = rowCM, duration
		return Season{Plot: p, Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	}
	short, wide, usual := season(20, 90), season(45, 120), season(20, 120)
	cold := wide
	cold.Weather = Steady(20, 28) // rows close after the critical period
	for _, c := range []struct {
		name string
		s    Season
		why  EndWhy
	}{
		{"a short variety", short, EndPanicle}, {"wide rows", wide, EndPanicle}, {"cooler", cold, EndPanicle},
		{"rows that close first", usual, EndRowsClose},
	} {
		end := c.s.closure()
		wantEqual(t, "%s: end", end.Why, c.why, c.name)
		want := min(end.RowsClose-1, c.s.Plot.Planted+57)
		if c.why == EndRowsClose {
			want = 0
		}
		wantEqual(t, "%s: pull until", end.PullUntil, want, c.name)
	}
	wide.Plot.DurationDays = 150
	if end := wide.closure(); end.Why != EndPlantsBig || end.PullUntil != end.RowsClose-1 {
		t.Errorf("plants too big on %s in wide rows: %+v", end.PlantsBig, end)
	}
	short.ClosedOn = short.Plot.Planted + 10
	wantEqual(t, "closed by the grower: pull until", must(short.Plan(short.ClosedOn)).Closure.PullUntil, 0)
	short.Sightings = []Sighting{{On: short.Plot.Planted + 14, Rows: RowsClosed}}
	wantEqual(t, "rows seen closed: pull until", short.closure().PullUntil, 0)
	short.Plot.Method = Broadcast
	wantEqual(t, "by hand: pull until", short.closure().PullUntil, 0)
}

// That deep planting delays the crop is common practice, no source. Weeds do not follow the seedlings' depth.
func TestSeedlingsPlantedDeep(t *testing.T) {
	for _, meanC := range []float64{19, 23, 27.5, 31} {
		s := Season{Plot: Plot{Method: Transplanted, Planted: Date(2026, time.May, 4), RowSpacingCM: 25,
			HillSpacingCM: 25},
			Tool: Tool{WidthCM: 15}, Weather: Steady(meanC-5, meanC+5)}
		deep := s
		deep.Plot.Deep = true
		flat, late := must(s.Plan(s.Plot.Planted)), must(deep.Plan(s.Plot.Planted))
		// A leaf of rice takes 83 degree-days above 9 °C (CERES-Rice, RICER048.CUL): 8 days at 19 °C, 4 at 31.
		apart := int(late.Closure.RowsClose - flat.Closure.RowsClose)
		leaf := 83 / (min(meanC, HeatCeilingC) - 9)
		if float64(apart) < leaf-2 || float64(apart) > leaf+2 {
			t.Errorf("at %g °C rows close %d days later, a leaf takes %.1f", meanC, apart, leaf)
		}
		if late.Next.Opens != flat.Next.Opens {
			t.Errorf("at %g °C the first window opens on %s, with flat planting on %s", meanC, late.Next.Opens,
				flat.Next.Opens)
		}
	}
}
