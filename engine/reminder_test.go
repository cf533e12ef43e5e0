package engine

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

//revive:disable-next-line:function-length a table of cases
func TestReminder(t *testing.T) {
	planted := Date(2026, 7, 1)
	// On a flooded plot at 28 °C the first window is days 12 to 15 after planting, and the grower is asked to look on
	// day 8. In the cool place (15 °C) the window is days 26 to 37, its best day is day 31, and the nudge is on day 32.
	warm := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(24, 32)}
	cool := Season{Plot: flooded(20), Tool: Tool{WidthCM: 15}, Weather: Steady(11, 19)}
	seen := func(s Season, d Day, l Leaves) Season {
		s.Sightings = []Sighting{{On: planted + d, Leaves: l}}
		return s
	}
	registered := func(s Season, d Day) Season { s.Since = planted + d; return s }
	told := func(k Kind, d Day) Told { return Told{Kind: k, Window: 1, On: planted + d} }
	closed := func(d Day) Told { return Told{Kind: KindClosed, On: planted + d} }
	for _, c := range []struct {
		name   string
		season Season
		day    Day
		told   []Told
		want   Kind
		useful Day // last useful day, after planting
		why    Silence
	}{
		{"nothing yet", warm, 7, nil, 0, 0, SilentNothingNew},
		{"the day of the look", warm, 8, nil, KindPrepare, 11, NotSilent},
		{"the day before, told already", warm, 11, []Told{told(KindPrepare, 10)}, 0, 0, SilentTold},
		{"it opens", warm, 12, []Told{told(KindPrepare, 8)}, KindOpen, 15, NotSilent},
		{"it opened while we were away", warm, 13, nil, KindOpen, 15, NotSilent},
		{"one text a day", warm, 12, []Told{{Kind: KindPrepare, Window: 1, On: planted + 12}}, 0, 0, SilentToday},
		{"three texts a week", warm, 12, []Told{told(KindMissed, 6), told(KindMissed, 7), told(KindPrepare, 10)}, 0,
			0, SilentWeek},
		{"the first of three is a week old", warm, 13,
			[]Told{told(KindMissed, 6), told(KindMissed, 7), told(KindPrepare, 10)}, KindOpen, 15, NotSilent},
		{"no nudge on the best day", cool, 31, []Told{told(KindOpen, 26)}, 0, 0, SilentTold},
		{"a nudge in a long window", cool, 32, []Told{told(KindOpen, 26)}, KindNudge, 36, NotSilent},
		{"a nudge once", cool, 32, []Told{told(KindOpen, 26), told(KindNudge, 32)}, 0, 0, SilentTold},
		{"no nudge where the last-days text would be the fourth", cool, 32,
			[]Told{told(KindOpen, 30), told(KindMissed, 31)}, 0, 0, SilentKeepForLast},
		{"no nudge on the heels of the text before", cool, 32, []Told{told(KindOpen, 31)}, 0, 0, SilentTold},
		{"last days", warm, 14, []Told{told(KindPrepare, 8), told(KindOpen, 12)}, KindLastDays, 15, NotSilent},
		{"missed", warm, 16, []Told{told(KindOpen, 12)}, KindMissed, 21, NotSilent},
		{"missed, the next look near", warm, 23, []Told{told(KindOpen, 12)}, KindMissed, 23, NotSilent},
		{"missed and never answered: the next window all the same", warm, 28,
			[]Told{told(KindOpen, 12), told(KindMissed, 16)}, KindOpen, 31, NotSilent},
		{"missed once", warm, 20, []Told{told(KindMissed, 16)}, 0, 0, SilentTold},
		{"it was over when the plot was registered, and nobody looked", registered(warm, 16), 16, nil,
			KindPrepare, 21, NotSilent},
		{"the same, and told of the weeds", seen(registered(warm, 16), 16, FourPlus), 17, nil, 0, 0, SilentKnown},
		{"registered on its last day", registered(warm, 15), 16, nil, KindMissed, 21, NotSilent},
		{"the grower saw that weeds are too big", seen(warm, 9, FourPlus), 11, nil, 0, 0, SilentKnown},
		{"a sighting makes a new edition", seen(warm, 12, OneLeaf), 16, []Told{told(KindOpen, 12)}, KindOpen, 18,
			NotSilent},
		{"the answer to a leaf count named the days", seen(warm, 11, TwoThree), 12, []Told{told(KindPrepare, 8)}, 0,
			0, SilentKnown},
		{"the end", warm, 42, []Told{told(KindOpen, 12)}, KindClosed, 49, NotSilent},
		{"the end, once", warm, 43, []Told{told(KindOpen, 12), closed(42)}, 0, 0, SilentTold},
		{"the end, a week late", warm, 49, []Told{told(KindOpen, 12)}, KindClosed, 56, NotSilent},
		{"the end, past telling", warm, 50, []Told{told(KindOpen, 12)}, 0, 0, SilentKnown},
		{"the end, though nothing was told before", warm, 42, nil, KindClosed, 49, NotSilent},
		{"registered after the end", registered(warm, 43), 43, []Told{told(KindOpen, 12)}, 0, 0, SilentKnown},
		{"the grower closed the plot", func() Season { s := warm; s.ClosedOn = planted + 20; return s }(), 20,
			[]Told{told(KindOpen, 12)}, 0, 0, SilentKnown},
		{"the grower saw the rows closed", func() Season {
			s := warm
			s.Sightings = []Sighting{{On: planted + 35, Rows: RowsClosed}}
			return s
		}(), 36, []Told{told(KindOpen, 12)}, 0, 0, SilentKnown},
		{"the planting day was corrected: what was told before is of another window", warm, 12,
			[]Told{told(KindOpen, 5)}, KindOpen, 15, NotSilent},
	} {
		got, why := must(c.season.Plan(planted + c.day)).Reminder(c.told)
		if got.Kind != c.want || why != c.why {
			t.Errorf("%s: %s, %s; want %s, %s", c.name, got.Kind, why, c.want, c.why)
			continue
		}
		if c.want != 0 && got.LastUseful != planted+c.useful {
			t.Errorf("%s: useful until day %d, want %d", c.name, got.LastUseful-planted, c.useful)
		}
	}
}

