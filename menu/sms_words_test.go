package menu

import (
	"slices"
	"strings"
	"testing"

	"rowbell/engine"
	"rowbell/menu/text"
)

// TestTextsThatAreNoAnswer checks that a text that is no answer is asked again with the choices, the last one before a
// pause with a word about help, and that the question stays open: its answer is still taken.
func TestTextsThatAreNoAnswer(t *testing.T) {
	for name, c := range map[string]struct {
		before []string // answers that lead to the question
		again  string
		answer string
		taken  string
	}{
		"pass":  {nil, "Plot 1: we did not understand. 1 done, 2 not yet, 3 too big, 4", "done", "is logged"},
		"left":  {[]string{"1"}, "we did not understand. Weeds left: 1 few, 2 some, 3 many. 0 undoes", "few", "noted"},
		"hours": {[]string{"1", "1"}, "Text the hours like 3h", "3 hours", "3 h, 1 person"},
	} {
		for _, wrong := range []string{"hello", "done or not yet", "what?", "25", "5 people", "☂", "x y z"} {
			x := withPlots(t, 1)
			x.ring(1)
			for _, e := range c.before {
				x.text(e)
			}
			until := x.until
			for range 2 {
				x.text(wrong)
				x.wants(c.again)
				if x.prompt == nil || x.state != nil || x.until != until || x.progress {
					t.Fatalf("%s, %q: prompt %q, dialogue %q", name, wrong, x.prompt, x.state)
				}
			}
			x.last = true
			for range 2 {
				if x.text(wrong); !strings.Contains(x.reply, "Text HELP") || x.progress {
					t.Errorf("%s, %q the last time: %q", name, wrong, x.reply)
				}
			}
			x.plays("help => rowbell", c.answer+" => "+c.taken)
			if !x.progress {
				t.Errorf("%s: %q is no progress", name, c.answer)
			}
		}
	}
}

// TestWordsDoNotOpenTheMenu checks that words which find no question open no menu, so that the digits after them change
// nothing.
func TestWordsDoNotOpenTheMenu(t *testing.T) {
	for _, word := range []string{"done", "yes", "weeded", "👍", "I weeded half of it today", "hello", "fait", "हो गई"} {
		x := withPlots(t, 1)
		for _, e := range append([]string{word}, strings.Split(strings.Repeat("1", 9), "")...) {
			x.text(e)
			lacks(t, x.reply, "What now?")
		}
		if len(x.b.Seasons) != 1 || x.passes() != [2]int{} || x.state != nil {
			t.Errorf("%q and nine 1: %d plots, %v passes", word, len(x.b.Seasons), x.passes())
		}
		x.plays("menu => What now?")
	}
}

// TestLastTryOnAScreen checks that the last text before a pause which a screen does not take is answered by a word
// about help, with the contact of the settings. A text that is taken goes on with the dialogue.
func TestLastTryOnAScreen(t *testing.T) {
	for _, contact := range []string{"", "Asha, +447700900123"} {
		x := withPlots(t, 1)
		x.m = must(New(must(must(text.Default()).Only("en")), Options{Contact: contact}))
		x.text("menu")
		x.plays("what is this => Not what is this: type 1-6. | What now?")
		x.last = true
		x.text("what is this")
		if asks := strings.Contains(x.reply, "You can ask "+contact); asks != (contact != "") ||
			!strings.Contains(x.reply, "Text HELP") && contact == "" {
			t.Errorf("contact %q: %q", contact, x.reply)
		}
		x.last = false
		x.plays("2 => I weeded", "what is this => Not what is this")
	}
}

// TestProgress checks which texts count as understood. A machine that answers every text by the same sentence must
// never be counted so, even if the sentence begins with a keyword; STOP always is.
func TestProgress(t *testing.T) {
	for _, c := range []struct {
		text string
		want bool
	}{
		{"I am away until Monday.", false}, {"HELP", true}, {"Help desk is closed now.", false}, {"menu", true},
		{"Menu of the day: rice", false}, {"START", true}, {"start again tomorrow, we are closed", false},
		{"STOP", true}, {"stop texting me", true}, {"000", true}, {"thanks", false}, {"1", true}, {"done", true},
		{"7", false}, {"who is this?", false},
	} {
		x := withPlots(t, 1)
		x.ring(1)
		if x.text(c.text); x.progress != c.want {
			t.Errorf("%q: %v", c.text, x.progress)
		}
	}
	x := withPlots(t, 1)
	x.text("menu")
	for _, c := range []struct {
		text string
		want bool
	}{{"I am away", false}, {"7", false}, {"2", true}, {"0", true}} {
		if x.text(c.text); x.progress != c.want {
			t.Errorf("%q on a screen: %v", c.text, x.progress)
		}
	}
	x = texts(t, newBook())
	for _, c := range []struct {
		text string
		want bool
	}{{"I am away", false}, {"I am away", false}, {"1", true}} {
		if x.text(c.text); x.progress != c.want {
			t.Errorf("%q of a stranger: %v", c.text, x.progress)
		}
	}
}

