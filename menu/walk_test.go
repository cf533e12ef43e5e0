package menu

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
)

// TestKnownGrowerSavesInEight checks that a registered grower needs at most eight exchanges to save a plot, including
// the dial. Published rules allow eight stages in a session (TRAI, 2016). A plot older than 12 days takes one more, for
// the question whether it was weeded.
func TestKnownGrowerSavesInEight(t *testing.T) {
	for _, c := range []struct {
		entries []string
		passes  []engine.Pass
		planted engine.Day
		spacing [2]float64
		flood   engine.Flood
	}{
		{[]string{"1", "1", "15/11", "1", "1", "1", "20x30"}, nil, engine.Date(2026, 11, 15), [2]float64{20, 20},
			engine.FloodKept},
		{[]string{"1", "1", "13/11", "2", "20*25", "15", "600"}, nil, engine.Date(2026, 11, 13), [2]float64{20, 25},
			engine.FloodOnOff}, // 12 days old
		{[]string{"1", "1", "12/11", "1", "3", "2", "1", "600"}, nil, engine.Date(2026, 11, 12), [2]float64{25, 25},
			engine.FloodMoist},
		{[]string{"1", "1", "5/11", "1811", "3", "2", "1", "600"},
			[]engine.Pass{{On: engine.Date(2026, 11, 18), With: engine.ByTool}}, engine.Date(2026, 11, 5),
			[2]float64{25, 25}, engine.FloodMoist},
	} {
		p := caller(t, knownBook()).enter(c.entries...)
		p.wants("Saved: Plot 1, 600 m2")
		s := p.b.Seasons[1]
		want := engine.Plot{Method: engine.Transplanted, Planted: c.planted, RowSpacingCM: c.spacing[0],
			HillSpacingCM: c.spacing[1], AreaM2: 600, Flood: c.flood}
		if s.Plot != want || s.Tool != (engine.Tool{WidthCM: 15}) || !slices.Equal(s.Passes, c.passes) {
			t.Fatalf("saved %+v with %+v, passes %+v", s.Plot, s.Tool, s.Passes)
		}
	}
}

// TestEarlierWeedings checks what is stored about a weeding before the registration.
func TestEarlierWeedings(t *testing.T) {
	day := engine.Date(2026, 11, 18)
	for _, c := range []struct {
		entries string
		want    []engine.Pass
	}{
		{"1 1 5/11 2 7 1 1 1 600", []engine.Pass{{On: day, With: engine.ByTool}}},
		{"1 1 5/11 3 1811 1 1 1 600", []engine.Pass{{On: day, With: engine.ByHand}}},
		{"1 1 5/11 1811 1 1 4 600", []engine.Pass{{On: day, With: engine.ByHand}}},     // there is no tool
		{"1 1 5/11 3 0 1811 1 1 1 600", []engine.Pass{{On: day, With: engine.ByTool}}}, // back from "by hand"
		{"1 2 5/11 2 7 1 1 1 600", []engine.Pass{{On: day, With: engine.ByTool}}},
		{"1 3 5/11 1811 600", []engine.Pass{{On: day, With: engine.ByHand}}},
		{"1 1 5/11 1 1 1 1 600", nil},
		{"1 1 5/11 1811 0 1 1 1 1 600", nil},
		{"1 1 5/11 1811 0 0 1 1 1 1 600", nil},       // back, and planted today: the question is not asked
		{"1 1 5/11 7/11 0 0 10/11 1 1 1 1 600", nil}, // back, and planted after the day told before
	} {
		p := caller(t, knownBook()).enter(strings.Fields(c.entries)...)
		p.wants("Saved: Plot 1, 600 m2")
		if got := p.b.Seasons[1].Passes; !slices.Equal(got, c.want) {
			t.Errorf("%s: passes %+v, want %+v", c.entries, got, c.want)
		}
	}
	p := caller(t, knownBook()).enter("1", "1", "5/11")
	p.plays("4/11 => That is before planting, Thu 5 Nov.", "14 => 14? Type 1, 2 or 3, or the date like 0511.",
		"11/11/25 => Wed 11 Nov 2026. Is that right?", "1 => Weeded Wed 11 Nov, 14 days ago.")
	p = caller(t, knownBook()).enter("1", "3", "5/11")
	p.lacks("2 with the weeder")
	p.plays("18/11 => Weeded Wed 18 Nov, 7 days ago. The weeder needs rows")
}

