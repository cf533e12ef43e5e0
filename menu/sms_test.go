package menu

import (
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/menu/notebook"
)

// texter is a grower who texts; the store's part is played in memory.
type texter struct {
	t      testing.TB
	m      *Menu
	b      *notebook.Book
	now    int64
	state  []byte
	at     int64
	prompt []byte
	asked  int64
	until  int64
	reply  string
	kind   string
}

// inbound is a text with what is stored about the phone.
func (x *texter) inbound(s string) Inbound {
	return Inbound{Text: s, State: x.state, StateAt: x.at, Prompt: x.prompt, PromptAt: x.asked, PromptUntil: x.until,
		Now: x.now}
}

func (x *texter) text(s string) string {
	x.t.Helper()
	out, err := x.m.Text(x.b, x.inbound(s))
	if err != nil {
		x.t.Fatal(err)
	}
	if out.Spoke {
		x.at = x.now
	}
	x.state, x.reply, x.kind = out.State, out.Reply, out.Kind
	switch {
	case out.PromptSet:
		x.prompt, x.asked, x.until = out.Prompt, x.now, x.now+int64(out.PromptEnd-x.b.Day+1)*86400
	case out.Prompt == nil:
		x.prompt = nil
	}
	x.now++
	return out.Reply
}

func (x *texter) wants(parts ...string) {
	x.t.Helper()
	for _, part := range parts {
		if !strings.Contains(x.reply, part) {
			x.t.Fatalf("%q is not in\n%s", part, x.reply)
		}
	}
}

// ring sends the text that is true today for the plots.
func (x *texter) ring(nos ...int) {
	x.t.Helper()
	var bells []Bell
	for _, no := range nos {
		s := x.b.Seasons[no]
		p, err := s.Plan(x.b.Day)
		if err != nil {
			x.t.Fatal(err)
		}
		r, why := p.Reminder(nil)
		if why != engine.NotSilent {
			x.t.Fatalf("plot %d has nothing to say: %v", no, why)
		}
		bells = append(bells, Bell{No: no, Season: s, Plan: p, Reminder: r})
	}
	r, err := x.m.Ring("en", bells...)
	if err != nil {
		x.t.Fatal(err)
	}
	x.reply, x.kind = r.Text, r.Kind.String()
	x.prompt, x.asked, x.until = r.Prompt, x.now, x.now+int64(r.PromptEnd-x.b.Day+1)*86400
	x.now++
}

// withPlots is a grower whose plots are all in their window today: planted 17
// days ago at 27 degrees.
func withPlots(t testing.TB, n int) *texter {
	b := knownBook()
	for no := 1; no <= n; no++ {
		b.Seasons[no] = engine.Season{
			Plot: engine.Plot{Method: engine.Transplanted, Planted: b.Day - 17, RowSpacingCM: 20, HillSpacingCM: 20},
			Tool: engine.Tool{WidthCM: 15}, Weather: b.Climate,
		}
	}
	return &texter{t: t, m: newMenu(t), b: b, now: 1000}
}

func TestOneDigitLogsThePass(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.wants("Plot 1: weed now", "1 done, 2 not yet, 3 too big")
	x.text("1")
	x.wants("weeding of Wed 25 Nov is logged", "1 few, 2 some, 3 many", "0 undoes")
	if got := x.b.Seasons[1].Passes; len(got) != 1 || got[0].On != x.b.Day || got[0].With != engine.ByTool {
		t.Fatalf("passes %+v", got)
	}
	x.text(" 3. ")
	x.wants("Pull them by hand", "Weed Wed 2 Dec")
	if got := x.b.Seasons[1].Passes[0].Left; got != engine.Many {
		t.Fatalf("left %v", got)
	}
	x.text("0")
	x.wants("not logged any more")
	if len(x.b.Seasons[1].Passes) != 0 {
		t.Fatal("0 did not undo")
	}
}

func TestNotYetAndTooBig(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.text("2")
	x.wants("Weed by")
	x.text("3")
	x.wants("Pull the big ones by hand")
	if got := x.b.Seasons[1].Sightings; len(got) != 1 || got[0].Leaves != engine.FourPlus {
		t.Fatalf("sightings %+v", got)
	}
	x.text("1")
	if got := x.b.Seasons[1].Passes; len(got) != 1 || got[0].With != engine.ByHand {
		t.Fatalf("passes %+v", got)
	}
}