// TestWordsForAnOlderQuestion checks who gets a text if a screen was shown after the question of a reminder: digits and
// words of the screen go to the screen, words that only the question knows answer the question.
func TestWordsForAnOlderQuestion(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.plays("menu => What now?", "done => weeding of Wed 25 Nov is logged | 1 few", "few => noted")
	if x.passes() != [2]int{1, 0} {
		t.Errorf("%v passes", x.passes())
	}
	x = withPlots(t, 1)
	x.ring(1)
	x.plays("menu => What now?", "I weeded => when did you weed it?", "hm => Not hm", "2 => yesterday",
		"00 => What now?", "not yet => all right. Weed by")
	if x.passes() != [2]int{} {
		t.Errorf("%v passes", x.passes())
	}
}

// TestYesAnswersOnlyAQuestion checks that yes means done if the text asks whether the plot is weeded, and is asked
// again if the text tells to weed: yes may then mean that the grower will.
func TestYesAnswersOnlyAQuestion(t *testing.T) {
	for _, yes := range []string{"yes", "👍", "oui", "sim, sim senhor"} {
		for _, asks := range []bool{false, true} {
			x := withPlots(t, 1)
			p := prompt{Asked: askedPass, Plots: []subject{subjectOf(1, x.b.Seasons[1])}, Yes: asks}
			x.ask(must(p.encode()), wednesday)
			x.now++
			x.text(yes)
			if done := x.passes()[0] == 1; done != asks {
				t.Errorf("%q, asked %v: %v\n%s", yes, asks, done, x.reply)
			}
		}
	}
}

// TestStopInOtherWords checks that a grower who asks for no more texts in other words than STOP gets none, whatever is
// open, and that a plot may still be called by such a word.
func TestStopInOtherWords(t *testing.T) {
	for moment, at := range stopMoments {
		if moment == "in the name question" {
			continue
		}
		for _, s := range []string{"no more texts please", "रुको", "ne m'envoyez plus de SMS", "jangan sms lagi"} {
			x := at(t)
			x.m = everyMenu()
			if x.text(s); !x.b.NoTexts || x.kind != "stop" || x.reply == "" || x.prompt != nil {
				t.Errorf("%s: %q: %q", moment, s, x.reply)
			}
		}
	}
	x := after(withPlots(t, 1), "MENU", "2", "6", "1", "6", "ruko")
	if x.b.NoTexts || x.b.Seasons[1].Plot.Label != "ruko" {
		t.Errorf("stopped %v, %q", x.b.NoTexts, x.reply)
	}
}

// TestReminderAsksOneOrTwo checks which question each text asks, by the plots and by yes.
func TestReminderAsksOneOrTwo(t *testing.T) {
	x := withPlots(t, 2)
	x.ring(1, 2)
	p := must(decodePrompt(x.prompt))
	if p.Asked != askedPass || len(p.Plots) != 2 || p.Yes {
		t.Errorf("%+v", p)
	}
	c := x.m.scene(x.b, SMS, &session{})
	var words []string
	for _, a := range c.answers(p) {
		words = append(words, a.Own...)
	}
	if !slices.Equal(words, []string{"Plot 1 and Plot 2", "Plot 1", "Plot 2"}) {
		t.Errorf("%q", words)
	}
	x.plays("plot 2 is done => Plot 2: weeding", "few => noted")
}

// TestWeededYesterday checks that an answer which says that it was yesterday is logged on that day, and that it is
// asked again if a weeding of yesterday cannot be.
func TestWeededYesterday(t *testing.T) {
	for _, entry := range []string{"done yesterday", "yesterday, done", "fait hier", "nimepalilia jana"} {
		x := withPlots(t, 1)
		x.ring(1)
		x.plays(entry+" => weeding of Tue 24 Nov is logged | 1 few", "few => noted", "3h => 3 h, 1 person")
		if p := x.b.Seasons[1].Passes; len(p) != 1 || p[0].On != wednesday-1 || p[0].Hours != 3 {
			t.Errorf("%q: %+v", entry, p)
		}
		x.plays("undo => not logged any more")
		if x.passes() != [2]int{} {
			t.Errorf("%q: %v", entry, x.passes())
		}
	}
	x := withPlots(t, 2)
	x.ring(1, 2)
	x.plays("only plot 2, yesterday => Plot 2: weeding of Tue 24 Nov")
	x = withPlots(t, 1)
	x.ring(1)
	x.plays("not yet yesterday => did not understand", "yesterday => did not understand",
		"half yesterday => did not understand")
	edit(x.b, 1, func(s *engine.Season) { s.Passes = []engine.Pass{{On: wednesday - 1, With: engine.ByTool}} })
	x.plays("done yesterday => did not understand")
}