// TestFirstContactAddsOne checks that a first contact needs one exchange more, which is the consent.
func TestFirstContactAddsOne(t *testing.T) {
	p := caller(t, newBook())
	p.wants("May we keep")
	p.plays("1 => What now?")
	if !p.b.Registered || len(p.last.Send) != 1 || p.last.Send[0].Kind != "welcome" {
		t.Fatalf("known %v, sent %+v", p.b.Registered, p.last.Send)
	}
	p.enter("1", "1", "15/11", "1", "1", "1", "20x30").wants("Saved: Plot 1")
}

func TestNoIsNo(t *testing.T) {
	p := caller(t, newBook()).enter("2")
	if p.b.Registered || p.last.More || p.state != nil {
		t.Fatalf("known %v, more %v", p.b.Registered, p.last.More)
	}
}

// TestReadBacks checks, for each entry of a registration, that the next screen shows how the entry was understood, so
// that the grower can notice a mistake.
func TestReadBacks(t *testing.T) {
	p := caller(t, knownBook())
	for _, step := range []struct{ entry, shows string }{
		{"1", "How is the rice planted?"}, {"1", "When was it planted?"}, {"0511", "Planted Thu 5 Nov, 20 days ago."},
		{"18/11", "Weeded Wed 18 Nov, 7 days ago."}, {"2", "Water: comes and goes."},
		{"3", "How far apart are the rows?"},
		{"4", "ten gaps"}, {"2.25 m", "also 22.5 cm apart?"},
		{"1", "Rows 22.5, plants 22.5 cm: 19.8 plants a m2."},
		{"18", "18 cm is too wide: it needs 23 cm rows"},
		{"0", "How wide is your weeder?"},
		{"15", "15 cm fits 22.5 cm rows, 3.8 cm free each side."},
		{"1", "Walk both sides"},
		{"40x50", "Saved: Plot 1, 1125 m2."}, // 40 steps are 30 m, and 50 steps are 37.5 m
	} {
		p.enter(step.entry).wants(step.shows)
	}
}

func TestWrongAnswersLoseNothing(t *testing.T) {
	p := caller(t, knownBook()).enter("1", "1", "5/11", "1", "1", "20")
	ask := "also 20 cm apart?"
	for _, wrong := range []string{"", "9", "abc", "-4", "999999", strings.Repeat("1", 300), "\x00"} {
		before := string(p.state)
		p.enter(wrong).wants(ask)
		if string(p.state) != before {
			t.Fatalf("%q changed the dialogue", wrong)
		}
	}
	for _, right := range []string{" 1.", "(1)", "१", "١", "１"} {
		q := *p
		q.enter(right).wants("How wide is your weeder?")
	}
}

func TestBackKeepsAnswers(t *testing.T) {
	p := caller(t, knownBook()).enter("1", "1", "5/11", "1", "1", "22", "1", "0", "0", "0", "0")
	p.wants("Thu 5 Nov, 20 days ago", "Weeded since then?")
	p.enter("1", "1", "25", "1").wants("Rows 25, plants 25 cm: 16 plants a m2.")
	p.enter("0", "0", "20x25").wants("Rows 20, plants 25 cm: 20 plants a m2.")
	p.enter("0", "3", "1").wants("also 20 cm apart?") // the 25 cm that were told before do not count any more
	p.plays("00 => What now?")
}

func TestNoBackOverWhatIsDone(t *testing.T) {
	p := caller(t, knownBook()).enter("1", "1", "5/11", "1", "1", "1", "1", "600", "0")
	p.wants("What now?")
	if len(p.b.Seasons) != 1 {
		t.Fatalf("%d plots", len(p.b.Seasons))
	}
}

func TestDialledPath(t *testing.T) {
	for _, c := range []struct{ code, shows, not string }{
		{"*123*1#", "How is the rice planted?", ""},
		{"*123*1*1*5/11*1*1*20#", "also 20 cm apart?", ""},
		{"*123*9*1#", "Not 9: type 1-6.", "planted?"}, // 9 is refused, so the 1 after it is not entered
		{"*123*1*7*1#", "How is the rice planted?", "When"},
		{"*999*1#", "What now?", ""},
	} {
		p := dials(t, newMenu(), knownBook(), c.code)
		p.wants(c.shows)
		if c.not != "" && strings.Contains(p.last.Text, c.not) {
			t.Errorf("%s went too far:\n%s", c.code, p.last.Text)
		}
	}
}

