package menu

import (
	"slices"
	"strconv"
	"testing"

	"rowbell/engine"
	"rowbell/menu/answer"
)

// TestAnswersToAReminder plays whole exchanges of texts. The test checks the replies and the passes that are logged.
func TestAnswersToAReminder(t *testing.T) {
	for name, c := range map[string]struct {
		plots  int
		lines  []string
		passes [2]int
	}{
		"done, many left": {1, []string{"1 => weeding of Wed 25 Nov is logged | 1 few, 2 some, 3 many | 0 undoes",
			" 3.  => Pull them by hand | We text you Mon 30 Nov to look"}, [2]int{1, 0}},
		"done, undone": {1, []string{"1 => is logged", "3 => Pull", "0 => not logged any more"}, [2]int{}},
		"both done":    {2, []string{"1 => Plot 1 and Plot 2"}, [2]int{1, 1}},
		"only first":   {2, []string{"2 => Plot 1: weeding"}, [2]int{1, 0}},
		"only second":  {2, []string{"3 => Plot 2: weeding"}, [2]int{0, 1}},
		"neither":      {2, []string{"4 => all right"}, [2]int{}},
		"too big": {1, []string{"2 => Weed by",
			"3 => Weed today, not later. Pull by hand what the tool leaves | 1 done", "1 => is logged"}, [2]int{1, 0}},
		"help leaves the question": {1, []string{"help => Text STOP to end", "1 => is logged"}, [2]int{1, 0}},
		"the menu takes the digit": {1, []string{"menu => What now?", "1 => How is the rice planted?"}, [2]int{}},
	} {
		x := withPlots(t, c.plots)
		x.ring([]int{1, 2}[:c.plots]...)
		if c.plots == 1 {
			x.wants("Plot 1: look first", "weed now", "1 done, 2 not yet, 3 too big, 4 too small")
		} else {
			x.wants("Plot 1 and Plot 2", "1 both done, 2 only Plot 1, 3 only Plot 2, 4 not yet")
		}
		x.plays(c.lines...)
		if got := x.passes(); got != c.passes {
			t.Errorf("%s: %v passes, want %v", name, got, c.passes)
		}
		switch s := x.b.Seasons[1]; name {
		case "done, many left":
			if p := s.Passes[0]; p.On != wednesday || p.With != engine.ByTool || p.Left != engine.Many {
				t.Errorf("%+v", p)
			}
		case "too big":
			if len(s.Sightings) != 1 || s.Sightings[0].Leaves != engine.FourPlus || s.Passes[0].With != engine.ByTool {
				t.Errorf("sightings %+v, passes %+v", s.Sightings, s.Passes)
			}
		}
	}
}

// TestDigitIsNotMisfiled changes something after a reminder has asked a question, for example closes the plot. The
// digit that the grower sends then must not log or remove a pass that the question was not about. In the last case
// nothing changes, and the digit must log the pass.
func TestDigitIsNotMisfiled(t *testing.T) {
	late := func(x *texter) { x.now = x.until + 1 }
	for name, c := range map[string]struct {
		before []string // texts that the grower sends before the reminder
		change func(*texter)
		entry  string
		shows  string
		passes [2]int
	}{
		"after the last day":    {nil, late, "1", "nothing is logged | Text MENU", [2]int{}},
		"for an older dialogue": {[]string{"menu", "2", "6", "5"}, late, "1", "nothing is logged", [2]int{}},
		"the plot is closed":    {nil, func(x *texter) { delete(x.b.Seasons, 1) }, "1", "nothing is done", [2]int{}},
		"the number has another plot": {nil, func(x *texter) {
			edit(x.b, 1, func(s *engine.Season) { s.Plot.Planted = wednesday - 1 })
		}, "1", "nothing is done", [2]int{}},
		"logged by menu, answered the next day": {nil, func(x *texter) { x.logs(1); x.b.Day++ }, "1", "logged already",
			[2]int{1, 0}},
		"another pass logged before 0": {nil, func(x *texter) { x.text("1"); x.text("1"); x.logs(1) }, "0",
			"nothing is done", [2]int{2, 0}},
		"a reminder after the menu takes it": {[]string{"menu"}, func(*texter) {}, "1", "is logged", [2]int{1, 0}},
	} {
		x := withPlots(t, 2-min(1, len(c.before)))
		for _, e := range c.before {
			x.text(e)
		}
		x.ring(1)
		c.change(x)
		x.plays(c.entry + " => " + c.shows)
		if got := x.passes(); got != c.passes {
			t.Errorf("%s: %v passes, want %v", name, got, c.passes)
		}
		if _, open := x.b.Seasons[1]; open == (name == "the plot is closed") {
			t.Errorf("%s: the plot is open: %v", name, open)
		}
	}
}

