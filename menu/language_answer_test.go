package menu

import (
	"strings"
	"testing"
	"unicode/utf16"

	"rowbell/engine"
	"rowbell/menu/answer"
	"rowbell/menu/notebook"
	"rowbell/menu/text"
)

// inLanguage returns the phone of a registered grower with plots. The menu has all languages, and the grower uses one
// of them.
func inLanguage(t testing.TB, lang string, plots ...engine.Season) *phone {
	t.Helper()
	b := bookOf(plots...)
	b.Lang = lang
	return dials(t, everyMenu(), b, "*123#")
}

// TestRowbellsOwnDatesAreRead checks that a date can be typed in the form in which the menu and the texts write it,
// with the weekday, in every language. Growers copy dates from texts, and the text may be in another language than the
// menu.
func TestRowbellsOwnDatesAreRead(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		c := m.scene(&notebook.Book{Day: wednesday, Lang: lang}, USSD, &session{})
		reach := answer.PlantedReach
		for day := wednesday - engine.Day(reach.Back); day <= wednesday+engine.Day(reach.Ahead); day++ {
			entry := c.date(day)
			if got, d, r := plantedOn(m, lang, entry); r != nil || got != day || d.Why != answer.NoDoubt {
				t.Errorf("%s: %q is %s (%+v), %v; want %s", lang, entry, got, d, r, day)
			}
			if day%11 != 0 { // only every 11th day is tried, to save time; all weekdays still occur
				continue
			}
			for _, other := range m.cat.Languages() {
				if got, _, r := plantedOn(m, other, entry); r != nil || got != day {
					t.Errorf("%q of %s in %s is %s, %v; want %s", entry, lang, other, got, r, day)
				}
			}
		}
		for w, month := range m.cat.MonthWords(lang) {
			today := engine.Date(2026, month, 20)
			got, _, r := answer.Date("14 "+w, today, answer.PlantedReach, m.dates[lang])
			if r != nil || got != today-6 {
				t.Errorf("%s: 14 %s is %s, %v", lang, w, got, r)
			}
		}
	}
}

// TestDaysInWords checks two Indonesian entries: "hari ini" is read as today, and "hari" alone, which means only "day",
// is refused.
func TestDaysInWords(t *testing.T) {
	m := everyMenu()
	for _, lang := range []string{"en", "id"} {
		if day, _, r := plantedOn(m, lang, "hari ini"); r != nil || day != wednesday {
			t.Errorf("%s: hari ini is %s, %v", lang, day, r)
		}
		for _, entry := range []string{"hari", "minggu"} {
			if day, _, r := plantedOn(m, lang, entry); r == nil {
				t.Errorf("%s: %q is %s", lang, entry, day)
			}
		}
	}
}

// TestMonthOfAnotherLanguageIsAskedBack checks that a month in another language is doubted, because "20 ago" may mean
// 20 August or 20 days ago.
func TestMonthOfAnotherLanguageIsAskedBack(t *testing.T) {
	p := inLanguage(t, "en").enter("1", "1", "20 ago")
	p.wants("1 yes, Thu 5 Nov", "2 no: Thu 20 Aug")
	p = inLanguage(t, "pt").enter("1", "1", "20 ago")
	p.lacks("1 sim")
	p.wants("qui 20 ago")
}

