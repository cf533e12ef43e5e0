package engine

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// part returns a pass with the tool over a share of the plot, on a day after planting. One person worked these hours.
func part(on Day, share, hours float64) Pass {
	p := Pass{On: on, With: ByTool, Way: Along, Left: Few, Share: share, Hours: hours}
	if hours > 0 {
		p.People = 1
	}
	return p
}

// The windows are those of hectare: day 12 to 15, and 12 to 15 days after a pass.
func TestWhatIsLeftStaysDue(t *testing.T) {
	planted := square(20).Planted
	windows := func(today Day, passes ...Pass) Plan { return must(hectare(passes...).Windows(planted + today)) }
	whole := func(on Day) Pass { return part(on, 0, 0) }
	for _, c := range []struct {
		name           string
		today          Day
		passes, asThis []Pass // the plan of both must be the same, but for Passes and Weeded
		made           int
		weeded         float64
	}{
		{"a half leaves the window as it is", 13, []Pass{part(13, 0.5, 0)}, nil, 0, 0.5},
		{"also in its last days", 15, []Pass{part(13, 0.5, 0)}, nil, 0, 0.5},
		{"the rest is missed", 16, []Pass{part(13, 0.5, 0)}, nil, 0, 0.5},
		{"two halves are a pass on the last day", 15, []Pass{part(13, 0.5, 0), part(15, 0.5, 0)},
			[]Pass{whole(15)}, 1, 0},
		{"three thirds", 15, []Pass{part(12, 1.0/3, 0), part(13, 1.0/3, 0), part(15, 1.0/3, 0)},
			[]Pass{whole(15)}, 1, 0},
		{"two quarters are not", 15, []Pass{part(13, 0.25, 0), part(15, 0.25, 0)}, nil, 0, 0.5},
		{"three quarters and three quarters are the plot", 15, []Pass{part(13, 0.75, 0), part(15, 0.75, 0)},
			[]Pass{whole(15)}, 1, 0},
		{"the whole plot after a half is the plot", 15, []Pass{part(13, 0.5, 0), whole(15)}, []Pass{whole(15)}, 1, 0},
		{"before its next window a half has become the pass", 23, []Pass{part(13, 0.5, 0)}, []Pass{whole(13)}, 1, 0},
		{"a quarter never does", 26, []Pass{part(13, 0.25, 0)}, nil, 1, 0},
		{"a rest pulled after the window does not move the day", 24,
			[]Pass{part(13, 0.5, 0), {On: 18, With: ByHand, Share: 0.5}}, []Pass{whole(13)}, 1, 0},
		{"the larger rest does", 25, []Pass{part(13, 0.25, 0), {On: 18, With: ByHand, Share: 0.75}},
			[]Pass{{On: 18, With: ByHand, Left: Few}}, 1, 0},
		{"a half at the end of the season is the last pass", 60, []Pass{part(13, 0, 0), part(40, 0.5, 0)},
			[]Pass{whole(13), whole(40)}, 2, 0},
		{"a half after a window that was missed", 29, []Pass{part(29, 0.5, 0)}, nil, 0, 0.5},
		{"two halves two windows apart are two parts", 26, []Pass{part(13, 0.5, 0), part(26, 0.5, 0)},
			[]Pass{whole(13)}, 1, 0.5},
	} {
		got, want := windows(c.today, c.passes...), windows(c.today, c.asThis...)
		want.Passes, want.Weeded = c.made, c.weeded
		if got.State == Missed { // the next window counts from the half
			want.LookAgain = windows(c.today, whole(13)).Next.AskOn
		}
		wantSamePlan(t, c.name, got, want)
	}
}