// TestOneOfTwoIsLoggedAlready checks a reminder about two plots if one of them is already logged: the answer logs only
// the other plot, and 0 removes only that pass.
func TestOneOfTwoIsLoggedAlready(t *testing.T) {
	for done := 1; done <= 2; done++ {
		x := withPlots(t, 2)
		x.ring(1, 2)
		x.logs(done)
		x.text("1")
		if got := x.passes(); got != [2]int{1, 1} {
			t.Errorf("plot %d logged before: %v passes", done, got)
		}
		x.text("0")
		if got := x.passes(); got[done-1] != 1 || got[2-done] != 0 {
			t.Errorf("0 undid the wrong pass: %v", got)
		}
	}
}

// TestHandPullingStaysByHand checks that a question about weeding by hand stays about weeding by hand after an undo,
// and that the reply to "not yet" never names a day in the past.
func TestHandPullingStaysByHand(t *testing.T) {
	x := withPlots(t, 1)
	edit(x.b, 1, func(s *engine.Season) { s.Plot.Planted = wednesday - 23 })
	x.ring(1)
	x.wants("likely too big", "answer 1")
	x.plays("1 => hand weeding", "0 => not logged", "1 => is logged")
	if got := x.b.Seasons[1].Passes; len(got) != 1 || got[0].With != engine.ByHand {
		t.Fatalf("passes %+v", got)
	}
	y := withPlots(t, 1)
	y.ring(1)
	y.b.Day += 8
	y.until = y.now + 1000
	y.plays("2 => Pull the big weeds by hand", "1 => is logged")
}

func TestStrangersText(t *testing.T) {
	texts(t, newBook()).plays("1 => May we keep your number", "1 => What now?")
	texts(t, newBook()).plays("STOP => No texts will come", "hi => ", "START => May we keep your number")
}

func FuzzText(f *testing.F) {
	for _, s := range []string{"1", "STOP", "menu", "5/11", "", "\x00", "१"} {
		f.Add(s, []byte("\x01{\"k\":\"pass\",\"p\":[{\"n\":1,\"p\":20765}]}"))
	}
	f.Fuzz(func(t *testing.T, s string, prompt []byte) {
		x := withPlots(t, 1)
		x.prompt, x.asked, x.until = prompt, x.now, x.now+86400
		x.text(s)
		if x.reply == "" && !x.m.spoken().Asks(s, answer.SenseThanks) {
			t.Fatalf("%q gets no answer", s)
		}
		if n := len(x.b.Seasons[1].Passes); n > 1 {
			t.Fatalf("%q logged %d passes", s, n)
		}
	})
}

// TestSoonestOfAPairIsTold checks that the reply names the window of the plot that must be weeded first. After the
// answer about the weeds left, the reply names the window again only if that answer changed its days.
func TestSoonestOfAPairIsTold(t *testing.T) {
	for _, left := range []string{"1", "2", "3"} {
		for _, warm := range []int{1, 2} { // number of the warmer plot, where weeds grow sooner
			x := withPlots(t, 2)
			edit(x.b, warm, func(s *engine.Season) { s.Weather = engine.Steady(25, 35) })
			p := prompt{Asked: askedPass, Plots: []subject{subjectOf(1, x.b.Seasons[1]), subjectOf(2, x.b.Seasons[2])}}
			b := must(p.encode())
			x.ask(b, wednesday)
			x.now++
			x.text("1")
			soon, late := x.window(warm), x.window(3-warm)
			if soon == late {
				t.Fatalf("both are due %s", soon)
			}
			x.wants(soon)
			lacks(t, x.reply, late)
			x.text(left)
			moved := x.window(warm) != soon
			if moved {
				x.wants(x.window(warm))
			} else {
				lacks(t, x.reply, "Weeding ", soon)
			}
			if moved != (left != "1") {
				t.Errorf("%s left: moved is %v", left, moved)
			}
		}
	}
}

// window writes when a plot must be weeded next, in the form that texts use.
func (x *texter) window(no int) string {
	x.t.Helper()
	c := x.m.scene(x.b, SMS, &session{})
	return c.nextBrief(must(x.b.Seasons[no].Plan(x.b.Day)))
}

