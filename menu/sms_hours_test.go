package menu

import (
	"strings"
	"testing"

	"rowbell/engine"
)

// TestHoursByTextInWords checks that hours can be texted in the words of any language, with the unit before or after
// the number.
func TestHoursByTextInWords(t *testing.T) {
	for _, body := range []string{"3 hours 2 people", "3 heures, 2 personnes", "masaa 3 watu 2", "Saa 3 na watu 2",
		"३ घंटे २ लोग", "3 horas e 2 pessoas", "3 jam 2 orang"} {
		x := withPlots(t, 1)
		x.ring(1)
		x.plays("1 => is logged", "1 => ", body+" => 3 h, 2 people, noted.")
		if p := x.b.Seasons[1].Passes[0]; p.Hours != 3 || p.People != 2 {
			t.Errorf("%q: %+v", body, p)
		}
	}
}

// TestHoursByText checks that the hours for two plots are divided in proportion to the plots' areas. A number without a
// unit is not accepted as hours.
func TestHoursByText(t *testing.T) {
	x := withPlots(t, 2)
	for no, area := range map[int]float64{1: 300, 2: 600} {
		edit(x.b, no, func(s *engine.Season) { s.Plot.AreaM2 = area })
	}
	x.ring(1, 2)
	x.plays("1 => is logged", "1 => How long did it take? Text 3h, or 3h2 for 2 people.",
		"9h 2 => Plot 1 and Plot 2: 9 h, 2 people, noted.")
	for no, hours := range map[int]float64{1: 3, 2: 6} {
		if p := x.b.Seasons[no].Passes[0]; p.Hours != hours || p.People != 2 || p.Left != engine.Few {
			t.Errorf("plot %d: %+v", no, p)
		}
	}
	x.text("8h 2") // the second text corrects the hours of the first
	if p := x.b.Seasons[2].Passes[0]; p.Hours < 5.3 || p.Hours > 5.4 {
		t.Errorf("%+v", p)
	}
	x.plays("3 => Text the hours like 3h, or 3h2 for 2 people.", "12 33 => Text the hours like 3h",
		"2h30 => 2.5 h, 1 person, noted.", "0 => not logged any more", "3h => ")
	if got := x.passes(); got != [2]int{} {
		t.Errorf("%v passes", got)
	}
}

// TestSlipsOfHoursByText checks that hours that can mean two lengths of time, or a time of the day, are asked back, and
// that nothing is stored before the answer.
func TestSlipsOfHoursByText(t *testing.T) {
	for _, c := range []struct {
		text, asks, answer string
		hours              float64 // after the answer
		people             int
	}{
		{"2.30", "Answer 1 for 2 h 30 min, 2 for 2 h 20 min.", "1", 2.5, 1},
		{"2.30", "Answer 1 for 2 h 30 min, 2 for 2 h 20 min.", "2", 2.3, 1},
		{"2.30", "Answer 1 for 2 h 30 min, 2 for 2 h 20 min.", "3h2", 3, 2},
		{"25h", "Answer 1 for 25 h, 2 for 2.5 h.", "2", 2.5, 1}, {"25h2", "2 for 2.5 h.", "no", 2.5, 2},
		{"08:00", "Plot 1: 8 h, is that right? Answer 1 for yes", "yes", 8, 1},
		{"2-3 hours", "Answer 1 for 2 h, 2 for 3 h.", "2", 3, 1},
		{"half an hour", "0.5 h, 1 person, noted.", "", 0.5, 1},
	} {
		x := withPlots(t, 1)
		x.ring(1)
		x.plays("1 => is logged", "1 => How long did it take?", c.text+" => "+c.asks)
		if c.answer != "" {
			if p := x.b.Seasons[1].Passes[0]; p.Hours != 0 {
				t.Errorf("%q stored %g hours before the answer", c.text, p.Hours)
			}
			x.plays("7 => "+c.asks, c.answer+" => noted.")
		}
		if p := x.b.Seasons[1].Passes[0]; p.Hours != c.hours || p.People != c.people {
			t.Errorf("%q, %q: %g hours of %d", c.text, c.answer, p.Hours, p.People)
		}
		x.plays("0 => not logged any more")
	}
	x := withPlots(t, 1)
	x.ring(1)
	x.plays("1 => is logged", "1 => ", "25h => 25 h", "0 => not logged any more")
}

// TestHoursAreOfTheWeedingInQuestion checks that the hours are stored with the weeding that the text asked about, not
// with a later weeding that was logged in the menu.
func TestHoursAreOfTheWeedingInQuestion(t *testing.T) {
	x := withPlots(t, 1)
	x.ring(1)
	x.plays("1 => is logged", "2 => ")
	x.b.Day++
	x.logs(1)
	x.plays("3h => nothing is done")
	for _, p := range x.b.Seasons[1].Passes {
		if p.Hours != 0 {
			t.Errorf("%+v", p)
		}
	}
}