// A half leaves the window of its day as it is, whatever was logged, missed or announced before. A half in the second
// window must not count as the pass of a first window that was missed.
func TestAPartLeavesItsWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := drawDay(t, s)
		if w := must(s.Windows(today)).Next; w.Exists() && rapid.Bool().Draw(t, "announced") {
			moved := Day(rapid.IntRange(-9, 9).Draw(t, "moved"))
			w.Opens, w.Best, w.Closes = w.Opens+moved, w.Best+moved, w.Closes+moved
			s.Announced = w
		}
		want := must(s.Windows(today))
		if today < s.Plot.Planted || !want.Next.Exists() || want.State == Closed {
			return
		}
		s = s.asOf(today)
		s.joined = nil
		s.Passes = append(slices.Clone(s.Passes), Pass{On: today, With: ByTool, Share: 0.5})
		got := must(s.Windows(today))
		want.Weeded, want.LookAgain, got.LookAgain = 0.5, 0, 0 // a window that is missed may have another day to look
		wantSamePlan(t, "after the half", got, want)
	})
}

// wantSamePlan compares two plans of Windows, which have no later windows.
func wantSamePlan(t reporter, what string, got, want Plan) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%s:\ngot  %+v\nwant %+v", what, got, want)
	}
}

// A look of the next window must not bring back a window in which a part was left.
func TestALookAtTheNextWeedsIsNotAboutTheRest(t *testing.T) {
	s, whole := hectare(part(13, 0.5, 0)), hectare(part(13, 0, 0))
	look := []Sighting{{On: s.Plot.Planted + 23, Leaves: OneLeaf}}
	s.Sightings, whole.Sightings = look, look
	today := s.Plot.Planted + 24
	wantSamePlan(t, "the plan", must(s.Windows(today)), must(whole.Windows(today)))
}

// Half of a plot takes half of the hours: as the rest of the work, and as what was worked.
func TestHoursOfAPart(t *testing.T) {
	model := tableFigures.toolHours(Both, 1e4, 20, 20)
	day := square(20).Planted
	whole := hectare().Work(day+14, windowOf(3))
	rest := hectare(part(13, 0.75, 0)).Work(day+14, windowOf(3))
	wantEqual(t, "rest", rest.Rest, 0.25)
	wantNear(t, "hours left", rest.Total(), whole.Total()/4, 1e-9)
	both := func(on Day, share, hours float64) Pass {
		return Pass{On: on, With: ByTool, Way: Both, Share: share, Hours: hours, People: 1}
	}
	for _, c := range []struct {
		name   string
		passes []Pass
		logged int
		factor float64 // as in TestPace
	}{
		{"half at the model's pace", []Pass{both(13, 0.5, model/2)}, 1, 1},
		{"a quarter, twice the hours", []Pass{both(13, 0.25, model/2)}, 1, 1.2834},
		{"two halves, twice the hours", []Pass{both(13, 0.5, model), both(14, 0.5, model)}, 2, 1.4433},
	} {
		s := hectare(c.passes...)
		got := s.Work(day+40, Window{}).Pace
		if !near(got.Factor, c.factor, 1e-4) || got.Logged != c.logged {
			t.Errorf("%s: %+v, want %g of %d", c.name, got, c.factor, c.logged)
		}
	}
	// The other half by hand a day later is weeding, not pulling behind the tool: 100 of the usual 200 hours a hectare.
	s := hectare(part(13, 0.5, 30), Pass{On: 14, With: ByHand, Share: 0.5, Hours: HandHoursPerHa / 2, People: 1})
	wantEqual(t, "by hand, logged", s.Work(day+40, Window{}).HandPace.Logged, 1)
	behind := hectare(part(13, 0, 60), Pass{On: 14, With: ByHand, Share: 0.5, Hours: 20, People: 1})
	wantEqual(t, "behind the tool, logged", behind.Work(day+40, Window{}).HandPace.Logged, 0)
}