// TestAnswersToALook plays the answers to the text that asks for a look: what is stored, and what the answer says.
func TestAnswersToALook(t *testing.T) {
	for name, c := range map[string]struct {
		days  engine.Day // days since planting
		lines []string
		seen  []engine.Leaves
	}{
		"none yet": {10, []string{"1 => noted, no weeds yet | to look at the weeds"},
			[]engine.Leaves{engine.NoneUp}},
		"one leaf":     {10, []string{"2 => noted, one leaf | We text you"}, []engine.Leaves{engine.OneLeaf}},
		"two or three": {11, []string{"3 => noted, two or three leaves"}, []engine.Leaves{engine.TwoThree}},
		"more":         {10, []string{"4 => Over four leaves"}, []engine.Leaves{engine.FourPlus}},
		"a wrong digit": {10, []string{"7 => 1 none yet, 2 one leaf", "2 => noted, one leaf"},
			[]engine.Leaves{engine.OneLeaf}},
		"answered twice": {10, []string{"2 => noted, one leaf", "2 => noted, one leaf"},
			[]engine.Leaves{engine.OneLeaf, engine.OneLeaf}},
		"corrected": {10, []string{"2 => noted, one leaf", "3 => noted, two or three leaves"},
			[]engine.Leaves{engine.OneLeaf, engine.TwoThree}},
		"two or three, told again with the window open": {11, []string{
			"3 => noted, two or three leaves | Do not touch the teeth | 1 done",
			"3 => noted, two or three leaves | Do not touch the teeth"},
			[]engine.Leaves{engine.TwoThree, engine.TwoThree}},
	} {
		x := withPlots(t, 1)
		edit(x.b, 1, func(s *engine.Season) { s.Plot.Planted, s.Plot.Flood = wednesday-c.days, engine.FloodKept })
		x.ring(1)
		x.wants("look between the rows. Send what most weeds have", "1 none yet, 2 one leaf, 3 two or three, 4 more")
		x.plays(c.lines...)
		s := x.b.Seasons[1]
		var seen []engine.Leaves
		for _, g := range s.Sightings {
			seen = append(seen, g.Leaves)
		}
		if !slices.Equal(seen, c.seen) {
			t.Errorf("%s: %v is stored", name, seen)
		}
	}
}

// TestWaterIsAskedAfterALook plays the answers of a grower who never spoke of the water. The answer to the look asks
// how it stands. A leaf count after that corrects the first one, and the water is asked again.
func TestWaterIsAskedAfterALook(t *testing.T) {
	for name, c := range map[string]struct {
		lines []string
		seen  engine.Stands
	}{
		"dry": {[]string{"2 => How does the water stand? 5 dry", "5 => no water by our count | To weed, let in about"},
			engine.StandsDry},
		"mud":    {[]string{"2 => How does the water stand?", "6 => no water by our count"}, engine.StandsMud},
		"right":  {[]string{"2 => How does the water stand?", "7 => Plot 1: about 3 cm"}, engine.StandsFingers},
		"a hand": {[]string{"2 => How does the water stand?", "8 => Plot 1: about 8 cm"}, engine.StandsHand},
		"look corrected": {[]string{"2 => How does the water stand?", "1 => no weeds yet | How does the water stand?",
			"7 => 3 cm"}, engine.StandsFingers},
	} {
		x := withPlots(t, 1)
		edit(x.b, 1, func(s *engine.Season) { s.Plot.Planted = wednesday - 10 })
		x.ring(1)
		x.wants("look between the rows", "Water 3-5 cm by")
		x.plays(c.lines...)
		seen := x.b.Seasons[1].Sightings
		if last := seen[len(seen)-1]; len(seen) != len(c.lines) || last.Water != c.seen || last.Leaves != 0 {
			t.Errorf("%s: %+v is stored", name, seen)
		}
	}
}

// TestLookOfTwoPlots checks that a text about two plots asks for a look at the first, and the answer asks about the
// second. The answers in each language have at most the segments that an answer may have.
func TestLookOfTwoPlots(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		for first := range 4 {
			for second := range 4 {
				x := withPlots(t, 2)
				x.m, x.b.Lang = m, lang
				for no := 1; no <= 2; no++ {
					edit(x.b, no, func(s *engine.Season) { s.Plot.Planted, s.Plot.Label = wednesday-11, longLabel })
				}
				x.ring(1, 2)
				for i, digit := range []int{first + 1, second + 1} {
					body := x.text(strconv.Itoa(digit))
					if e := m.Encode(lang, body); e.Segments > MaxSegments(e.Encoding.Alphabet, false) {
						t.Errorf("%s: %d segments: %s", lang, e.Segments, body)
					}
					for no := 1; no <= 2; no++ {
						if n := len(x.b.Seasons[no].Sightings); n != min(1, max(0, i+2-no)) {
							t.Errorf("%s, after answer %d plot %d has %d leaf counts", lang, i+1, no, n)
						}
					}
				}
				if got, want := x.b.Seasons[2].Sightings[0].Leaves, leafDigits[strconv.Itoa(second+1)]; got != want {
					t.Errorf("%s: %s is stored, want %s", lang, got, want)
				}
			}
		}
	}
}
