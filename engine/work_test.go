package engine

import (
	"testing"

	"pgregory.net/rapid"
)

// rowsOf20 returns the season of a plot with rows of 20 cm and a tool of 15 cm. capacity is the field capacity in ha/h;
// 0 = the constants of the engine.
func rowsOf20(areaM2, capacity float64) Season {
	s := Season{Plot: Plot{Method: Transplanted, Planted: Date(2026, 7, 1), RowSpacingCM: 20, HillSpacingCM: 10,
		AreaM2: areaM2}, Tool: Tool{WidthCM: 15}, Weather: Steady(22, 32)}
	if capacity > 0 {
		local := NewLocal()
		local.Figures.PushSpeedKMH = capacity * 10 / (0.20 * local.Figures.FieldEfficiency)
		s.Local = &local
	}
	return s
}

func windowOf(days Day) Window {
	opens := Date(2026, 7, 15)
	return Window{Number: 1, Opens: opens, Best: opens, Closes: opens + days - 1, With: ByTool, Why: WhyWeedClock}
}

func TestHoursOfPublishedCapacities(t *testing.T) {
	for _, c := range []struct {
		name           string
		areaM2         float64
		capacity       float64 // ha/h
		hours, withinH float64
	}{
		// The capacities are published (Shirsat et al. 2016, Agriculture Update 11(2):154-157; Zongo et al., Burkina
		// Faso); the hours are computed by hand.
		{"cone weeder A, Shirsat et al. 2016", 1e4, 0.0094, 106, 0.5},
		{"cone weeder B, Shirsat et al. 2016", 1e4, 0.0110, 90.9, 0.05},
		{"cone weeder C, Shirsat et al. 2016", 1e4, 0.0133, 75.2, 0.05},
		{"slowest, Zongo et al.", 1e4, 0.014, 71.4, 0.05},
		{"fastest, Zongo et al.", 1e4, 0.024, 41.7, 0.05},
		{"push weeder 0.15 m, 2 km/h, 0.6 (computed)", 1e4, 0.018, 55.6, 0.05},
		{"push weeder 0.20 m, 1.5 km/h, 0.7 (computed)", 1e4, 0.021, 47.6, 0.05},
		{"40 x 25 m at the fastest of Zongo et al. (computed)", 40 * 25, 0.024, 4.17, 0.005},
		// Ahiduzzaman et al. 2006, JAMBE 4:75-79 (source read): one man weeds 74 decimals a day. A decimal is 40.47 m2,
		// and a day is assumed to have 8 hours. So a hectare takes 3.34 man-days (computed).
		{"Bangladesh", 1e4, 74 * 40.47 / 1e4 / 8, 3.34 * 8, 0.02},
	} {
		s := rowsOf20(c.areaM2, c.capacity)
		wantNear(t, "%s: h", s.Work(s.Plot.Planted, Window{}).AlongHours, c.hours, c.withinH, c.name)
	}
	// IASRI farm machinery course (source read): a plough of 0.252 ha/h takes about 100 h for 25 ha; exactly 99.2 h
	// (computed).
	wantNear(t, "hours of the plough", 25/FieldCapacity(4, 0.9, 0.70), 99.2, 0.05)
}

