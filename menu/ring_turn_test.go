package menu

import (
	"strings"
	"testing"

	"rowbell/engine"
)

// anas is a turn on a Friday with a tool that Ana has before and Ben after.
func anas() Turn {
	return Turn{ToolNo: 2, From: wednesday + 2, To: wednesday + 2,
		FetchFrom: Neighbour{"Ana", "+447700900101"}, HandTo: Neighbour{"Ben", "+447700900102"}}
}

// openBell is a reminder that the window of a plot is open, of a plot whose weeds were not looked at (guess) or were.
func openBell(t *testing.T, looked bool) Bell {
	t.Helper()
	s := due()
	s.Weather = engine.Steady(22, 32)
	if looked {
		s.Sightings = []engine.Sighting{{On: wednesday - 6, Leaves: engine.OneLeaf}}
	}
	p := must(s.Plan(wednesday))
	bell := Bell{No: 1, Season: s, Plan: p,
		Reminder: engine.Reminder{Kind: engine.KindOpen, Window: p.Next, LastUseful: p.Next.Closes, On: wednesday}}
	if bell.guess() == looked {
		t.Fatalf("looked %t, guess %t", looked, bell.guess())
	}
	return bell
}

// TestReminderNamesTheTurn checks that a reminder about a plot with a turn names the turn and still asks the same: a
// silent number is told no name, and what does not fit is left out.
func TestReminderNamesTheTurn(t *testing.T) {
	m := everyMenu()
	turn := anas()
	bell := openBell(t, false)
	plain := must(m.Ring("en", bell))
	bell.Turn = &turn
	r := must(m.Ring("en", bell))
	wants(t, r.Text, "Your turn with tool 2: Fri 27 Nov.", "Get it from Ana", "teeth", "4 too small")
	if !r.Turn || plain.Turn || string(r.Prompt) != string(plain.Prompt) || r.PromptEnd != plain.PromptEnd {
		t.Errorf("%+v, without the turn %+v", r, plain)
	}
	turn.Was = &Turn{From: wednesday + 1, To: wednesday + 1}
	wants(t, must(m.Ring("en", bell)).Text, "Your turn with tool 2: Fri 27 Nov, not Thu 26 Nov.")
	turn.Was, turn.Then = nil, []Turn{{From: wednesday + 4, To: wednesday + 4, ToolNo: 1}}
	wants(t, must(m.Ring("en", bell)).Text, "Your turn with tool 2: Fri 27 Nov, Sun 29 Nov (tool 1).")
	turn.Then = nil
	bell.Silent = true
	silent := must(m.Ring("en", bell))
	wants(t, silent.Text, "Fri 27 Nov")
	lacks(t, silent.Text, "Ana", "4477")
	bell.Silent, turn.FetchFrom.Name, turn.Tool = false, strings.Repeat("A", 10), "Blue steel"
	bell.Season.Plot.Label, turn.To = "Long field", wednesday+4
	for _, lang := range m.Languages() {
		long := must(m.Ring(lang, bell))
		if !long.Turn || !m.rings(lang, long.Text) {
			t.Errorf("%s, turn %t: %s", lang, long.Turn, long.Text)
		}
	}
	looked := openBell(t, true)
	looked.Turn = &turn
	wants(t, must(m.Ring("en", looked)).Text, "weed by", "1 done, 2 not yet, 3 too big.")
	if _, err := m.Ring("en", looked, looked); err != ErrApart {
		t.Errorf("two plots with turns share a text: %v", err)
	}
}

// TestDeepWaterBeforeTheTurn checks that a text about water that is too deep says so, and not the turn.
func TestDeepWaterBeforeTheTurn(t *testing.T) {
	bell := openBell(t, true)
	turn := anas()
	bell.Turn = &turn
	bell.Season.Sightings = append(bell.Season.Sightings, engine.Sighting{On: wednesday, Water: engine.StandsHand})
	bell.Plan = must(bell.Season.Plan(wednesday))
	r := must(newMenu().Ring("en", bell))
	wants(t, r.Text, "too much water")
	if r.Turn {
		t.Errorf("the turn counts as told: %s", r.Text)
	}
}