func TestSummaryOfParts(t *testing.T) {
	planted := square(20).Planted
	two := hectare(part(13, 0.5, 30), part(15, 0.5, 40)).Summary(planted + 20)
	wantEqual(t, "two halves", two, Summary{Passes: 1, InWindow: 1, FirstDay: planted + 15, LastDay: planted + 15,
		Hours: 70, LoggedHours: 1, Rounds: 1, HandHours: 200, SavedHours: 130})
	wantEqual(t, "a half, the rest due", hectare(part(13, 0.5, 30)).Summary(planted+14), Summary{Passes: 1, Part: 0.5,
		InWindow: 1, FirstDay: planted + 13, LastDay: planted + 13, Hours: 30, LoggedHours: 1, Rounds: 1,
		HandHours: 100, SavedHours: 70})
	wantEqual(t, "a half that stayed one", hectare(part(13, 0.5, 30)).Summary(planted+30).HandHours, 100.0)
	wantEqual(t, "hours of one half only", hectare(part(13, 0.5, 30), part(15, 0.5, 0)).Summary(planted+20).LoggedHours,
		0)
}

// In a trial, half of a plot that took half of the hours is as quick as the whole.
func TestTrialOfParts(t *testing.T) {
	over := square(20).Planted + 90
	a, b := half(ToolAlong, 0, 60, 60), half(ToolBoth, 0, 60, 30)
	b.Season.Passes[1].Share = 0.5
	got := Trial{A: a, B: b}.Compare(over)
	wantNear(t, "hours a hectare", got.B.HoursPerHa, got.A.HoursPerHa, 1e-9)
	wantEqual(t, "passes", got.B.Passes, 2)
}

// A pass over all of the plot is the same whether the share is 1 or not given, in everything that the engine tells.
func TestAShareOfOneIsAWholePass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, today := drawSeason(t), Day(0)
		today = drawDay(t, s)
		one := s
		one.Passes = slices.Clone(s.Passes)
		for i := range one.Passes {
			one.Passes[i].Share = 1
		}
		wantEqual(t, "summary", one.Summary(today), s.Summary(today))
		a, b := must(one.Full(today)), must(s.Full(today))
		if !slices.Equal(a.Later, b.Later) {
			t.Fatalf("later %+v, want %+v", a.Later, b.Later)
		}
		a.Later, b.Later = nil, nil
		wantEqual(t, "next", a.Next, b.Next)
		wantEqual(t, "state", a.State, b.State)
		wantEqual(t, "work", a.Work, b.Work)
		wantEqual(t, "risk", a.Risk, b.Risk)
	})
}

// However a season is logged in parts, each window ends with at most the whole plot, no more weedings come out than
// passes went in, and no hours are lost or made.
func TestPartsOfAWindowAddUpToThePlot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		var hours float64
		for i := range s.Passes {
			p := &s.Passes[i]
			p.Share = float64(rapid.IntRange(0, 4).Draw(t, "quarters")) / 4
			p.Hours, p.People = float64(rapid.IntRange(1, 9).Draw(t, "hours")), 1
		}
		today := drawDay(t, s)
		for _, p := range s.Passes {
			if s.Plot.Planted <= p.On && p.On <= today {
				hours += p.Hours
			}
		}
		plan := must(s.Full(today))
		if plan.Weeded < 0 || plan.Weeded >= 1 || plan.Work.Rest != 1-plan.Weeded {
			t.Fatalf("weeded %g, rest %g", plan.Weeded, plan.Work.Rest)
		}
		if plan.Weeded > 0 && !plan.Next.Exists() {
			t.Fatalf("%g of the plot is weeded in no window", plan.Weeded)
		}
		sum := s.Summary(today)
		wantNear(t, "hours", sum.Hours, hours, 1e-9)
		if sum.Passes > len(s.Passes) || sum.Passes < plan.Passes || sum.Part != plan.Weeded {
			t.Fatalf("%d weedings of %d passes: %+v", sum.Passes, len(s.Passes), sum)
		}
		as := s.asOf(today)
		for _, p := range as.allWeedings() {
			if p.Share < 0 || p.Share > 1 {
				t.Fatalf("a window with %g of the plot", p.Share)
			}
		}
	})
}
