package menu

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/menu/notebook"
)

// The tests in this file are about two cases: a number that was silent for 90 days may belong to another person, and
// records may be moved to another number. The tests check what the menu shows and does. Package store tests when a
// number counts as silent, and which codes are right.

// silentBook returns a grower whose phone was silent for 90 days and who has a plot with an open window. The names of
// the plot and of the place must not be shown.
func silentBook() *notebook.Book {
	b := bookOf(due())
	edit(b, 1, func(s *engine.Season) { s.Plot.Label = "wellside" })
	b.PlaceNames, b.Place = []string{"lower-valley", "hills"}, "lower-valley"
	b.Unheard = true
	return b
}

// secretIn returns the first of the secret words that the shown text contains, or "" if it contains none. The words are
// in silentBook's records or on screens that only the grower may see.
func secretIn(shown string) string {
	for _, secret := range []string{"wellside", "Plot 1", "valley", "hills", "What now", "weed now", "Weed now",
		"logged"} {
		if strings.Contains(shown, secret) {
			return secret
		}
	}
	return ""
}

const asksWho = "Is it still the phone of the grower"

// TestWhoIsAskedFirst checks that only the answers to the question who uses the phone lead to another screen. Keys,
// other entries, a dialled path, and a dialogue that was saved before the silence must not.
func TestWhoIsAskedFirst(t *testing.T) {
	p := caller(t, silentBook())
	p.wants(asksWho, "1 yes, it is me", "2 no, not me")
	for _, e := range []string{"0", "00", "9", "7", "", "lowland"} {
		p.plays(e + " => " + asksWho)
	}
	for _, path := range []string{"*123*1#", "*123*2*1#", "*123*1*2*1#", "*123*2#"} {
		q := &phone{t: t, m: p.m, b: silentBook()}
		if q.dial(path); !q.has(asksWho) || !q.b.Unheard || !q.b.Registered {
			t.Errorf("%s: silent %v, known %v", path, q.b.Unheard, q.b.Registered)
		}
	}
	p.plays("1 => wellside | What now?")
	if p.b.Unheard {
		t.Error("the yes was not stored")
	}
	for name, path := range map[string][]string{
		"a question": {"1", "1"}, "a plot": {"2", "1"}, "before an act": {"3", "1"}, "home": {}} {
		p := caller(t, silentBook())
		p.b.Unheard = false
		p.dial("*123#").enter(path...)
		old := slices.Clone(p.state)
		p.b.Unheard = true
		p.plays("1 => " + asksWho)
		p.state = old
		p.dial("*123#").wants(asksWho)
		x := texts(t, p.b)
		x.state, x.at = old, 50
		x.plays("1 => " + asksWho)
		if n := len(p.b.Seasons[1].Passes); n != 0 || !p.b.Unheard {
			t.Errorf("%s: %d weedings logged, silent %v", name, n, p.b.Unheard)
		}
	}
}

func TestNotMeUnlinks(t *testing.T) {
	p := caller(t, silentBook())
	p.plays("2 => Is that right?")
	if !p.b.Registered {
		t.Fatal("one digit was enough")
	}
	p.plays("0 => "+asksWho, "2 => Is that right?", "1 => May we keep your number and plots?")
	if p.b.Registered || len(p.b.Seasons) != 0 {
		t.Error("the number still has records")
	}
	caller(t, silentBook()).plays("2 => Is that right?", "2 => wellside") // a wrong "not me" can be undone
}

// TestWhoInAnotherLanguage checks that a new holder who cannot read the grower's language can choose another language
// on the screen that asks who uses the phone. The language is stored only after the answer yes.
func TestWhoInAnotherLanguage(t *testing.T) {
	m := everyMenu()
	key := func(lang string) string { return fmt.Sprint(slices.Index(m.Languages(), lang) + 1) }
	const hindi = "rowbell वाले किसान"
	p := dials(t, m, silentBook(), "*123#")
	p.plays("3 => English | हिन्दी", key("hi")+" => "+hindi+" | 3 भाषा")
	if p.b.Lang != "en" || !p.b.Unheard {
		t.Errorf("language %s, silent %v before anybody said who this is", p.b.Lang, p.b.Unheard)
	}
	p.enter("2", "2") // "not me", then on the next screen "no, it is me"
	if p.wants("wellside", "चुनें:"); p.b.Unheard || p.b.Lang != "hi" {
		t.Errorf("after the yes: silent %v, language %s", p.b.Unheard, p.b.Lang)
	}
	p = dials(t, m, silentBook(), "*123#")
	const languages = "English | हिन्दी | Français"
	p.enter("3", key("fr"), "2")
	p.plays("1 => "+languages, "00 => "+languages) // the number is not registered, so 00 shows the languages again
	if p.b.Registered {
		t.Error("the number still has records")
	}
	p.plays(key("hi")+" => वीडर कब चलाएं", "1 => ")
	if !p.b.Registered || p.b.Lang != "hi" {
		t.Errorf("joined: %v, in %q", p.b.Registered, p.b.Lang)
	}
	x := texts(t, silentBook())
	x.m = m
	x.plays("hello => "+asksWho+" | 3 language", "3 => English", key("hi")+" => "+hindi, "2 => ",
		"1 => English | हिन्दी")
}