// drawTold draws a history of texts up to a day.
func drawTold(t *rapid.T, planted, until Day) []Told {
	var told []Told
	wait := rapid.IntRange(0, 6)
	for on := planted + Day(rapid.IntRange(0, 20).Draw(t, "first text")); on <= until; on += Day(wait.Draw(t, "wait")) {
		told = append(told, Told{
			Kind:    Kind(rapid.IntRange(int(KindPrepare), int(KindClosed)).Draw(t, "kind")),
			Window:  rapid.IntRange(0, 4).Draw(t, "window"),
			Edition: rapid.IntRange(0, 2).Draw(t, "edition"),
			On:      on,
		})
		if len(told) > 20 {
			break
		}
	}
	return told
}

func TestNeverTooManyTexts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		today := s.Plot.Planted + Day(rapid.IntRange(-5, 70).Draw(t, "today"))
		told := drawTold(t, s.Plot.Planted, today)
		plan := must(s.Plan(today))
		r, silence := plan.Reminder(told)
		if (silence == NotSilent) != (r.Kind != 0) {
			t.Fatalf("%+v and %s", r, silence)
		}
		if r.Kind == 0 {
			return
		}
		week := 0
		for _, x := range told {
			if x.On == today {
				t.Errorf("a second text on %s: %s", today, r.Kind)
			}
			if x.On > today-7 {
				week++
			}
		}
		if week >= 3 {
			t.Errorf("%s is the %dth text in seven days", r.Kind, week+1)
		}
		if r.LastUseful < today {
			t.Errorf("%s, useful until %s only, on %s", r.Kind, r.LastUseful, today)
		}
		if r.Kind != KindClosed && r.LastUseful > plan.Closure.LastToolDay {
			t.Errorf("%s is useful until %s, after the last tool day %s", r.Kind, r.LastUseful,
				plan.Closure.LastToolDay)
		}
	})
}

