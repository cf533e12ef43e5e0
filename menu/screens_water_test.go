package menu

import (
	"testing"

	"rowbell/engine"
)

// wet returns the phone of a grower with one plot, who has dialled the menu. The plot has 600 m2 under water, and was
// planted this many days ago.
func wet(t testing.TB, days engine.Day) *phone {
	t.Helper()
	s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: wednesday - days, RowSpacingCM: 20,
		HillSpacingCM: 20, AreaM2: 600}, Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(22, 32),
		Since: wednesday - days}
	s.Weather.LatitudeDeg = 15
	return caller(t, bookOf(s))
}

func TestWaterIsToldAndCorrected(t *testing.T) {
	p := wet(t, 8) // the plot was planted 8 days ago, and its window opens in four days
	p.enter("2", "4")
	// For a plot that is kept flooded the model assumes 5 cm of water today. The plot loses about 10 mm a day: 4 by
	// evapotranspiration and 6 by seepage (the engine's figures). So on 29 November, when the window opens, 1 cm is
	// left.
	p.wants("Plot 1: about 5 cm of water by our count.", "Let in about", "m3")
	p.enter("1", "1")
	if s := p.b.Seasons[1].Sightings; len(s) != 1 || s[0].Water != engine.StandsDry ||
		s[0].Leaves != engine.LeavesUnknown {
		t.Fatalf("%+v", s)
	}
	// 5 cm of water on 600 m2 are 30 m3, the amount that a dry plot needs.
	p.wants("no water by our count", "Let in about 5 cm, 30 m3.")
	if p.b.Seasons[1].Sightings[0].On != wednesday {
		t.Error("not seen today")
	}
}

func TestInletGivesHours(t *testing.T) {
	p := wet(t, 12).enter("2", "4", "1", "2", "3", "10 x")
	p.wants("Not 10 x. Type litres and seconds")
	p.enter("10*5") // 10 l in 5 s is 2 l/s: 30 m3 take 4 h 10 min, and the plot loses water in that time
	p.wants("30 m3: 4 h")
	if ls := p.b.Seasons[1].Plot.InflowLS; ls != 2 {
		t.Errorf("%g l/s", ls)
	}
	p.enter("3", "1*90") // 1 l in 90 s is 0.011 l/s; the plot loses 10 mm a day, which is 0.07 l/s
	p.wants("the inlet is too weak")
}

func TestSoilChangesTheCount(t *testing.T) {
	p := wet(t, 8).enter("2", "4", "2", "3")
	light := p.last.Text
	p.enter("2", "1")
	if heavy := p.last.Text; heavy == light {
		t.Errorf("clay and sand hold the same: %s", heavy)
	}
	if s := p.b.Seasons[1].Plot.Soil; s != engine.SoilHeavy {
		t.Errorf("soil %s", s)
	}
}

func TestHoursAndHands(t *testing.T) {
	p := wet(t, 16).enter("2", "5", "1")
	// 600 m2 at 1.2 km/h, with rows 0.20 m apart and a field efficiency of 0.65 (both from memory), take 3.8 h one way
	// and 7.7 h both ways. By hand 600 m2 take 12 h (engine.HandHoursPerHa, 200 h/ha). Eight weedings of ten take 0.527 to
	// 1.898 times these hours.
	p.wants("8 of 10 times: weeder one way 2-7 h", "Both ways 4-15 h", "By hand 6-23 h, 2-3 times a season",
		"Log hours and we use your pace.")
	p.enter("0", "2", "1", "2").wants("How many weeders can you use on a day")
	p.enter("21").wants("1 to 20")
	p.enter("1", "1.5")
	// The grower answered that two people weed 1.5 h a day each. The screen must show these numbers.
	p.wants("2 people, 1.5 h a day")
	if h := p.b.Home; h.People != 2 || h.HoursADay != 1.5 {
		t.Fatalf("%+v", h)
	}
	p.enter("1", "1", "2", "17").wants("17 hours? It must be 0.5 to 16.")
}

func TestYourPace(t *testing.T) {
	p := wet(t, 40)
	s := p.b.Seasons[1]
	for d := range engine.Day(2) {
		s.Passes = append(s.Passes,
			engine.Pass{On: wednesday - 24 + 12*d, With: engine.ByTool, Way: engine.Along, Hours: 8, People: 1,
				Left: engine.Few})
	}
	p.b.Seasons[1] = s
	p.dial("*123#").enter("2", "5", "1")
	// The grower's pace lies between the logged 8 h and the model's 3.8 h: 5.7 h, and 0.545 to 1.834 times that.
	p.wants("At your pace.", "one way 3-10 h")
}

// TestGang checks that ten people with three tools on 3 ha get one plan: people, tools, days, and the day to start.
func TestGang(t *testing.T) {
	p := wet(t, 10)
	edit(p.b, 1, func(s *engine.Season) { s.Plot.AreaM2 = 30_000 })
	p.enter("2", "5", "2", "1", "10", "3", "8")
	if h := p.b.Home; h.People != 10 || h.Tools != 3 || h.HoursADay != 8 {
		t.Fatalf("%+v", h)
	}
	p.wants("days with 10 people, 3 weeders, 8 h a day.", "In time: weeder on about", "the others by hand")
	p.lacks("gets done")
	p.enter("9").wants("days, start Fri 27 Nov; it may take longer.")
}

func TestWaitingIsARangeAndNoPromise(t *testing.T) {
	p := wet(t, 18).enter("2", "5", "3")
	p.wants("bags of 100", "no promise")
}

func TestWorkAsksForTheSize(t *testing.T) {
	p := wet(t, 16)
	edit(p.b, 1, func(s *engine.Season) { s.Plot.AreaM2 = 0 })
	p.enter("2", "5", "1").wants("Tell the size of the plot first.")
	p.enter("1", "600").wants("Noted: 600 m2.")
}

func TestSeasonSoFarAndClosing(t *testing.T) {
	p := wet(t, 40).enter("2", "6", "3")
	p.wants("Plot 1: no weeding is logged yet.")
	s := p.b.Seasons[1]
	s.Passes = []engine.Pass{{On: wednesday - 24, With: engine.ByTool, Way: engine.Along, Hours: 5, People: 1,
		Left: engine.Few}}
	p.b.Seasons[1] = s
	p.enter("00", "2", "6", "3")
	// Weeding 600 m2 once by hand takes 12 h (200 h/ha). 5 h were logged, so 7 h are saved.
	p.wants("Plot 1: 1 weeding, 1 in its days.", "5 h logged.", "About 7 h less than by hand.")
	p.enter("00", "2", "6", "5", "1").wants("Plot 1 is closed.", "About 7 h less than by hand.")
	if len(p.b.Seasons) != 0 {
		t.Error("it is still open")
	}
}