// TestTomorrowAndYesterdayInOneWord checks the word कल, which means both yesterday and tomorrow. The word is doubted
// where both days are possible: for a planting.
func TestTomorrowAndYesterdayInOneWord(t *testing.T) {
	for answer, want := range map[string]engine.Day{"1": wednesday - 1, "2": wednesday + 1} {
		p := inLanguage(t, "hi").enter("5", "2", "4", "कल")
		p.wants("1 हां, मंगल 24 नवंबर", "2 नहीं: गुरु 26 नवंबर")
		p.enter(answer)
		s := must(decodeSession(p.state))
		if got := day(s.int(fPlanted)); s.Screen != "planting.flood" || got != want {
			t.Errorf("%s leads to %s with %s, want %s", answer, s.Screen, got, want)
		}
	}
	p := inLanguage(t, "hi") // a plot may be registered before it is planted
	p.enter("1", "1", "परसों").wants("1 हां, सोम 23 नवंबर", "2 नहीं: शुक्र 27 नवंबर")
	p = inLanguage(t, "hi").enter("1", "1", "5/11", "1", "1", "1", "1", "600", "00", "3", "3", "कल")
	p.lacks("26 नवंबर") // a weeding that is logged is over, so the word means yesterday
	p.wants("24 नवंबर")
}

// TestNamesInEveryLanguage checks that a name in Latin letters or in a script of South Asia is accepted in every
// language. Where the language lacks the script, the name is shown in Latin letters. Hindi, in UCS-2, writes every
// script; the other languages refuse the letters of a script without Latin letters.
func TestNamesInEveryLanguage(t *testing.T) {
	latin := map[string]string{"River": "River", "Sawah 2": "Sawah 2", "Rivière": "", "Várzea": "", "Chão": "",
		"Ñandú": "", "नदी 2": "Nadi 2", "खेत १": "Khet 1", "নদী": "Nadi", "a-b": "refuse.name",
		"سطح": "refuse.name-script", "क्षक्षक्षक": "Kshakshaks", "𑁦𑁧𑁨𑁩𑁪1": "refuse.name-long"}
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		for name, want := range latin {
			b := bookOf(due())
			b.Lang = lang
			c := m.scene(b, USSD, &session{Answers: map[Field]string{fPlot: "1"}})
			_, refused := readName(c, name)
			got := c.label(1, engine.Plot{Label: c.s.Answers[fName]})
			if refused != nil {
				got = string(refused.Key)
			}
			if lang == "hi" && want != "refuse.name" && want != "refuse.name-long" {
				want = name
			}
			if want != "" && got != want || strings.Contains(got, "?") {
				t.Errorf("%s: %q is %q, want %q", lang, name, got, want)
			}
		}
	}
}

// TestNameOfTwoUnitLetters checks a name that was stored when names were counted in characters: a letter above U+FFFF
// takes two UTF-16 units. The name is cut, so that a reminder with it is as long as one with any other name.
func TestNameOfTwoUnitLetters(t *testing.T) {
	s := due()
	s.Plot.Label = strings.Repeat("𑁦", 10)
	p := must(s.Plan(wednesday))
	reminder, _ := p.Reminder(nil)
	m := everyMenu()
	r := must(m.Ring("hi", Bell{No: 1, Season: s, Plan: p, Reminder: reminder}))
	wants(t, r.Text, strings.Repeat("𑁦", 5)+":")
	if n := m.Encode("hi", r.Text).Segments; n > 2 {
		t.Errorf("%d segments:\n%s", n, r.Text)
	}
}

// TestNameThatCannotBeWritten checks that a plot is called by its number if the language cannot write its name, also in
// a text about two such plots.
func TestNameThatCannotBeWritten(t *testing.T) {
	x := withPlots(t, 2)
	x.m = everyMenu()
	for no, label := range map[int]string{1: "سطح", 2: "ชาวนา"} {
		edit(x.b, no, func(s *engine.Season) { s.Plot.Label = label })
	}
	x.ring(1, 2)
	x.wants("Plot 1 and Plot 2", "2 only Plot 1, 3 only Plot 2")
	lacks(t, x.reply, "?")
	x.plays("3 => Plot 2: weeding")
	if len(x.b.Seasons[1].Passes) != 0 || len(x.b.Seasons[2].Passes) != 1 {
		t.Errorf("%+v", x.b.Seasons)
	}
	for lang, names := range map[string][2]string{"en": {"Plot 1", "Plot 2"}, "hi": {"سطح", "ชาวนา"},
		"fr": {"Parcelle 1", "Parcelle 2"}} {
		x.b.Lang = lang
		c := x.m.scene(x.b, USSD, &session{})
		for i, want := range names {
			if got := c.label(i+1, x.b.Seasons[i+1].Plot); got != want {
				t.Errorf("%s: plot %d is %q, want %q", lang, i+1, got, want)
			}
		}
	}
}