// TestDroppedAtEveryStep lets the call drop after each step of a registration. The next dial must offer to resume, and
// the plot must be saved once, with all answers.
func TestDroppedAtEveryStep(t *testing.T) {
	entries := []string{"1", "1", "5/11", "18/11", "1", "3", "1", "1", "1", "600"}
	for drop := range len(entries) - 1 { // after the last step the plot is saved, so there is nothing to resume
		p := caller(t, knownBook()).enter(entries[:drop+1]...)
		before := p.last.Text
		p.dial("*123#").wants("1 go on", "2 start again")
		p.enter("1")
		if p.last.Text != before {
			t.Errorf("after step %d\nwas %q\nis  %q", drop+1, before, p.last.Text)
		}
		p.enter(entries[drop+1:]...)
		if len(p.b.Seasons) != 1 || p.b.Seasons[1].Plot.AreaM2 != 600 {
			t.Errorf("dropped after step %d: plots %+v", drop+1, p.b.Seasons)
		}
	}
}

func TestStartAgain(t *testing.T) {
	p := caller(t, knownBook()).enter("1", "1").dial("*123#")
	p.plays("7 => type 1, 2", "2 => What now?")
}

// TestPlotClosedMeanwhile checks a plot that is closed by text while a call asks about it.
func TestPlotClosedMeanwhile(t *testing.T) {
	for _, redial := range []bool{false, true} {
		p := caller(t, knownBook()).enter("1", "1", "5/11", "1", "1", "1", "1", "600", "00", "3")
		p.wants("when did you weed it?")
		delete(p.b.Seasons, 1)
		if redial {
			p.dial("*123#")
		} else {
			p.plays("1 => That plot is closed.")
		}
		p.wants("What now?")
	}
}

// TestUnreadableSessionStartsAgain checks states that cannot be read, and states with a name that this menu does not
// know. A new dialogue must begin.
func TestUnreadableSessionStartsAgain(t *testing.T) {
	states := []string{"", "\x09{}", "\x01{", "\x02{", "\x02{}"}
	for _, s := range []string{
		`{"s":"gone"}`, `{"s":"new.rows","t":["home","gone"]}`,
		`{"s":"doubt","t":["home","new.rows"],"d":{"k":"gone","a":{"row":"52"}}}`,
		`{"s":"new.rows","t":["home","doubt"],"d":{"k":"gone","a":{"row":"52"}}}`,
		`{"s":"doubt","d":{"k":"row","a":{"row":"52"}}}`, // this session has a doubt without a question
		`{"s":"doubt","t":["home"],"d":{"k":"row","a":{"row":"52"}}}`,
	} {
		states = append(states, string(rune(sessionVersion))+s)
	}
	for _, state := range states {
		p := &phone{t: t, m: newMenu(), b: knownBook(), state: []byte(state)}
		again, x := *p, texts(t, knownBook())
		p.plays("1 => What now?")
		again.dial("*123#")
		x.state = []byte(state)
		if x.text("1"); strings.Contains(x.reply, "row") {
			t.Errorf("%q by text shows\n%s", state, x.reply)
		}
	}
}

func TestNinePlotsAndNoMore(t *testing.T) {
	p := caller(t, bookOf(slices.Repeat([]engine.Season{inRows(20, engine.Tool{})}, MaxPlots-1)...))
	p.enter("1", "1", "5/11", "1", "1", "1", "1", "600").wants("Saved: Plot 9")
	p.enter("00", "1", "1").wants("nine plots")
	p.enter("00", "2", "5", "5").wants("1 Plot 9")
	p.plays("1 => Plot 9, day 20.")
}

// TestWalkAtRandom checks random entries: the menu must always show a screen with words, and a state that can be read
// again.
func TestWalkAtRandom(t *testing.T) {
	m := newMenu()
	rapid.Check(t, func(r *rapid.T) {
		b := knownBook()
		state, _, err := m.Dial(b, USSD, nil, "")
		must(0, err)
		for range rapid.IntRange(1, 40).Draw(r, "steps") {
			e := rapid.OneOf(rapid.SampledFrom([]string{"1", "2", "3", "4", "5", "6", "0", "00", "20", "5/11",
				"20x30", "10-15"}), rapid.String()).Draw(r, "entry")
			next, reply, err := m.Enter(b, USSD, state, e)
			if err != nil {
				r.Fatalf("entry %q: %v", e, err)
			}
			if strings.TrimSpace(reply.Text) == "" {
				r.Fatalf("entry %q: nothing to read", e)
			}
			if state = next; !reply.More {
				return
			}
			must(decodeSession(state))
			for no, s := range b.Seasons {
				if _, err := s.Plan(b.Day); err != nil {
					r.Fatalf("plot %d cannot be planned: %v", no, err)
				}
			}
		}
	})
}

