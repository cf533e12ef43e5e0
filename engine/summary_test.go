package engine

import (
	"testing"

	"pgregory.net/rapid"
)

// hectare returns the season of a plot of one hectare at 28 °C. The first window is day 12 to 15 after planting. After
// a pass that left few weeds, the next window is 12 to 15 days after that pass.
func hectare(passes ...Pass) Season {
	s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	s.Plot.AreaM2 = 1e4
	for _, p := range passes {
		p.On += s.Plot.Planted
		s.Passes = append(s.Passes, p)
	}
	return s
}

func TestSummary(t *testing.T) {
	planted := square(20).Planted
	tool := func(on Day, hours float64, people int) Pass {
		return Pass{On: on, With: ByTool, Hours: hours, People: people, Left: Few}
	}
	hand := func(on Day, hours float64) Pass {
		return Pass{On: on, With: ByHand, Hours: hours, People: 1, Left: Few}
	}
	noArea := hectare(tool(16, 5, 2))
	noArea.Plot.AreaM2 = 0
	for _, c := range []struct {
		name   string
		season Season
		want   Summary
	}{
		{"nothing logged", hectare(), Summary{}},
		{"two passes in time", hectare(tool(12, 30, 2), tool(27, 50, 1)),
			Summary{Passes: 2, InWindow: 2, FirstDay: planted + 12, LastDay: planted + 27, Hours: 110, LoggedHours: 2,
				Rounds: 2, HandHours: 400, SavedHours: 290}},
		// The weed clock starts with the pass on day 11: the second window is day 23 to 26.
		{"a day early and a day late", hectare(tool(11, 0, 0), tool(27, 0, 0)),
			Summary{Passes: 2, FirstDay: planted + 11, LastDay: planted + 27, Rounds: 2, HandHours: 400}},
		{"pulled after the pass: one round", hectare(tool(13, 30, 2), hand(15, 25)),
			Summary{Passes: 2, ByHand: 1, InWindow: 1, FirstDay: planted + 13, LastDay: planted + 15, Hours: 85,
				LoggedHours: 2, Rounds: 1, HandHours: 200, SavedHours: 115}},
		{"hours told for half a round save nothing known", hectare(tool(13, 60, 1), hand(15, 0)),
			Summary{Passes: 2, ByHand: 1, InWindow: 1, FirstDay: planted + 13, LastDay: planted + 15, Hours: 60,
				LoggedHours: 1, Rounds: 1, HandHours: 200}},
		{"by hand alone saves nothing", hectare(hand(13, 200)), Summary{Passes: 1, ByHand: 1, InWindow: 1,
			FirstDay: planted + 13, LastDay: planted + 13, Hours: 200, LoggedHours: 1, Rounds: 1, HandHours: 200}},
		{"hours without people are not told", hectare(tool(13, 60, 0)),
			Summary{Passes: 1, InWindow: 1, FirstDay: planted + 13, LastDay: planted + 13, Rounds: 1, HandHours: 200}},
		{"the tool took longer", hectare(tool(13, 250, 1)), Summary{Passes: 1, InWindow: 1, FirstDay: planted + 13,
			LastDay: planted + 13, Hours: 250, LoggedHours: 1, Rounds: 1, HandHours: 200, SavedHours: -50}},
	} {
		wantEqual(t, "%s", c.season.Summary(planted+60), c.want, c.name)
	}
}

func TestThePlaceSetsTheHandHours(t *testing.T) {
	s := hectare(Pass{On: 16, With: ByTool, Hours: 60, People: 1})
	at := NewLocal()
	at.Figures.HandHoursPerHa = 300
	s.Local = &at
	if got := s.Summary(s.Plot.Planted + 60); got.HandHours != 300 || got.SavedHours != 240 {
		t.Errorf("%+v", got)
	}
}

func TestOwnPaceByHandChangesWhatIsSaved(t *testing.T) {
	s := hectare(Pass{On: 16, With: ByTool, Hours: 60, People: 1})
	usual := s.Summary(s.Plot.Planted + 60)
	for range 6 {
		s.Home.Worked = append(s.Home.Worked, Worked{With: ByHand, AreaM2: 1e4, RowCM: 20, PersonHours: 400})
	}
	slow := s.Summary(s.Plot.Planted + 60)
	if !near(slow.HandHours, 200*s.pace(ByHand).Factor, 1e-9) || slow.SavedHours <= usual.SavedHours ||
		slow.SavedHours != slow.HandHours-60 {
		t.Errorf("at the usual pace %+v, of one who takes twice as long %+v", usual, slow)
	}
}