// TestReasonGivesWayToTheScreen checks a refused entry for which the reason and the whole screen do not fit on one
// page. The page with the reason then shows the key 9, and 9 shows the screen without the reason.
func TestReasonGivesWayToTheScreen(t *testing.T) {
	in := func(lang string, entries ...string) *phone {
		p := inLanguage(t, lang, wet(t, 12).b.Seasons[1]).enter(entries...)
		return p
	}
	for name, at := range map[string]*phone{
		"water.soil": in("hi", "2", "4", "2"),
		"pass.with":  in("hi", "3", "3", "10"),
	} {
		s, err := decodeSession(at.state)
		if err != nil || string(s.Screen) != name {
			t.Fatalf("%s is not reached: %+v, %v", name, s, err)
		}
		whole := everyMenu().scene(at.b, USSD, s).pages(nil)
		if whole[0] != at.last.Text {
			t.Fatalf("%s shows\n%s", name, at.last.Text)
		}
		turned := 0
		for _, wrong := range []string{"7", "abcdefghijkl", "कखगघङचछजझञटठड"} {
			p := *at
			p.enter(wrong)
			if now, err := decodeSession(p.state); err != nil || !now.Refused { // reason and choices fit on one page
				p.wants("\n1 ", "\n2 ", "\n3 ")
				continue
			}
			turned++
			p.wants("\n9 ")
			for _, page := range whole {
				if p.enter("9"); p.last.Text != page {
					t.Errorf("%s, after %q: 9 shows\n%s\nand not\n%s", name, wrong, p.last.Text, page)
				}
			}
			if p.enter("3"); strings.Contains(p.last.Text, "1-3") {
				t.Errorf("%s, after %q: 3 is not taken", name, wrong)
			}
		}
		if turned == 0 {
			t.Errorf("%s has room under every reason", name)
		}
	}
}

// TestPicturesFitThePage checks refused entries that contain emoji. Each page that shows such an entry must have at
// most 160 octets (TS 29.002 clause 17.7.4), also in Hindi, where a character takes two octets.
func TestPicturesFitThePage(t *testing.T) {
	pictures := []string{strings.Repeat("😀", 12), strings.Repeat("☀", 12), strings.Repeat("👩🏽‍🌾", 4), "5😀11",
		strings.Repeat("क😀", 9)}
	for _, entry := range pictures { // package proof takes 12 UTF-16 units as the longest entry that is read back
		if n := len(utf16.Encode([]rune(answer.Shown(entry)))); n > 12 {
			t.Errorf("%q is read back with %d UTF-16 units", entry, n)
		}
	}
	for _, lang := range everyMenu().cat.Languages() {
		for _, way := range [][]string{{}, {"1"}, {"1", "1"}, {"1", "1", "3"}, {"1", "1", "2"}, {"1", "1", "1"},
			{"1", "1", "1", "4"}, {"1", "1", "1", "1", "1"}, {"1", "1", "1", "1", "1", "1"}, {"2", "4", "2"},
			{"2", "6", "1", "6"}, {"2", "4", "3"}, {"3", "3"}, {"3", "1"}, {"5", "2", "1"},
			{"5", "2", "3"}, {"5", "2", "4"}} {
			for _, entry := range pictures {
				p := inLanguage(t, lang, wet(t, 12).b.Seasons[1]).enter(way...).enter(entry)
				for range 3 {
					if !text.FitsUSSD(p.last.Text) {
						t.Errorf("%s, after %v %q: too long\n%s", lang, way, entry, p.last.Text)
					}
					p.enter("9")
				}
			}
		}
	}
}
