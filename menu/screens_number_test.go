package menu

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rowbell/engine"
	"rowbell/menu/notebook"
)

// silentBook is a grower with a plot in its window who was not heard of for
// 90 days; its name and place are what must not be told.
func silentBook() *notebook.Book {
	b := knownBook()
	b.Seasons[1] = engine.Season{
		Plot: engine.Plot{Label: "wellside", Method: engine.Transplanted, Planted: b.Day - 17, RowSpacingCM: 20,
			HillSpacingCM: 20},
		Tool: engine.Tool{WidthCM: 15}, Weather: b.Climate,
	}
	b.PlaceNames, b.Place = []string{"lower-valley", "hills"}, "lower-valley"
	b.Unheard = true
	return b
}

// tells reports what a text gives away of silentBook's records.
func tells(shown string) string {
	for _, secret := range []string{"wellside", "Plot 1", "valley", "hills", "What now", "weed now", "Weed now",
		"logged"} {
		if strings.Contains(shown, secret) {
			return secret
		}
	}
	return ""
}

func TestWhoIsAskedFirst(t *testing.T) {
	m := newMenu(t)
	p := &phone{t: t, m: m, b: silentBook()}
	p.dial("*123#")
	p.wants("Is it still the phone of the grower", "1 yes, it is me", "2 no, not me")
	for _, e := range []string{"0", "00", "9", "7", "", "lowland"} {
		p.enter(e)
		p.wants("Is it still the phone")
		if secret := tells(p.last.Text); secret != "" {
			t.Fatalf("%q tells %q:\n%s", e, secret, p.last.Text)
		}
	}
	p.enter("1")
	p.wants("wellside", "What now?")
	if p.b.Unheard {
		t.Error("the yes was not noted")
	}
}

// A dialled path was meant for the menu: it may neither answer the question
// nor get past it.
func TestWhoIsNotAnsweredByADialledPath(t *testing.T) {
	for _, path := range []string{"*123*1#", "*123*2*1#", "*123*1*2*1#", "*123*2#"} {
		p := &phone{t: t, m: newMenu(t), b: silentBook()}
		p.dial(path)
		p.wants("Is it still the phone")
		if !p.b.Unheard || !p.b.Registered {
			t.Errorf("%s: silent %v, known %v", path, p.b.Unheard, p.b.Registered)
		}
	}
}

func TestNotMeUnlinks(t *testing.T) {
	p := &phone{t: t, m: newMenu(t), b: silentBook()}
	p.dial("*123#")
	p.enter("2")
	p.wants("Is that right?")
	if !p.b.Registered {
		t.Fatal("one digit was enough")
	}
	p.enter("0")
	p.wants("Is it still the phone")
	p.enter("2", "1")
	p.wants("May we keep your number and plots?")
	if p.b.Registered || len(p.b.Seasons) != 0 {
		t.Error("the number still has records")
	}
	// A slip is mended there and then.
	q := &phone{t: t, m: newMenu(t), b: silentBook()}
	q.dial("*123#")
	q.enter("2", "2")
	q.wants("wellside")
}