func TestTwoPlotsShareAText(t *testing.T) {
	for _, c := range []struct {
		answer string
		passes [2]int
		names  string
	}{
		{"1", [2]int{1, 1}, "Plot 1 and Plot 2"},
		{"2", [2]int{1, 0}, "Plot 1: weeding"},
		{"3", [2]int{0, 1}, "Plot 2: weeding"},
		{"4", [2]int{0, 0}, "all right"},
	} {
		x := withPlots(t, 2)
		x.ring(1, 2)
		x.wants("Plot 1 and Plot 2", "1 both done, 2 only Plot 1, 3 only Plot 2, 4 not yet")
		x.text(c.answer)
		x.wants(c.names)
		if got := [2]int{len(x.b.Seasons[1].Passes), len(x.b.Seasons[2].Passes)}; got != c.passes {
			t.Errorf("answer %s logged %v, want %v", c.answer, got, c.passes)
		}
	}
}

// TestLateDigitIsNotMisfiled: after the prompt's end a digit does nothing but
// show the menu.
func TestLateDigitIsNotMisfiled(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.now = x.until + 1
	x.text("1")
	x.wants("nothing is logged", "Text MENU")
	if len(x.b.Seasons[1].Passes) != 0 {
		t.Fatal("a late digit was logged")
	}
}

// TestPlotGoneIsNotMisfiled: the plot was closed after the text was sent.
func TestPlotGoneIsNotMisfiled(t *testing.T) {
	x := withPlots(t, 2)
	x.ring(1)
	delete(x.b.Seasons, 1)
	x.text("1")
	x.wants("nothing is done")
	if len(x.b.Seasons[2].Passes) != 0 {
		t.Fatal("the digit was filed under another plot")
	}
}

// TestLateDigitIsNotForAnOlderDialogue: the text spoke last, so a digit after
// its end does not go to the menu that stood there before.
func TestLateDigitIsNotForAnOlderDialogue(t *testing.T) {
	x := withPlots(t, 1)
	x.text("menu")
	x.text("2")
	x.text("6")
	x.text("5")
	x.wants("Close Plot 1?")
	x.ring(1)
	x.now = x.until + 1
	x.text("1")
	x.wants("nothing is logged")
	if len(x.b.Seasons) != 1 {
		t.Fatal("a late digit closed the plot")
	}
}

// TestOneOfTwoIsLoggedAlready: the other is logged all the same.
func TestOneOfTwoIsLoggedAlready(t *testing.T) {
	for done := 1; done <= 2; done++ {
		x := withPlots(t, 2)
		x.ring(1, 2)
		s := x.b.Seasons[done]
		s.Passes = append(s.Passes, engine.Pass{On: x.b.Day, With: engine.ByTool})
		x.b.Seasons[done] = s
		x.text("1")
		if len(x.b.Seasons[1].Passes) != 1 || len(x.b.Seasons[2].Passes) != 1 {
			t.Errorf("plot %d logged before: %d and %d passes", done, len(x.b.Seasons[1].Passes),
				len(x.b.Seasons[2].Passes))
		}
		x.text("0")
		if len(x.b.Seasons[done].Passes) != 1 || len(x.b.Seasons[3-done].Passes) != 0 {
			t.Errorf("0 undid the wrong pass")
		}
	}
}

// TestNumberGivenToAnotherPlot: the digit is not for the new one.
func TestNumberGivenToAnotherPlot(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	s := x.b.Seasons[1]
	s.Plot.Planted = x.b.Day - 1
	x.b.Seasons[1] = s
	x.text("1")
	x.wants("nothing is done")
	if len(x.b.Seasons[1].Passes) != 0 {
		t.Fatal("the digit was filed under a new plot")
	}
}

// TestLoggedByMenuThenAnswered the next day: once.
func TestLoggedByMenuThenAnswered(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	s := x.b.Seasons[1]
	s.Passes = append(s.Passes, engine.Pass{On: x.b.Day, With: engine.ByTool})
	x.b.Seasons[1] = s
	x.b.Day++
	x.text("1")
	x.wants("logged already")
	if len(x.b.Seasons[1].Passes) != 1 {
		t.Fatal("logged twice")
	}
}

// TestLaterDialogueTakesTheDigit: a menu begun after the text owns the digit.
func TestLaterDialogueTakesTheDigit(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.text("menu")
	x.wants("What now?")
	x.text("1")
	x.wants("How is the rice planted?")
	if len(x.b.Seasons[1].Passes) != 0 {
		t.Fatal("the digit was filed under the prompt")
	}
}