func TestInWindowIsJudgedByWhatWasKnownTheDayBefore(t *testing.T) {
	saw := func(s Season, on Day, l Leaves) Season {
		s.Sightings = append(s.Sightings, Sighting{On: s.Plot.Planted + on, Leaves: l})
		return s
	}
	pass := func(on Day) Pass { return Pass{On: on, With: ByTool} }
	for _, c := range []struct {
		name   string
		season Season
		want   int
	}{
		{"seen ready the day before", saw(hectare(pass(11)), 10, TwoThree), 1},
		{"seen ready only later", saw(hectare(pass(11)), 12, TwoThree), 0},
		{"seen too big on day 8, the tool on day 9", saw(hectare(pass(9)), 8, FourPlus), 0},
		{"the tool before the plants have rooted", hectare(pass(9)), 0},
		{"on the very day the rows may be entered", saw(hectare(pass(10)), 8, TwoThree), 1},
	} {
		wantEqual(t, "%s: passes in the window", c.season.Summary(c.season.Plot.Planted+60).InWindow, c.want, c.name)
	}
	closed := hectare(pass(13))
	closed.ClosedOn = closed.Plot.Planted + 12
	wantEqual(t, "a plot closed since: passes in the window", closed.Summary(closed.Plot.Planted+60).InWindow, 1)
}

func TestSummaryProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		for i := range s.Passes {
			s.Passes[i].Hours = float64(rapid.IntRange(0, 40).Draw(t, "hours"))
			s.Passes[i].People = rapid.IntRange(0, 5).Draw(t, "people")
		}
		today := drawDay(t, s)
		sum := s.Summary(today)
		if sum.InWindow > sum.Passes || sum.ByHand > sum.Passes || sum.LoggedHours > sum.Passes ||
			sum.Rounds > sum.Passes ||
			(sum.Rounds == 0) != (sum.Passes == 0) || sum.LastDay < sum.FirstDay || sum.LastDay > today ||
			sum.SavedHours > sum.HandHours {
			t.Errorf("%+v", sum)
		}
		wantEqual(t, "without what is to come", s.asOf(today).Summary(today), sum)
		// Twice the area with twice the hours saves twice as much.
		double := s
		double.Plot.AreaM2 *= 2
		double.Passes = append([]Pass(nil), s.Passes...)
		for i := range double.Passes {
			double.Passes[i].Hours *= 2
		}
		if twice := double.Summary(today); double.Plot.AreaM2 <= MaxAreaM2 &&
			!near(twice.SavedHours, 2*sum.SavedHours, 1e-6) {
			t.Errorf("saved %g, of a plot twice as large %g", sum.SavedHours, twice.SavedHours)
		}
	})
}

func TestWhatASeasonCost(t *testing.T) {
	at := NewLocal()
	at.Prices = Prices{Tool: 40, ToolSalvage: 4, ToolYears: 5, InterestYear: 0.15, FamilyDay: 6, SeasonsYear: 2}
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32), Local: &at}
	s.Plot.AreaM2 = 1e4
	pass := func(d Day, with Means, hours float64) Pass {
		return Pass{On: s.Plot.Planted + d, With: with, Hours: hours, People: 1}
	}
	// A year of the tool costs 11.34 (see money_test.go) and 4.80 of repairs, for two crops. A day of six hours is
	// worth 6.
	const tool = (11.3392 + 4.8) / 2
	for _, c := range []struct {
		name   string
		passes []Pass
		home   Household
		want   float64
	}{
		{"nothing done", nil, Household{}, 0},
		{"by hand", []Pass{pass(14, ByHand, 60)}, Household{}, 60},
		{"with the tool", []Pass{pass(13, ByTool, 30), pass(30, ByTool, 12)}, Household{}, 42 + tool},
		{"with a tool of four households", []Pass{pass(13, ByTool, 30)}, Household{Neighbours: 4}, 30 + tool/4},
		{"shorter days are worth as much", []Pass{pass(14, ByHand, 60)}, Household{HoursADay: 4}, 90},
		{"a pass without hours", []Pass{pass(13, ByTool, 30), pass(30, ByTool, 0)}, Household{}, 0},
	} {
		s.Passes, s.Home = c.passes, c.home
		wantNear(t, c.name, s.Summary(s.Plot.Planted+40).Cost, c.want, 0.01)
	}
	at.Prices.Tool = 0
	s.Passes, s.Home = []Pass{pass(13, ByTool, 30)}, Household{}
	wantEqual(t, "a tool without a price costs", s.Summary(s.Plot.Planted+40).Cost, 0)
}

func TestRoundsAndPassesTooEarly(t *testing.T) {
	if _, rest := firstRound([]Pass{{On: 10}, {On: 10 + FollowUpDays}, {On: 11 + FollowUpDays}}); len(rest) != 1 {
		t.Errorf("%d passes after the first round", len(rest))
	}
	// On day 6, big weeds may be pulled by hand, but the tool would uproot the plants.
	s := Season{Plot: square(25), Weather: Steady(23, 32)}
	s.Plot.Method = Broadcast
	s.Sightings = []Sighting{{On: s.Plot.Planted + 5, Leaves: FourPlus}}
	for with, want := range map[Means]int{ByHand: 1, ByTool: 0} {
		s.Passes = []Pass{{On: s.Plot.Planted + 6, With: with}}
		wantEqual(t, "by %s on day 6: passes in the window", s.Summary(s.Plot.Planted+20).InWindow, want, with)
	}
}
