package engine

import "testing"

// All days are days after planting. Where the source gives a range of days for the first pass, the window must have
// days in common with this range.
func TestFirstWindow(t *testing.T) {
	wet := [2]Day{10, 15}
	kept := [2]Day{14, 21}
	for _, c := range []struct {
		name          string
		plot          Plot
		mean          float64
		opens, closes Day
		source        string
		within        [2]Day
	}{
		{"flooded, 27 °C", flooded(20), 27, 12, 16, "common practice: two to three weeks after transplanting", kept},
		{"flooded, 28 °C", flooded(20), 28, 12, 15, "common practice: two to three weeks after transplanting", kept},
		{"not flooded, 28 °C", moist(20), 28, 12, 15, "TNRRI: 10-15 days", wet},
		{"not flooded, 27 °C", moist(20), 27, 13, 17, "TNRRI: 10-15 days", wet},
		{"not flooded, 30 °C", moist(20), 30, 11, 14, "TNRRI: 10-15 days", wet},
		{"puddled three days before: the plants must root", puddled(3), 28, 10, 12, "TNRRI: not before day 10", wet},
		{"puddled nine days before: at once when they have", puddled(9), 28, 10, 10, "TNRRI: not before day 10", wet},
		{"nobody told of the water, 28 °C", square(20), 28, 12, 15, "the wet and the kept ranges", [2]Day{10, 21}},
	} {
		s := Season{Plot: c.plot, Tool: Tool{WidthCM: 15}, Weather: Steady(c.mean-4, c.mean+4)}
		w := must(s.Plan(s.Plot.Planted)).Next
		opens, closes := w.Opens-s.Plot.Planted, w.Closes-s.Plot.Planted
		if opens != c.opens || closes != c.closes || w.Why != WhyWeedClock || w.Number != 1 || w.With != ByTool {
			t.Errorf("%s: days %d to %d, %s, number %d; want %d to %d", c.name, opens, closes, w.Why, w.Number,
				c.opens, c.closes)
		}
		if closes < c.within[0] || opens > c.within[1] {
			t.Errorf("%s: days %d to %d, and %s", c.name, opens, closes, c.source)
		}
		if leaves := s.WeedLeaves(w.Best); leaves < WindowOpensLeaves || w.Opens > s.Plot.Planted+FirstPassDays &&
			leaves > WindowClosesLeaves {
			t.Errorf("%s: %g leaves on the best day", c.name, leaves)
		}
	}
}

func flooded(cm float64) Plot {
	p := square(cm)
	p.Flood = FloodKept
	return p
}

func puddled(before Day) Plot {
	p := moist(20)
	p.Puddled = p.Planted - before
	return p
}

func moist(cm float64) Plot {
	p := square(cm)
	p.Flood = FloodMoist
	return p
}

func TestSecondWindow(t *testing.T) {
	for _, c := range []struct {
		name          string
		left          Amount
		opens, closes Day // days after the pass, at 28 °C
		why           Why
		source        string
		within        [2]Day
	}{
		{"few left", Few, 12, 15, WhyRegrowth, "common practice: two to three weeks later", [2]Day{14, 21}},
		{"not told", AmountUnknown, 12, 15, WhyRegrowth, "common practice: two to three weeks later", [2]Day{14, 21}},
		{"some left", Some, 7, 10, WhyRegrowth, "TNRRI 7-10 days; common practice: two to three weeks later",
			[2]Day{7, 21}},
		{"many left", Many, 7, 12, WhyManyLeft, "TNRRI 7-10 days, recommended 7-12", [2]Day{7, 12}},
	} {
		s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
		on := s.Plot.Planted + 16
		s.Passes = []Pass{{On: on, With: ByTool, Left: c.left}}
		w := must(s.Plan(on)).Next
		if w.Opens-on != c.opens || w.Closes-on != c.closes || w.Why != c.why || w.Number != 2 {
			t.Errorf("%s: days %d to %d after the pass, %s, number %d; want %d to %d, %s", c.name, w.Opens-on,
				w.Closes-on, w.Why, w.Number, c.opens, c.closes, c.why)
		}
		if w.Closes-on < c.within[0] || w.Opens-on > c.within[1] {
			t.Errorf("%s: days %d to %d after the pass, and %s", c.name, w.Opens-on, w.Closes-on, c.source)
		}
	}
}