func FuzzDecodeSession(f *testing.F) {
	good := must((&session{Screen: "home", Trail: []ScreenID{"home"}, Answers: map[Field]string{fRow: "20"}}).encode())
	f.Add(good)
	f.Add([]byte{1, '{', '}'})
	m := newMenu()
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := decodeSession(b)
		if err != nil {
			return
		}
		again := must(s.encode())
		if len(again) <= maxSession {
			if _, err := decodeSession(again); err != nil {
				t.Fatalf("%q is not read again", again)
			}
		}
		// A state may name any screen and hold any answers. Enter may return no error but ErrNoPlot.
		if _, _, err := m.Enter(knownBook(), USSD, b, "1"); err != nil && !errors.Is(err, engine.ErrNoPlot) {
			t.Fatal(err)
		}
	})
}

// TestPassDayIsRefusedWhereItIsTyped checks that a day on which the plot cannot have been weeded is refused on the
// screen where it is typed, and that a second weeding on the same day is refused there too.
func TestPassDayIsRefusedWhereItIsTyped(t *testing.T) {
	p := caller(t, knownBook()).enter("1", "1", "5/11", "1", "1", "1", "1", "600", "00", "3", "3", "40")
	p.wants("That is before planting", "How many days ago?")
	p.enter("2", "1", "1", "00", "3", "3", "2").wants("is logged already")
	p.enter("9", "1", "1").wants("Logged: Plot 1, Mon 16 Nov") // a weeding older than the last one
	p.enter("00", "3", "2", "1", "1").wants("Logged: Plot 1, Tue 24 Nov")
	if n := len(p.b.Seasons[1].Passes); n != 3 {
		t.Fatalf("%d passes", n)
	}
}

func TestPlantingIsNotMovedPastAPass(t *testing.T) {
	p := caller(t, knownBook())
	p.enter("1", "1", "5/11", "1", "1", "1", "1", "600", "00", "3", "2", "1", "1", "00", "2", "6", "1", "1", "1")
	p.wants("A weeding on Tue 24 Nov is logged before that day. Planted again? See: season so far.")
	if got := p.b.Seasons[1].Plot.Planted; got != engine.Date(2026, 11, 5) {
		t.Fatalf("planted %s", got)
	}
}

func TestBackGoesThroughThePages(t *testing.T) {
	p := caller(t, bookOf(slices.Repeat([]engine.Season{inRows(20, engine.Tool{})}, 6)...))
	p.enter("2", "5").wants("1 Plot 5")
	p.plays("0 => 1 Plot 1")
}

func TestTwoPlotsNeedTwoNames(t *testing.T) {
	p := caller(t, knownBook())
	for range 2 {
		p.enter("00", "1", "1", "5/11", "1", "1", "1", "1", "600")
	}
	p.enter("1", "6", "plot 1")
	p.wants("Another plot has that name.")
}