// TestLaterPromptTakesTheDigit: a text that came after the menu owns it.
func TestLaterPromptTakesTheDigit(t *testing.T) {
	x := withPlots(t, 1)
	x.text("menu")
	x.ring(1)
	x.text("1")
	x.wants("is logged")
}

// TestUndoOnlyTheSamePass: a pass logged by menu in the meantime is not the
// one that 0 undoes.
func TestUndoOnlyTheSamePass(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.text("1")
	x.text("1")
	s := x.b.Seasons[1]
	s.Passes = append(s.Passes, engine.Pass{On: x.b.Day, With: engine.ByHand})
	x.b.Seasons[1] = s
	x.text("0")
	x.wants("nothing is done")
	if len(x.b.Seasons[1].Passes) != 2 {
		t.Fatal("0 undid another pass")
	}
}

func TestKeywordsComeFirst(t *testing.T) {
	for _, word := range []string{"STOP", "stop", " Stop. ", "stop please", "END", "unsubscribe!"} {
		x := withPlots(t, 1)
		x.ring(1)
		x.text(word)
		if !x.b.NoTexts || x.prompt != nil || x.kind != "stop" {
			t.Errorf("%q did not stop", word)
		}
		x.text("start")
		if x.b.NoTexts {
			t.Errorf("START after %q did not start", word)
		}
	}
	x := withPlots(t, 1)
	x.ring(1)
	x.text("help")
	x.wants("Text STOP to end")
	x.text("1") // the prompt still stands
	x.wants("is logged")
}

// TestStopWordsAreNoAnswers: no word that stops may be an answer elsewhere.
func TestStopWordsAreNoAnswers(t *testing.T) {
	m := newMenu(t)
	for _, s := range m.screens {
		for _, c := range s.Choices {
			if m.word(string(c.Digit)) != wordNone {
				t.Errorf("%c on %s is a keyword", c.Digit, s.ID)
			}
		}
		if s.Typed != nil {
			for _, sample := range s.Typed.Samples {
				if m.word(sample) != wordNone {
					t.Errorf("%q on %s is a keyword", sample, s.ID)
				}
			}
		}
	}
}

func TestUnknownTexterIsGreeted(t *testing.T) {
	x := &texter{t: t, m: newMenu(t), b: newBook(), now: 1}
	x.text("1")
	x.wants("May we keep your number")
	x.text("1")
	x.wants("What now?")
}

func FuzzText(f *testing.F) {
	for _, s := range []string{"1", "STOP", "menu", "5/11", "", "\x00", "१"} {
		f.Add(s, []byte("\x01{\"k\":\"pass\",\"p\":[{\"n\":1,\"p\":20765}]}"))
	}
	f.Fuzz(func(t *testing.T, s string, prompt []byte) {
		x := withPlots(t, 1)
		x.prompt, x.asked, x.until = prompt, x.now, x.now+86400
		x.text(s)
		if x.reply == "" {
			t.Fatalf("%q gets no answer", s)
		}
		if n := len(x.b.Seasons[1].Passes); n > 1 {
			t.Fatalf("%q logged %d passes", s, n)
		}
	})
}

// TestHandPullingStaysByHand through an undo, and "not yet" names no day that
// is past.
func TestHandPullingStaysByHand(t *testing.T) {
	x := withPlots(t, 1)
	s := x.b.Seasons[1]
	s.Plot.Planted = x.b.Day - 23
	x.b.Seasons[1] = s
	x.ring(1)
	x.wants("likely too big", "answer 1")
	x.text("1")
	x.wants("hand weeding")
	x.text("0")
	x.text("1")
	if got := x.b.Seasons[1].Passes; len(got) != 1 || got[0].With != engine.ByHand {
		t.Fatalf("passes %+v", got)
	}
	y := withPlots(t, 1)
	y.ring(1)
	y.b.Day += 8
	y.until = y.now + 1000
	y.text("2")
	y.wants("Pull the big weeds by hand")
	y.text("1")
	y.wants("is logged")
}

func TestStopAndStartOfAStranger(t *testing.T) {
	x := &texter{t: t, m: newMenu(t), b: newBook(), now: 1}
	x.text("STOP")
	x.wants("No texts will come")
	x.text("hi")
	x.text("START")
	x.wants("May we keep your number")
}