// A new holder who cannot read the grower's language finds the list from the
// question itself. Nothing of it goes into the records before the yes.
func TestWhoInAnotherLanguage(t *testing.T) {
	m := everyMenu(t)
	hindi, french := "", ""
	for i, l := range m.cat.Languages() {
		switch l {
		case "hi":
			hindi = string(digit(i + 1))
		case "fr":
			french = string(digit(i + 1))
		}
	}
	p := &phone{t: t, m: m, b: silentBook()}
	p.dial("*123#")
	p.wants("Is it still the phone", "3 language")
	p.enter("3", hindi)
	p.wants("rowbell वाले किसान", "3 भाषा")
	if p.b.Lang != "en" || !p.b.Unheard {
		t.Errorf("language %s, silent %v before anybody said who this is", p.b.Lang, p.b.Unheard)
	}
	p.enter("2", "2") // me after all
	if p.b.Unheard || p.b.Lang != "hi" {
		t.Errorf("after the yes: silent %v, language %s", p.b.Unheard, p.b.Lang)
	}
	p.wants("wellside", "अब क्या?")

	q := &phone{t: t, m: m, b: silentBook()}
	q.dial("*123#")
	q.enter("3", french, "2", "1")
	q.wants("English", "हिन्दी", "Français")
	q.enter("00") // there is no home yet but this
	q.wants("English", "हिन्दी", "Français")
	if q.b.Registered {
		t.Error("the number still has records")
	}
	q.enter(hindi)
	q.wants("धान में वीडर कब")
	q.enter("1")
	if !q.b.Registered || q.b.Lang != "hi" {
		t.Errorf("joined: %v, in %q", q.b.Registered, q.b.Lang)
	}
	// In texts as well.
	x := &texter{t: t, m: m, b: silentBook(), now: 100}
	x.text("hello")
	x.wants("Is it still the phone", "3 language")
	x.text("3")
	x.text(hindi)
	x.wants("rowbell वाले किसान")
	x.text("2")
	x.text("1")
	x.wants("English", "हिन्दी")
}

// Who this is is asked on one page (160 octets: maxUSSD-StringLength, TS 29.002
// clause 17.7.4), with all its choices: nobody turns pages of a question in a
// language that may not be theirs.
func TestWhoFitsOnePage(t *testing.T) {
	m := everyMenu(t)
	for _, lang := range m.cat.Languages() {
		for _, ch := range []Channel{USSD, SMS} {
			for screen, choices := range map[ScreenID]int{sWho: 3, sWhoSure: 2} {
				b := silentBook()
				b.Lang = lang
				c := m.scene(b, ch, &session{Lang: lang, Screen: screen})
				pages := c.pages(nil)
				if n := len(c.choices(c.screen())); len(pages) != 1 || n != choices || c.err != nil {
					t.Errorf("%s, %v: %s takes %d pages with %d choices (%v):\n%s", lang, ch, screen, len(pages), n,
						c.err, strings.Join(pages, "\n--\n"))
				}
			}
		}
	}
}

// A text to a silent number calls plots by their numbers only.
func TestRingOnASilentNumber(t *testing.T) {
	m := everyMenu(t)
	b := silentBook()
	s := b.Seasons[1]
	plan, err := s.Windows(b.Day)
	if err != nil {
		t.Fatal(err)
	}
	for _, lang := range m.cat.Languages() {
		for _, kind := range engine.Kinds() {
			bell := Bell{No: 4, Season: s, Plan: plan, Reminder: engine.Reminder{Kind: kind, Window: plan.Next}}
			open, err := m.Ring(lang, bell)
			if err != nil || !strings.Contains(open.Text, "wellside") {
				t.Fatalf("%s %v: %q, %v", lang, kind, open.Text, err)
			}
			bell.Silent = true
			kept, err := m.Ring(lang, bell)
			if err != nil || strings.Contains(kept.Text, "wellside") || !strings.Contains(kept.Text, "4") ||
				string(kept.Prompt) != string(open.Prompt) {
				t.Errorf("%s %v: %q, %v", lang, kind, kept.Text, err)
			}
		}
	}
	two := Bell{No: 1, Season: s, Plan: plan, Reminder: engine.Reminder{Kind: engine.KindOpen, Window: plan.Next},
		Silent: true}
	other := two
	other.No = 2
	if r, err := m.Ring("en", two, other); err != nil || !strings.Contains(r.Text, "Plot 1") ||
		!strings.Contains(r.Text, "Plot 2") || strings.Contains(r.Text, "wellside") {
		t.Errorf("two plots: %q, %v", r.Text, err)
	}
}