func TestHoursByHand(t *testing.T) {
	// A published comparison of cultivators in Sri Lanka gives 0.005 ha/h for weeding by hand, which is 200 h/ha
	// (https://discovery.researcher.life/topic/highest-field-capacity/6752918?page=2).
	s := rowsOf20(1e4, 0)
	w := s.Work(s.Plot.Planted, windowOf(5))
	wantNear(t, "hours by hand", w.HandHours, 1/0.005, 1e-9)
	// Common practice, no source: weeding with the tool and pulling afterwards is two to three times as fast as weeding
	// by hand. The hours of the model must agree.
	if times := w.HandHours / w.Total(); times < 2 || times > 3 {
		t.Errorf("%g times quicker", times)
	}
	// IRRI Rice Knowledge Bank, Mechanical weed control (source read): 6 to 8 person-days a hectare, 48 to 64 h/ha at 8
	// hours a day (computed). The published capacities above take 42 to 106 h/ha. The range for a grower who logged
	// nothing contains both.
	if low, high := w.Pace.Around(w.AlongHours); low > 42 || high < 106 {
		t.Errorf("%g to %g h/ha", low, high)
	}
	for name, s := range map[string]Season{
		"scattered":     {Plot: Plot{Method: Broadcast, AreaM2: 1000}, Tool: Tool{WidthCM: 15}},
		"rows of 15 cm": {Plot: Plot{Method: Transplanted, RowSpacingCM: 15, AreaM2: 1000}, Tool: Tool{WidthCM: 15}},
	} {
		got := s.Work(s.Plot.Planted, Window{})
		got.Pace, got.HandPace = Pace{}, Pace{}
		want := Work{HandHours: 20, HoursADay: 6, Rest: 1, Crew: Crew{Do: WeedByHand, People: 1, Days: 4, MostDays: 7}}
		if got != want {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestWorkedExample(t *testing.T) {
	// Computed by hand: the field capacity is 1.2 km/h x 0.2 m x 0.65 / 10 = 0.0156 ha/h, so one pass over 1000 m2
	// takes 6.41 h. A quarter of the ground is not swept; pulling half of it takes an eighth of the 20 h by hand, 2.5
	// h. One weeding in ten takes more than 6.41 + 2.5 + sqrt((0.898 x 6.41)² + (0.898 x 2.5)²) = 15.09 h, three days
	// of 6 h.
	s := rowsOf20(1000, 0)
	for _, c := range []struct {
		name   string
		people int
		hoursH float64
		span   Day
		today  Day // in days after the opening of the window
		days   int
		start  Day // last day to begin, in days after the opening of the window; -1 = no such day
		share  float64
	}{
		{"alone", 0, 0, 5, -3, 2, 2, 1},
		{"alone, in the window", 0, 0, 5, 2, 2, 2, 1},
		{"alone, in a window of four days", 0, 0, 4, 0, 2, 1, 1},
		{"alone, in the window of two days", 0, 0, 2, 0, 2, 0, 1},
		{"alone, too late to begin", 0, 0, 5, 4, 2, -1, 6 / 8.9103},
		{"alone, long days", 1, 9, 5, -3, 1, 3, 1},
		{"two share the tool", 2, 6, 1, 0, 1, 0, 1},
		{"two for three hours", 2, 3, 2, 0, 2, 0, 1},
		{"the window is past", 2, 6, 5, 5, 2, -1, 0},
	} {
		s.Home = Household{People: c.people, HoursADay: c.hoursH}
		w := windowOf(c.span)
		got := s.Work(w.Opens+c.today, w)
		start := w.Opens + c.start
		if c.start < 0 {
			start = 0
		}
		if got.Days != c.days || got.StartBy != start || !near(got.Share, c.share, 1e-4) || got.Fits != (start != 0) {
			t.Errorf("%s: %d days, start by %s, share %g, fits %t; want %d, %s, %g", c.name, got.Days, got.StartBy,
				got.Share, got.Fits, c.days, start, c.share)
		}
		if !near(got.AlongHours, 6.4103, 1e-4) || !near(got.PullHours, 2.5, 1e-9) || got.BothHours != 0 ||
			got.AcrossHours != 0 || got.PullBothHours != 0 {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestAToolIsPushedByOneAtATime(t *testing.T) {
	// Computed by hand: one hectare needs 64.1 h of pushing and 25 h of pulling. Nine people in turn push one tool for
	// ToolDayHours (10) a day, so the work takes seven days.
	s := rowsOf20(1e4, 0)
	for _, c := range []struct {
		people int
		hoursH float64
		days   int
	}{{1, 6, 15}, {2, 6, 8}, {9, 6, 7}, {9, 10, 7}, {9, 13, 5}, {1, 13, 7}} {
		s.Home = Household{People: c.people, HoursADay: c.hoursH}
		if got := s.Work(s.Plot.Planted, windowOf(5)); got.Days != c.days {
			t.Errorf("%d people, %g h a day: %d days, want %d", c.people, c.hoursH, got.Days, c.days)
		}
	}
	// In three days one tool is pushed for 30 h (ToolDayHours is 10) of the 64.1 h that the hectare needs.
	s.Home = Household{People: 9, HoursADay: 6}
	wantNear(t, "share weeded by nine people", s.Work(s.Plot.Planted, windowOf(3)).Share, 30/64.1026, 1e-4)
}

//revive:disable-next-line:function-length a table of cases
func TestWhatElseCanBeDone(t *testing.T) {
	crossed := func(areaM2 float64) Season {
		s := rowsOf20(areaM2, 0)
		s.Plot.HillSpacingCM = 20
		return s
	}
	narrow := func(areaM2 float64) Season {
		s := rowsOf20(areaM2, 0)
		s.Plot.RowSpacingCM = 15
		return s
	}
	with := func(s Season, people, tools int) Season {
		s.Home = Household{People: people, Tools: tools}
		return s
	}
	byHand := windowOf(3)
	byHand.With, byHand.Why = ByHand, WhyHandDates
	big := windowOf(3)
	big.Why = WhySeenBig
	for _, c := range []struct {
		name          string
		s             Season
		w             Window
		do            Advice
		instead       Alternative
		people, tools int
		days          int
	}{
		// Computed with the formula of Work, for people who weed six hours a day: one pass of a hectare takes 64.1 h
		// and 25 h of pulling, both ways 128.2 h and 6.25 h, by hand 200 h. One weeding in ten takes more than 1.898
		// times the hours of pushing; more people or tools are enough for these.
		{"fits", rowsOf20(1000, 0), windowOf(5), WeedOneWay, NoAlternative, 0, 0, 0},
		{"one more pair of hands", rowsOf20(4000, 0), windowOf(5), WeedOneWay, MoreHands, 3, 1, 3},
		{"one tool is not enough", rowsOf20(10_000, 0), windowOf(5), WeedOneWay, MoreTools, 6, 3, 3},
		{"far too much", rowsOf20(50_000, 0), windowOf(3), WeedOneWay, ByHandRest, 1, 1, 75},
		{"one way, and still far too much", crossed(50_000), windowOf(3), WeedBoth, ByHandRest, 1, 1, 75},
		{"both ways fit", crossed(1000), windowOf(5), WeedBoth, NoAlternative, 0, 0, 0},
		{"only one way fits", crossed(2500), windowOf(5), WeedBoth, OneWayThenHand, 1, 1, 4},
		{"one way, if it goes well", crossed(1100), windowOf(2), WeedBoth, OneWayThenHand, 1, 1, 2},
		{"one way with help and a second tool", crossed(2500), windowOf(3), WeedBoth, MoreTools, 3, 2, 2},
		{"even one way needs three tools", crossed(5000), windowOf(3), WeedBoth, MoreTools, 5, 3, 2},
		{"three tools of the grower", with(crossed(5000), 4, 3), windowOf(3), WeedBoth, NoAlternative, 0, 0, 0},
		{"hands beside the tool", with(rowsOf20(10_000, 0), 7, 1), windowOf(5), WeedOneWay, HandsBeside, 7, 1, 5},
		{"by hand, more hands", narrow(1000), byHand, WeedByHand, MoreHands, 3, 0, 2},
		{"by hand, far too much", narrow(20_000), byHand, WeedByHand, ByHandRest, 1, 0, 67},
		{"weeds seen too big", rowsOf20(1000, 0), big, WeedByHand, NoAlternative, 0, 0, 0},
		{"no window", rowsOf20(1000, 0), Window{}, WeedOneWay, NoAlternative, 0, 0, 0},
		{"area not told", rowsOf20(0, 0), windowOf(5), WeedOneWay, NoAlternative, 0, 0, 0},
		{"area not told, square", crossed(0), windowOf(5), WeedBoth, NoAlternative, 0, 0, 0},
	} {
		got := c.s.Work(c.w.Opens, c.w)
		if got.Do != c.do || got.Instead != c.instead || got.Then.People != c.people || got.Then.Tools != c.tools ||
			got.Then.Days != c.days {
			t.Errorf("%s: %s; instead %s: %+v, want %s; %s with %d people, %d tools in %d days", c.name, got.Do,
				got.Instead, got.Then, c.do, c.instead, c.people, c.tools, c.days)
		}
	}
	// One person works 18 hours in three days. One way takes 445.5 h, both ways 672 h.
	if got := crossed(50_000).Work(0, windowOf(3)); got.Then.Do != WeedOneWay || !near(got.Share, 18/445.5, 0.001) {
		t.Errorf("what cannot be finished: %s, %.4f of the plot", got.Then.Do, got.Share)
	}
	if got := crossed(0).Work(0, windowOf(5)); got.Days != 0 || got.StartBy != 0 || got.Share != 0 || got.Fits ||
		got.Total() != 0 || got.HandHours != 0 || got.MostDays != 0 {
		t.Errorf("area not told, and %+v", got)
	}
}

// Computed by hand: three hectares need 192.3 h of pushing and 75 h of pulling. Ten people weed 60 h a day; they push
// three tools 30 h a day, so the pass takes seven days. In six days the tools weed 180 / 192.3 = 0.936 of the plot. The
// rest takes 38.4 h by hand, and all of it 288.6 h of 360.
func TestAGangWithSeveralTools(t *testing.T) {
	s := rowsOf20(30_000, 0)
	s.Home = Household{People: 10, Tools: 3, HoursADay: 6}
	w := windowOf(12)
	got := s.Work(w.Opens, w)
	if got.Do != WeedOneWay || got.People != 10 || got.Tools != 3 || got.Days != 7 || !got.Fits || got.Share != 1 {
		t.Errorf("%+v", got)
	}
	// Of ten such weedings, nine are done in 13 days: 1.898 x 192.3 h at 30 h a day. The window has 12.
	if got.MostDays != 13 || got.StartBy != w.Opens || got.WindowDays != 12 {
		t.Errorf("in %d days of %d, begun on %s", got.MostDays, got.WindowDays, got.StartBy)
	}
	w = windowOf(6)
	got = s.Work(w.Opens, w)
	if got.Fits || got.Instead != HandsBeside || got.Then.Days != 6 || got.Then.StartBy != w.Opens ||
		!near(got.Then.ToolShare, 0.936, 1e-3) || got.Then.People != 10 || got.Then.Tools != 3 {
		t.Errorf("instead %s: %+v", got.Instead, got.Then)
	}
}

func TestBothWaysLeaveLittleToPull(t *testing.T) {
	// Computed by hand: a tool of 15 cm in rows of 20 cm leaves 1/4 of the ground unweeded; a pass along and a pass
	// across together leave 1/16.
	s := rowsOf20(1000, 0)
	s.Plot.HillSpacingCM = 20
	w := s.Work(s.Plot.Planted, windowOf(5))
	if !near(w.BothHours, 2*w.AlongHours, 1e-9) || !near(w.AcrossHours, w.AlongHours, 1e-9) ||
		!near(w.PullBothHours, w.PullHours/4, 1e-9) {
		t.Errorf("%+v", w)
	}
	wantNear(t, "total", w.Total(), w.BothHours+w.PullBothHours, 1e-9)
	// A grower who is slower along the rows is also slower in both directions together.
	s.Home.Worked = []Worked{{With: ByTool, Way: Along, AreaM2: 1000, RowCM: 20, HillCM: 20, PersonHours: 13}}
	slow := s.Work(s.Plot.Planted, windowOf(5))
	if slow.Pace.Factor < 1.1 || !near(slow.BothHours, w.BothHours*slow.Pace.Factor, 1e-9) {
		t.Errorf("at a pace of %g both ways take %g h, and %g h at 1", slow.Pace.Factor, slow.BothHours, w.BothHours)
	}
}

func TestPullingGoesByWhatWasLeft(t *testing.T) {
	s := rowsOf20(1000, 0)
	for _, c := range []struct {
		name              string
		left              Amount
		row, width, share float64 // share of the 20 h that weeding by hand takes
	}{
		// Computed by hand: the tool leaves 1 - 15/20 of the ground, or 1 - 15/40 in wide rows.
		{"not told", AmountUnknown, 20, 15, 0.25 * RestShareSome},
		{"few", Few, 20, 15, 0.25 * RestShareFew},
		{"some", Some, 20, 15, 0.25 * RestShareSome},
		{"many", Many, 20, 15, 0.25 * RestShareMany},
		{"few, and wide strips", Few, 40, 15, 0.625 * RestShareFew},
		{"no tool yet: the widest that fits", Some, 25, 0, 0.2 * RestShareSome},
	} {
		s.Plot.RowSpacingCM, s.Tool.WidthCM = c.row, c.width
		s.Passes = []Pass{{On: s.Plot.Planted + 14, With: ByTool, Left: c.left}}
		w := s.Work(s.Plot.Planted+20, windowOf(5))
		wantNear(t, "%s: h of pulling", w.PullHours, c.share*20, 1e-9, c.name)
		before := s.Work(s.Plot.Planted+13, windowOf(5))
		wantNear(t, "%s: h of pulling before the pass", before.PullHours,
			c.share*20*RestShareSome/restShare(c.left), 1e-9, c.name)
	}
}

func TestTheOtherWayNextTime(t *testing.T) {
	// Common practice, no source: a grower pushes the tool in one direction, pulls the rest by hand, and makes the next
	// pass in the other direction.
	for _, c := range []struct {
		name string
		hill float64
		last Pass
		want Way
	}{
		{"first pass", 20, Pass{}, Along},
		{"along before", 20, Pass{With: ByTool, Way: Along}, Across},
		{"across before", 20, Pass{With: ByTool, Way: Across}, Along},
		{"both before", 20, Pass{With: ByTool, Way: Both}, Along},
		{"by hand before", 20, Pass{With: ByHand, Way: Along}, Along},
		{"not square", 10, Pass{With: ByTool, Way: Along}, Along},
	} {
		s := rowsOf20(1000, 0)
		s.Plot.HillSpacingCM = c.hill
		if c.last.With != 0 {
			c.last.On = s.Plot.Planted + 14
			s.Passes = []Pass{c.last}
		}
		if got := s.Work(s.Plot.Planted+15, windowOf(5)); got.OneWay != c.want {
			t.Errorf("%s: %s, want %s", c.name, got.OneWay, c.want)
		}
	}
	s := rowsOf20(1000, 0)
	s.Plot.HillSpacingCM = 19
	s.Tool.WidthCM = 14
	s.Passes = []Pass{{On: s.Plot.Planted + 14, With: ByTool, Way: Along}}
	w := s.Work(s.Plot.Planted+15, windowOf(5))
	if push, pull := w.hours(WeedOneWay, 1); push != w.AcrossHours || pull != w.PullHours ||
		!(w.AcrossHours > w.AlongHours) {
		t.Errorf("across takes %g h of %+v", push, w)
	}
}

// drawWork draws a season with a household, a day, and a window.
func drawWork(t *rapid.T) (Season, Day, Window) {
	s := drawSeason(t)
	s.Home.People = rapid.IntRange(0, 12).Draw(t, "people")
	s.Home.Tools = rapid.IntRange(0, 4).Draw(t, "tools")
	s.Home.HoursADay = float64(rapid.IntRange(0, 2*MaxHoursADay).Draw(t, "half hours a day")) / 2
	for range rapid.IntRange(0, 3).Draw(t, "logged") {
		s.Home.Worked = append(s.Home.Worked, drawWorked(t))
	}
	opens := s.Plot.Planted + Day(rapid.IntRange(10, 30).Draw(t, "opens"))
	w := Window{Number: 1, Opens: opens, Best: opens, Closes: opens + Day(rapid.IntRange(0, 20).Draw(t, "span")),
		With: ByTool, Why: WhyWeedClock}
	return s, drawDay(t, s), w
}

// shareInTime returns the share of the plot that is weeded inside the window in the way that the grower is told.
func shareInTime(w Work) float64 {
	if w.Instead != NoAlternative && w.Instead != ByHandRest {
		return 1 // this way ends inside the window
	}
	return w.Share
}

func TestMoreHandsOrHoursNeverTakeLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, today, w := drawWork(t)
		before := s.Work(today, w)
		more := s
		switch rapid.IntRange(0, 2).Draw(t, "more of") {
		case 0:
			more.Home.People = before.People + rapid.IntRange(1, 20).Draw(t, "helpers")
		case 1:
			more.Home.Tools = max(1, s.Home.Tools) + rapid.IntRange(1, 4).Draw(t, "borrowed tools")
		default:
			more.Home.HoursADay = before.HoursADay + rapid.Float64Range(0.1, 8).Draw(t, "longer")
		}
		after := more.Work(today, w)
		if after.Days > before.Days || shareInTime(after) < shareInTime(before)-1e-9 || before.Fits && !after.Fits ||
			before.Fits && after.StartBy < before.StartBy {
			t.Errorf("with %d of %g h: %+v; with %d of %g h: %+v", before.People, before.HoursADay, before,
				after.People, after.HoursADay, after)
		}
		if !near(after.Total(), before.Total(), 1e-9) {
			t.Errorf("the work itself is %g h and %g h", before.Total(), after.Total())
		}
	})
}

//revive:disable-next-line:function-length properties of one draw, checked in one place
func TestWorkProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, today, w := drawWork(t)
		got := s.Work(today, w)
		if got.Share < 0 || got.Share > 1 || got.Fits != (got.StartBy != 0) || got.Fits && got.Share != 1 {
			t.Errorf("%+v", got)
		}
		from := max(today, w.Opens)
		if got.Fits && (got.StartBy < from || got.StartBy+Day(got.Days)-1 > w.Closes || got.StartBy > from &&
			got.StartBy+Day(got.MostDays)-1 != w.Closes) {
			t.Errorf("start by %s, %d to %d days, window %s to %s on %s", got.StartBy, got.Days, got.MostDays, w.Opens,
				w.Closes, today)
		}
		if (got.Days > 0) != (s.Plot.AreaM2 > 0) || s.fit().Hand() != (got.AlongHours == 0 && s.Plot.AreaM2 > 0 ||
			got.OneWay == WayUnknown) {
			t.Errorf("%d days, %g h along, area %g, %s", got.Days, got.AlongHours, s.Plot.AreaM2, s.fit().Verdict)
		}
		low, high := got.TotalRange()
		if low > got.Total() || got.Total() > high || low < 0 || got.MostDays < got.Days {
			t.Errorf("%g h, %g to %g; %+v", got.Total(), low, high, got)
		}
		// The figures for pulling and for the whole ground agree.
		if got.PullBothHours > got.PullHours || got.PullHours > got.HandHours {
			t.Errorf("pulling takes %g h, both ways %g h, by hand %g h", got.PullHours, got.PullBothHours,
				got.HandHours)
		}
		if (got.Instead != NoAlternative) != (!got.Fits && got.Days > 0 && today <= w.Closes) {
			t.Errorf("instead %s of %+v on %s", got.Instead, got, today)
		}
		later := s.asOf(today).Work(today+1, w)
		if today+1 <= w.Closes && later.Share > got.Share {
			t.Errorf("share %g, a day later %g", got.Share, later.Share)
		}
		// The work of an alternative ends inside the window.
		then := got.Then
		push, hand := got.hours(then.Do, then.ToolShare)
		span := float64(w.Closes-from) + 1
		if then.StartBy != 0 && (float64(then.Days) > span ||
			push+hand > span*float64(then.People)*got.HoursADay+1e-6 ||
			push > span*got.toolADay(then.People, then.Tools)+1e-6) {
			t.Errorf("%s with %+v does not fit in %g days: %+v", got.Instead, then, span, got)
		}
		if (then.StartBy != 0) != (got.Instead != NoAlternative && got.Instead != ByHandRest) ||
			(got.Instead == NoAlternative) != (then == Crew{}) || then.Do == WeedBoth && got.Do != WeedBoth ||
			got.Instead == HandsBeside != (then.ToolShare > 0 && then.ToolShare < 1) {
			t.Errorf("instead %s: %+v of %s", got.Instead, then, got.Do)
		}
		helped := s
		helped.Home.People, helped.Home.Tools = then.People, then.Tools
		inTime := func(s Season) bool {
			again := s.Work(today, w)
			return again.Fits && (then.MostDays > got.WindowDays || again.MostDays <= got.WindowDays)
		}
		switch got.Instead {
		case MoreHands:
			helped.Home.Tools = s.Home.Tools
			if then.People <= got.People || !inTime(helped) {
				t.Errorf("%d people are not enough: %+v", then.People, got)
			}
			helped.Home.People--
			if inTime(helped) {
				t.Errorf("fewer than %d people are enough: %+v", then.People, got)
			}
		case MoreTools:
			helped.Home.Tools--
			if then.Tools <= got.Tools || then.Do == got.Do && inTime(helped) {
				t.Errorf("fewer than %d tools are enough: %+v", then.Tools, got)
			}
		case ByHandRest:
			helped.Home.People, helped.Home.Tools = max(got.People, MostHands), max(got.Tools, MostTools)
			if helped.Work(today, w).Fits {
				t.Errorf("more hands do fit: %+v", got)
			}
		}
		// A plot of twice the area needs twice the work. The drawn passes have no logged hours.
		twice := s
		twice.Plot.AreaM2 *= 2
		if double := twice.Work(today, w); !near(double.Total(), 2*got.Total(), 1e-6) ||
			!near(double.HandHours, 2*got.HandHours, 1e-6) || double.Days < got.Days {
			t.Errorf("%+v; of twice the area %+v", got, double)
		}
	})
}

// Computed by hand: 73 h of pushing and 28.5 h of pulling take a hundred hours and a little; twenty people who work one
// hour on each of five days weed for a hundred hours. The engine proposes twenty people at most.
func TestAsManyHandsAsAreOfUse(t *testing.T) {
	s := rowsOf20(11_200, 0)
	s.Home = Household{People: 1, HoursADay: 1, Tools: 2}
	if got := s.Work(s.Plot.Planted, windowOf(5)); got.Instead != MoreHands || got.Then.People != MostHands {
		t.Errorf("%s with %d people", got.Instead, got.Then.People)
	}
	s.Plot.AreaM2 = 11_400
	if got := s.Work(s.Plot.Planted, windowOf(5)); got.Instead != ByHandRest {
		t.Errorf("%s with %d people", got.Instead, got.Then.People)
	}
}