// TestWhoIsThis checks that a grower who asks who sends the texts is told, and that the question stays open.
func TestWhoIsThis(t *testing.T) {
	for _, who := range []string{"who is this", "Who are you?", "hello, who is this please", "qui êtes-vous?",
		"wewe ni nani",
		"कौन हो", "quem fala", "ini siapa"} {
		x := withPlots(t, 1)
		x.plays(who + " => rowbell tells you when to weed")
		x.ring(1)
		x.plays(who+" => rowbell tells you when to weed", "1 => is logged", who+" => rowbell",
			"few => How long did it take?")
	}
}

// TestThanksNeedNoAnswer checks that thanks get no reply when nothing is left to be asked, and are no answer before.
func TestThanksNeedNoAnswer(t *testing.T) {
	for _, thanks := range []string{"thanks", "Thank you sir", "ok", "merci", "asante sana", "धन्यवाद", "obrigado",
		"terima kasih"} {
		x := withPlots(t, 1)
		if x.text(thanks); x.reply != "" {
			t.Errorf("%q, no question: %q", thanks, x.reply)
		}
		x.ring(1)
		x.plays(thanks+" => we did not understand", "1 => is logged", thanks+" => Weeds left",
			"few => How long did it take?",
			"3h2 => 3 h, 2 people")
		if x.text(thanks); x.reply != "" {
			t.Errorf("%q, hours told: %q", thanks, x.reply)
		}
		x.plays("0 => not logged any more", "menu => What now?", "2 => I weeded")
		if x.text(thanks); x.reply != "" {
			t.Errorf("%q, a screen: %q", thanks, x.reply)
		}
		x.plays("1 => when did you weed it?")
	}
}

// TestWordsAfterStop checks that a grower who stopped all texts and sends one is told how to begin again.
func TestWordsAfterStop(t *testing.T) {
	x := withPlots(t, 1)
	x.plays("stop => No more texts", "weeded => Text START to begin again", "start => Texts will come again",
		"weeded => No question is open, so nothing is logged. Text MENU, then 3 if you weeded, 4 for what you see.")
}

// TestLeavesAnswerAPass checks that a leaf count in words, sent to the question whether a plot is weeded, is a look.
func TestLeavesAnswerAPass(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.plays("they have one leaf => noted, one leaf")
	if got := x.b.Seasons[1].Sightings; len(got) != 1 || got[0].Leaves != engine.OneLeaf {
		t.Errorf("%+v", got)
	}
	x.plays("sorry, 3 leaves => noted, two or three leaves")
}

// TestPlantedAgainInWords checks that a grower who says that a plot was planted again is asked when, also while another
// question is open, and that nothing changes before the grower confirms.
func TestPlantedAgainInWords(t *testing.T) {
	for _, words := range []string{"we planted again", "Replanted.", "j'ai replanté", "nimepanda tena",
		"फिर से लगाया है",
		"plantei de novo", "sudah tanam lagi"} {
		x := withPlots(t, 1)
		planted := x.b.Seasons[1].Plot.Planted
		x.ring(1)
		x.plays(words + " => Plot 1: when was it planted again?")
		if x.b.Seasons[1].Plot.Planted != planted || x.passes() != [2]int{} {
			t.Fatalf("%q changes the plot", words)
		}
		x.plays("today => Plot 1: planted again", "1 => Planted today")
		if got := x.b.Seasons[1].Plot.Planted; got != x.b.Day {
			t.Errorf("%q: planted on %d, today is %d", words, got, x.b.Day)
		}
	}
	x := withPlots(t, 2)
	x.plays("planted again => 1 Plot 1", "2 => Plot 2: when was it planted again?", "0 => 1 Plot 1")
	x = withPlots(t, 0)
	x.plays("planted again => There is no plot yet")
}

// TestWordsAboutAClosedPlot checks that words in answer to a text about a plot that was closed meanwhile do nothing,
// and say so.
func TestWordsAboutAClosedPlot(t *testing.T) {
	for _, words := range []string{"done", "hello", "half of it", "not yet", "3 hours"} {
		x := withPlots(t, 2)
		x.ring(1, 2)
		if err := x.b.ClosePlot(1); err != nil {
			t.Fatal(err)
		}
		x.plays(words+" => Something was changed after our text", words+" => No question is open")
		if got := x.passes(); got != [2]int{} {
			t.Errorf("%q logged %v passes", words, got)
		}
	}
}