// A dialogue that was saved before the silence is not gone on with.
func TestWhoComesBeforeAnOldDialogue(t *testing.T) {
	for name, path := range map[string][]string{"a question": {"1", "1"}, "a plot": {"2", "1"},
		"before an act": {"3", "1"}, "home": {}} {
		t.Run(name, func(t *testing.T) {
			p := &phone{t: t, m: newMenu(t), b: silentBook()}
			p.b.Unheard = false
			p.dial("*123#")
			p.enter(path...)
			old := slices.Clone(p.state)
			p.b.Unheard = true
			p.enter("1")
			p.wants("Is it still the phone")
			if n := len(p.b.Seasons[1].Passes); n != 0 {
				t.Errorf("%d weedings logged", n)
			}
			p.state = old
			p.dial("*123#")
			p.wants("Is it still the phone")
			x := &texter{t: t, m: p.m, b: p.b, now: 100, state: old, at: 50}
			x.text("1")
			x.wants("Is it still the phone")
			if !p.b.Unheard {
				t.Error("the digit was taken for a yes")
			}
		})
	}
}

func TestPromptWaitsForWho(t *testing.T) {
	x := &texter{t: t, m: newMenu(t), b: silentBook(), now: 100}
	x.ring(1)
	x.text("1")
	x.wants("Is it still the phone")
	if secret := tells(x.reply); secret != "" || len(x.b.Seasons[1].Passes) != 0 {
		t.Fatalf("told %q, logged %d:\n%s", secret, len(x.b.Seasons[1].Passes), x.reply)
	}
	// What rings between question and answer makes the digit doubtful.
	x.ring(1)
	x.text("1")
	x.wants("Is it still the phone")
	if !x.b.Unheard {
		t.Fatal("an answer to the ringing was taken for a yes")
	}
	x.text("1")
	x.wants("wellside", "What now?")
	if len(x.b.Seasons[1].Passes) != 0 {
		t.Error("the yes was also taken for a weeding")
	}
}

func TestWordsWorkBeforeWho(t *testing.T) {
	for word, wants := range map[string]string{"STOP": "No texts will come", "start": "Is it still the phone",
		"HELP": "rowbell tells you", "MENU": "Is it still the phone", "hello": "Is it still the phone"} {
		x := &texter{t: t, m: newMenu(t), b: silentBook(), now: 100}
		x.text(word)
		x.wants(wants)
		if secret := tells(x.reply); secret != "" || !x.b.Unheard {
			t.Errorf("%s tells %q, silent %v", word, secret, x.b.Unheard)
		}
	}
}

// Whatever is dialled, typed and texted short of saying yes, nothing is shown
// of the records and nothing done to them.
func TestSilentNumberTellsNothing(t *testing.T) {
	m := newMenu(t)
	rapid.Check(t, func(rt *rapid.T) {
		b := silentBook()
		p := &phone{t: t, m: m, b: b}
		x := &texter{t: t, m: m, b: b, now: 100}
		x.ring(1)
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			e := rapid.SampledFrom([]string{"0", "00", "000", "1", "2", "3", "4", "6", "9", "123456", "3h", "x",
				"MENU", "LANGUAGE", "HELP"}).Draw(rt, "entry")
			shown := ""
			switch rapid.IntRange(0, 3).Draw(rt, "way") {
			case 0:
				shown = p.dial(rapid.SampledFrom([]string{"*123#", "*123*1#", "*123*2*1#"}).Draw(rt, "code"))
			case 1:
				shown = p.enter(e)
			case 2:
				shown = x.text(e)
			case 3:
				x.ring(1)
				continue
			}
			if !b.Unheard { // said yes, or not me
				return
			}
			if secret := tells(shown); secret != "" {
				rt.Fatalf("%q tells %q:\n%s", e, secret, shown)
			}
			if len(b.Seasons) != 1 || len(b.Seasons[1].Passes)+len(b.Seasons[1].Sightings) != 0 {
				rt.Fatalf("%q changed the records", e)
			}
		}
	})
}