// TestSidesInADialledPath checks two sides of a field in a dialled path. The path cannot hold the star between the
// sides, so two numbers are joined to one entry if the screen asks for sides.
func TestSidesInADialledPath(t *testing.T) {
	const toArea = "*123*1*1*15/11*1*1*1"
	for _, c := range []struct {
		dialled string
		m2      float64 // the saved area in m2; 0 if the test expects none
		shows   string
	}{
		{toArea + "*20*30#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20*30", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20.5*30#", 615, "Saved: Plot 1, 615 m2."},
		{toArea + "*२०*३०#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20x30#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*8*30#", 240, "Saved: Plot 1, 240 m2."},
		{toArea + "*600#", 600, "Saved: Plot 1, 600 m2."},
		{toArea + "*20*30*1#", 600, "What shall we change?"},
		{toArea + "*600*1#", 600, "What shall we change?"}, // 600 is an area, 1 is a choice on the next screen
		{toArea + "*600*00#", 600, "What now?"},
		{toArea + "*1*20*40#", 450, "Saved: Plot 1, 450 m2."}, // the sides are in steps of 0.75 m
		{toArea + "*1*8*40#", 180, "Saved: Plot 1, 180 m2."},
		{toArea + "*2#", 0, "Saved: Plot 1"},
		{toArea + "*2*1#", 0, "What shall we change?"},    // 2 and 1 are choices, not sides
		{toArea + "*0*20*30#", 0, "tool 20, rows 20 cm?"}, // 0 leads back to the question "tool", 20 is its width
		{toArea + "*200*300#", 0, "200 x 300 m. Is that right?"},
	} {
		p := dials(t, newMenu(), knownBook(), c.dialled)
		if !p.has(c.shows) {
			t.Errorf("%s shows\n%s\nand not %q", c.dialled, p.last.Text, c.shows)
		}
		if got := p.b.Seasons[1].Plot.AreaM2; got != c.m2 {
			t.Errorf("%s saves %g m2, want %g", c.dialled, got, c.m2)
		}
	}
	p := caller(t, bookOf(engine.Season{Plot: engine.Plot{Method: engine.Transplanted, Planted: wednesday - 20,
		RowSpacingCM: 20, HillSpacingCM: 20}, Weather: engine.Steady(22, 32)}))
	p.dial("*123*2*6*1*5*20*30#")
	if got := p.b.Seasons[1].Plot.AreaM2; got != 600 {
		t.Errorf("changed to %g m2:\n%s", got, p.last.Text)
	}
	for dialled, shows := range map[string]string{"*123*5*2*1*20*30#": "20 m long, 30 m wide.",
		"*123*5*2*1*1*20*40#": "15 m long, 30 m wide.", "*123*5*2*1*20*30*1#": "Rows 20 cm."} {
		p := dials(t, newMenu(), knownBook(), dialled)
		if !p.has(shows) {
			t.Errorf("%s shows\n%s\nand not %q", dialled, p.last.Text, shows)
		}
	}
}

// TestSavedIsTold checks a path with one entry too many: the screen must still say what was saved.
func TestSavedIsTold(t *testing.T) {
	p := dials(t, newMenu(), knownBook(), "*123*1*1*15/11*1*1*1*20*30*77*1#")
	p.wants("Saved: Plot 1, 600 m2.")
	p.lacks("Not 77")
	p.enter("77") // the same entry, typed and not dialled, is refused with the reason
	p.wants("Not 77")
}

// A doubt stops a dialled path: the entries after it do not answer the doubt.
func TestDoubtStopsADialledPath(t *testing.T) {
	p := dials(t, newMenu(), knownBook(), "*123*1*1*15/11*1*52*1*1*600#")
	p.wants("1 yes, 52 cm", "2 no: 25 cm")
	if len(p.b.Seasons) != 0 {
		t.Error("a plot was saved")
	}
	p.enter("2", "1", "1", "600")
	if got := p.b.Seasons[1].Plot.RowSpacingCM; got != 25 {
		t.Errorf("rows of %g cm", got)
	}
}

// TestScreensAreAnsweredInWords answers screens with the words of a choice, and with yes and no, in any language. A
// word that is no choice is refused as before.
func TestScreensAreAnsweredInWords(t *testing.T) {
	for entry, want := range map[string]string{
		"yes": "What now?", "Oui": "What now?", "👍": "What now?", "ok yes please": "What now?", "no": "we keep nothing",
		"hapana": "we keep nothing", "yes no": "Not yes no: type", "perhaps": "Not perhaps: type",
		"english": "Not english",
	} {
		texts(t, newBook()).plays("hello => May we keep", entry+" => "+want)
	}
	x := texts(t, newBook())
	x.m = everyMenu()
	x.plays("hello => English", "français => Pouvons-nous garder", "oui => Que faire?")
	x = withPlots(t, 1)
	x.plays("menu => What now?", "I weeded => when did you weed it?", "today => How?", "by hand => How many weeds",
		"only few => Logged", "menu => What now?", "what i see => how many leaves do",
		"two leaves => How many weeds are there", "a lot => You saw: two or three leaves, many weeds",
		"no, again => how many leaves do", "one leaf => How many weeds",
		"beaucoup => You saw: one leaf, many weeds", "ndiyo => Noted")
	if got := x.b.Seasons[1].Passes; len(got) != 1 || got[0].With != engine.ByHand || got[0].Left != engine.Few {
		t.Errorf("%+v", got)
	}
}
