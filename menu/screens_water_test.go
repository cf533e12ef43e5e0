package menu

import (
	"errors"
	"testing"

	"rowbell/engine"
)

// wet returns the phone of a grower with one plot, who has dialled the menu. The plot has 600 m2 under water, and was
// planted this many days ago.
func wet(t testing.TB, days engine.Day) *phone {
	t.Helper()
	s := engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: wednesday - days, RowSpacingCM: 20,
		HillSpacingCM: 20, AreaM2: 600, Flood: engine.FloodKept},
		Tool: engine.Tool{WidthCM: 15}, Weather: engine.Steady(22, 32),
		Since: wednesday - days}
	s.Weather.LatitudeDeg = 15
	return caller(t, bookOf(s))
}

func TestWaterIsToldAndCorrected(t *testing.T) {
	p := wet(t, 11) // the plot was planted 11 days ago, and its window opens tomorrow
	p.enter("2", "4")
	// The grower keeps 5 cm of water. The plot loses about 10 mm a day: 4 by evapotranspiration and 6 by seepage.
	p.wants("Plot 1: about 5 cm of water by our count. On Thu 26 Nov about 4 cm. That is enough for weeding.")
	p.enter("1", "1")
	if s := p.b.Seasons[1].Sightings; len(s) != 1 || s[0].Water != engine.StandsDry ||
		s[0].Leaves != engine.LeavesUnknown {
		t.Fatalf("%+v", s)
	}
	// 4 cm of water and the 4 cm that dry soil has lost in two days, on 600 m2, are about 48 m3.
	p.wants("no water by our count. None on Fri 27 Nov.",
		"To weed, let in about 8 cm, 48 m3. Dry soil takes up 4 cm of it.")
	if p.b.Seasons[1].Sightings[0].On != wednesday {
		t.Error("not seen today")
	}
}

// A grower who never spoke of the water is asked, and then told what follows.
func TestWaterIsAskedFirst(t *testing.T) {
	for entry, says := range map[string]string{
		"2": "Plot 1: no water by our count. None on Fri 27 Nov. To weed, let in about 6 cm, 36 m3. Dry soil takes",
		"3": "Plot 1: about 3 cm of water by our count. On Thu 26 Nov about 2 cm. To weed, let in about 2 cm",
		"4": "Plot 1: about 8 cm of water by our count. On Thu 26 Nov about 7 cm. Wait until it stands at 3-5 cm",
	} {
		p := wet(t, 11)
		edit(p.b, 1, func(s *engine.Season) { s.Plot.Flood = engine.FloodUnknown })
		p.enter("2", "4").wants("How does the water stand now?")
		p.enter(entry).wants(says)
	}
}

// If the window closes before the water has fallen, the grower is told to let it down. Far ahead, the screen does not
// say what will stand.
func TestWaterTooDeepAndFarAhead(t *testing.T) {
	p := wet(t, 15)
	edit(p.b, 1, func(s *engine.Season) {
		s.Sightings = []engine.Sighting{{On: wednesday, Water: engine.StandsHand}}
	})
	p.enter("2", "4").wants("about 8 cm of water by our count. Let it down to 3-5 cm before you weed.")
	wet(t, 1).enter("2", "4").wants("about 5 cm of water by our count. Under 2 cm about", "For weeding have 3-5 cm.")
}

// The text on the first day of a window says so if the water is too deep.
func TestOpenInDeepWater(t *testing.T) {
	for days, says := range map[engine.Day]string{
		13: "Plot 1: too much water. Wait until it is 3-5 cm, then weed if most have 2-3 leaves, by Sat 28 Nov.",
		15: "Plot 1: too much water. Let it down to 3-5 cm, then weed if most have 2-3 leaves, by Thu 26 Nov.",
	} {
		s := wet(t, days).b.Seasons[1]
		s.Sightings = []engine.Sighting{{On: wednesday - 1, Water: engine.StandsHand}}
		plan := must(s.Windows(wednesday))
		b := Bell{No: 1, Season: s, Plan: plan,
			Reminder: engine.Reminder{Kind: engine.KindOpen, Window: plan.Next, On: wednesday}}
		if _, err := newMenu().Ring("en", b, b); !errors.Is(err, ErrApart) {
			t.Errorf("two plots with too much water: %v", err)
		}
		out := must(newMenu().Ring("en", b))
		if want := says + " The teeth cut. 1 done, 2 not yet, 3 too big."; out.Text != want {
			t.Errorf("%q, want %q", out.Text, want)
		}
	}
}

func TestInletGivesHours(t *testing.T) {
	p := wet(t, 12).enter("2", "4", "1", "2", "3", "10 x")
	p.wants("Not 10 x. Type litres and seconds")
	p.enter("10*5") // 10 l in 5 s is 2 l/s: 24 m3 take 3 h 20 min, and the plot loses water in that time
	p.wants("24 m3: 3 h")
	if ls := p.b.Seasons[1].Plot.InflowLS; ls != 2 {
		t.Errorf("%g l/s", ls)
	}
	p.enter("3", "1*90") // 1 l in 90 s is 0.011 l/s; the plot loses 10 mm a day, which is 0.07 l/s
	p.wants("The inlet is too weak")
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
	// and 7.7 h both ways. By hand 600 m2 take 12 h (engine.HandHoursPerHa, 200 h/ha). Eight weedings of ten take
	// 0.527 to 1.898 times these hours.
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
	p.enter("9").wants("days, start Fri 27 Nov. It may take longer.")
}

func TestWaitingIsARangeAndNoPromise(t *testing.T) {
	p := wet(t, 18).enter("2", "5", "3")
	p.wants("of 100 bags", "no promise")
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
	p.wants("Plot 1: 1 weeding, 1 at the right time.", "5 h logged.", "About 7 h less than by hand.")
	p.enter("00", "2", "6", "5", "1").wants("Plot 1 is closed.", "About 7 h less than by hand.")
	if len(p.b.Seasons) != 0 {
		t.Error("it is still open")
	}
}