// TestWindowBeforeALateTurn checks that a member whose turn is after the window is told what can be done in time: the
// late turn was told before, in a text of its own.
func TestWindowBeforeALateTurn(t *testing.T) {
	for _, looked := range []bool{false, true} {
		bell := openBell(t, looked)
		bell.Turn = &Turn{From: bell.Reminder.Window.Closes + 1, To: bell.Reminder.Window.Closes + 1}
		r := must(newMenu().Ring("en", bell))
		wants(t, r.Text, "by hand or with a borrowed weeder")
		bell.Reminder.Kind = engine.KindPrepare
		prepare := must(newMenu().Ring("en", bell))
		wants(t, prepare.Text, "Borrow a weeder up to")
		if r.Turn || prepare.Turn {
			t.Errorf("the turn counts as told: %s\n%s", r.Text, prepare.Text)
		}
	}
}

// TestTurnTexts checks the texts about turns that changed, in English word by word and in all languages their length
// with long names.
func TestTurnTexts(t *testing.T) {
	was := Turn{From: wednesday + 1, To: wednesday + 2}
	span := engine.Window{Number: 1, Opens: wednesday, Closes: wednesday + 3}
	for _, tt := range []struct {
		news TurnNews
		want string
	}{
		{TurnNews{Event: TurnGiven, Now: anas()},
			"Plot 1: your turn with tool 2: Fri 27 Nov. Get it from Ana +447700900101. " +
				"Then it goes to Ben +447700900102."},
		{TurnNews{Event: TurnMoved, Was: was, Now: Turn{From: wednesday + 5, To: wednesday + 5}, Why: WhyBroken},
			"Plot 1: your turn moves to Mon 30 Nov, with the tool. It was Thu 26 Nov to Fri 27 Nov. " +
				"Why: the tool is broken."},
		{TurnNews{Event: TurnGone, Was: anas(), HandHours: 12.4, Why: WhyOwnDays},
			"Plot 1: your turn Fri 27 Nov cannot be kept, and no other day is free. By hand: about 12 h. " +
				"To change turns or hire, dial *123#. Why: the days for your weeds changed."},
		{TurnNews{Event: TurnFreed, Was: anas(), HandHours: 12.4, Why: WhyOwnDays},
			"Plot 1: your turn Fri 27 Nov is free for others. By hand: about 12 h. " +
				"To change turns or hire, dial *123#. Why: the days for your weeds changed."},
		{TurnNews{Event: TurnLate, Span: span, Now: anas(), HandHours: 2.5},
			"Plot 1: no turn in your weeding days (Wed 25 Nov to Sat 28 Nov). Your turn comes late: Fri 27 Nov, " +
				"with tool 2. Get it from Ana +447700900101. By hand: about 2.5 h. " +
				"To change turns or hire, dial *123#. Then it goes to Ben +447700900102."},
		{TurnNews{Event: TurnNone, Span: span},
			"Plot 1: no turn with a tool in your weeding days (Wed 25 Nov to Sat 28 Nov). " +
				"To change turns or hire, dial *123#."},
		{TurnNews{Event: TurnStays, Now: anas(), Why: WhyOther, Other: Neighbour{Name: "Eve"}},
			"Plot 1: your turn is still Fri 27 Nov, with tool 2. Get it from Ana +447700900101. " +
				"Then it goes to Ben +447700900102. Why: Eve needs it then."},
		{TurnNews{Event: TurnPassed, Now: anas()},
			"Plot 1: after your turn give tool 2 to Ben +447700900102."},
		{TurnNews{Event: TurnGiven, Now: anas(), Silent: true, Plot: engine.Plot{Label: "Upper"}},
			"Plot 1: your turn with tool 2: Fri 27 Nov."},
	} {
		tt.news.No = 1
		if got := must(everyMenu().TurnText("en", tt.news)); got != tt.want {
			t.Errorf("got  %s\nwant %s", got, tt.want)
		}
		long := tt.news
		long.Plot.Label = "Long field"
		long.Now.Tool, long.Now.FetchFrom.Name = "Blue steel", "Wwwwwwwwww"
		for _, lang := range everyMenu().Languages() {
			body := must(everyMenu().TurnText(lang, long))
			if e := everyMenu().Encode(lang, body); e.Segments > MaxSegments(e.Encoding.Alphabet, false) {
				t.Errorf("%s: %d segments: %s", lang, e.Segments, body)
			}
		}
	}
}

// TestTurnOfAGuessedWindow checks that a grower without a tool of the household's own, whose days are a guess, is told
// to look first, and may answer that the weeds are too small.
func TestTurnOfAGuessedWindow(t *testing.T) {
	bell := openBell(t, false)
	bell.Season.Tool = engine.Tool{}
	bell.Plan = must(bell.Season.Plan(wednesday))
	turn := anas()
	bell.Turn = &turn
	wants(t, must(newMenu().Ring("en", bell)).Text, "Weed if most weeds have 2-3 leaves.", "4 too small")
}