func TestManyLeftHaveTwoToFourLeavesInThePublishedInterval(t *testing.T) {
	// The window is 7 to 12 days after the pass. By the weed clocks the weeds must have about two leaves on the first
	// and about four on the last of these days.
	for _, mean := range []float64{24, 27, 30} {
		s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(mean-3, mean+3)}
		on := s.Plot.Planted + 16
		s.Passes = []Pass{{On: on, With: ByTool, Left: Many}}
		wantNear(t, "%g °C: leaves when the window opens", s.WeedLeaves(on+AgainOpensDays), WindowOpensLeaves, 0.7,
			mean)
		wantNear(t, "%g °C: leaves when it closes", s.WeedLeaves(on+AgainClosesDays), WindowClosesLeaves, 0.7, mean)
	}
}

func TestWhatTheGrowerSawBeatsTheModel(t *testing.T) {
	planted := square(20).Planted
	saw := func(d Day, l Leaves, a Amount) Sighting { return Sighting{On: planted + d, Leaves: l, Amount: a} }
	for _, c := range []struct {
		name                string
		seen                []Sighting
		opens, best, closes Day // days after planting; without sightings 12, 13, 15
		why                 Why
		edition             int
	}{
		{"nothing", nil, 12, 13, 15, WhyWeedClock, 0},
		{"one leaf on day 15: the window moves on", []Sighting{saw(15, OneLeaf, Some)}, 19, 19, 21, WhySeen, 1},
		{"none yet on day 12", []Sighting{saw(12, NoneUp, AmountUnknown)}, 18, 19, 21, WhySeen, 1},
		{"none yet on day 18, when no clock expects it: the days in which two leaves grow, from then on",
			[]Sighting{saw(18, NoneUp, AmountUnknown)}, 25, 27, 28, WhySeen, 1},
		{"two or three on day 11: weed now", []Sighting{saw(11, TwoThree, Some)}, 11, 13, 14, WhySeen, 1},
		{"few of them: it may wait until more are up", []Sighting{saw(11, TwoThree, Few)}, 11, 13, 14, WhySeen, 1},
		{"two or three on day 8: as soon as the plants have rooted", []Sighting{saw(8, TwoThree, Some)}, 10, 11, 13,
			WhySeen, 1},
		{"many of them: at once", []Sighting{saw(9, OneLeaf, Many)}, 13, 13, 16, WhySeen, 1},
		{"four leaves on day 8: over, and the plants have not rooted", []Sighting{saw(8, FourPlus, Some)}, 8, 8, 8,
			WhySeenBig, 1},
		{"four leaves on day 12: today or never", []Sighting{saw(12, FourPlus, Some)}, 12, 12, 12, WhySeen, 1},
		{"four leaves on day 17: over", []Sighting{saw(17, FourPlus, Some)}, 17, 17, 17, WhySeenBig, 1},
		{"many weeds, leaves not told: the best day is the first", []Sighting{saw(10, LeavesUnknown, Many)}, 12, 12,
			15, WhyWeedClock, 1},
		{"few weeds, leaves not told: towards the last days", []Sighting{saw(10, LeavesUnknown, Few)}, 12, 14, 15,
			WhyWeedClock, 1},
		{"rows open is nothing about weeds", []Sighting{{On: planted + 10, Rows: RowsOpen}}, 12, 13, 15, WhyWeedClock,
			0},
		{"both sightings count", []Sighting{saw(9, TwoThree, Some), saw(11, OneLeaf, Some)}, 13, 14, 16, WhySeen, 2},
	} {
		s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32), Sightings: c.seen}
		today := planted
		for _, x := range c.seen {
			today = x.On
		}
		w := must(s.Plan(today)).Next
		if w.Opens-planted != c.opens || w.Best-planted != c.best || w.Closes-planted != c.closes || w.Why != c.why ||
			w.Edition != c.edition {
			t.Errorf("%s: days %d, %d, %d, %s, edition %d; want %d, %d, %d, %s, %d", c.name, w.Opens-planted,
				w.Best-planted, w.Closes-planted, w.Why, w.Edition, c.opens, c.best, c.closes, c.why, c.edition)
		}
	}
	// The edition is the number of sightings of weeds since the last pass. So after a pass the next window has edition
	// 0.
	s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32), Sightings: []Sighting{saw(9,
		TwoThree, Some), saw(12, FourPlus, Some)}, Passes: []Pass{{On: planted + 12, With: ByTool, Left: Few}}}
	if w := must(s.Plan(planted + 20)).Next; w.Why != WhyRegrowth || w.Edition != 0 || w.Opens != planted+22 {
		t.Errorf("after a pass: day %d, %s, edition %d", w.Opens-planted, w.Why, w.Edition)
	}
}

