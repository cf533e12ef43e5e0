package circle

import (
	"slices"
	"testing"
	"time"

	"rowbell/engine"
)

// season returns a transplanted plot of 600 m2 in squares of 25 cm at 28 °C, and its planting day.
func season() (engine.Season, engine.Day) {
	planted := engine.Date(2026, time.November, 3)
	return engine.Season{
		Plot: engine.Plot{Method: engine.Transplanted, Planted: planted, RowSpacingCM: 25, HillSpacingCM: 25,
			AreaM2: 600, Flood: engine.FloodKept},
		Weather: engine.Steady(24, 32),
	}, planted
}

// plotNeeds are changes of season, and the tool-days that the plot then needs.
//
// By ASAE EP496 (see engine.FieldCapacity) a tool pushed at 1.2 km/h with an efficiency of 0.65 in rows of 25 cm weeds
// 0.0195 ha an hour: 600 m2 take 3.08 h along, 6.15 h along and across.
var plotNeeds = []struct {
	name         string
	change       func(*engine.Season)
	crossed      bool
	need, oneWay []int
}{
	{"one way", func(*engine.Season) {}, false, []int{1, 0, 1, 1}, []int{1, 0, 1, 1}},
	{"crossed", func(*engine.Season) {}, true, []int{2, 0, 2, 2}, []int{1, 0, 1, 1}},
	{"crossed, not square", func(s *engine.Season) { s.Plot.HillSpacingCM = 15 }, true,
		[]int{1, 0, 1, 1}, []int{1, 0, 1, 1}},
	{"three times the plot", func(s *engine.Season) { s.Plot.AreaM2 = 1800 }, true,
		[]int{4, 0, 4, 4}, []int{2, 0, 2, 2}},
	{"three hours a day", func(s *engine.Season) { s.Home.HoursADay = 3 }, false,
		[]int{2, 0, 2, 2}, []int{2, 0, 2, 2}},
	{"two take turns of three hours", func(s *engine.Season) { s.Home.HoursADay, s.Home.People = 3, 2 }, false,
		[]int{1, 0, 1, 1}, []int{1, 0, 1, 1}},
	{"two push two tools", func(s *engine.Season) {
		s.Home = engine.Household{HoursADay: 3, People: 2, Tools: 2}
	}, false, []int{2, 0, 2, 2}, []int{2, 0, 2, 2}},
	{"half of it weeded", func(s *engine.Season) {
		s.Plot.AreaM2 = 1800
		w := s.Plot.Planted + 14
		s.Passes = []engine.Pass{{On: w, With: engine.ByTool, Share: 0.5}}
	}, true, []int{2, 0, 2, 2}, []int{1, 0, 1, 1}},
	// 2200 m2 take 11.3 h in rows of 25 cm, and 12.3 h in rows of 23 cm: across, after a pass along.
	{"across", func(s *engine.Season) {
		s.Plot.AreaM2, s.Plot.HillSpacingCM = 2200, 23
		s.Passes = []engine.Pass{{On: s.Plot.Planted + 14, With: engine.ByTool, Way: engine.Along}}
	}, false, []int{3, 0, 3, 3}, []int{3, 0, 3, 3}},
	{"two tools, people not told", func(s *engine.Season) { s.Plot.AreaM2, s.Home.Tools = 1000, 2 }, false,
		[]int{1, 0, 1, 1}, []int{1, 0, 1, 1}},
	// 800 m2 take 4.1 h; nine passes that took twice the usual hours make it 7.3 (see engine.Pace).
	{"a slow household", func(s *engine.Season) {
		slow := engine.Worked{With: engine.ByTool, Way: engine.Along, AreaM2: 1950, RowCM: 25, PersonHours: 20}
		s.Plot.AreaM2, s.Home.Worked = 800, slices.Repeat([]engine.Worked{slow}, 9)
	}, false, []int{2, 0, 2, 2}, []int{2, 0, 2, 2}},
	{"ten hectares", func(s *engine.Season) { s.Plot.AreaM2 = 1e5 }, true,
		[]int{MaxNeed, 0, MaxNeed, MaxNeed}, []int{MaxNeed, 0, MaxNeed, MaxNeed}},
	{"no area", func(s *engine.Season) { s.Plot.AreaM2 = 0 }, true, []int{1, 0, 1, 1}, []int{1, 0, 1, 1}},
	{"scattered", func(s *engine.Season) { s.Plot.Method = engine.Broadcast }, true,
		[]int{0, 0, 0, 0}, []int{0, 0, 0, 0}},
}

func TestPlotOf(t *testing.T) {
	tools := []engine.Tool{{WidthCM: 15}, {WidthCM: 21}, {WidthCM: 18, MaxWidthCM: 25}, {WidthCM: 15}}
	for _, c := range plotNeeds {
		s, planted := season()
		c.change(&s)
		today := planted + 8
		if len(s.Passes) > 0 {
			today = planted + 15
		}
		w, err := PlotOf(s, today, tools, c.crossed)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if !slices.Equal(w.Need, c.need) || !slices.Equal(w.OneWay, c.oneWay) {
			t.Errorf("%s: need %v and one way %v, want %v and %v", c.name, w.Need, w.OneWay, c.need, c.oneWay)
		}
		s.Tool = tools[0]
		plan, err := s.Windows(today)
		if err != nil {
			t.Fatal(err)
		}
		if w.Days.Window != plan.Next || w.Opens != plan.Next.Opens || w.Closes != plan.Next.Closes ||
			w.Until < w.Closes || w.Days.With == engine.ByTool && len(w.Chance) != int(w.Closes-w.Opens)+1 {
			t.Errorf("%s: %+v, and the plan has %+v", c.name, w, plan.Next)
		}
	}
}

// The tool that the grower named does not count: the windows are those of the tools of the circle.
func TestPlotOfTakesTheToolsOfTheCircle(t *testing.T) {
	s, planted := season()
	s.Tool = engine.Tool{WidthCM: 30} // too wide
	w, err := PlotOf(s, planted+8, []engine.Tool{{WidthCM: 30}, {WidthCM: 15}}, false)
	if err != nil || w.Days.With != engine.ByTool || !slices.Equal(w.Need, []int{0, 1}) {
		t.Errorf("%+v, %v", w, err)
	}
	want := []engine.Verdict{engine.FitTooWide, engine.FitGood}
	if !slices.Equal(w.Fits, want) {
		t.Errorf("fits %v, want %v", w.Fits, want)
	}
	if w.HandHours != engine.HandHoursPerHa*600/1e4 { // the engine's figure for weeding by hand
		t.Errorf("%g hours by hand", w.HandHours)
	}
	if w, err = PlotOf(s, planted+8, []engine.Tool{{WidthCM: 30}}, false); err != nil ||
		w.Days.With != engine.ByHand || w.Need[0] != 0 || w.Chance != nil {
		t.Errorf("no tool suits: %+v, %v", w, err)
	}
	if _, err = PlotOf(s, planted+8, []engine.Tool{{WidthCM: 300}}, false); err == nil {
		t.Error("a tool of 3 m is taken")
	}
	s.Plot.RowSpacingCM = 0
	if _, err = PlotOf(s, planted+8, nil, false); err == nil {
		t.Error("rows without a spacing are taken")
	}
}
