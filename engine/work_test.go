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
	// hours a day (computed). LowHours to HighHours contains this range.
	if w.LowHours > 48 || w.HighHours < 64 || w.LowHours != ToolHoursPerHaLow || w.HighHours != ToolHoursPerHaHigh {
		t.Errorf("%g to %g h/ha", w.LowHours, w.HighHours)
	}
	for name, s := range map[string]Season{
		"scattered":     {Plot: Plot{Method: Broadcast, AreaM2: 1000}, Tool: Tool{WidthCM: 15}},
		"rows of 15 cm": {Plot: Plot{Method: Transplanted, RowSpacingCM: 15, AreaM2: 1000}, Tool: Tool{WidthCM: 15}},
	} {
		got := s.Work(s.Plot.Planted, Window{})
		got.Pace, got.HandPace = Pace{}, Pace{}
		if want := (Work{HandHours: 20, People: 1, HoursADay: 6, Do: WeedByHand, Days: 4}); got != want {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

func TestWorkedExample(t *testing.T) {
	// Computed by hand: the field capacity is 1.2 km/h x 0.2 m x 0.65 / 10 = 0.0156 ha/h, so one pass over 1000 m2
	// takes 6.41 h. Pulling weeds after the pass takes three tenths of these hours.
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
		{"alone", 0, 0, 5, -3, 2, 3, 1},
		{"alone, in the window", 0, 0, 5, 2, 2, 3, 1},
		{"alone, too late to begin", 0, 0, 5, 4, 2, -1, 6 / 8.3333},
		{"alone, long days", 1, 9, 5, -3, 1, 4, 1},
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
		// A pass usually takes 45 to 110 h/ha: 4.5 to 11 h on 0.1 ha.
		if !near(got.LowHours, 4.5, 1e-9) || !near(got.HighHours, 11, 1e-9) {
			t.Errorf("%s: %g to %g h", c.name, got.LowHours, got.HighHours)
		}
		if !near(got.AlongHours, 6.4103, 1e-4) || !near(got.PullHours, 1.9231, 1e-4) || got.BothHours != 0 ||
			got.AcrossHours != 0 || got.PullBothHours != 0 {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestAToolIsPushedByOneAtATime(t *testing.T) {
	// Computed by hand: one hectare needs 64.1 h of pushing. Nine people in turn push one tool for ToolDayHours (10) a
	// day, so the work takes seven days.
	s := rowsOf20(1e4, 0)
	for _, c := range []struct {
		people int
		hoursH float64
		days   int
	}{{1, 6, 14}, {2, 6, 7}, {9, 6, 7}, {9, 10, 7}, {9, 13, 5}, {1, 13, 7}} {
		s.Home = Household{People: c.people, HoursADay: c.hoursH}
		if got := s.Work(s.Plot.Planted, windowOf(5)); got.Days != c.days {
			t.Errorf("%d people, %g h a day: %d days, want %d", c.people, c.hoursH, got.Days, c.days)
		}
	}
	// In three days one tool is pushed for 30 h (ToolDayHours is 10) of the 64.1 h that the hectare needs.
	s.Home = Household{People: 9, HoursADay: 6}
	wantNear(t, "share weeded by nine people", s.Work(s.Plot.Planted, windowOf(3)).Share, 30/64.1026, 1e-4)
}

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
	byHand := windowOf(3)
	byHand.With, byHand.Why = ByHand, WhyHandDates
	big := windowOf(3)
	big.Why = WhySeenBig
	for _, c := range []struct {
		name    string
		s       Season
		w       Window
		do      Advice
		instead Alternative
		people  int
	}{
		// Computed with the formula of Work, for one person who weeds six hours a day.
		{"fits", rowsOf20(1000, 0), windowOf(5), WeedOneWay, NoAlternative, 0},
		{"one more pair of hands", rowsOf20(4000, 0), windowOf(5), WeedOneWay, MoreHands, 2},
		{"one tool is not enough", rowsOf20(10_000, 0), windowOf(5), WeedOneWay, SecondTool, 3},
		{"far too much", rowsOf20(50_000, 0), windowOf(3), WeedOneWay, ByHandRest, 0},
		{"both ways fit", crossed(1000), windowOf(5), WeedBoth, NoAlternative, 0},
		{"only one way fits", crossed(2500), windowOf(5), WeedBoth, OneWayThenHand, 1},
		{"both ways with help", crossed(2500), windowOf(3), WeedBoth, OneWayThenHand, 2},
		{"one way with help", crossed(2500), windowOf(2), WeedBoth, OneWayThenHand, 2},
		{"even one way needs two tools", crossed(5000), windowOf(3), WeedBoth, SecondTool, 3},
		{"by hand, more hands", narrow(1000), byHand, WeedByHand, MoreHands, 2},
		{"by hand, far too much", narrow(20_000), byHand, WeedByHand, ByHandRest, 0},
		{"weeds seen too big", rowsOf20(1000, 0), big, WeedByHand, NoAlternative, 0},
		{"no window", rowsOf20(1000, 0), Window{}, WeedOneWay, NoAlternative, 0},
		{"area not told", rowsOf20(0, 0), windowOf(5), WeedOneWay, NoAlternative, 0},
		{"area not told, square", crossed(0), windowOf(5), WeedBoth, NoAlternative, 0},
	} {
		got := c.s.Work(c.w.Opens, c.w)
		if got.Do != c.do || got.Instead != c.instead || got.NeedPeople != c.people {
			t.Errorf("%s: %s; instead %s with %d, want %s; %s with %d (%+v)", c.name, got.Do, got.Instead,
				got.NeedPeople, c.do, c.instead, c.people, got)
		}
	}
	if got := crossed(0).Work(0, windowOf(5)); got.Days != 0 || got.StartBy != 0 || got.Share != 0 || got.Fits ||
		got.Total() != 0 || got.HandHours != 0 || got.HighHours != 0 {
		t.Errorf("area not told, and %+v", got)
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
		name       string
		left       Amount
		row, share float64
	}{
		{"not told", AmountUnknown, 20, PullShareSome},
		{"few", Few, 20, PullShareFew},
		{"some", Some, 20, PullShareSome},
		{"many", Many, 20, PullShareMany},
		{"few, and wide strips", Few, 40, PullShareMany},
	} {
		s.Plot.RowSpacingCM = c.row
		s.Passes = []Pass{{On: s.Plot.Planted + 14, With: ByTool, Left: c.left}}
		w := s.Work(s.Plot.Planted+20, windowOf(5))
		if !near(w.PullHours, c.share*w.AlongHours, 1e-9) {
			t.Errorf("%s: %g h pulled behind %g h", c.name, w.PullHours, w.AlongHours)
		}
		before := s.Work(s.Plot.Planted+13, windowOf(5))
		if !near(before.PullHours, before.AlongHours*pullShare(s.fit(), AmountUnknown), 1e-9) {
			t.Errorf("%s: before the pass %g h pulled behind %g h", c.name, before.PullHours, before.AlongHours)
		}
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
	if push, pull := w.hours(WeedOneWay); push != w.AcrossHours || pull != w.PullHours ||
		!(w.AcrossHours > w.AlongHours) {
		t.Errorf("across takes %g h of %+v", push, w)
	}
}

// drawWork draws a season with a household, a day, and a window.
func drawWork(t *rapid.T) (Season, Day, Window) {
	s := drawSeason(t)
	s.Home.People = rapid.IntRange(0, 12).Draw(t, "people")
	s.Home.HoursADay = float64(rapid.IntRange(0, 2*MaxHoursADay).Draw(t, "half hours a day")) / 2
	for range rapid.IntRange(0, 3).Draw(t, "logged") {
		s.Home.Worked = append(s.Home.Worked, drawWorked(t))
	}
	opens := s.Plot.Planted + Day(rapid.IntRange(10, 30).Draw(t, "opens"))
	w := Window{Number: 1, Opens: opens, Best: opens, Closes: opens + Day(rapid.IntRange(0, 20).Draw(t, "span")),
		With: ByTool, Why: WhyWeedClock}
	return s, drawDay(t, s), w
}

func TestMoreHandsOrHoursNeverTakeLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, today, w := drawWork(t)
		before := s.Work(today, w)
		more := s
		if rapid.Bool().Draw(t, "more people") {
			more.Home.People = before.People + rapid.IntRange(1, 20).Draw(t, "helpers")
		} else {
			more.Home.HoursADay = before.HoursADay + rapid.Float64Range(0.1, 8).Draw(t, "longer")
		}
		after := more.Work(today, w)
		if after.Days > before.Days || after.Share < before.Share-1e-9 || before.Fits && !after.Fits ||
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
		if got.Fits && (got.StartBy < max(today, w.Opens) || got.StartBy+Day(got.Days)-1 != w.Closes) {
			t.Errorf("start by %s, %d days, window %s to %s on %s", got.StartBy, got.Days, w.Opens, w.Closes, today)
		}
		if (got.Days > 0) != (s.Plot.AreaM2 > 0) || s.fit().Hand() != (got.AlongHours == 0 && s.Plot.AreaM2 > 0 ||
			got.OneWay == WayUnknown) {
			t.Errorf("%d days, %g h along, area %g, %s", got.Days, got.AlongHours, s.Plot.AreaM2, s.fit().Verdict)
		}
		if got.LowHours > got.AlongHours || got.AlongHours > got.HighHours || got.PullBothHours > got.PullHours {
			t.Errorf("%+v", got)
		}
		if (got.Instead != NoAlternative) != (!got.Fits && got.Days > 0 && today <= w.Closes) {
			t.Errorf("instead %s of %+v on %s", got.Instead, got, today)
		}
		later := s.asOf(today).Work(today+1, w)
		if today+1 <= w.Closes && later.Share > got.Share {
			t.Errorf("share %g, a day later %g", got.Share, later.Share)
		}
		// With the proposed alternative the work ends inside the window.
		helped := s
		helped.Home.People = got.NeedPeople
		switch got.Instead {
		case MoreHands:
			if got.NeedPeople <= got.People || !helped.Work(today, w).Fits {
				t.Errorf("%d people are not enough: %+v", got.NeedPeople, got)
			}
			helped.Home.People--
			if helped.Work(today, w).Fits {
				t.Errorf("fewer than %d people are enough: %+v", got.NeedPeople, got)
			}
		case OneWayThenHand, SecondTool:
			push, pull := got.hours(got.InsteadDo)
			tools := 1
			if got.Instead == SecondTool {
				tools = 2
			}
			span := float64(w.Closes-max(today, w.Opens)) + 1
			if n := float64(got.NeedPeople); push+pull > span*n*got.HoursADay+1e-9 ||
				push > span*min(n*got.HoursADay, float64(tools)*max(got.HoursADay, ToolDayHours))+1e-9 {
				t.Errorf("%s with %d does not fit in %g days: %+v", got.Instead, got.NeedPeople, span, got)
			}
		case ByHandRest:
			helped.Home.People = max(got.People, MostHands)
			if helped.Work(today, w).Fits {
				t.Errorf("more hands do fit: %+v", got)
			}
		}
		if (got.InsteadDo == 0) != (got.Instead == NoAlternative) || got.InsteadDo == WeedBoth && got.Do != WeedBoth {
			t.Errorf("instead %s by %s of %s", got.Instead, got.InsteadDo, got.Do)
		}
		// A plot of twice the area needs twice the work. The drawn passes have no logged hours, so the pace of both
		// plots is the same.
		twice := s
		twice.Plot.AreaM2 *= 2
		if double := twice.Work(today, w); !near(double.Total(), 2*got.Total(), 1e-6) ||
			!near(double.HandHours, 2*got.HandHours, 1e-6) || double.Days < got.Days {
			t.Errorf("%+v; of twice the area %+v", got, double)
		}
	})
}

// Computed by hand: 36.5 h of pushing and 11 h of pulling need ten people who work one hour on each of five days. The
// engine proposes ten people at most.
func TestAsManyHandsAsAreOfUse(t *testing.T) {
	s := rowsOf20(5700, 0)
	s.Home = Household{People: 1, HoursADay: 1}
	if got := s.Work(s.Plot.Planted, windowOf(5)); got.Instead != MoreHands || got.NeedPeople != MostHands {
		t.Errorf("%s with %d people", got.Instead, got.NeedPeople)
	}
}