func TestHandWeedingDays(t *testing.T) {
	// IRRI, fact sheet Manual weed control (source read): the first hand-weeding is within two weeks after planting,
	// the next ones on days 30-32 and 40-42 after transplanting, or 40-42 and 50-52 after sowing.
	for _, c := range []struct {
		name   string
		method Method
		passes []Day
		today  Day
		want   [3]Day // number, opens, closes
	}{
		{"transplanted, first", Transplanted, nil, 5, [3]Day{1, 10, 14}},
		{"transplanted, first missed", Transplanted, nil, 20, [3]Day{1, 10, 14}},
		{"transplanted, the second comes near", Transplanted, nil, 28, [3]Day{2, 30, 32}},
		{"transplanted, the third comes near", Transplanted, nil, 38, [3]Day{3, 40, 42}},
		{"transplanted, weeded on day 12", Transplanted, []Day{12}, 12, [3]Day{2, 30, 32}},
		{"weeded a week early counts", Transplanted, []Day{12, 23}, 24, [3]Day{3, 40, 42}},
		{"weeded earlier than that does not", Transplanted, []Day{12, 22}, 24, [3]Day{2, 30, 32}},
		{"all three done", Transplanted, []Day{12, 31, 40}, 41, [3]Day{}},
		{"sown, second", Broadcast, []Day{12}, 20, [3]Day{2, 40, 42}},
		{"sown, third", Broadcast, []Day{12, 41}, 42, [3]Day{3, 50, 52}},
	} {
		p := Plot{Method: c.method, Planted: Date(2026, 7, 1), RowSpacingCM: 15, HillSpacingCM: 15}
		s := Season{Plot: p, Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
		for _, d := range c.passes {
			s.Passes = append(s.Passes, Pass{On: p.Planted + d, With: ByHand})
		}
		w := must(s.Plan(p.Planted + c.today)).Next
		got := [3]Day{}
		if w.Exists() {
			got = [3]Day{Day(w.Number), w.Opens - p.Planted, w.Closes - p.Planted}
			if w.With != ByHand || w.Why != WhyHandDates {
				t.Errorf("%s: %+v", c.name, w)
			}
		}
		if got != c.want {
			t.Errorf("%s: number, opens, closes %v, want %v", c.name, got, c.want)
		}
	}
}

func TestLaterWindows(t *testing.T) {
	s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	p := must(s.Plan(s.Plot.Planted))
	if len(p.Later) != 2 || p.Later[0].Opens != p.Next.Best+12 || p.Later[0].Number != 2 {
		t.Errorf("after %+v come %+v", p.Next, p.Later)
	}
	// The grower missed the window and says nothing. The days after it are the same on each day, and they are those of
	// the window that comes.
	next := must(s.Plan(s.Plot.Planted + 28)).Next
	for d := p.Next.Closes + 1; d < next.AskOn; d++ {
		late := must(s.Plan(d))
		if late.State != Missed || len(late.Later) == 0 || !sameDays(late.Later[0], next) {
			t.Errorf("day %d, %s: then %+v, and %+v comes", d-s.Plot.Planted, late.State, late.Later, next)
		}
	}
	// The later windows end with the third of the usual hand-weedings.
	hand := must(Season{Plot: square(15), Tool: Tool{WidthCM: 15}, Weather: s.Weather}.Plan(s.Plot.Planted))
	if len(hand.Later) != 2 || hand.Later[1].Number != 3 {
		t.Errorf("by hand: %+v", hand.Later)
	}
}

func TestRecordsOutsideTheSeasonPlayNoPart(t *testing.T) {
	s := Season{Plot: square(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	planted := s.Plot.Planted
	want := must(s.Plan(planted + 10))
	s.Passes = []Pass{{On: planted - 4}, {On: planted + 11}}
	s.Sightings = []Sighting{{On: planted - 1, Leaves: FourPlus}, {On: planted + 12, Rows: RowsClosed}}
	if got := must(s.Plan(planted + 10)); got.Next != want.Next || got.Passes != 0 || got.Closure != want.Closure ||
		got.WeedLeaves != want.WeedLeaves {
		t.Errorf("before planting and after today: %+v, want %+v", got, want)
	}
	if got := must(s.Plan(planted + 11)); got.Passes != 1 {
		t.Errorf("the pass of today counts: %d passes", got.Passes)
	}
}

func TestTheEndOfTheSeasonCutsAWindowShort(t *testing.T) {
	// At 28 °C rows of 20 cm close on day 42, so day 41 is the last day of the tool. No window may end later. So the
	// later the pass, the shorter the next window. After a pass on day 30 there is no next window.
	for _, c := range []struct {
		pass                Day
		opens, best, closes Day // all 0: no window
	}{
		{25, 37, 38, 40}, {26, 38, 39, 41}, {28, 40, 41, 41}, {29, 41, 41, 41}, {30, 0, 0, 0},
	} {
		s := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
		planted := s.Plot.Planted
		s.Passes = []Pass{{On: planted + c.pass, With: ByTool, Left: Few}}
		p := must(s.Plan(planted + c.pass))
		if p.Closure.LastToolDay != planted+41 {
			t.Fatalf("last tool day %d", p.Closure.LastToolDay-planted)
		}
		w := p.Next
		if !w.Exists() {
			w.Opens, w.Best, w.Closes = planted, planted, planted
		}
		if w.Opens-planted != c.opens || w.Best-planted != c.best || w.Closes-planted != c.closes {
			t.Errorf("weeded on day %d: %d, %d, %d; want %d, %d, %d", c.pass, w.Opens-planted, w.Best-planted,
				w.Closes-planted, c.opens, c.best, c.closes)
		}
		if p.State != FollowUp {
			t.Errorf("weeded on day %d: %s", c.pass, p.State)
		}
	}
}

// On the day of a sighting of big weeds, the window for hand-weeding opens.
func TestHandWeedingBeginsWithBigWeeds(t *testing.T) {
	s := Season{Plot: Plot{Method: Broadcast, Planted: Date(2026, 7, 1)}, Weather: Steady(24, 32)}
	planted := s.Plot.Planted
	s.Passes = []Pass{{On: planted + 12, With: ByHand}}
	if w := must(s.Plan(planted + 25)).Next; w.Number != 2 || w.Opens != planted+40 {
		t.Fatalf("%+v", w)
	}
	s.Sightings = []Sighting{{On: planted + 11, Leaves: FourPlus}, {On: planted + 34, Leaves: FourPlus, Amount: Many}}
	p := must(s.Plan(planted + 34))
	if w := p.Next; w.Number != 2 || w.Opens != planted+34 || w.Best != planted+34 || w.Closes != planted+42 ||
		w.Why != WhySeen || p.State != Open {
		t.Errorf("%+v, %s", w, p.State)
	}
	s.Sightings[1].Leaves = TwoThree // too small to pull
	if w := must(s.Plan(planted + 34)).Next; w.Opens != planted+40 {
		t.Errorf("%+v", w)
	}
}

func TestEdgesOfWhatMovesAWindow(t *testing.T) {
	s := Season{Plot: square(25), Tool: Tool{WidthCM: 15}, Weather: Steady(23, 32)}
	p := s.Plot.Planted
	s.Sightings = []Sighting{{On: p + 11, Leaves: TwoThree}}
	wantNear(t, "leaves where two or three were seen", s.WeedLeaves(p+11), 2.5, 1)
	s.Passes = []Pass{{On: p + 14, With: ByTool, Left: Many}}
	if got := s.nextWindow(p + 14); got.Best != p+14+10 {
		t.Errorf("best day %s after a pass that left many", got.Best)
	}
	if plan, err := s.Windows(p + 14); err != nil || plan.LookAgain != p+14+FollowUpDays+1 {
		t.Errorf("look again on %s, %v", plan.LookAgain, err)
	}
	w := Window{Opens: p + 16}
	if !s.passedSince(w) || s.passedSince(Window{Opens: p + 17}) {
		t.Error("a pass counts from PrepareDays before the window on")
	}
	// A sighting of big weeds opens the window if it is at most HandEarlyDays (7) before the first hand-weeding day,
	// here day 10.
	hand := Season{Plot: square(25), Weather: Steady(23, 32)}
	hand.Plot.Method = Broadcast
	for early, opens := range map[Day]Day{HandEarlyDays: p + 3, HandEarlyDays + 1: p + 10} {
		hand.Sightings = []Sighting{{On: p + 10 - early, Leaves: FourPlus}}
		if got := hand.nextWindow(p + 9); got.Opens != opens || got.Edition != int(opens-p)%10/3 {
			t.Errorf("seen %d days before: opens %s, edition %d", early, got.Opens, got.Edition)
		}
	}
}

func TestLaterWindowsAfterAMissedOne(t *testing.T) {
	s := Season{Plot: square(25), Tool: Tool{WidthCM: 20}, Weather: Steady(23, 32)}
	s.Plot.Method = RowSown
	plan := must(s.Plan(s.Plot.Planted + 12))
	for plan.Next.Number < 2 && plan.State != Closed {
		plan = must(s.Plan(plan.On + 1))
	}
	if plan.Next.Number != 2 || len(plan.Later) == 0 || plan.Later[0].Number != 3 {
		t.Errorf("next %+v, later %+v", plan.Next, plan.Later)
	}
}

// Published hand weedings begin within two weeks after planting (IRRI, Manual weed control), in the tropics. At 16 °C
// half the weeds of wet ground are up only after 18 days (93 °C d above 10.8 °C, Šoštarčić et al. 2021).
func TestNoHandWeedingBeforeWeedsAreUp(t *testing.T) {
	for meanC, want := range map[float64][2]Day{28: {10, 14}, 16: {18, 32}} {
		s := Season{Plot: Plot{Method: Broadcast, Planted: Date(2026, 7, 1), Flood: FloodMoist},
			Weather: Steady(meanC, meanC)}
		w := must(s.Plan(s.Plot.Planted)).Next
		if d := w.Opens - s.Plot.Planted; d < want[0] || d > want[1] {
			t.Errorf("%g °C: the first hand weeding begins on day %d, want %d to %d", meanC, d, want[0], want[1])
		}
	}
}