// TestWhoFitsOnePage checks that the question who uses the phone fits on one page with all its choices, in every
// language (160 octets: maxUSSD-StringLength, TS 29.002 clause 17.7.4). Nobody turns the pages of a question in a
// foreign language.
func TestWhoFitsOnePage(t *testing.T) {
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		for _, ch := range []Channel{USSD, SMS} {
			for screen, choices := range map[ScreenID]int{sWho: 3, sWhoSure: 2} {
				b := silentBook()
				b.Lang = lang
				c := m.scene(b, ch, &session{Lang: lang, Screen: screen})
				pages := c.pages(nil)
				if n := len(c.choices(c.screen())); len(pages) != 1 || n != choices || c.err != nil {
					t.Errorf("%s, %v: %s takes %d pages with %d choices (%v)", lang, ch, screen, len(pages), n, c.err)
				}
			}
		}
	}
}

// TestRingOnASilentNumber checks that a reminder to a silent number calls the plots by their numbers, not by their
// names.
func TestRingOnASilentNumber(t *testing.T) {
	m, s := everyMenu(), silentBook().Seasons[1]
	plan := must(s.Windows(wednesday))
	for _, lang := range m.cat.Languages() {
		for kind := engine.KindPrepare; kind <= engine.KindMoved; kind++ {
			bell := Bell{No: 4, Season: s, Plan: plan, Reminder: engine.Reminder{Kind: kind, Window: plan.Next}}
			named, err := m.Ring(lang, bell)
			if err != nil || !strings.Contains(named.Text, "wellside") {
				t.Fatalf("%s %v: %q, %v", lang, kind, named.Text, err)
			}
			bell.Silent = true
			r, err := m.Ring(lang, bell)
			if err != nil || strings.Contains(r.Text, "wellside") || !strings.Contains(r.Text, "4") ||
				string(r.Prompt) != string(named.Prompt) {
				t.Errorf("%s %v: %q, %v", lang, kind, r.Text, err)
			}
		}
	}
	one := Bell{No: 1, Season: s, Plan: plan, Silent: true,
		Reminder: engine.Reminder{Kind: engine.KindOpen, Window: plan.Next}}
	two := one
	two.No = 2
	r, err := m.Ring("en", one, two)
	if err != nil || strings.Contains(r.Text, "wellside") {
		t.Errorf("two plots: %q, %v", r.Text, err)
	}
	wants(t, r.Text, "Plot 1", "Plot 2")
}

// TestPromptWaitsForWho checks a reminder that is sent after the question who uses the phone. The next digit may be
// meant for the reminder, so the menu asks the question again. Only a later digit answers the question. Keywords work
// even before the question is answered.
func TestPromptWaitsForWho(t *testing.T) {
	x := texts(t, silentBook())
	for range 2 {
		x.ring(1)
		if x.plays("1 => " + asksWho); !x.b.Unheard {
			t.Fatal("an answer to the reminder was taken for a yes")
		}
	}
	x.plays("1 => wellside | What now?")
	if len(x.b.Seasons[1].Passes) != 0 {
		t.Error("the yes was also taken for a weeding")
	}
	for word, shows := range map[string]string{"STOP": "No texts will come", "start": asksWho,
		"HELP": "rowbell tells you", "MENU": asksWho, "hello": asksWho} {
		x := texts(t, silentBook())
		if x.plays(word + " => " + shows); !x.b.Unheard {
			t.Errorf("%s was taken for a yes", word)
		}
	}
}

// TestSilentNumberTellsNothing checks that a silent number reveals and changes no records, whatever is dialled, typed
// or texted, until somebody says yes.
func TestSilentNumberTellsNothing(t *testing.T) {
	m := newMenu()
	rapid.Check(t, func(rt *rapid.T) {
		b := silentBook()
		p, x := &phone{t: t, m: m, b: b}, texts(t, b)
		x.ring(1)
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			e := rapid.SampledFrom([]string{"0", "00", "000", "1", "2", "3", "4", "6", "9", "123456", "3h", "x",
				"lowland", "MENU", "LANGUAGE", "HELP", "STOP", "START"}).Draw(rt, "entry")
			shown := ""
			switch rapid.IntRange(0, 3).Draw(rt, "way") {
			case 0:
				shown = p.dial(rapid.SampledFrom([]string{"*123#", "*123*1#", "*123*2*1#"}).Draw(rt, "code")).last.Text
			case 1:
				shown = p.enterOne(e)
			case 2:
				shown = x.text(e)
			case 3:
				if !b.NoTexts {
					x.ring(1)
				}
				continue
			}
			if !b.Unheard { // somebody answered the question: "me" or "not me"
				return
			}
			if secret := secretIn(shown); secret != "" {
				rt.Fatalf("%q tells %q:\n%s", e, secret, shown)
			}
			if len(b.Seasons) != 1 || len(b.Seasons[1].Passes)+len(b.Seasons[1].Sightings) != 0 {
				rt.Fatalf("%q changed the records", e)
			}
		}
	})
}