// ring returns the texts of a bell that looks at the plot every day, or only on the days LookAgain. If a limit delays a
// text, the bell looks on the next day.
func ring(t *rapid.T, s Season, from, to Day, everyDay bool) []Told {
	var told []Told
	look := from
	for d := from; d <= to; d++ {
		if !everyDay && d < look {
			continue
		}
		plan := must(s.Plan(d))
		r, silence := plan.Reminder(told)
		if silence == NotSilent {
			told = append(told, Told{Kind: r.Kind, Window: r.Window.Number, Edition: r.Window.Edition, On: d})
			s.Announced = r.Window
		}
		switch {
		case silence == SilentToday, silence == SilentWeek:
			look = d + 1
		case plan.LookAgain == 0:
			look = to + 1
		default:
			look = plan.LookAgain
		}
	}
	return told
}

func TestABellThatLooksSeldomMissesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		from := s.Plot.Planted
		for _, x := range s.Passes {
			from = max(from, x.On) // if the grower logs something, the bell looks at the plot on that day
		}
		for _, x := range s.Sightings {
			from = max(from, x.On)
		}
		all, few := ring(t, s, from, from+80, true), ring(t, s, from, from+80, false)
		if !slices.Equal(all, few) {
			t.Fatalf("looking every day tells %v, looking again %v", all, few)
		}
	})
}

// A window of five days gets no nudge: its third day is the day before the last days.
func TestNoNudgeOnTheDayBeforeTheLastDays(t *testing.T) {
	w := Window{Number: 1, Opens: 100, Best: 101, Closes: 104, With: ByTool}
	told := []Told{{Kind: KindOpen, Window: 1, On: 100}}
	wantEqual(t, "on the third day", (Plan{On: w.NudgeOn(), State: Open, Next: w}).due(told).Kind, KindOpen)
	w.Closes++
	wantEqual(t, "on the third day of six", (Plan{On: w.NudgeOn(), State: Open, Next: w}).due(told).Kind, KindNudge)
}

// A grower who looked at most OpenKnownDays days before the window opens knows its days from the answer, if they are no
// guess and no other look is due.
func TestWhoLookedKnowsWhenTheWindowOpens(t *testing.T) {
	looked := Window{Number: 1, Opens: 100, Best: 101, Closes: 104, With: ByTool, SeenOn: 96, Chance: 0.9}
	early, unsure, again := looked, looked, looked
	early.SeenOn, unsure.Chance, again.AskOn = 95, GuessChance-0.01, 98
	for _, c := range []struct {
		name  string
		w     Window
		known bool
	}{
		{"looked", looked, true}, {"too early", early, false}, {"a guess", unsure, false},
		{"another look", again, false},
	} {
		wantEqual(t, c.name, Plan{On: 100, State: Open, Next: c.w}.known(KindOpen), c.known)
	}
}

func TestWhatTheGrowerKnows(t *testing.T) {
	end := Plan{On: 101, State: Closed, Closure: Closure{LastToolDay: 100, Why: EndRowsClose}}
	for since, known := range map[Day]bool{99: false, 100: false, 101: true} {
		if end.since = since; end.known(KindClosed) != known {
			t.Errorf("registered on day %d: the end on day 100 is known %t", since, !known)
		}
	}
	// From the first day of a window on, the text about its move also says that it is open.
	open := Plan{On: 105, State: Open, Next: Window{Number: 1, Opens: 100, Closes: 110}}
	for on, told := range map[Day]bool{99: false, 100: true} {
		wantEqual(t, "moved on day %d: the opening was told", open.wasTold([]Told{{Kind: KindMoved, Window: 1, On: on}},
			KindOpen), told, on)
	}
}
