package menu

import (
	"strings"
	"testing"

	"rowbell/engine"
)

// TestFiguresNeverOpenTheMenu while a question is open: each is an answer, or is
// told to be none and leaves the question standing. The next digit would mean
// something else in the menu.
func TestFiguresNeverOpenTheMenu(t *testing.T) {
	const none, how = "That is not one of the answers.", "Text the hours like 3h"
	asks := map[string]func(*texter){
		"done": func(x *texter) {},
		"left": func(x *texter) { x.text("1") },
		"took": func(x *texter) { x.text("1"); x.text("1") },
		"more": func(x *texter) { x.text("1"); x.text("1"); x.text("4h") },
	}
	for _, c := range []struct{ asked, entry, wants string }{
		{"done", "1h", none}, {"done", "25h", none}, {"done", "12", none}, {"done", "7", none},
		{"done", "3 hours 2 people", none}, {"done", "h3", none}, {"done", "masaa 3", none},
		{"left", "3h", none}, {"left", "3 hours 2 people", none}, {"left", "44", none},
		{"took", "h3", how}, {"took", "25h", how}, {"took", "25h2", how}, {"took", "3h2h", how}, {"took", "99", how},
		{"took", "3h x 99", how},
		{"took", "3h20", "3.3 h, 1 person, noted."}, {"took", "3 hours 2 people", "3 h, 2 people, noted."},
		{"took", "2 h 30", "2.5 h, 1 person, noted."}, {"took", "24h", "24 h, 1 person, noted."},
		{"more", "h3", how}, {"more", "25h", how}, {"more", "3h20", "3.3 h, 1 person, noted."},
		{"more", "3 hours 2 people", "3 h, 2 people, noted."},
	} {
		for _, menuFirst := range []bool{false, true} {
			x := withPlots(t, 1)
			if menuFirst { // a dialogue from before, at rest
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
			if c.wants == none || c.wants == how {
				if now := x.b.Seasons[1].Passes; len(now) != passes || passes > 0 && now[0].Hours != hours {
					t.Errorf("%s: %q changed the records: %+v", c.asked, c.entry, now)
				}
			}
			// The question still stands.
			if c.asked == "done" {
				x.text("1")
				x.wants("is logged")
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
		x.wants("What now?")
	}
}

// TestWordsWithFiguresAreForTheDialogue that waits for words, when a text came
// between; figures first are for the text, which spoke last.
func TestWordsWithFiguresAreForTheDialogue(t *testing.T) {
	x := withPlots(t, 1)
	for _, e := range []string{"MENU", "2", "6", "1", "6"} {
		x.text(e)
	}
	x.ring(1)
	x.text("7 h")
	x.wants("not one of the answers")
	x.text("River 2")
	if got := x.b.Seasons[1].Plot.Label; got != "River 2" {
		t.Errorf("the plot is called %q:\n%s", got, x.reply)
	}
}

// TestLateHoursAreToldSo, and do not open the menu.
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

// TestEndAsAName: where a name is asked for, a text of several words is a name,
// though its first word would stop; alone the word stops, there too, and STOP
// stops whatever follows, as does what is too long for a name.
func TestEndAsAName(t *testing.T) {
	for _, name := range []string{"End plot", "Quit hill"} {
		x := withPlots(t, 1)
		for _, e := range []string{"MENU", "2", "6", "1", "6", name} {
			x.text(e)
		}
		if got := x.b.Seasons[1].Plot.Label; got != name || x.b.NoTexts {
			t.Errorf("%q: the plot is called %q, stopped %v", name, got, x.b.NoTexts)
		}
	}
	for _, word := range []string{"END", "end.", "Stop", "stop now", "STOP 2", "Stop!! it", "cancel all these texts",
		"end, now"} {
		x := withPlots(t, 1)
		for _, e := range []string{"MENU", "2", "6", "1", "6", word} {
			x.text(e)
		}
		if x.b.Seasons[1].Plot.Label != "" || !x.b.NoTexts {
			t.Errorf("%q: the plot is called %q, stopped %v", word, x.b.Seasons[1].Plot.Label, x.b.NoTexts)
		}
	}
	x := withPlots(t, 1) // no name is asked for
	x.text("MENU")
	x.text("end plot")
	if !x.b.NoTexts {
		t.Error("end plot did not stop")
	}
}

// TestSoonestOfAPairIsTold, and told again only if the answer about what is left
// moved it.
func TestSoonestOfAPairIsTold(t *testing.T) {
	for _, left := range []string{"1", "2", "3"} {
		for _, warm := range []int{1, 2} { // the plot where weeds come sooner
			x := withPlots(t, 2)
			s := x.b.Seasons[warm]
			s.Weather = engine.Steady(25, 35)
			x.b.Seasons[warm] = s
			p := prompt{Asked: askedPass, Plots: []subject{subjectOf(1, x.b.Seasons[1]), subjectOf(2, x.b.Seasons[2])}}
			var err error
			if x.prompt, err = p.encode(); err != nil {
				t.Fatal(err)
			}
			x.asked, x.until = x.now, x.now+86400
			x.now++
			x.text("1")
			soon, late := x.window(warm), x.window(3-warm)
			if soon == late {
				t.Fatalf("both are due %s", soon)
			}
			x.wants(soon)
			lacks(t, x.reply, late)
			x.text(left)
			switch now := x.window(warm); {
			case now == soon:
				lacks(t, x.reply, "Weed ", now)
			default:
				x.wants(now)
			}
			if moved := x.window(warm) != soon; moved != (left != "1") {
				t.Errorf("%s left: moved is %v", left, moved)
			}
		}
	}
}

// window is when a plot is to be weeded next, as texts say it.
func (x *texter) window(no int) string {
	x.t.Helper()
	p, err := x.b.Seasons[no].Plan(x.b.Day)
	if err != nil {
		x.t.Fatal(err)
	}
	c := x.m.scene(x.b, SMS, &session{})
	return "Weed " + c.date(p.Next.Opens) + " to " + c.date(p.Next.Closes)
}