func TestCodeIsShownAndNotKept(t *testing.T) {
	p := caller(t, knownBook()).enter("6")
	p.plays("2 => It works once, for 2 hours.", "1 => "+notebook.Code+" | *123#")
	if p.last.More || p.state != nil {
		t.Error("the dialogue goes on, and keeps the code")
	}
}

// TestCodeBringsTheRecords checks that a code moves the records to the phone on which it is typed. The new phone shows
// no welcome, because the grower gave consent long ago. The phone that had the records gets a text in the language of
// the records, in one segment (two segments in UCS-2).
func TestCodeBringsTheRecords(t *testing.T) {
	for _, typed := range []string{"271828", "271 828", "271-828", " 271828.", "२७१८२८"} {
		p := caller(t, newBook())
		p.plays("3 => Type the 6 digits", typed+" => Your plots are on this number now. | 0 back 00 home")
		if strings.Contains(string(p.state), notebook.Code) || p.m.Unfinished(p.b, p.state) {
			t.Errorf("the session keeps the code, or is offered again: %s", p.state)
		}
		if len(p.last.Send) != 1 || !p.last.Send[0].Former {
			t.Errorf("sent %+v", p.last.Send)
		}
		p.plays("0 => What now?")
	}
	m := everyMenu()
	for _, lang := range m.cat.Languages() {
		p := dials(t, m, newBook(), "*123#").enter("1", "4") // the new phone uses the menu's first language, English
		_, r, err := m.Enter(taking{p.b, lang}, USSD, p.state, notebook.Code)
		if err != nil || len(r.Send) != 1 {
			t.Fatalf("%s: sent %+v, %v", lang, r.Send, err)
		}
		told := r.Send[0].Text
		if e := m.Encode(lang, told); e.Segments > MaxSegments(e.Encoding.Alphabet, true) {
			t.Errorf("%s: %d segments:\n%s", lang, e.Segments, told)
		}
		speak := speech{cat: m.texts, lang: lang}
		if want := speak.t("sms.moved-away", nil); told != want || speak.err != nil {
			t.Errorf("%s: told %q, want %q (%v)", lang, told, want, speak.err)
		}
	}
}

// taking is the book of an unknown grower who moves records to this phone. The records are in another language.
type taking struct {
	*notebook.Book
	lang string
}

func (b taking) TakeOver(code string) (ok bool, left int, err error) {
	b.Lang = b.lang
	return b.Book.TakeOver(code)
}

// TestCodeOnAStoppedPhone checks that a phone that has stopped all texts gets none after records were moved to it, and
// that the screen says so.
func TestCodeOnAStoppedPhone(t *testing.T) {
	b := newBook()
	b.NoTexts = true
	p := caller(t, b)
	p.plays("3 => Type", notebook.Code+" => Your plots are on this number now. | Texts are stopped.",
		"00 => Texts are stopped (6 to start). | What now?")
	p.enter("6", "3", "00")
	p.lacks("stopped")
}

func TestWrongCodes(t *testing.T) {
	p := caller(t, newBook()).enter("3")
	for _, e := range []string{"", "27182", "2718281", "code", "27a828"} {
		if p.plays(e + " => Type the 6 digits"); p.b.WrongCodes != 0 {
			t.Fatalf("%q counts as a try", e)
		}
	}
	for _, says := range []string{"4 more tries", "3 more tries", "2 more tries", "1 more try.",
		"Try again tomorrow."} {
		p.plays("999999 => " + says)
		lacks(t, string(p.state), "999999")
	}
	p.plays(notebook.Code + " => Try again tomorrow.")
	p = caller(t, newBook()) // a grower who registers by SMS while the call asks for the code
	p.enter("3")
	p.b.Registered, p.b.Seasons[1] = true, engine.Season{}
	p.plays(notebook.Code + " => was changed before this")
}

// TestDialogueWhoseRecordsMovedAway checks a dialogue whose records were moved to another number. For such a dialogue
// the store keeps an empty state.
func TestDialogueWhoseRecordsMovedAway(t *testing.T) {
	const says = "1 => with another number now | May we keep your number and plots?"
	p := &phone{t: t, m: newMenu(), b: newBook(), state: []byte{}}
	x := texts(t, newBook())
	x.state, x.at = []byte{}, 50
	p.plays(says)
	x.plays(says)
	if p.b.Registered || x.b.Registered {
		t.Error("the entry was taken for a consent")
	}
	p = &phone{t: t, m: p.m, b: knownBook(), state: []byte{}} // registered again after the move
	p.plays("1 => What now?")
	p = &phone{t: t, m: p.m, b: newBook(), state: []byte{}}
	p.dial("*123#").wants("rowbell texts you when")
}