// TestFiguresNeverOpenTheMenu checks that an entry with a digit never opens the menu while a question is open, because
// the next digit would then mean something else. If the entry is not an answer, the reply says so and the question
// stays open.
func TestFiguresNeverOpenTheMenu(t *testing.T) {
	const none, how, slip = "we did not understand.", "Text the hours like 3h", "1 for 25 h, 2 for 2.5 h."
	asks := map[string]func(*texter){
		"done": func(x *texter) {},
		"left": func(x *texter) { x.text("1") },
		"took": func(x *texter) { x.text("1"); x.text("1") },
		"more": func(x *texter) { x.text("1"); x.text("1"); x.text("4h") },
	}
	for _, c := range []struct{ asked, entry, wants string }{
		{"done", "1h", none}, {"done", "25h", none}, {"done", "12", none}, {"done", "7", none},
		{"done", "3 hours 2 people", none}, {"done", "h3", none}, {"done", "masaa 3", none}, {"left", "3h", none},
		{"left", "3 hours 2 people", none}, {"left", "44", none}, {"took", "h3", "3 h, 1 person, noted."},
		{"took", "25h", slip}, {"took", "25h2", slip}, {"took", "3h2h", how}, {"took", "99", how},
		{"took", "3h x 99", how},
		{"took", "3h20", "3.3 h, 1 person, noted."}, {"took", "3 hours 2 people", "3 h, 2 people, noted."},
		{"took", "2 h 30", "2.5 h, 1 person, noted."}, {"took", "24h", "24 h, 1 person, noted."},
		{"more", "h3", "3 h, 1 person, noted."},
		{"more", "25h", slip}, {"more", "3h20", "3.3 h, 1 person, noted."},
		{"more", "3 hours 2 people", "3 h, 2 people, noted."},
	} {
		for _, menuFirst := range []bool{false, true} {
			x := withPlots(t, 1)
			if menuFirst { // the dialogue began before the reminder
				x.text("MENU")
			}
			x.ring(1)
			asks[c.asked](x)
			passes, hours := len(x.b.Seasons[1].Passes), float64(0)
			if passes > 0 {
				hours = x.b.Seasons[1].Passes[0].Hours
			}
			x.text(c.entry)
			if !strings.Contains(x.reply, c.wants) || x.prompt == nil || strings.Contains(x.reply, "What now?") {
				t.Errorf("%s: %q is told\n%s", c.asked, c.entry, x.reply)
				continue
			}
			if c.wants == none || c.wants == how || c.wants == slip {
				if now := x.b.Seasons[1].Passes; len(now) != passes || passes > 0 && now[0].Hours != hours {
					t.Errorf("%s: %q changed the records: %+v", c.asked, c.entry, now)
				}
			}
			// After an entry that is not an answer, the question must still be open, and its usual answer must work.
			if c.asked == "done" {
				x.plays("1 => is logged")
			}
			if n := len(x.b.Seasons); n != 1 {
				t.Errorf("%d plots", n)
			}
		}
	}
	for _, asked := range []string{"done", "left", "took"} {
		x := withPlots(t, 1)
		x.ring(1)
		asks[asked](x)
		x.text("hello")
		lacks(t, x.reply, "What now?")
		x.plays("menu => What now?")
	}
}

// TestWordsWithFiguresAreForTheDialogue sends a reminder while the dialogue waits for words. An entry of words with
// digits answers the dialogue. An entry that begins with a digit answers the reminder.
func TestWordsWithFiguresAreForTheDialogue(t *testing.T) {
	x := after(withPlots(t, 1), "MENU", "2", "6", "1", "6")
	x.ring(1)
	x.plays("7 h => we did not understand", "River 2 => ")
	if got := x.b.Seasons[1].Plot.Label; got != "River 2" {
		t.Errorf("the plot is called %q:\n%s", got, x.reply)
	}
}

// TestLateHoursAreToldSo checks that hours texted after the question's last day are refused with that reason, and that
// they do not open the menu.
func TestLateHoursAreToldSo(t *testing.T) {
	for _, entry := range []string{"3h", "3 hours 2 people", "h3", "12"} {
		x := withPlots(t, 1)
		x.ring(1)
		x.text("1")
		x.text("1")
		x.now = x.until + 1
		x.text(entry)
		x.wants("nothing is logged", "Text MENU")
	}
}

// TestADigitLogsATrialsWays checks that a digit logs both halves of a trial, each with its own way of weeding.
func TestADigitLogsATrialsWays(t *testing.T) {
	x := withPlots(t, 2)
	must(0, x.b.StartTrial(1, 2, engine.ToolBoth, engine.HandOnly))
	x.ring(1, 2)
	x.text("1")
	a, b := x.b.Seasons[1].Passes[0], x.b.Seasons[2].Passes[0]
	if a.With != engine.ByTool || a.Way != engine.Both || b.With != engine.ByHand {
		t.Errorf("A %+v, B %+v", a, b)
	}
	// One number of hours for both halves is refused, because it would hide the difference between the two ways.
	x.plays("1 => tell the hours of each", "9h => we did not understand. 0 undoes")
	if h := x.b.Seasons[1].Passes[0].Hours; h != 0 {
		t.Errorf("%g hours", h)
	}
}
